"""The day's jobs against one shelf: what is asked, what each job gets, and what is promised to it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from graph.model.plan import PlanAnswer
from graph.model.record import Snapshot
from graph.model.verdict import Proof


@dataclass(frozen=True, slots=True)
class Job:
    """One job: a build for an engine, on a core of its own or on any core of the shop's (`core` empty)."""

    name: str
    build: str  # build key
    engine: str  # engine key
    core: str = ""  # core key
    due: str = ""  # ISO date
    customer: str = ""


@dataclass(frozen=True, slots=True)
class Promise:
    """A thing on the shelf promised to a job: a core to start from, a donor's part, or so many out of stock.

    `tag` alone: the core. `tag` and `seat`: the part there. `part` and `quantity`: out of stock. `until`: the last
    day on which it holds; empty: until it is released.
    """

    job: str
    tag: str = ""
    seat: str = ""
    part: str = ""  # part key; for a core's part what sits there
    quantity: int = 1
    said: str = ""
    until: str = ""  # ISO date
    who: str = ""


def in_force(row: Mapping[str, Any], day: str) -> bool:
    """Whether a row of the sheet `reservations` still promises something on that day (empty: whatever the day)."""
    until = str(row.get("until", ""))
    return not row.get("released") and not (day and until and until < day[: len(until)])


@dataclass(frozen=True, slots=True)
class ShelfQuestion:
    """Which job gets what, so that most jobs are done, and those at the least cost.

    `by`: a day by which all jobs are to be done, beside each one's own. `only_stock`: nothing is ordered.
    `torn_down_once`: a donor is stripped once for all that is taken from it: the labour is that of the seat that
    takes longest, not one for each part. `rush`: the job that goes before all others.
    """

    jobs: tuple[Job, ...]
    day: str = ""
    by: str = ""
    only_stock: bool = False
    torn_down_once: bool = False
    rush: str = ""


@dataclass(frozen=True, slots=True)
class JobPlan:
    """What one job gets. `alone`: its cost were it the only one. `order`: part keys that must be ordered for it."""

    job: Job
    tag: str
    answer: PlanAnswer  # one plan, proof `found`
    cost: int
    alone: int
    promises: tuple[Promise, ...]
    order: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A job that gets nothing, and why. `alone`: what it would cost were it the only one; None: not at all."""

    job: Job
    alone: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class ShelfAnswer:
    """Who gets what. Money in minor units.

    `proof`: CHEAPEST: no way does more jobs, nor as many for less; FOUND: there may be one; UNDECIDED: stopped with
    nothing; IMPOSSIBLE: no job can be done. `most`: no way does more jobs. `bound`: as many jobs cannot cost less.
    `saved`: what tearing donors down once saves over the plans' own prices. `first_come`: how many jobs, for
    how much, when each in turn takes what is cheapest for it.
    """

    question: ShelfQuestion
    snapshot: Snapshot
    proof: Proof
    jobs: tuple[JobPlan, ...]  # in the question's order
    left_out: tuple[LeftOut, ...]
    cost: int
    at_least: bool
    saved: int
    most: int
    bound: int | None
    first_come: tuple[int, int]
    currency: str
    sentence: str

    @property
    def gap(self) -> int | None:
        """How far the cost may lie above the least; None when not even that is known."""
        return None if self.bound is None or len(self.jobs) < self.most else self.cost - self.bound


@dataclass(frozen=True, slots=True)
class Displaced:
    """What becomes of one job when a rush job comes: its core and cost before and after; '' and None: left out."""

    job: str
    before: str
    after: str
    cost_before: int | None
    cost_after: int | None


@dataclass(frozen=True, slots=True)
class RushAnswer:
    """The shelf without the rush job and with it, and every job that comes off otherwise."""

    rush: str
    without: ShelfAnswer
    together: ShelfAnswer
    displaced: tuple[Displaced, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class ReservedShelf:
    """An allocation, and what its jobs are promised now."""

    answer: ShelfAnswer
    promised: tuple[Promise, ...]
