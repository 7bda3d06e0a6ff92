"""The two questions asked most, answered before the routes are looked through: one part, and *does it fit?*.

Only their plain form, in which the address alone decides. All else goes on to the routes: other parameters and forms,
what is refused, what needs a plan. They describe the addresses, and answer the same.
"""

from collections.abc import Callable
from typing import Final
from urllib.parse import parse_qsl, unquote

from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from api.current import Current, today
from api.http import notes
from api.http.asking import respond
from api.http.forms import MEDIA
from api.schemas import is_day
from api.work import PART, Made
from api.written import Writing
from graph.desk import Desk
from graph.desk.standing import fits_standing
from graph.desk.things import Things
from graph.errors import SpoolwrightError
from graph.model.statement import subject

PARTS: Final = "/v1/parts/"
FITS: Final = "/v1/fits"
LONGEST: Final = 200
"""Letters that a name may have, as `api.schemas` says."""

_NAMES: Final = ("unit", "engine", "seat", "part")

Asked = dict[str, str]
Answer = Callable[[Desk, Writing], Response | None]


class Direct:
    """The innermost layer."""

    def __init__(self, app: ASGIApp, *, current: Current) -> None:
        self.app = app
        self._current = current
        self._writing = Writing()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or pass the request on."""
        answer = _answer(scope) if scope["type"] == "http" and scope["method"] == "GET" else None
        response = self._made(answer) if answer is not None else None
        await (response or self.app)(scope, receive, send)

    def _made(self, answer: Answer) -> Response | None:
        try:
            desk = self._current.desk()
            notes.answered_from(desk.snapshot)
            return answer(desk, self._writing)
        except SpoolwrightError:
            return None  # the route says it


def _answer(scope: Scope) -> Answer | None:
    """How a request is answered here; None: not here."""
    path: str = scope["path"]
    if not (path == FITS or path.startswith(PARTS)) or scope.get("state", {}).get("as_of"):
        return None
    pairs = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    asked = dict(pairs)
    if len(asked) < len(pairs) or asked.pop("format", "json") != "json":
        return None
    return _fits(asked) if path == FITS else _part(scope.get("raw_path") or b"", asked)


def _part(raw_path: bytes, asked: Asked) -> Answer | None:
    names = [unquote(piece.decode("ascii", "replace")) for piece in raw_path.partition(b"?")[0].split(b"/")[3:]]
    if len(names) != 2 or not all(0 < len(name) <= LONGEST for name in names):
        return None
    if asked.keys() - {"day"} or not is_day(asked.get("day", "")):
        return None
    key = subject("part", *names)

    def answer(desk: Desk, _: Writing) -> Response:
        return Response(PART.dump_json(Things(desk).part(key, shelf=False, day="")), media_type=MEDIA["json"])

    return answer


def _fits(asked: Asked) -> Answer | None:
    day = asked.pop("as_of", "")
    given = {name: asked.pop(name, "") for name in _NAMES}
    if asked or not given["unit"] or not is_day(day) or any(len(text) > LONGEST for text in given.values()):
        return None

    def answer(desk: Desk, writing: Writing) -> Response | None:
        standing = fits_standing(desk, **given, day=day or today())
        if standing is None:
            return None
        return respond(Made(writing.answers([standing]), MEDIA["json"], desk.snapshot))

    return answer
