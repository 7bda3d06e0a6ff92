"""`/v1`: why not, what then, which core, how far, what least, by other measures; by GET or by POST."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel

from api.current import today
from api.depth.asked import (
    DeepAsked,
    KeepAsked,
    KeepQuery,
    LeastAsked,
    LeastQuery,
    QuestionAsked,
    QuestionQuery,
    RankAsked,
    RankQuery,
    ReachAsked,
    ReachQuery,
    WeighAsked,
    WeighQuery,
    WhyAsked,
    WhyQuery,
)
from api.documented import PROBLEMS, forms
from api.http.asking import put
from api.schemas import Form
from graph.model.depth import Least, Objectives, Ranking, StockAdvice, UnknownAnswer, WhyAnswer

router = APIRouter(prefix="/v1", tags=["depth"], responses=PROBLEMS)
LONGEST = 120.0
"""Seconds for what looks at many cores or builds and has no limit of its own."""


class SavedWhy(BaseModel):
    """An answer to why not that can be kept and judged again."""

    format: int
    kind: Literal["why"]
    answer: WhyAnswer
    digest: str


class SavedWeigh(BaseModel):
    """Plans weighed by other measures than money, that can be kept and judged again."""

    format: int
    kind: Literal["weigh"]
    answer: Objectives
    digest: str


WHY = forms("A saved answer with its evidence, or the same told in words", SavedWhy, "text")
UNKNOWN = forms("The cases, or the same told in words", UnknownAnswer, "text")
WEIGH = forms("The plans with their evidence, or a row for each", SavedWeigh, "csv", "xlsx", "text")
RANK = forms("The cores, or a row for each; best first", Ranking, "csv", "xlsx", "text")
REACH = forms("The builds, or a row for each; cheapest first", Ranking, "csv", "xlsx", "text")
LEAST = forms("The change, or the same told in words", Least, "text")
KEEP = forms("The parts, or a row for each", StockAdvice, "csv", "xlsx")


async def _answered(request: Request, kind: str, asked: DeepAsked, form: str) -> Response:
    seconds: float = getattr(asked, "seconds", LONGEST)
    return await put(request, kind, asked.given(asked.as_of or today()), form, seconds=seconds, crew="deep")


@router.post("/why", response_class=Response, responses=WHY)
async def ask_why(request: Request, asked: WhyAsked, format: Form = "json") -> Response:
    """What clashes, minimal, and the cheapest ways out, in the saved form with its evidence."""
    return await _answered(request, "why", asked, format)


@router.get("/why", response_class=Response, responses=WHY)
async def get_why(request: Request, asked: Annotated[WhyQuery, Query()]) -> Response:
    """The same, as an address that can be kept and sent."""
    return await _answered(request, "why", asked, asked.format)


@router.post("/unknown", response_class=Response, responses=UNKNOWN)
async def ask_unknown(request: Request, asked: QuestionAsked, format: Form = "json") -> Response:
    """Each case of the missing facts, what holds in all of them, and the measurements that decide."""
    return await _answered(request, "unknown", asked, format)


@router.get("/unknown", response_class=Response, responses=UNKNOWN)
async def get_unknown(request: Request, asked: Annotated[QuestionQuery, Query()]) -> Response:
    """The same, as an address that can be kept and sent."""
    return await _answered(request, "unknown", asked, asked.format)


@router.post("/weigh", response_class=Response, responses=WEIGH)
async def ask_weigh(request: Request, asked: WeighAsked, format: Form = "json") -> Response:
    """The best plan by other measures than money, or the Pareto set of money and time, in the saved form."""
    return await _answered(request, "weigh", asked, format)


@router.get("/weigh", response_class=Response, responses=WEIGH)
async def get_weigh(request: Request, asked: Annotated[WeighQuery, Query()]) -> Response:
    """The same, as an address that can be kept and sent."""
    return await _answered(request, "weigh", asked, asked.format)


@router.post("/rank", response_class=Response, responses=RANK)
async def ask_rank(request: Request, asked: RankAsked, format: Form = "json") -> Response:
    """All cores of the shelf for a build, best first, with what each needs."""
    return await _answered(request, "rank", asked, format)


@router.get("/rank", response_class=Response, responses=RANK)
async def get_rank(request: Request, asked: Annotated[RankQuery, Query()]) -> Response:
    """The same, as an address that can be kept and sent."""
    return await _answered(request, "rank", asked, asked.format)


@router.post("/reach", response_class=Response, responses=REACH)
async def ask_reach(request: Request, asked: ReachAsked, format: Form = "json") -> Response:
    """All builds that a core can become, cheapest first."""
    return await _answered(request, "reach", asked, format)


@router.get("/reach", response_class=Response, responses=REACH)
async def get_reach(request: Request, asked: Annotated[ReachQuery, Query()]) -> Response:
    """The same, as an address that can be kept and sent."""
    return await _answered(request, "reach", asked, asked.format)


@router.post("/least", response_class=Response, responses=LEAST)
async def ask_least(request: Request, asked: LeastAsked, format: Form = "json") -> Response:
    """The least change that puts a unit, as supplied, onto an engine."""
    return await _answered(request, "least", asked, format)


@router.get("/least", response_class=Response, responses=LEAST)
async def get_least(request: Request, asked: Annotated[LeastQuery, Query()]) -> Response:
    """The same, as an address that can be kept and sent."""
    return await _answered(request, "least", asked, asked.format)


@router.post("/keep-in-stock", response_class=Response, responses=KEEP)
async def ask_keep(request: Request, asked: KeepAsked, format: Form = "json") -> Response:
    """Which parts to keep in stock so that most builds can be made from stock."""
    return await _answered(request, "keep", asked, format)


@router.get("/keep-in-stock", response_class=Response, responses=KEEP)
async def get_keep(request: Request, asked: Annotated[KeepQuery, Query()]) -> Response:
    """The same, as an address that can be kept and sent."""
    return await _answered(request, "keep", asked, asked.format)
