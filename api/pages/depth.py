"""What is asked after a plan: why not, which core, how far, what else could sit here, what would settle it."""

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from api.current import CurrentDesk, today
from api.pages.frame import Count, Text, _, page, remembered, trouble
from graph.desk import depth
from graph.desk.bench import Bench
from graph.desk.yard import Yard
from graph.errors import BadQuestion, SpoolwrightError

router = APIRouter()


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
    as_of: Text = "",
) -> HTMLResponse:
    """Which core of the shelf is the best for a build."""
    day = as_of or today()
    try:
        answer = remembered.get(
            desk,
            ("rank", build, engine, best, customers, day),
            lambda: depth.rank(desk, build, engine, best=best, customers=customers == "yes", day=day),
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)

    def href(name: str) -> str:
        return "/plan?" + urlencode({"core": name, "build": build, "engine": engine, "as_of": as_of})

    keep = _("Which core is best for %(build)s?") % {"build": build}
    return page(request, desk, "ranking.html", answer=answer, day=day, href=href, what="cores", keep=keep)


@router.get("/reach")
def reach(request: Request, desk: CurrentDesk, core: Text = "", as_of: Text = "") -> HTMLResponse:
    """All builds that a core can become."""
    day = as_of or today()
    try:
        answer = remembered.get(desk, ("reach", core, day), lambda: depth.reach(desk, core, day=day))
    except SpoolwrightError as error:
        return trouble(request, desk, error)

    def href(name: str) -> str:
        return "/plan?" + urlencode({"core": core, "build": name, "as_of": as_of})

    keep = _("What can %(core)s become?") % {"core": core}
    return page(request, desk, "ranking.html", answer=answer, day=day, href=href, what="builds", keep=keep)


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
