"""What may fill a seat, and which sets of operations its part may carry (docs/semantics.md, section 3)."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

from graph.model.claim import Claim
from graph.model.fact import Alternative, Fact
from graph.model.plan import SeatChoice
from graph.model.record import Operation, Part, Seat
from graph.model.value import NONE, Amount, spelled_code
from graph.planning.check.case import ENGINE, Case, Mode
from graph.planning.check.facts import settled, value_codes

CUTS = ("widen_to_suit", "reduce_to_suit")
PERMITS = {
    "set_code": "there is no other code to change",
    "add_feature": "the feature is there already",
    "remove_feature": "there is nothing to remove",
}
"""Why the code that is there does not permit the change, by effect."""


class Option(NamedTuple):
    """What fills a seat, before any work: a part from a source, or nothing."""

    seat: str
    part: str
    source: str  # kept, donor, new, empty
    lot: str = ""

    @classmethod
    def of(cls, choice: SeatChoice) -> "Option":
        """The option that a plan's seat choice names."""
        return cls(choice.seat, choice.part, choice.source, choice.lot if choice.source == "donor" else "")


ENGINE_SIDE = Option(ENGINE, "", ENGINE)
"""What stands on the engine's side of a joint."""


def options(case: Case, seat: Seat) -> list[Option]:
    """Every option of the seat that nothing forbids."""
    offered = [Option(seat.name, "", "empty")]
    for source, lot in [("kept", ""), *(("donor", tag) for tag in sorted(case.donors))]:
        found = case.found(source, lot, seat.name)
        if found is not None:
            offered.append(Option(seat.name, found.part, source, lot))
    offered += [Option(seat.name, key, "new") for key in case.parts_into.get(seat.kind, ())]
    return [o for o in offered if not objections(case, o)]


def objections(case: Case, option: Option) -> list[str]:
    """Why this option may not fill its seat; empty when it may."""
    if option.source == "new":  # nothing of a core speaks for or against it
        key = "objections", option, case.bundle.question.day
        return case.asked.once(key, lambda: _objections(case, option))
    return case.own.once(("objections", option), lambda: _objections(case, option))


def _objections(case: Case, option: Option) -> list[str]:
    seat = case.seats.get(option.seat)
    if seat is None:
        return [f"the layout has no seat {option.seat}"]
    against = _wishes_against(case, option)
    if option.source == "empty":
        if not seat.may_be_empty:
            against.append("the seat may not be empty")
        if option.part:
            against.append("an empty seat holds no part")
        if any(d.seat == option.seat for d in case.bundle.build.demands):
            against.append("an empty seat meets no demand")
        return against
    kind = kind_of(case, option)
    if not kind:
        return [*against, f"no part {option.part!r} in the evidence"]
    if seat.kind not in case.lineage(kind):
        against.append(f"a {kind} does not go into a seat for a {seat.kind}")
    if option.source in ("kept", "donor"):
        against += _used_against(case, option, kind)
    elif option.source == "new":
        against += _superseded(case, case.parts[option.part])
    else:
        against.append(f"{option.source!r} is no source")
    return against


def specimen(case: Case, option: Option) -> int:
    """A number for all that is known of what fills a seat, however it came there; what is alike has the same."""
    return case.own.once(option, lambda: case.things.number(_known_of(case, option)))


def _known_of(case: Case, option: Option) -> tuple[object, ...]:
    if option.seat == ENGINE:
        return ENGINE, case.bundle.engine.key
    used = option.source in ("kept", "donor")
    return kind_of(case, option), option.part, option.part in case.parts, used, readings(case, option)


def readings(case: Case, option: Option) -> tuple[Claim, ...]:
    """What was read on the very part."""
    if option.source not in ("kept", "donor"):
        return ()
    found = case.found(option.source, option.lot, option.seat)
    return found.readings if found else ()


def kind_of(case: Case, option: Option) -> str:
    """The kind of the option's part; a used part that nobody identified counts as of its seat's kind."""
    seat = case.seats.get(option.seat)
    if not option.part and seat and option.source in ("kept", "donor"):
        return seat.kind
    return case.parts[option.part].kind if option.part in case.parts else ""


