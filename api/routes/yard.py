"""`/v1`: the day's jobs against one shelf, what is promised, and derived interchange."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import Field

from api.current import CurrentDesk, CurrentStore, today
from api.schemas import Asked, Day, Name
from api.writing import WRITE_PROBLEMS, StockWrite, WriteRoute, now
from graph.desk import names
from graph.desk.desk import Desk
from graph.desk.yard import Yard, bare, reservation_rows
from graph.errors import BadQuestion
from graph.model.interchange import InterchangeAnswer, InterchangeReport
from graph.model.yard import Job, Promise, ReservedShelf, RushAnswer, ShelfAnswer, ShelfQuestion
from graph.publish import record
from graph.shelf.answer import MOST_JOBS

router = APIRouter(prefix="/v1", tags=["yard"], responses=WRITE_PROBLEMS, route_class=WriteRoute)


class JobOfDay(Asked):
    """One job of the day: a build on a core of its own, or on any core of the shop's."""

    job: Name
    build: Name
    core: str = Field("", max_length=200)
    engine: str = Field("", max_length=200)
    due: Day = ""
    customer: str = Field("", max_length=200)


class ShelfAsked(Asked):
    """The day's jobs against one shelf. `by`: a day by which all are to be done. `rush`: the job that goes first."""

    jobs: list[JobOfDay] = Field(min_length=1, max_length=MOST_JOBS)
    by: str = Field("", pattern=r"^(\d{4}-\d{2}-\d{2})?$", description="YYYY-MM-DD; empty: each job's own day")
    only_stock: bool = False
    one_teardown: bool = False
    rush: str = Field("", max_length=200)
    as_of: Day = ""
    seconds: float = Field(30.0, gt=0, le=60, allow_inf_nan=False)

    def question(self, desk: Desk) -> ShelfQuestion:
        """The question with the names looked up."""
        jobs = tuple(_job(one, desk) for one in self.jobs)
        return ShelfQuestion(jobs, self.as_of or today(), self.by, self.only_stock, self.one_teardown, self.rush)


class ReserveAsked(ShelfAsked):
    """The same, and each job is promised what it gets: `until` that day, or until it is released."""

    until: Day = ""
    author: str = Field("", max_length=200)


def _job(asked: JobOfDay, desk: Desk) -> Job:
    build = names.build(desk.catalogue, asked.build)
    engine = names.thing(desk.catalogue.find_engines, "engine", asked.engine).key if asked.engine else build.engine
    if not engine:
        raise BadQuestion(f"{asked.job}: build {build.name} is for no engine in particular", fix="name the engine")
    core = names.core(desk.shelf, asked.core).key if asked.core else ""
    return Job(asked.job, build.key, engine, core, asked.due, asked.customer)


@router.post("/shelf/plans")
def plan_the_shelf(asked: ShelfAsked, desk: CurrentDesk) -> ShelfAnswer:
    """Who gets which core and parts, so that most jobs are done, for the least; plans without their evidence."""
    return bare(Yard(desk).plan(asked.question(desk), seconds=asked.seconds))


@router.post("/shelf/rush")
def plan_a_rush(asked: ShelfAsked, desk: CurrentDesk) -> RushAnswer:
    """What the rush job displaces: the day without it and with it before all others."""
    found = Yard(desk).rush(asked.question(desk), seconds=asked.seconds)
    return RushAnswer(found.rush, bare(found.without), bare(found.together), found.displaced, found.sentence)


@router.post("/shelf/reservations", status_code=201)
def reserve_the_shelf(
    asked: ReserveAsked, desk: CurrentDesk, store: CurrentStore, write: StockWrite
) -> ReservedShelf:
    """Plan the jobs and promise each what it gets; what was promised to these jobs before is released.

    Refused where the store moved on in between.
    """
    author, yard = write.author(asked.author), Yard(desk)
    question = asked.question(desk)
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
