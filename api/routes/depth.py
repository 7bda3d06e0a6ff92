"""`/v1`: why not, what then, which core, how far, what least, by other measures; by GET or by POST."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel

from api.current import today
from api.depth.asked import (
    DeepAsked,
    KeepAsked,
    LeastAsked,
    QuestionAsked,
    RankAsked,
    ReachAsked,
    WeighAsked,
    WhyAsked,
    in_address,
)
from api.documented import PROBLEMS, forms
from api.http.asking import put
from api.http.bodies import JsonRoute
from api.schemas import Form
from graph.model.depth import Least, Objectives, Ranking, StockAdvice, UnknownAnswer, WhyAnswer

router = APIRouter(prefix="/v1", tags=["depth"], responses=PROBLEMS, route_class=JsonRoute)
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


def _question(
    kind: str, body: type[DeepAsked], answer: dict[int | str, dict[str, Any]], told: str, at: str = ""
) -> None:
    """One question at `/kind` (or `at`), by POST and as an address that can be kept."""
    query = in_address(body)

    async def ask(request: Request, asked: DeepAsked, format: Form = "json") -> Response:
        return await _answered(request, kind, asked, format)

    async def get(request: Request, asked: DeepAsked) -> Response:
        return await _answered(request, kind, asked, getattr(asked, "format", "json"))

    ask.__name__, get.__name__ = f"ask_{kind}", f"get_{kind}"
    ask.__doc__, get.__doc__ = told, "The same, as an address that can be kept and sent."
    ask.__annotations__["asked"] = body
    get.__annotations__["asked"] = Annotated[query, Query()]
    router.post(f"/{at or kind}", response_class=Response, responses=answer)(ask)
    router.get(f"/{at or kind}", response_class=Response, responses=answer)(get)


_question(
    "why", WhyAsked, WHY, "What clashes, minimal, and the cheapest ways out, in the saved form with its evidence."
)
_question(
    "unknown",
    QuestionAsked,
    UNKNOWN,
    "Each case of the missing facts, what holds in all of them, and the measurements that decide.",
)
_question(
    "weigh",
    WeighAsked,
    WEIGH,
    "The best plan by other measures than money, or the Pareto set of money and time, in the saved form.",
)
_question("rank", RankAsked, RANK, "All cores of the shelf for a build, best first, with what each needs.")
_question("reach", ReachAsked, REACH, "All builds that a core can become, cheapest first.")
_question("least", LeastAsked, LEAST, "The least change that puts a unit, as supplied, onto an engine.")
_question(
    "keep",
    KeepAsked,
    KEEP,
    "Which parts to keep in stock so that most builds can be made from stock.",
    at="keep-in-stock",
)
