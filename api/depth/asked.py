"""What requests for why, unknown, weigh, rank, reach, least and keep-in-stock may hold, as bodies and in addresses.

In an address everything is text, `wishes` is the repeated field `wish`, and `format` names the form of the answer.
"""

from typing import Annotated, Any

from pydantic import Field, create_model

from api.schemas import Asked, Day, Form, Measure, Name, Wish

Seconds = Annotated[float, Field(gt=0, le=120, allow_inf_nan=False)]
Engine = Annotated[str, Field(max_length=200, description="Empty: the build's own")]
Wishes = Annotated[list[Name], Field(max_length=50)]


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


class WhyAsked(QuestionAsked):
    """Why is it impossible, and what are the cheapest ways out?"""

    best: int = Field(3, ge=1, le=20)
    waive: bool = Field(False, description="also look for ways that leave out a fit rule; never a safety rule")


class WeighAsked(QuestionAsked):
    """The best plan by these measures; none: all that nothing beats in both money and time."""

    by: list[Measure] = Field(default_factory=list, max_length=5)

    def given(self, day: str) -> dict[str, Any]:
        """As the desk's function takes it."""
        found = super().given(day)
        found["order"] = found.pop("by")
        return found


class RankAsked(DeepAsked):
    """All cores of the shelf for a build, the first `best` exactly."""

    build: Name
    engine: Engine = ""
    best: int = Field(5, ge=1, le=50)
    customers: bool = Field(False, description="rank customers' own cores too")
    wishes: Wishes = Field(default_factory=list)
    seconds: Seconds = 60.0


class ReachAsked(DeepAsked):
    """All builds that a core can become."""

    core: Name
    wishes: Wishes = Field(default_factory=list)


class LeastAsked(DeepAsked):
    """The least change that puts a unit onto an engine."""

    unit: Name
    engine: Name


class KeepAsked(DeepAsked):
    """Which parts, at most so many, to keep in stock."""

    most: int = Field(5, ge=0, le=20)


class SettleAsked(DeepAsked):
    """A plan question (core and build) or a fits question (unit and engine) that is not known."""

    core: str = Field("", max_length=200)
    build: str = Field("", max_length=200)
    unit: str = Field("", max_length=200)
    engine: str = Field("", max_length=200)
    wishes: list[Name] = Field(default_factory=list, max_length=50)
    seconds: float = Field(20.0, gt=0, le=60, allow_inf_nan=False)


def in_address(asked: type[DeepAsked]) -> type[DeepAsked]:
    """The same question in an address, with `format`, and its wishes as `wish`, once each."""
    fields: dict[str, Any] = {"format": (Form, "json")}
    if "wishes" in asked.model_fields:
        fields["wishes"] = (Wish, Field(default_factory=list))
    name = asked.__name__.removesuffix("Asked")
    return create_model(f"{name}Query", __base__=asked, __cls_kwargs__={"strict": False}, **fields)
