"""`/v1`: the day's jobs against one shelf, what is promised, and derived interchange."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field, TypeAdapter

from api.current import CurrentDesk, CurrentStore, today
from api.depth.shelf import ShelfAsked
from api.documented import forms
from api.http.asking import put
from api.http.forms import MEDIA
from api.http.listing import RDF, one_of, rows, table
from api.schemas import Day, Form
from api.text.leading import interchange_table, report_table
from api.writing import WRITE_PROBLEMS, StockWrite, WriteRoute, now
from graph.desk.desk import Desk
from graph.desk.things import Things
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


@router.get(
    "/interchange",
    response_class=Response,
    responses=one_of(InterchangeAnswer, "What may stand in; or the rows that assert it"),
)
def interchange(
    desk: CurrentDesk,
    part: Annotated[str, Query(min_length=1, max_length=200)],
    seat: Annotated[str, Query(max_length=200)] = "",
    format: Form = "json",
) -> Response:
    """What else could sit where this part sits, whose place it could take, and why.

    As RDF only what somebody asserts: what is derived hangs on conditions, which no single triple can carry.
    """
    found = Yard(desk).interchange(part, seat)
    if format in RDF:
        said = (one.asserted for one in found.asserted)
        return rows(Things(desk).saying((one.part, one.said) for one in said), format)
    if format != "json":
        return table(*interchange_table(found), format, found.sentence)
    return Response(TypeAdapter(InterchangeAnswer).dump_json(found), media_type=MEDIA["json"])


@router.get(
    "/interchange/report", response_class=Response, responses=forms("The edges", InterchangeReport, "csv", "xlsx")
)
def interchange_report(desk: CurrentDesk, format: Form = "json") -> Response:
    """Every asserted interchange held against the features, and the derived ones that nobody asserts."""
    found = Yard(desk).interchange_report()
    if format != "json":
        return table(*report_table(found), format)
    return Response(TypeAdapter(InterchangeReport).dump_json(found), media_type=MEDIA["json"])
