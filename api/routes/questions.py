"""`/v1`: the three questions and judging a saved answer."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.documented import PROBLEMS, SavedAnswer
from api.forms import pick_response
from api.schemas import FitsAsked, FitsQuery, PickAsked, PlanAsked
from graph.desk import Judgement
from graph.model.fits import FitsAnswer
from graph.model.picking import PickList
from graph.planning.saved import saved

SAVED_BODY = {
    "requestBody": {
        "description": "An answer in its saved form, as POST /v1/plans gives it",
        "content": {"application/json": {"schema": {"type": "object"}}},
        "required": True,
    }
}
router = APIRouter(prefix="/v1", tags=["questions"], responses=PROBLEMS)


@router.post("/fits")
def ask_fits(asked: FitsAsked, desk: CurrentDesk) -> list[FitsAnswer]:
    """Will this unit go onto that engine, or this part into that seat? One answer a direction."""
    return list(
        desk.fits(
            asked.unit, asked.engine, seat=asked.seat, part=asked.part, both=asked.both, day=asked.as_of or today()
        )
    )


@router.get("/fits")
def get_fits(asked: Annotated[FitsQuery, Query()], desk: CurrentDesk) -> list[FitsAnswer]:
    """The same, as an address that can be kept and sent."""
    return ask_fits(asked, desk)


@router.post(
    "/plans", response_class=Response, responses={200: {"model": SavedAnswer, "description": "A saved answer"}}
)
def ask_plan(asked: PlanAsked, desk: CurrentDesk) -> Response:
    """What parts and machining turn this core into that build? The answer in its saved form, with its evidence."""
    answer = desk.plan(
        asked.core,
        asked.build,
        asked.engine,
        best=asked.best,
        wishes=tuple(asked.wishes),
        day=asked.as_of or today(),
        seconds=asked.seconds,
    )
    return Response(saved(answer), media_type="application/json")


@router.post("/picklists", response_class=Response, responses={200: {"model": PickList}})
def ask_pick(asked: PickAsked, desk: CurrentDesk, format: str = "json") -> Response:
    """What to fetch for one job or several; `format` is json, csv, xlsx or text."""
    picks = desk.pick(
        [(j.core, j.build, j.engine, j.plan, tuple(j.wishes)) for j in asked.jobs], day=asked.as_of or today()
    )
    return pick_response(picks, format)


@router.post("/verify", openapi_extra=SAVED_BODY)
async def ask_verify(request: Request, desk: CurrentDesk) -> Judgement:
    """Judge a saved answer against its evidence and, where it was read from this store, against the store."""
    data = await request.body()
    return await run_in_threadpool(desk.judge_here, data)
