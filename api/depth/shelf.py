"""The day's jobs as they are asked for over HTTP, and as a worker puts them to a desk."""

from typing import Any

from pydantic import Field

from api.schemas import Asked, Day, Name
from graph.desk import names
from graph.desk.desk import Desk
from graph.desk.yard import Yard, bare
from graph.errors import BadQuestion
from graph.model.yard import Job, RushAnswer, ShelfAnswer, ShelfQuestion
from graph.shelf.answer import MOST_JOBS


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

    def given(self, day: str) -> dict[str, Any]:
        """As `allocated` and `rushed` take it; `day` counts where the asker names none."""
        return {"asked": self.model_dump_json(), "day": day}

    def question(self, desk: Desk, day: str) -> ShelfQuestion:
        """The question with the names looked up."""
        jobs = tuple(_job(one, desk) for one in self.jobs)
        return ShelfQuestion(jobs, self.as_of or day, self.by, self.only_stock, self.one_teardown, self.rush)


def allocated(desk: Desk, *, asked: str, day: str) -> ShelfAnswer:
    """Who gets what, by a question in JSON; plans without their evidence.

    Raises
    ------
    SpoolwrightError
        As the yard.
    """
    wanted = ShelfAsked.model_validate_json(asked)
    return bare(Yard(desk).plan(wanted.question(desk, day), seconds=wanted.seconds))


def rushed(desk: Desk, *, asked: str, day: str) -> RushAnswer:
    """What the rush job displaces, by a question in JSON.

    Raises
    ------
    SpoolwrightError
        As the yard.
    """
    wanted = ShelfAsked.model_validate_json(asked)
    found = Yard(desk).rush(wanted.question(desk, day), seconds=wanted.seconds)
    return RushAnswer(found.rush, bare(found.without), bare(found.together), found.displaced, found.sentence)


def _job(asked: JobOfDay, desk: Desk) -> Job:
    build = names.build(desk.catalogue, asked.build)
    engine = names.thing(desk.catalogue.find_engines, "engine", asked.engine).key if asked.engine else build.engine
    if not engine:
        raise BadQuestion(f"{asked.job}: build {build.name} is for no engine in particular", fix="name the engine")
    core = names.core(desk.shelf, asked.core).key if asked.core else ""
    return Job(asked.job, build.key, engine, core, asked.due, asked.customer)
