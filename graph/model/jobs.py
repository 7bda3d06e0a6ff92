"""A job in the shop: what becomes of which core, how far it is, what the customer left for it.

The stages and what may follow them are common practice, no source: nothing leaves in a box that was not tested,
nothing is tested that was not balanced, and after any cut it is balanced again.
"""

from dataclasses import dataclass
from typing import Final

from graph.errors import BadQuestion
from graph.model.sheet import STAGES

FOLLOWS: Final[dict[str, tuple[str, ...]]] = {
    "received": ("stripped", "collected"),
    "stripped": ("measured", "collected"),
    "measured": ("cut", "balanced", "collected"),
    "cut": ("measured", "balanced"),
    "balanced": ("cut", "tested"),
    "tested": ("stripped", "cut", "balanced", "boxed"),
    "boxed": ("stripped", "tested", "collected"),
    "collected": (),
}
"""What may come after each stage. A core may be handed back before it is cut; what came back later is a job anew."""


def next_stage(job: str, now: str, wanted: str) -> str:
    """The stage, if it may follow.

    Raises
    ------
    BadQuestion
        There is no such stage, or it may not come now.
    """
    if wanted not in STAGES:
        raise BadQuestion(f"there is no stage {wanted!r}", fix=f"stages: {', '.join(STAGES)}")
    may = FOLLOWS[now]
    if wanted not in may:
        after = f"after that may come: {', '.join(may)}" if may else "nothing comes after that; begin another job"
        raise BadQuestion(f"job {job} is {now}, it cannot be {wanted} now", fix=after)
    return wanted


@dataclass(frozen=True, slots=True)
class Step:
    """One stage that a job came to."""

    step: int
    stage: str
    time: str
    who: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Deposit:
    """Money that a customer left (`taken`), got back (`returned`) or forfeited (`kept`). In minor units."""

    step: int
    what: str
    amount: int
    currency: str
    time: str
    who: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class JobRecord:
    """One job. `held`: what of the deposits is still the customer's, in minor units. `version`: goes with changes.

    `may`: the stages that may come next.
    """

    job: str
    tag: str
    build: str
    engine_maker: str
    engine: str
    customer: str
    due: str
    stage: str
    may: tuple[str, ...]
    steps: tuple[Step, ...]
    deposits: tuple[Deposit, ...]
    held: int
    currency: str
    version: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class PlaceOfStock:
    """What is on hand of a part at one place. `version`: goes with a change of it."""

    place: str
    quantity: int
    version: int


@dataclass(frozen=True, slots=True)
class StockRecord:
    """What is on hand of a part. `free`: not promised to jobs; below 0 where more is promised than there is."""

    maker: str
    number: str
    places: tuple[PlaceOfStock, ...]
    on_hand: int
    promised: int
    free: int


@dataclass(frozen=True, slots=True)
class StockLine:
    """What is on hand of a part at one place, in a list of all. `version`: goes with a change of it."""

    maker: str
    number: str
    place: str
    quantity: int
    version: int


@dataclass(frozen=True, slots=True)
class PriceRecord:
    """What a part costs, in minor units; `condition` new or used. `version`: goes with a change of it."""

    maker: str
    number: str
    condition: str
    price: int
    currency: str
    as_of: str
    deposit: int | None
    lead_days: int | None
    version: int
