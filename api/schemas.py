"""What requests may hold; answers are the records of `graph.model` themselves."""

import re
from datetime import date
from typing import Annotated, Final, Literal

from fastapi import Query
from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from api.http.addresses import SLASH

_DAY: Final = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})?")
Name = Annotated[str, Field(min_length=1, max_length=200)]
Wish = Annotated[list[Name], Field(max_length=50, alias="wish")]
Form = Annotated[str, Query(max_length=20, description="The form of the answer, before what `Accept` says")]
Measure = Literal["cost", "time", "changes", "lasting", "lead"]


def is_day(text: str) -> bool:
    """Whether this is a day of the calendar, or none: a 45th would be taken for some day of the next month.

    >>> is_day("2026-11-20"), is_day(""), is_day("2026-02-30")
    (True, True, False)
    """
    if not _DAY.fullmatch(text):
        return False
    try:
        return not text or bool(date.fromisoformat(text))
    except ValueError:
        return False


def _day(text: str) -> str:
    if not is_day(text):
        raise ValueError(f"{text!r} is no day of the calendar")
    return text


Day = Annotated[
    str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$", description="YYYY-MM-DD; empty: today"), AfterValidator(_day)
]
InPath = Annotated[str, AfterValidator(lambda text: text.replace(SLASH, "/"))]
"""A name that is one piece of a path; a slash within it was kept apart on the way in (`api.http.addresses`)."""


LOOSE: Final = ConfigDict(extra="forbid", strict=False, frozen=True)
"""Of questions in addresses, where everything is text."""


class Asked(BaseModel):
    """A request: unknown fields are refused."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class FitsAsked(Asked):
    """Will this unit go onto that engine, or this part into that seat of the unit?"""

    unit: Name
    engine: str = Field("", max_length=200)
    seat: str = Field("", max_length=200)
    part: str = Field("", max_length=200)
    both: bool = False
    as_of: Day = ""


class FitsQuery(FitsAsked):
    """The same in an address, where everything is text."""

    model_config = LOOSE
    format: Form = "json"


class PlanAsked(Asked):
    """What parts and machining turn this core into that build for that engine?"""

    core: Name
    build: Name
    engine: str = Field("", max_length=200)
    best: int = Field(1, ge=1, le=100)
    wishes: list[Name] = Field(default_factory=list, max_length=50)
    by: list[Measure] = Field(
        default_factory=list, max_length=5, description="measures, the weightiest first; none: money. One plan then"
    )
    as_of: Day = ""
    seconds: float = Field(20.0, gt=0, le=60, allow_inf_nan=False)


class JobAsked(Asked):
    """One job of a pick list: a plan question, and which of its plans is taken (1 is the cheapest)."""

    core: Name
    build: Name
    engine: str = Field("", max_length=200)
    plan: int = Field(1, ge=1, le=100)
    wishes: list[Name] = Field(default_factory=list, max_length=50)


class PickAsked(Asked):
    """A pick list over one job or several."""

    jobs: list[JobAsked] = Field(min_length=1, max_length=50)
    as_of: Day = ""


class PlanQuery(PlanAsked):
    """A plan question in an address, where everything is text and a wish is `wish`, once each."""

    model_config = LOOSE
    wishes: Wish = Field(default_factory=list)
    format: Form = "json"


class PickQuery(JobAsked):
    """One job of a pick list in an address."""

    model_config = LOOSE
    wishes: Wish = Field(default_factory=list)
    as_of: Day = ""
    format: Form = "json"
