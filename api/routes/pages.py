"""The pages: three questions to fill in, and their answers; each answer has an address that can be kept and sent."""

from pathlib import Path
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse
from fastapi.templating import Jinja2Templates

from api.current import CurrentDesk, today
from api.forms import pick_response
from api.text.pick import SECTIONS
from api.words import MARKS, PROOFS, SOURCES, days, duration, money, named, size, spoken
from demo_graph.tours import TOURS
from graph.desk import Desk
from graph.errors import SpoolwrightError

router = APIRouter(include_in_schema=False)
templates = Jinja2Templates(directory=Path(__file__).parent.parent / "templates")
templates.env.globals.update(
    {
        "days": days,
        "duration": duration,
        "mark": MARKS.__getitem__,
        "money": money,
        "named": named,
        "proofs": PROOFS,
        "sections": SECTIONS,
        "size": size,
        "sources": SOURCES,
        "spoken": spoken,
    }
)
templates.env.filters["spoken"] = spoken

Text = Annotated[str, Query(max_length=200)]
Count = Annotated[int, Query(ge=1, le=20)]


def page(request: Request, desk: Desk, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """A page with what every page needs: the names to choose from, what was asked, the snapshot."""
    context = {
        "demo": request.app.state.demo,
        "shop": request.app.state.shop,
        "names": desk.names(),
        "snapshot": desk.snapshot,
        "asked": dict(request.query_params),
        **values,
    }
    return templates.TemplateResponse(request, template, context, status_code=status)


def trouble(request: Request, desk: Desk, error: SpoolwrightError) -> HTMLResponse:
    """An error as a page that says what to do, with the questions below it."""
    return page(request, desk, "problem.html", status=error.status_hint, error=error)


@router.get("/")
def home(request: Request, desk: CurrentDesk) -> HTMLResponse:
    """The three questions."""
    tours = (
        [{"href": tour.page, "text": tour.text} for tour in TOURS.values() if tour.page]
        if request.app.state.demo
        else []
    )
    return page(request, desk, "home.html", tours=tours)


@router.get("/fits")
def fits(
    request: Request, desk: CurrentDesk, unit: Text = "", engine: Text = "", both: Text = "", as_of: Text = ""
) -> HTMLResponse:
    """Does it fit, joint by joint, and the other way round."""
    day = as_of or today()
    try:
        answers = desk.fits(unit, engine, both=both == "yes", day=day)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(request, desk, "fits.html", answers=answers, day=day)


@router.get("/plan")
def plan(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    build: Text = "",
    engine: Text = "",
    best: Count = 3,
    as_of: Text = "",
) -> HTMLResponse:
    """What it takes, cheapest first."""
    day = as_of or today()
    try:
        answer = desk.plan(core, build, engine, best=best, day=day)
    except SpoolwrightError as error:
        return trouble(request, desk, error)

    def pick_query(number: int) -> str:
        return urlencode({"core": core, "build": build, "engine": engine, "plan": number, "as_of": as_of})

    asked = {**request.query_params, "plan_engine": engine}
    return page(request, desk, "plan.html", answer=answer, day=day, pick_query=pick_query, asked=asked)


@router.get("/pick")
def pick(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    build: Text = "",
    engine: Text = "",
    plan: Count = 1,
    as_of: Text = "",
    format: Text = "page",
) -> Response:
    """What to fetch for one way; as a page, CSV or an Excel workbook."""
    day = as_of or today()
    try:
        picks = desk.pick([(core, build, engine, plan, ())], day=day)
        if format != "page":
            return pick_response(picks, format)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    query = {"core": core, "build": build, "engine": engine, "plan": plan, "as_of": as_of}
    return page(
        request,
        desk,
        "pick.html",
        picks=picks,
        day=day,
        csv_href="/pick?" + urlencode({**query, "format": "csv"}),
        xlsx_href="/pick?" + urlencode({**query, "format": "xlsx"}),
        plan_href="/plan?" + urlencode({"core": core, "build": build, "engine": engine, "best": plan}),
    )
