"""What may fill each seat: a part with its source (docs/semantics.md, section 3).

Rule 1: an option is left out here only where the section says so; what its features are is no matter here.
"""

from collections.abc import Hashable, Iterator
from dataclasses import dataclass

from graph.model.record import Core, FoundPart, Part, Seat, Supersession
from graph.planning.problem import Problem

KEPT, NEW, DONOR, EMPTY = "kept", "new", "donor", "empty"


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """One part that may fill a seat. `lot`: the tag of the core it comes from; `found`: as found there."""

    seat: Seat
    source: str
    part: str = ""
    record: Part | None = None
    kind: str = ""
    lot: str = ""
    found: FoundPart | None = None


def options_key(problem: Problem, seat: Seat) -> Hashable:
    """What stands for all the evidence that the options of a seat are made of."""
    kept, bundle = problem.kept, problem.bundle
    here = [(core.tag, kept.marks(f for f in core.found if f.seat == seat.name)) for core in problem.starts]
    evidence = kept.marks((seat, bundle.parts, bundle.kinds, *problem.donors))
    keeps = frozenset(d.seat for d in problem.keeps if d.seat == seat.name and not d.feature)
    demanded = seat.name in problem.demanded_seats
    return "options", evidence, tuple(here), problem.wishes, keeps, demanded, bundle.question.day


def options(problem: Problem, seat: Seat) -> Iterator[Option]:
    """The parts that may fill the seat, wishes and demands to keep it observed."""
    wishes = problem.wishes
    barred = {w.removeprefix("no-part:") for w in wishes if w.startswith("no-part:")}
    must_keep = any(d.seat == seat.name and not d.feature for d in problem.keeps)
    used = f"no-used:{seat.name}" not in wishes
    if used:
        for core in problem.starts:
            yield from (o for o in _found(problem, seat, core, KEPT) if o.part not in barred)
    if must_keep:
        return
    for part in problem.parts_for(seat.kind):
        key = part.key
        if key in barred or _superseded(problem, part):
            continue
        if "only-stock" in wishes and sum(s.quantity for s in part.stock) < seat.quantity:
            continue
        if "no-new" not in wishes or problem.one_time(part.kind):
            yield Option(seat, NEW, key, part, part.kind)
    if used and "no-donor" not in wishes:
        lots: set[str] = set()
        for donor in problem.donors:
            for option in _found(problem, seat, donor, DONOR):
                unread = option.found is not None and not option.found.readings
                if option.part in barred or (unread and option.part in lots):
                    continue
                if unread:
                    lots.add(option.part)
                yield option
    if seat.may_be_empty and seat.name not in problem.demanded_seats:
        for core in problem.starts:
            yield Option(seat, EMPTY, lot=core.tag if len(problem.starts) > 1 else "")


def _found(problem: Problem, seat: Seat, core: Core, source: str) -> Iterator[Option]:
    for found in core.found:
        if found.seat != seat.name or found.state != "present":
            continue
        part = problem.parts.get(found.part)
        if found.part and (part is None or not problem.takes(seat.kind, part.kind)):
            continue
        kind = part.kind if part is not None else seat.kind
        if not problem.one_time(kind):
            yield Option(seat, source, found.part, part, kind, core.tag, found)


def _superseded(problem: Problem, part: Part) -> bool:
    day = problem.bundle.question.day
    in_stock = sum(s.quantity for s in part.stock) > 0
    return not in_stock and any(in_force(s, day) for s in part.superseded_by)


def in_force(supersession: Supersession, day: str) -> bool:
    """Whether the later number has taken the earlier one's place for good on that day."""
    s = supersession
    return not (s.two_way or s.condition or s.from_serial) and (not s.from_date or (bool(day) and s.from_date <= day))
