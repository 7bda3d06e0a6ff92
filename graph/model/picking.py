"""What a pick list is made from and what it is."""

from dataclasses import dataclass

from graph.model.record import Interchange, KitLine, Part, Snapshot
from graph.model.yard import Promise


@dataclass(frozen=True, slots=True)
class PickEvidence:
    """The parts that the plans, kits, supersessions and interchanges lead to, with stock and prices as of `day`.

    `parts` is sorted by key and closed: every part that a kit line, supersession or interchange here names is
    in it, unless it is on no record at all. `promises`: what is promised to jobs on that day, oldest first.
    """

    snapshot: Snapshot
    day: str
    parts: tuple[Part, ...]
    kits: tuple[KitLine, ...]
    interchanges: tuple[Interchange, ...]
    stand_ins: tuple["StandIn", ...] = ()
    promises: tuple[Promise, ...] = ()


@dataclass(frozen=True, slots=True)
class StandIn:
    """What the features say of one number in place of another. `how`: derived (it surely may), or how an asserted
    interchange or a supersession stands to them: refuted, not without its condition, not borne out, only with work.
    """

    part: str
    other: str
    how: str
    text: str


@dataclass(frozen=True, slots=True)
class PickUse:
    """Why a line is there: which job, which seat (or operation), how many."""

    job: str
    seat: str
    quantity: int
    reason: str


@dataclass(frozen=True, slots=True)
class Substitute:
    """Another number that may stand in, with what is on hand and on whose word."""

    part: str
    label: str
    on_hand: int
    condition: str
    basis: str  # supersession or interchange, and its direction


@dataclass(frozen=True, slots=True)
class PickLine:
    """One thing to fetch. Money in minor units; None is *not known*, never nought.

    `section`: core, donor, part, consumed, kit (a box with contents) or in-kit (inside the box above it).
    `short` is how many are missing after `on_hand` is used up; `bins` says where the others lie.
    """

    section: str
    side: str
    part: str
    maker: str
    number: str
    label: str
    quantity: int
    uses: tuple[PickUse, ...]
    one_time: bool
    lot: str = ""
    bins: tuple[tuple[str, int], ...] = ()
    on_hand: int = 0
    short: int = 0
    instead_of: tuple[str, ...] = ()  # numbers that the plan named and that this one supersedes
    notes: tuple[str, ...] = ()
    substitutes: tuple[Substitute, ...] = ()
    unit_price: int | None = None
    price: int | None = None
    deposit: int | None = None
    as_of: str = ""
    lead_days: int | None = None


@dataclass(frozen=True, slots=True)
class PickList:
    """Lines in the order core, donors, parts by side, consumed, each by number; kit contents below their kit.

    `total` counts parts to buy or draw from stock, not labour; `at_least`: a price is missing. `struck` names the
    lines that somebody left out; they are in no sum.
    """

    snapshot: Snapshot
    day: str
    jobs: tuple[str, ...]
    lines: tuple[PickLine, ...]
    total: int
    deposits: int
    currency: str
    at_least: bool
    shortages: tuple[str, ...]
    lead_days: int | None
    struck: tuple[str, ...] = ()
