"""`/v1`: the day's jobs against one shelf, what is promised, and derived interchange."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import Field

from api.current import CurrentDesk, today
from api.documented import PROBLEMS
from api.schemas import Asked, Day, Name
from graph.desk import names
from graph.desk.desk import Desk
from graph.desk.yard import Yard, bare
from graph.errors import BadQuestion
from graph.model.interchange import InterchangeAnswer, InterchangeReport
from graph.model.yard import Job, Promise, RushAnswer, ShelfAnswer, ShelfQuestion
from graph.shelf.answer import MOST_JOBS

router = APIRouter(prefix="/v1", tags=["yard"], responses=PROBLEMS)


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


@router.get("/shelf/promises")
def promises(desk: CurrentDesk) -> list[Promise]:
    """What is promised to which job."""
    return list(Yard(desk).promised())


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
