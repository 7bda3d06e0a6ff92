"""What every page has: names to choose from, the units, the questions asked last, the snapshot."""

import re
from collections import OrderedDict
from collections.abc import Callable, Hashable
from pathlib import Path
from threading import Lock
from typing import Annotated, Any, Final, TypeVar
from urllib.parse import urlencode

from fastapi import FastAPI, Query, Request
from fastapi.responses import HTMLResponse
from fastapi.templating import Jinja2Templates

from api.pages import guard, recent
from api.pages.sizes import UNITS, in_units
from api.pages.terms import PROOFS, SECTIONS, SOURCES, days, money, word
from api.pages.wording import LANGUAGE, _, catalogue, told
from api.words import duration, named, size, spoken
from graph.desk import Desk
from graph.errors import SpoolwrightError

T = TypeVar("T")
Text = Annotated[str, Query(max_length=200)]
Count = Annotated[int, Query(ge=1, le=20)]
CHOICES: Final = 120
"""Names of each sort in a page's lists; typing finds the rest. More would make every page of a large shop heavy."""
REMEMBERED: Final = 64
_KEY: Final = re.compile(r"\b(?:part|unit|engine|core|build|machine)/[^\s,;:)]+")
"""A key that stands in a sentence; a person reads the name in it."""

templates = Jinja2Templates(directory=Path(__file__).parent.parent / "templates")
templates.env.add_extension("jinja2.ext.i18n")
templates.env.install_gettext_translations(catalogue, newstyle=True)  # type: ignore[attr-defined]
templates.env.trim_blocks = True
templates.env.lstrip_blocks = True
templates.env.globals.update(
    {
        "days": days,
        "language": LANGUAGE,
        "duration": duration,
        "money": money,
        "named": named,
        "proofs": PROOFS,
        "sections": SECTIONS,
        "size": size,
        "sources": SOURCES,
        "spoken": spoken,
        "query": lambda **named_: urlencode({k: v for k, v in named_.items() if v not in ("", None)}),
    }
)
templates.env.filters["spoken"] = spoken
templates.env.filters["word"] = word
templates.env.filters["u"] = lambda said: in_units(_KEY.sub(lambda key: named(key[0]), str(told(said))))
if LANGUAGE != "en":
    templates.env.finalize = told


def warm(app: FastAPI, desk: Desk) -> None:
    """Do what the first page would wait for: read the templates, the names to choose from, and what routes take."""
    for route in app.router.routes:  # FastAPI reads a route's parameters when a request is first held against it
        route.matches({"type": "http", "method": "GET", "path": "/-", "root_path": "", "headers": []})
    for name in templates.env.list_templates(["html"]):
        templates.env.get_template(name)
    desk.names(most=CHOICES)


def page(
    request: Request,
    desk: Desk,
    template: str,
    *,
    status: int = 200,
    keep: str = "",
    posting: bool = False,
    **values: Any,
) -> HTMLResponse:
    """A page. `keep`: how the question is called among those asked last; `posting`: it has forms that write."""
    asked = dict(request.query_params)
    chosen = asked.get("units") or request.cookies.get("units", "mm")
    units = "in" if chosen == "in" else "mm"
    other = "mm" if units == "in" else "in"
    hand = guard.held(request) if posting else ""
    context = {
        "demo": request.app.state.demo,
        "shop": request.app.state.shop,
        "names": desk.names(most=CHOICES),
        "snapshot": desk.snapshot,
        "asked": asked,
        "recent": recent.recent(request),
        "units": units,
        "units_href": "?"
        + urlencode([*((k, v) for k, v in request.query_params.multi_items() if k != "units"), ("units", other)]),
        "token": guard.token(hand) if posting else "",
        "keyed": posting and guard.keyed(request),
        **values,
    }
    token = UNITS.set(units)
    try:
        response = templates.TemplateResponse(request, template, context, status_code=status)
    finally:
        UNITS.reset(token)
    if asked.get("units"):
        response.set_cookie("units", units, max_age=recent.KEPT, httponly=True, samesite="lax", path="/")
    if keep and status == 200:
        recent.keep(request, response, keep)
    if posting:
        guard.give(response, hand)
    response.headers["Cache-Control"] = "private, no-cache"
    return response


def trouble(request: Request, desk: Desk, error: SpoolwrightError) -> HTMLResponse:
    """An error as a page that says what to do, with the questions below it."""
    return page(request, desk, "problem.html", status=error.status_hint, error=error)


class Remembered:
    """The last answers, so that a plan is not worked out again for its pick list, quote and sheet."""

    def __init__(self, most: int = REMEMBERED) -> None:
        self._most = most
        self._lock = Lock()
        self._held: OrderedDict[Hashable, Any] = OrderedDict()

    def get(self, desk: Desk, question: Hashable, make: Callable[[], T]) -> T:
        """The answer to this question at the desk's snapshot of its store."""
        key = (desk.folder, desk.snapshot, question)
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                found: T = self._held[key]
                return found
        made = make()
        with self._lock:
            self._held[key] = made
            while len(self._held) > self._most:
                self._held.popitem(last=False)
        return made


remembered: Final = Remembered()


def form_of(pairs: list[tuple[str, Any]]) -> dict[str, str]:
    """A sent form as texts; files are left out."""
    return {name: value for name, value in pairs if isinstance(value, str)}


__all__ = ["Count", "Text", "_", "form_of", "page", "remembered", "templates", "trouble"]
