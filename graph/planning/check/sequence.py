"""The order of work (docs/semantics.md, section 8)."""

from collections.abc import Iterator, Sequence

from graph.model.plan import Step
from graph.planning.check.case import Case
from graph.planning.check.refusal import Refusal


def out_of_order(case: Case, steps: Sequence[Step]) -> Iterator[Refusal]:
    """The steps that come too early, or before one that should have come first."""
    known = [s for s in steps if s.operation in case.operations]
    waits = _waits(case, known)
    classes = [_class(case, known, i, waits) for i in range(len(known))]
    done: set[int] = set()
    for i, step in enumerate(known):
        where = f"steps.{step.seat}.{step.operation}"
        early = waits[i] - done
        if early:
            first = known[min(early)]
            yield Refusal("order", where, f"it waits for {first.operation}")
            return
        ready = [j for j in range(len(known)) if j not in done and waits[j] <= done]
        best = min(ready, key=lambda j: (classes[j], known[j].operation))
        if (classes[best], known[best].operation) < (classes[i], step.operation):
            yield Refusal("order", where, f"{known[best].operation} comes first")
            return
        done.add(i)


def _class(case: Case, steps: Sequence[Step], index: int, waits: Sequence[set[int]]) -> int:
    """0: a service that work on a part waits for, 1: work that can be undone, 2: cuts, 3: any other service."""
    operation = case.operations[steps[index].operation]
    if operation.effect != "service":
        return 1 if operation.reversible else 2
    works = (i for i, s in enumerate(steps) if case.operations[s.operation].effect != "service")
    return 0 if any(index in _before(i, waits) for i in works) else 3


def _waits(case: Case, steps: Sequence[Step]) -> list[set[int]]:
    """Of each step those it waits for: by `needs`, by `follows`, or as a service due for their seat.

    A service that a seat's own work waits for is not held back until that work is done.
    """
    firm = [{j for j in range(len(steps)) if j != i and _firm(case, steps[i], steps[j])} for i in range(len(steps))]
    due = {(s.when, s.operation) for s in case.bundle.services}
    return [
        before
        | {
            j
            for j, other in enumerate(steps)
            if not steps[i].seat and (other.seat, steps[i].operation) in due and i not in _before(j, firm)
        }
        for i, before in enumerate(firm)
    ]


def _firm(case: Case, step: Step, other: Step) -> bool:
    mine, theirs = case.operations[step.operation], case.operations[other.operation]
    return (other.operation in mine.needs or step.operation in theirs.follows) and mine is not theirs


def _before(index: int, waits: Sequence[set[int]]) -> set[int]:
    """Everything that a step waits for, directly or not."""
    found: set[int] = set()
    ahead = list(waits[index])
    while ahead:
        other = ahead.pop()
        if other not in found:
            found.add(other)
            ahead += waits[other]
    return found
