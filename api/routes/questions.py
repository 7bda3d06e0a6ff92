"""`/v1`: the three questions and judging a saved answer."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.documented import PROBLEMS, SavedAnswer, forms
from api.http.asking import given_of, put, respond
from api.http.bodies import JsonRoute
from api.schemas import FitsAsked, FitsQuery, Form, PickAsked, PickQuery, PlanAsked, PlanQuery
from api.work import fits_made
from graph.desk import Desk, Judgement
from graph.desk.standing import fits_standing
from graph.model.fits import FitsAnswer
from graph.model.picking import PickList

SAVED_BODY = {
    "requestBody": {
        "description": "An answer in its saved form, as POST /v1/plans gives it",
        "content": {"application/json": {"schema": {"type": "object"}}},
        "required": True,
    }
}
FITS = forms("One answer a direction", list[FitsAnswer], "text")
PLAN = forms("A saved answer, or the same told in words", SavedAnswer, "text")
PICKS = forms("The pick list", PickList, "csv", "xlsx", "text")
router = APIRouter(prefix="/v1", tags=["questions"], responses=PROBLEMS, route_class=JsonRoute)


async def _fits(request: Request, asked: FitsAsked, desk: Desk, form: str) -> Response:
    given = given_of(asked, asked.as_of or today())
    if not asked.both:
        standing = fits_standing(desk, **{name: text for name, text in given.items() if name != "both"})
        if standing is not None:
            return respond(fits_made(desk, [standing], form))
    return await put(request, "fits", given, form)


@router.post("/fits", response_class=Response, responses=FITS)
async def ask_fits(request: Request, asked: FitsAsked, desk: CurrentDesk, format: Form = "json") -> Response:
    """Will this unit go onto that engine, or this part into that seat? One answer a direction."""
    return await _fits(request, asked, desk, format)


@router.get("/fits", response_class=Response, responses=FITS)
async def get_fits(request: Request, asked: Annotated[FitsQuery, Query()], desk: CurrentDesk) -> Response:
    """The same, as an address that can be kept and sent."""
    return await _fits(request, asked, desk, asked.format)


@router.post("/plans", response_class=Response, responses=PLAN)
async def ask_plan(request: Request, asked: PlanAsked, format: Form = "json") -> Response:
    """What parts and machining turn this core into that build? The answer in its saved form, with its evidence."""
    return await put(request, "plan", given_of(asked, asked.as_of or today()), format, seconds=asked.seconds)


@router.get("/plans", response_class=Response, responses=PLAN)
async def get_plan(request: Request, asked: Annotated[PlanQuery, Query()]) -> Response:
    """The same, as an address that can be kept and sent."""
    return await put(request, "plan", given_of(asked, asked.as_of or today()), asked.format, seconds=asked.seconds)


@router.post("/picklists", response_class=Response, responses=PICKS)
async def ask_pick(request: Request, asked: PickAsked, format: Form = "json") -> Response:
    """What to fetch for one job or several."""
    jobs = [(j.core, j.build, j.engine, j.plan, tuple(j.wishes)) for j in asked.jobs]
    return await put(request, "pick", {"jobs": jobs, "day": asked.as_of or today()}, format)


@router.get("/picklists", response_class=Response, responses=PICKS)
async def get_pick(request: Request, asked: Annotated[PickQuery, Query()]) -> Response:
    """What to fetch for one job, as an address that can be kept and sent."""
    job = (asked.core, asked.build, asked.engine, asked.plan, tuple(asked.wishes))
    return await put(request, "pick", {"jobs": [job], "day": asked.as_of or today()}, asked.format)


@router.post("/verify", openapi_extra=SAVED_BODY)
async def ask_verify(request: Request, desk: CurrentDesk) -> Judgement:
    """Judge a saved answer against its evidence and, where it was read from this store, against the store."""
    data = await request.body()
    return await run_in_threadpool(desk.judge_here, data)
