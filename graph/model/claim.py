"""One statement about one feature of one subject, with who said it and how far to trust it."""

from dataclasses import dataclass
from enum import IntEnum

from graph.model.value import Value


class Rank(IntEnum):
    """How much a source counts, best first. A rank-1 measurement speaks of the measured part only."""

    MEASURED = 1
    DRAWING = 2
    MAKER = 3
    SUPPLIER = 4
    SHOP = 5
    HEARD = 6


RANK_WORDS = {
    "measured": Rank.MEASURED,
    "drawing": Rank.DRAWING,
    "maker": Rank.MAKER,
    "supplier": Rank.SUPPLIER,
    "shop": Rank.SHOP,
    "heard": Rank.HEARD,
}
"""The words of the `sources` sheet's `kind` column and of any row's `rank` column."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What one source says of one feature.

    `tolerance` is in the value's own quanta: the drawing's ± for a kind, the instrument's uncertainty for a
    reading; None when not stated. `limit_min` and `limit_max` say what the part permits to be machined to.
    `position` names the place of a reading (a plane, a wall position); empty when the feature has one place.
    `who` read it with which `instrument`, of a reading. `resolution`, in quanta too, is what the digits of a reading
    without a stated tolerance leave open.
    """

    id: str
    subject: str
    feature: str
    value: Value
    source: str
    rank: Rank
    date: str = ""
    tolerance: int | None = None
    limit_min: int | None = None
    limit_max: int | None = None
    position: str = ""
    note: str = ""
    who: str = ""
    instrument: str = ""
    resolution: int = 0

    @property
    def slack(self) -> int:
        """How far the value may be off: its tolerance, or where none is stated what its digits leave open."""
        return self.resolution if self.tolerance is None else self.tolerance
