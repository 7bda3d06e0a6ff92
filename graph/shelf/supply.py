"""What the stockroom can give to the day's jobs, and what each way of filling a seat uses up of it.

Rule 1: a job that can wait for an order leaves the stock to others; one that cannot must find its parts in stock.
Rule 2: only what is short is counted here; a part that every job can order limits nobody.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from graph.model.record import Part
from graph.model.yard import Job, Promise, ShelfQuestion
from graph.planning import money
from graph.planning.modes import Mode
from graph.planning.options import NEW, in_force
from graph.planning.problem import ALWAYS, Problem


def due_of(question: ShelfQuestion, job: Job) -> str:
    """The day by which the job is to be done: its own, or that of all jobs where it is earlier; '' for none."""
    return min((day for day in (job.due, question.by) if day), default="")


@dataclass(frozen=True, slots=True)
class Supply:
    """How many of each part are on hand and promised to nobody else."""

    free: Mapping[str, int]

    @classmethod
    def of(cls, parts: Iterable[Part], promised: Iterable[Promise]) -> "Supply":
        """The stock of these parts less what is promised."""
        free = {part.key: sum(s.quantity for s in part.stock) for part in parts}
        for promise in promised:
            if not promise.tag and promise.part in free:
                free[promise.part] = max(0, free[promise.part] - promise.quantity)
        return cls(free)


def may_order(part: Part, day: str, due: str, *, only_stock: bool) -> bool:
    """Whether the part can be ordered and is here in time; with a due day an unknown lead time is no promise."""
    if only_stock or any(in_force(s, day) for s in part.superseded_by):
        return False
    if not due:
        return True
    days = part.price_new.lead_days if part.price_new is not None else None
    if days is None or not day:
        return False
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat() <= due


@dataclass(slots=True)
class Needs:
    """What a job uses up of the parts that it must find in stock.

    `mode`: of one choice by itself. `once`: for an occasion (a seat, an operation, a service, `always`) the parts
    of which the largest quantity counts once. `each`: for an occasion what it uses up each time.
    """

    problem: Problem
    must: frozenset[str]
    once: dict[str, dict[str, int]] = field(default_factory=dict)
    each: dict[str, dict[str, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for row in self.problem.bundle.consumes:
            if row.part in self.must and row.per == "unit":
                most = self.once.setdefault(row.when, {})
                most[row.part] = max(most.get(row.part, 0), row.quantity)
            elif row.part in self.must:
                every = self.each.setdefault(row.when, {})
                every[row.part] = every.get(row.part, 0) + row.quantity

    def mode(self, mode: Mode) -> dict[str, int]:
        """What the choice uses up whatever the others are."""
        out: dict[str, int] = {}
        option = mode.option
        if option.source == NEW and option.part in self.must:
            out[option.part] = option.seat.quantity
        for occasion in money.occasions(mode):
            for part, quantity in self.each.get(occasion, {}).items():
                out[part] = out.get(part, 0) + quantity
        return out

    @property
    def always(self) -> dict[str, int]:
        """What is used up in any case, each time."""
        return self.each.get(ALWAYS, {})


def must_find(parts: Iterable[Part], question: ShelfQuestion, job: Job) -> frozenset[str]:
    """The parts that this job must find in stock, since they cannot be ordered in time."""
    due = due_of(question, job)
    return frozenset(p.key for p in parts if not may_order(p, question.day, due, only_stock=question.only_stock))
