"""What requests for why, unknown, weigh, rank, reach, least and keep-in-stock may hold, as bodies and in addresses.

In an address everything is text, `wishes` is the repeated field `wish`, and `format` names the form of the answer.
"""

from typing import Annotated, Any, Final

from pydantic import ConfigDict, Field

from api.schemas import Asked, Day, Form, Measure, Name

LOOSE: Final = ConfigDict(extra="forbid", strict=False, frozen=True)
Seconds = Annotated[float, Field(gt=0, le=120, allow_inf_nan=False)]
Engine = Annotated[str, Field(max_length=200, description="Empty: the build's own")]
Wishes = Annotated[list[Name], Field(max_length=50)]
Wish = Annotated[list[Name], Field(max_length=50, alias="wish")]


class DeepAsked(Asked):
    """What they have in common: the day on which prices are read."""

    as_of: Day = ""

    def given(self, day: str) -> dict[str, Any]:
        """As the desk's function takes it; `day` counts where the asker names none."""
        return self.model_dump(exclude={"as_of", "format"}) | {"day": self.as_of or day}


class QuestionAsked(DeepAsked):
    """A core, a build, and wishes that narrow what may be done."""

    core: Name
    build: Name
    engine: Engine = ""
    wishes: Wishes = Field(default_factory=list)
    seconds: Seconds = 60.0


class QuestionQuery(QuestionAsked):
    """The same in an address."""

    model_config = LOOSE
    wishes: Wish = Field(default_factory=list)
    format: Form = "json"


class WhyAsked(QuestionAsked):
    """Why is it impossible, and what are the cheapest ways out?"""

    best: int = Field(3, ge=1, le=20)
    waive: bool = Field(False, description="also look for ways that leave out a fit rule; never a safety rule")


class WhyQuery(WhyAsked):
    """The same in an address."""

    model_config = LOOSE
    wishes: Wish = Field(default_factory=list)
    format: Form = "json"


class WeighAsked(QuestionAsked):
    """The best plan by these measures; none: all that nothing beats in both money and time."""

    by: list[Measure] = Field(default_factory=list, max_length=5)

    def given(self, day: str) -> dict[str, Any]:
        """As the desk's function takes it."""
        found = super().given(day)
        found["order"] = found.pop("by")
        return found


class WeighQuery(WeighAsked):
    """The same in an address."""

    model_config = LOOSE
    wishes: Wish = Field(default_factory=list)
    format: Form = "json"


class RankAsked(DeepAsked):
    """All cores of the shelf for a build, the first `best` exactly."""

    build: Name
    engine: Engine = ""
    best: int = Field(5, ge=1, le=50)
    customers: bool = Field(False, description="rank customers' own cores too")
    wishes: Wishes = Field(default_factory=list)
    seconds: Seconds = 60.0


class RankQuery(RankAsked):
    """The same in an address."""

    model_config = LOOSE
    wishes: Wish = Field(default_factory=list)
    format: Form = "json"


class ReachAsked(DeepAsked):
    """All builds that a core can become."""

    core: Name
    wishes: Wishes = Field(default_factory=list)


class ReachQuery(ReachAsked):
    """The same in an address."""

    model_config = LOOSE
    wishes: Wish = Field(default_factory=list)
    format: Form = "json"


class LeastAsked(DeepAsked):
    """The least change that puts a unit onto an engine."""

    unit: Name
    engine: Name


class LeastQuery(LeastAsked):
    """The same in an address."""

    model_config = LOOSE
    format: Form = "json"


class KeepAsked(DeepAsked):
    """Which parts, at most so many, to keep in stock."""

    most: int = Field(5, ge=0, le=20)


class KeepQuery(KeepAsked):
    """The same in an address."""

    model_config = LOOSE
    format: Form = "json"


class SettleAsked(DeepAsked):
    """A plan question (core and build) or a fits question (unit and engine) that is not known."""

    core: str = Field("", max_length=200)
    build: str = Field("", max_length=200)
    unit: str = Field("", max_length=200)
    engine: str = Field("", max_length=200)
    wishes: list[Name] = Field(default_factory=list, max_length=50)
    seconds: float = Field(20.0, gt=0, le=60, allow_inf_nan=False)
