"""`/v1`: why not, what then, which core, how far, what least, by other measures."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Response
from pydantic import BaseModel, Field

from api.current import CurrentDesk, today
from api.documented import PROBLEMS
from api.schemas import Asked, Day, Measure, Name
from graph.desk import depth
from graph.model.depth import Least, Objectives, Ranking, StockAdvice, UnknownAnswer, WhyAnswer
from graph.planning.saved import saved_why

router = APIRouter(prefix="/v1", tags=["depth"], responses=PROBLEMS)
Seconds = Annotated[float, Field(gt=0, le=120, allow_inf_nan=False)]


class QuestionAsked(Asked):
    """A core, a build, and wishes that narrow what may be done."""

    core: Name
    build: Name
    engine: str = Field("", max_length=200)
    wishes: list[Name] = Field(default_factory=list, max_length=50)
    as_of: Day = ""
    seconds: Seconds = 60.0


class WhyAsked(QuestionAsked):
    """Why is it impossible, and what are the cheapest ways out?"""

    best: int = Field(3, ge=1, le=20)
    waive: bool = Field(False, description="also look for ways that leave out a fit rule; never a safety rule")


class WeighAsked(QuestionAsked):
    """The best plan by these measures; none: all that nothing beats in both money and time."""

    by: list[Measure] = Field(default_factory=list, max_length=5)


class RankAsked(Asked):
    """All cores of the shelf for a build, the first `best` exactly."""

    build: Name
    engine: str = Field("", max_length=200)
    best: int = Field(5, ge=1, le=50)
    customers: bool = Field(False, description="rank customers' own cores too")
    wishes: list[Name] = Field(default_factory=list, max_length=50)
    as_of: Day = ""
    seconds: Seconds = 60.0


class ReachAsked(Asked):
    """All builds that a core can become."""

    core: Name
    wishes: list[Name] = Field(default_factory=list, max_length=50)
    as_of: Day = ""


class LeastAsked(Asked):
    """The least change that puts a unit onto an engine."""

    unit: Name
    engine: Name
    as_of: Day = ""


class KeepAsked(Asked):
    """Which parts, at most so many, to keep in stock."""

    most: int = Field(5, ge=0, le=20)
    as_of: Day = ""


class SavedWhy(BaseModel):
    """An answer to why not that can be kept and judged again."""

    format: int
    kind: Literal["why"]
    answer: WhyAnswer
    digest: str


@router.post("/why", response_class=Response, responses={200: {"model": SavedWhy, "description": "A saved answer"}})
def ask_why(asked: WhyAsked, desk: CurrentDesk) -> Response:
    """What clashes, minimal, and the cheapest ways out, in the saved form with its evidence."""
    answer = depth.why(
        desk,
        asked.core,
        asked.build,
        asked.engine,
        best=asked.best,
        waive=asked.waive,
        wishes=asked.wishes,
        day=asked.as_of or today(),
        seconds=asked.seconds,
    )
    return Response(saved_why(answer), media_type="application/json")


@router.post("/unknown")
def ask_unknown(asked: QuestionAsked, desk: CurrentDesk) -> UnknownAnswer:
    """Each case of the missing facts, what holds in all of them, and the measurements that decide."""
    return depth.unknown(
        desk,
        asked.core,
        asked.build,
        asked.engine,
        wishes=asked.wishes,
        day=asked.as_of or today(),
        seconds=asked.seconds,
    )


@router.post("/weigh")
def ask_weigh(asked: WeighAsked, desk: CurrentDesk) -> Objectives:
    """The best plan by other measures than money, or the Pareto set of money and time."""
    return depth.objectives(
        desk,
        asked.core,
        asked.build,
        asked.engine,
        order=asked.by,
        wishes=asked.wishes,
        day=asked.as_of or today(),
        seconds=asked.seconds,
    )


@router.post("/rank")
def ask_rank(asked: RankAsked, desk: CurrentDesk) -> Ranking:
    """All cores of the shelf for a build, best first, with what each needs."""
    return depth.rank(
        desk,
        asked.build,
        asked.engine,
        best=asked.best,
        customers=asked.customers,
        wishes=asked.wishes,
        day=asked.as_of or today(),
        seconds=asked.seconds,
    )


@router.post("/reach")
def ask_reach(asked: ReachAsked, desk: CurrentDesk) -> Ranking:
    """All builds that a core can become, cheapest first."""
    return depth.reach(desk, asked.core, wishes=asked.wishes, day=asked.as_of or today())


@router.get("/least")
def ask_least(asked: Annotated[LeastAsked, Query()], desk: CurrentDesk) -> Least:
    """The least change that puts a unit, as supplied, onto an engine."""
    return depth.least(desk, asked.unit, asked.engine, day=asked.as_of or today())


@router.post("/keep-in-stock")
def ask_keep(asked: KeepAsked, desk: CurrentDesk) -> StockAdvice:
    """Which parts to keep in stock so that most builds can be made from stock."""
    return depth.advise(desk, most=asked.most, day=asked.as_of or today())