def _wishes_against(case: Case, option: Option) -> list[str]:
    against = []
    if option.source == "new" and "no-new" in case.wishes and not case.one_time(kind_of(case, option)):
        against.append("the question wants no new part but those always renewed")
    if option.source == "donor" and "no-donor" in case.wishes:
        against.append("the question wants no donor's part")
    if option.source in ("kept", "donor") and f"no-used:{option.seat}" in case.wishes:
        against.append("the question wants no used part here")
    if option.source == "new" and "only-stock" in case.wishes and not _in_stock(case, option):
        against.append("the question wants only what is on hand")
    if option.part and f"no-part:{option.part}" in case.wishes:
        against.append("the question does not want this part")
    kept = f"keep:{option.seat}" in case.wishes or any(
        d.seat == option.seat and d.type == "keep" and not d.feature for d in case.bundle.build.demands
    )
    if kept and option.source != "kept":
        against.append("the core's part is to be kept here")
    return against


def _in_stock(case: Case, option: Option) -> bool:
    seat, part = case.seats.get(option.seat), case.parts.get(option.part)
    return seat is not None and part is not None and sum(s.quantity for s in part.stock) >= seat.quantity


def _used_against(case: Case, option: Option, kind: str) -> list[str]:
    found = case.found(option.source, option.lot, option.seat)
    if found is None:
        return ["no such part was found in this seat of that core"]
    against = []
    if found.part != option.part:
        against.append(f"{found.part or 'a part not identified'} sits there")
    if found.state != "present":
        against.append(f"the part there is {found.state}")
    if case.one_time(kind):
        against.append(f"a {kind} is never used again")
    return against


def _superseded(case: Case, part: Part) -> list[str]:
    day = case.bundle.question.day
    by = [
        s
        for s in part.superseded_by
        if s.old == part.key
        and not s.two_way
        and not s.condition
        and not s.from_serial
        and (not s.from_date or (day and s.from_date <= day))
    ]
    if by and sum(s.quantity for s in part.stock) <= 0:
        return [f"{part.key} is superseded by {by[0].new} and none is in stock"]
    return []


def as_is(case: Case, option: Option, feature: str) -> Fact:
    """The feature of an option's part before any work."""
    return case.things.once(("as is", specimen(case, option), feature), lambda: _as_is(case, option, feature))


def _as_is(case: Case, option: Option, feature: str) -> Fact:
    if option.seat == ENGINE:
        return settled(case.bundle.engine.key, feature, case.bundle.engine.claims, of_kind=True)
    if option.source in ("kept", "donor"):
        read = readings(case, option)
        if any(c.feature == feature for c in read):
            return settled(option.part, feature, read, of_kind=False)
        known = case.features.get(feature)
        if known is not None and known.wears:
            return Fact(option.part, feature, "unknown", why="worn part, not read")
    return of_kind(case, option.part, feature)


def of_kind(case: Case, part: str, feature: str) -> Fact:
    """What the claims about a part's kind say of the feature."""
    if part not in case.parts:
        return settled(part, feature, (), of_kind=True)
    key = ("of kind", part, feature)
    return case.things.once(key, lambda: settled(part, feature, case.claims(part, feature), of_kind=True))


def kind_operations(case: Case, option: Option) -> dict[str, Operation]:
    """The operations that the option's part may undergo, by name."""
    kind = kind_of(case, option)
    return case.things.once(("operations", kind), lambda: _operations(case, case.lineage(kind)))


def _operations(case: Case, line: Sequence[str]) -> dict[str, Operation]:
    return {o.name: o for o in case.bundle.operations if o.kind and o.kind in line}


def set_objections(case: Case, option: Option, names: Sequence[str], mode: Mode) -> list[str]:
    """Why the option's part may not carry this set of operations, whatever its neighbours are."""
    if not names:
        return []
    mine = kind_operations(case, option)
    strangers = [n for n in names if n not in mine]
    if strangers:
        return [f"{n} is no operation for what is in {option.seat}" for n in strangers]
    against = []
    if len(set(names)) != len(names):
        against.append("an operation stands twice")
    chosen = [mine[n] for n in names]
    if "no-machining" in case.wishes:
        against.append("the question wants no machining")
    against += [f"the question does not want {n}" for n in names if f"no-operation:{n}" in case.wishes]
    for o in chosen:
        against += [f"{o.name} excludes {n}" for n in o.excludes if n in names and n != o.name]
        missing = [n for n in o.needs if n in mine and n not in names]
        against += [f"{o.name} needs {n}" for n in missing if not _is_done(case, option, mine[n])]
        if o.effect == "service":
            if not any(o.name in other.needs for other in chosen if other is not o):
                against.append(f"nothing here needs the service {o.name}")
        else:
            against += _effect_objections(case, option, o, mode)
    changed = [o.feature for o in chosen if o.effect != "service"]
    against += [f"two operations change {f}" for f in sorted(set(changed)) if changed.count(f) > 1]
    against += [f"{f} is to stay as it is" for f in sorted(set(changed)) if (option.seat, f) in case.untouched]
    return against


