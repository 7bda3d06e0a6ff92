"""`/v1`: the day's jobs against one shelf, what is promised, and derived interchange."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from api.current import CurrentDesk, CurrentStore, today
from api.depth.shelf import ShelfAsked
from api.documented import forms
from api.http.asking import put
from api.schemas import Day
from api.writing import WRITE_PROBLEMS, StockWrite, WriteRoute, now
from graph.desk.desk import Desk
from graph.desk.yard import Yard, bare, reservation_rows
from graph.model.interchange import InterchangeAnswer, InterchangeReport
from graph.model.yard import Promise, ReservedShelf, RushAnswer, ShelfAnswer
from graph.publish import record

router = APIRouter(prefix="/v1", tags=["yard"], responses=WRITE_PROBLEMS, route_class=WriteRoute)


class ReserveAsked(ShelfAsked):
    """The same, and each job is promised what it gets: `until` that day, or until it is released."""

    until: Day = ""
    author: str = Field("", max_length=200)


@router.post("/shelf/plans", response_class=Response, responses=forms("Who gets what", ShelfAnswer))
async def plan_the_shelf(request: Request, asked: ShelfAsked) -> Response:
    """Who gets which core and parts, so that most jobs are done, for the least; plans without their evidence."""
    return await put(request, "shelf", asked.given(today()), "json", seconds=asked.seconds, crew="deep")


@router.post("/shelf/rush", response_class=Response, responses=forms("What comes off otherwise", RushAnswer))
async def plan_a_rush(request: Request, asked: ShelfAsked) -> Response:
    """What the rush job displaces: the day without it and with it before all others."""
    return await put(request, "rush", asked.given(today()), "json", seconds=2 * asked.seconds, crew="deep")


@router.post("/shelf/reservations", status_code=201)
def reserve_the_shelf(
    asked: ReserveAsked, desk: CurrentDesk, store: CurrentStore, write: StockWrite
) -> ReservedShelf:
    """Plan the jobs and promise each what it gets; what was promised to these jobs before is released.

    Refused where the store moved on in between.
    """
    author, yard = write.author(asked.author), Yard(desk)
    question = asked.question(desk, today())
    answer = yard.plan(question, seconds=asked.seconds)
    if not write.again:
        rows = reservation_rows(yard, answer, question.day, until=asked.until, who=author)
        write.once(
            lambda: record(
                store,
                rows,
                author=author,
                time=now(),
                title=f"promised to {len(answer.jobs)} jobs",
                unmoved_since=desk.snapshot.shelf,
            )
        )
    names_ = {job.name for job in question.jobs}
    held = tuple(p for p in Yard(Desk.over(store)).promised(question.day) if p.job in names_)
    return ReservedShelf(bare(answer), held)


@router.get("/shelf/promises")
def promises(desk: CurrentDesk) -> list[Promise]:
    """What is promised to which job, by whom, until when; what has lapsed is left out. Oldest first."""
    return list(Yard(desk).promised(today()))


@router.get("/interchange")
def interchange(
    desk: CurrentDesk,
    part: Annotated[str, Query(min_length=1, max_length=200)],
    seat: Annotated[str, Query(max_length=200)] = "",
) -> InterchangeAnswer:
    """What else could sit where this part sits, whose place it could take, and why."""
    return Yard(desk).interchange(part, seat)


@router.get("/interchange/report")
def interchange_report(desk: CurrentDesk) -> InterchangeReport:
    """Every asserted interchange held against the features, and the derived ones that nobody asserts."""
    return Yard(desk).interchange_report()
