"""What one calculation asks and answers, as plain data."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from graph.model.verdict import Caution, Verdict

Kind = Literal["amount", "number", "text", "file"]


@dataclass(frozen=True, slots=True)
class Input:
    """One thing asked, as a person writes it.

    `amount` is a number with a unit of `quantity` (`unit` is what it gets when none is written, and what the formula
    takes), `number` a bare number, `file` a name on the command line and the text itself over HTTP. `default` None:
    it must be given; empty: it may be left out, and is then not known. `many`: may be given several times.
    """

    name: str
    label: str
    kind: Kind = "amount"
    quantity: str = "length"
    unit: str = ""
    default: str | None = None
    many: bool = False
    first: bool = False  # stands without its name on the command line


@dataclass(frozen=True, slots=True)
class Figure:
    """One result. `value` None: not known."""

    name: str
    label: str
    value: int | float | str | None
    unit: str = ""
    places: int = 3


@dataclass(frozen=True, slots=True)
class Result:
    """What a calculation found, with what it assumes and what a person must still check."""

    figures: tuple[Figure, ...]
    verdict: str = ""
    reasons: tuple[str, ...] = ()
    assumes: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    picture: str = ""


SAID: Final = {
    Verdict.YES: "keeps its limits",
    Verdict.WITH_WORK: "keeps its limits with work",
    Verdict.UNKNOWN: "not known",
    Verdict.NO: "breaks a limit",
}
"""A calculation judges limits; whether a part fits is for the whole graph to say."""

Given = Mapping[str, Any]
"""The inputs as read: floats in the unit of the input, text, None for what was left out, tuples where many."""


@dataclass(frozen=True, slots=True)
class Calculation:
    """A calculation by name; `formulas` are the functions that it rests on, whose sources it shows."""

    name: str
    title: str
    inputs: tuple[Input, ...]
    run: Callable[[Given], Result]
    formulas: tuple[Callable[..., Any], ...]
    example: str = ""  # how it is asked on the command line
    pictured: bool = False
    chosen: Callable[[Given], tuple[Callable[..., Any], ...]] | None = (
        None  # those of one question, where they differ
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """One input as it was understood."""

    name: str
    given: str
    read: str


@dataclass(frozen=True, slots=True)
class CalculationAnswer:
    """A calculation's answer: what was read, what was found, and who says so."""

    name: str
    title: str
    asked: tuple[Asked, ...]
    result: Result
    sources: tuple[str, ...]
