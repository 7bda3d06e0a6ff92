"""What is asked after a plan: why not, which core, how far, what else could sit here, what would settle it."""

from collections.abc import Sequence
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from api.current import CurrentDesk, today
from api.pages.frame import Count, Text, _, page, remembered, trouble
from api.words import wished
from graph.desk import depth
from graph.desk.bench import Bench
from graph.desk.yard import Yard
from graph.errors import BadQuestion, SpoolwrightError
from graph.model.depth import Ranking

router = APIRouter()
Wishes = Annotated[Sequence[Text], Query(max_length=50)]


@router.get("/why")
def why(
    request: Request, desk: CurrentDesk, core: Text = "", build: Text = "", engine: Text = "", as_of: Text = ""
) -> HTMLResponse:
    """What clashes, and the cheapest ways out."""
    day = as_of or today()
    try:
        answer = remembered.get(
            desk, ("why", core, build, engine, day), lambda: depth.why(desk, core, build, engine, day=day)
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "why.html",
        answer=answer,
        day=day,
        plan_href="/plan?" + urlencode({"core": core, "build": build, "engine": engine, "as_of": as_of}),
        keep=_("Why can %(core)s not become %(build)s?") % {"core": core, "build": build},
    )


@router.get("/rank")
def rank(
    request: Request,
    desk: CurrentDesk,
    build: Text = "",
    engine: Text = "",
    best: Count = 3,
    customers: Text = "",
    wish: Wishes = (),
    as_of: Text = "",
) -> HTMLResponse:
    """Which core of the shelf is the best for a build."""
    day = as_of or today()
    try:
        answer = remembered.get(
            desk,
            ("rank", build, engine, best, customers, *wish, day),
            lambda: depth.rank(desk, build, engine, best=best, customers=customers == "yes", wishes=wish, day=day),
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)

    def href(name: str) -> str:
        return _plan_address({"core": name, "build": build, "engine": engine, "as_of": as_of}, answer.wishes)

    keep = _("Which core is best for %(build)s?") % {"build": build}
    return _ranking(request, desk, answer, day=day, href=href, what="cores", keep=keep)


@router.get("/reach")
def reach(request: Request, desk: CurrentDesk, core: Text = "", wish: Wishes = (), as_of: Text = "") -> HTMLResponse:
    """All builds that a core can become."""
    day = as_of or today()
    try:
        answer = remembered.get(
            desk, ("reach", core, *wish, day), lambda: depth.reach(desk, core, wishes=wish, day=day)
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)

    def href(name: str) -> str:
        return _plan_address({"core": core, "build": name, "as_of": as_of}, answer.wishes)

    keep = _("What can %(core)s become?") % {"core": core}
    return _ranking(request, desk, answer, day=day, href=href, what="builds", keep=keep)


def _ranking(request: Request, desk: CurrentDesk, answer: Ranking, **more: Any) -> HTMLResponse:
    wishes = [wished(wish) for wish in answer.wishes]
    return page(request, desk, "ranking.html", answer=answer, wishes=wishes, **more)


def _plan_address(asked: dict[str, str], wishes: Sequence[str]) -> str:
    """The plan's own page; under wishes, which that page is not asked with, the plan told in words."""
    if not wishes:
        return "/plan?" + urlencode(asked)
    given = {name: value for name, value in asked.items() if value}
    return "/v1/plans?" + urlencode({**given, "wish": list(wishes), "format": "text"}, doseq=True)


@router.get("/interchange")
def interchange(request: Request, desk: CurrentDesk, part: Text = "", seat: Text = "") -> HTMLResponse:
    """What else could sit where a part sits, and whose place it could take."""
    try:
        answer = Yard(desk).interchange(part, seat)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    keep = _("What can stand in for %(part)s?") % {"part": part}
    return page(request, desk, "interchange.html", answer=answer, keep=keep)


@router.get("/settle")
def settle(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    build: Text = "",
    unit: Text = "",
    engine: Text = "",
    as_of: Text = "",
) -> HTMLResponse:
    """What to measure so that it is known, and what each outcome would mean."""
    day = as_of or today()
    bench = Bench(desk)
    try:
        if core and build:
            answer = remembered.get(
                desk, ("settle", core, build, engine, day), lambda: bench.settle_plan(core, build, engine, day=day)
            )
            back = "/plan?" + urlencode({"core": core, "build": build, "engine": engine, "as_of": as_of})
        elif unit and engine:
            answer = bench.settle_fits(unit, engine, day=day)
            back = "/fits?" + urlencode({"unit": unit, "engine": engine, "as_of": as_of})
        else:
            raise BadQuestion(
                _("nothing is asked"), fix=_("name a core and a build, or a turbocharger and an engine")
            )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "settle.html",
        answer=answer,
        day=day,
        core=core,
        back=back,
        currency=bench.currency,
        keep=_("What to measure: %(what)s") % {"what": answer.question},
    )