def _is_done(case: Case, option: Option, operation: Operation) -> bool:
    """Whether the result of an operation on a code is there without it."""
    if operation.effect not in ("set_code", "add_feature", "remove_feature"):
        return False
    before = as_is(case, option, operation.feature)
    made = _spelled(coded(operation, before).alternatives[0])
    return before.settles and bool(made) and all(_spelled(a) == made for a in before.alternatives)


def _effect_objections(case: Case, option: Option, operation: Operation, mode: Mode) -> list[str]:
    key = ("effect", specimen(case, option), operation.name, mode)
    return case.things.once(key, lambda: _against_effect(case, option, operation, mode))


def _against_effect(case: Case, option: Option, operation: Operation, mode: Mode) -> list[str]:
    before = as_is(case, option, operation.feature)
    name = operation.name
    if operation.effect in ("set_code", "add_feature") and operation.to_value is None:
        return [f"{name}: it does not say what it makes"]
    if not before.settles:
        return [f"{name}: {operation.feature} is not known before the work"] if mode == "certain" else []
    if operation.effect in CUTS:
        return [] if all(a.low is not None for a in before.alternatives) else [f"{name}: there is no size to change"]
    if operation.effect not in PERMITS:
        return [f"{name}: {operation.effect!r} is no effect"]
    enough = all if mode == "certain" else any
    made = _spelled(coded(operation, before).alternatives[0])
    for place in {a.position for a in before.alternatives}:
        here = [a for a in before.alternatives if a.position == place]
        if not enough(_permits(operation.effect, _spelled(a), made) for a in here):
            return [f"{name}: {PERMITS[operation.effect]}"]
    return []


def _permits(effect: str, before: set[str], made: set[str]) -> bool:
    if effect == "remove_feature":
        return before != {NONE}
    if effect == "add_feature":
        return before == {NONE}
    return bool(before) and before not in ({NONE}, made)


def _spelled(alternative: Alternative) -> set[str]:
    return {spelled_code(c) for c in alternative.codes}


def operation_sets(case: Case, option: Option, mode: Mode) -> Iterator[tuple[str, ...]]:
    """Every set the option's part may carry, the empty one first; services come with what needs them."""
    yield ()
    mine = kind_operations(case, option)
    limited = case.used_limits(option.part) if option.source in ("kept", "donor") else {}
    needed = {n for o in mine.values() for n in o.needs}
    able = [
        o.name
        for o in mine.values()
        if o.effect != "service"
        and ((option.seat, o.feature) in case.looked_at or o.feature in limited or o.name in needed)
        and not _effect_objections(case, option, o, mode)
    ]
    for size in range(1, len(able) + 1):
        for core in combinations(sorted(able), size):
            names = _with_services(mine, core)
            if not set_objections(case, option, names, mode):
                yield names


def _with_services(mine: Mapping[str, Operation], core: Sequence[str]) -> tuple[str, ...]:
    names = set(core)
    while True:
        more = {n for name in names for n in mine[name].needs if n in mine and mine[n].effect == "service"}
        if more <= names:
            return tuple(sorted(names))
        names |= more


def coded(operation: Operation, before: Fact) -> Fact:
    """The feature after an operation that sets, adds or removes."""
    value = operation.to_value
    if operation.effect == "remove_feature" or value is None:
        made = Alternative(codes=(NONE,))
    elif isinstance(value, Amount):
        slack = operation.tolerance or 0
        made = Alternative(value.amount - slack, value.amount + slack)
    else:
        made = Alternative(codes=value_codes(value))
    quantity = value.quantity if isinstance(value, Amount) else ""
    return Fact(before.subject, before.feature, "machined", quantity, (made,))


def cut_to(before: Fact, target: int, capability: int) -> Fact:
    """The feature after a cut to `target`."""
    made = Alternative(target - capability, target + capability)
    return Fact(before.subject, before.feature, "machined", before.quantity, (made,))
