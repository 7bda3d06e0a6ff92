"""The shop's own figures: what its papers take where nothing else is typed in, since which day, and on whose word."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from graph.model.record import Snapshot

CREDIT: Final = "credit"
SUBLET: Final = "sublet"
TAX: Final = "tax"
VALIDITY: Final = "validity"
WARRANTY: Final = "warranty"


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure. `of`: the grade of a credit, the operation of a sublet, else empty; `label`: that in words.

    Of `percent` (exact, as text), `price` (minor units) and `days` one is there, or none where nothing is set any
    more. `as_of`: the day from which it holds; `who` and `time` of the change set `said` that wrote it. `version`:
    goes with a change of this figure.
    """

    figure: str
    of: str
    label: str
    percent: str
    price: int | None
    currency: str
    days: int | None
    as_of: str
    who: str
    time: str
    said: int
    version: int
    note: str

    @property
    def set(self) -> bool:
        """Whether it says something."""
        return bool(self.percent) or self.price is not None or self.days is not None


@dataclass(frozen=True, slots=True)
class HourlyRate:
    """What an hour of labour costs, in minor units; `statement`: the row that says so; the rest as for a figure."""

    name: str
    per_hour: int
    currency: str
    who: str
    time: str
    said: int
    version: int
    note: str
    statement: str


@dataclass(frozen=True, slots=True)
class ShopFigures:
    """All figures that hold on a day (empty: those said last), by sort and what they are of; rates by name."""

    figures: tuple[Figure, ...]
    rates: tuple[HourlyRate, ...]
    day: str
    snapshot: Snapshot

    def one(self, figure: str, of: str = "") -> Figure | None:
        """The figure of that sort, if it is set."""
        return next((f for f in self.figures if (f.figure, f.of) == (figure, of) and f.set), None)

    def shares(self) -> tuple[Figure, ...]:
        """What comes back for each grade, by grade."""
        return tuple(f for f in self.figures if f.figure == CREDIT and f.set)


def percent_text(quanta: int) -> str:
    """A ratio as an exact number of per cent.

    >>> percent_text(190_000), percent_text(125_000), percent_text(1_000_000), percent_text(0)
    ('19', '12.5', '100', '0')
    """
    exact = Decimal(quanta) / 10**4
    return format(exact.normalize() if exact % 1 else exact.quantize(Decimal(1)), "f")
