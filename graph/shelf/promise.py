"""What a job's plan is promised: its core, the donors' parts, and what is drawn from stock; the rest is ordered."""

from collections.abc import Mapping, Sequence

from graph.model.plan import Plan
from graph.model.yard import Job, Promise
from graph.planning.options import DONOR, NEW

Wanted = Mapping[str, int]
"""By part key, how many a plan takes new."""


def wanted(plan: Plan) -> dict[str, int]:
    """The new parts of a plan, what the work uses up included."""
    out = {used.part: used.quantity for used in plan.consumed}
    for choice in plan.seats:
        if choice.source == NEW:
            out[choice.part] = out.get(choice.part, 0) + choice.quantity
    return {part: quantity for part, quantity in out.items() if quantity}


def from_shelf(job: Job, tag: str, plan: Plan) -> list[Promise]:
    """The core, and every part that comes out of a donor."""
    out = [Promise(job.name, tag)]
    out += [Promise(job.name, c.lot, c.seat, c.part, c.quantity) for c in plan.seats if c.source == DONOR]
    return out


def drawn(
    jobs: Sequence[tuple[Wanted, frozenset[str], str]], free: Mapping[str, int]
) -> list[tuple[dict[str, int], list[str]]]:
    """For each job what it draws from stock and what is ordered for it.

    Each job is (what it wants, of which parts it must find all in stock, its due day). First come those that cannot
    wait, then the others by due day; a part of which the stock does not hold all that a job wants is ordered.
    """
    left = dict(free)
    out: list[tuple[dict[str, int], list[str]]] = [({}, []) for _ in jobs]
    for number, (wants, must, _) in enumerate(jobs):
        for part, quantity in wants.items():
            if part in must:
                out[number][0][part] = quantity
                left[part] = left.get(part, 0) - quantity
    for number in sorted(range(len(jobs)), key=lambda n: (not jobs[n][2], jobs[n][2], n)):
        wants, must, _ = jobs[number]
        for part, quantity in sorted(wants.items()):
            if part in must:
                continue
            if left.get(part, 0) >= quantity:
                out[number][0][part] = quantity
                left[part] -= quantity
            else:
                out[number][1].append(part)
    return out
