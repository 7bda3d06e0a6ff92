"""Routes that write: a key with the right scope, one author, and a retry that writes nothing twice.

A route says that it writes by a parameter of one of the types at the end of this module, and stands in a router
with `route_class=WriteRoute`. It does its writing within `write.once`, so that a retry of a request whose answer got
lost passes over what is on record already and makes the answer anew.
"""

import json
import logging
from collections.abc import Callable, Coroutine
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from typing import Annotated, Any, Final, TypeVar

from fastapi import Depends, Header, Request, Response
from starlette.concurrency import run_in_threadpool

from api import access
from api.documented import PROBLEMS, refused
from api.http.bodies import JsonRoute, strict
from api.http.preconditions import NONE, Preconditions
from api.versions import holds_to_version
from graph.errors import BadQuestion, Stale
from graph.ledger.replies import Asked, Replies, Reply, request_digest

T = TypeVar("T")
KEPT: Final = timedelta(hours=24)
REPLAYED: Final = "Idempotency-Replayed"
_HEADERS: Final = ("content-type", "etag", "location", "cache-control", "content-disposition")
_KEY_LONG: Final = 255
log = logging.getLogger("spoolwright")

WRITE_PROBLEMS: dict[int | str, dict[str, Any]] = PROBLEMS | {
    401: refused("No key, or one that opens nothing"),
    403: refused("A key that does not open this"),
    412: refused("What is to be changed has another version than If-Match says"),
    428: refused("A change of something with versions without If-Match"),
    507: refused("The disk under the store has no room"),
}
"""What a route that writes may answer beside its result."""


def now() -> str:
    """The time as change sets carry it: UTC, to the second."""
    return stamp(datetime.now(UTC))


def stamp(moment: datetime) -> str:
    """A moment as change sets carry it."""
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


class Write:
    """One request that writes: whose it is, and what of it is on record already."""

    def __init__(
        self,
        caller: access.Caller,
        replies: Replies,
        asked: Asked | None,
        earlier: Reply | None,
        conditions: Preconditions = NONE,
    ) -> None:
        """`conditions`: those that the route does not hold its write to."""
        self.caller = caller
        self._conditions = conditions
        self.secret = False  # the answer holds what is told once only, and is never kept
        self.steps = 0
        self._replies = replies
        self._asked = asked
        self._done = earlier.steps if earlier else 0

    @property
    def again(self) -> bool:
        """Whether an earlier request with the same key wrote something."""
        return bool(self._done)

    def author(self, said: str = "") -> str:
        """Who writes: the key's name; without a key whom the request names.

        Raises
        ------
        BadQuestion
            There is neither.
        """
        name = self.caller.name or said.strip()
        if not name:
            raise BadQuestion("nobody is named as author", fix="send a key, or name the author (`author`)")
        return name

    def once(self, act: Callable[[], T]) -> T | None:
        """Do it, and put this request on record in the same transaction; None when that was done before.

        Raises
        ------
        Stale
            The request rests on a version of what has none.
        """
        self.steps += 1
        if self.steps <= self._done:
            return None
        if not (self._conditions.matched(b"") and self._conditions.unknown(b"")):
            raise Stale("what is written here has no versions", fix="send neither If-Match nor If-None-Match here")
        if self._asked is None:
            return act()
        with self._replies.noting(self._asked, self.steps):
            return act()

    def keep(self, response: Response) -> None:
        """Keep the answer for a retry. The write is done: a failure here only makes the retry compute it anew."""
        if self._asked is None or not self.steps or self.secret or response.status_code >= 400:
            return
        headers = {name: value for name, value in response.headers.items() if name.casefold() in _HEADERS}
        try:
            self._replies.keep(self._asked, response.status_code, json.dumps(headers), bytes(response.body))
        except Exception:  # whatever went wrong, the write stands and its answer must reach the caller
            log.exception("the answer of a write could not be kept")


class Writes:
    """The dependency that marks a route as one that writes; `scope` is what it takes."""

    def __init__(self, scope: str) -> None:
        self.scope = scope

    def __call__(
        self,
        request: Request,
        idempotency_key: Annotated[
            str, Header(description="Makes a retry safe for 24 hours: the same key, the same answer")
        ] = "",
    ) -> Write:
        """What the route is given."""
        write: Write = request.state.write
        return write


class WriteRoute(JsonRoute):
    """A route that, if it is marked as writing, asks for a key, keeps answers and gives them again."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """The handler, wrapped."""
        plain = super().get_route_handler()
        marks = [one.call for one in self.dependant.dependencies if isinstance(one.call, Writes)]
        if not marks:
            return plain
        scope = marks[0].scope
        conditional = holds_to_version(self.dependant)

        async def handler(request: Request) -> Response:
            request = strict(request)
            await _no_nul(request)
            caller = await run_in_threadpool(access.caller, request, scope)
            store = await run_in_threadpool(request.app.state.current.store)
            replies = Replies(store.ledger, store.folder)
            asked = await _asked(request, caller)
            with ExitStack() as stack:
                earlier = None
                if asked:
                    await run_in_threadpool(stack.enter_context, replies.alone(asked))
                    earlier = await run_in_threadpool(replies.earlier, asked)
                    if earlier and earlier.status:
                        return _again(earlier)
                conditions = NONE if conditional else request.state.preconditions
                write = request.state.write = Write(caller, replies, asked, earlier, conditions)
                response = await plain(request)
                if write.again:
                    response.headers[REPLAYED] = "true"
                await run_in_threadpool(write.keep, response)
                return response

        return handler


async def _no_nul(request: Request) -> None:
    """PostgreSQL holds no NUL in a text, and no shop writes one."""
    sent = f"{request.url.path}{request.url.query}".encode()
    if "json" in request.headers.get("content-type", ""):
        sent += await request.body()
    if b"\x00" in sent or b"%00" in sent or b"\\u0000" in sent:
        raise BadQuestion("the request holds a NUL character", fix="take it out")


async def _asked(request: Request, caller: access.Caller) -> Asked | None:
    key = request.headers.get("idempotency-key", "")
    if not key:
        return None
    if len(key) > _KEY_LONG or not key.isascii() or not key.isprintable():
        raise BadQuestion(
            "an Idempotency-Key is 1 to 255 printable ASCII characters", fix="take a random one, a UUID for instance"
        )
    moment = datetime.now(UTC)
    address = f"{request.url.path}?{request.url.query}"
    digest = request_digest(request.method, address, await request.body())
    return Asked(caller.name, key, digest, stamp(moment), stamp(moment - KEPT))


def _again(earlier: Reply) -> Response:
    return Response(earlier.body, earlier.status, headers={**json.loads(earlier.headers), REPLAYED: "true"})


def unkept(response: Response) -> None:
    """For answers that change without either clock: nobody keeps them."""
    response.headers["Cache-Control"] = "no-store"


StockWrite = Annotated[Write, Depends(Writes("stock"))]
BenchWrite = Annotated[Write, Depends(Writes("bench"))]
EditWrite = Annotated[Write, Depends(Writes("edit"))]
SignWrite = Annotated[Write, Depends(Writes("sign-off"))]
AdminWrite = Annotated[Write, Depends(Writes("admin"))]
