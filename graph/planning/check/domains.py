"""The values of each seat for the bound: an option with a set of operations, and which values go together."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product

from graph.model.record import Demand
from graph.planning.check.case import ENGINE, Case, Mode, Ruled, allowed
from graph.planning.check.choices import Option, kind_operations, operation_sets, options, specimen
from graph.planning.check.derive import unreachable
from graph.planning.check.money import labour, operation_time, option_lines
from graph.planning.check.sight import Sight, may_hold, sight
from graph.planning.check.undecided import off_record, silent_joints
from graph.planning.check.unfilled import missed
from graph.planning.check.work import Work
from graph.planning.check.worn import worn_out

Look = tuple[Sight, ...] | None
"""What a rule sees of one seat, in the order of its operands; None: the seat stays empty."""


@dataclass(frozen=True, slots=True, eq=False)
class Value:
    """One way to fill a seat. `cost` is the least it can add, services and used-up parts apart."""

    option: Option
    names: tuple[str, ...]
    cost: int
    changed: bool
    near: frozenset[str]  # the seats on which the need for its operations and the depth of its cuts may hang
    work: Work

    @property
    def identity(self) -> tuple[bool, str, str, tuple[str, ...]]:
        """Its share in a plan's identity, the seat apart."""
        return self.option.source != "kept", self.option.part, self.option.source, self.names


@dataclass
class Domains:
    """All values by seat, cheapest first, and which of them no rule forbids to go together.

    Sets of values are bit sets. Without a value for some seat nothing else is worked out.
    """

    case: Case
    mode: Mode
    values: dict[str, list[Value]] = field(init=False)
    pairs: dict[tuple[str, str], list[tuple[int, int]]] = field(init=False, default_factory=dict)
    """(seat, other): the seat's values that go with the same ones of the other, with those."""
    wide: list[Ruled] = field(init=False)  # rules over more than two seats
    looks: dict[tuple[int, str], dict[Look, int]] = field(init=False, default_factory=dict)
    """(number of a rule, seat): the seat's values that look alike to the rule."""

    def __post_init__(self) -> None:
        silent = self.mode == "certain" and silent_joints(self.case)
        self.values = {seat: [] if silent else self._values_of(seat) for seat in self.case.seats}
        known = [rule for rule in self.case.rules if set(rule.seats) <= set(self.values)]
        self.wide = [rule for rule in known if len(rule.seats) > 2]
        if not all(self.values.values()):
            return
        going: dict[tuple[str, str], list[int]] = {}
        for rule in (rule for rule in known if len(rule.seats) > 1):
            for seat in rule.seats:
                self.looks[rule.number, seat] = self._looks(rule, seat)
            if len(rule.seats) == 2:
                self._pair(rule, going)
        self.pairs = {seats: _alike(each) for seats, each in going.items()}

    def _values_of(self, name: str) -> list[Value]:
        made: list[Value] = []
        for option in self._lots(options(self.case, self.case.seats[name])):
            made += [
                value
                for value in self._with_work(option)
                if not off_record(self.case, option, self.mode, altered=bool(value.work.changes))
            ]
        return sorted(made, key=lambda v: (v.cost, v.option.part, v.option.source, v.option.lot, v.names))

    def _with_work(self, option: Option) -> list[Value]:
        """The option with each set of operations with which it may stand, whatever fills the other seats."""
        key = ("values", option, specimen(self.case, option), self.mode)
        return self.case.asked.once(key, lambda: list(self._worked(option)))

    def _worked(self, option: Option) -> Iterator[Value]:
        case, mode, seat = self.case, self.mode, option.seat
        workable = {(seat, o.feature) for o in kind_operations(case, option).values() if o.effect != "service"}
        worn = {(seat, wear.feature) for wear in worn_out(case, option, (), mode)}
        rules = case.rules_of[seat] if option.source != "empty" else []
        as_it_is = Work(case, mode, {seat: (option, ())})
        settled = [rule for rule in rules if workable.isdisjoint(rule.operands)]
        if not worn <= workable or missed(case, option, mode) or not self._stands(as_it_is, settled):
            return
        rules = [rule for rule in rules if not workable.isdisjoint(rule.operands)]
        for names in operation_sets(case, option, mode):
            work = Work(case, mode, {seat: (option, names)})
            if worn <= work.changes.keys() and not unreachable(work) and self._stands(work, rules, work.demands):
                changed = option.source in ("new", "donor") or bool(work.changes)
                yield Value(option, names, _cost(work, seat), changed, self._near(work, seat), work)

    def _near(self, work: Work, seat: str) -> frozenset[str]:
        rules = [rule for place in work.changes for rule in self.case.rules_about.get(place, ())]
        return frozenset({seat, *(s for rule in rules for s in rule.seats)})

    def _lots(self, offered: list[Option]) -> list[Option]:
        """The options with donors' parts of one number and no readings taken as one lot."""
        kept: dict[object, Option] = {}
        for option in offered:
            found = self.case.found(option.source, option.lot, option.seat) if option.source == "donor" else None
            alike = found is not None and not found.readings and bool(option.part)
            kept.setdefault(option.part if alike else option, option)
        return list(kept.values())

    def _stands(self, work: Work, rules: Iterable[Ruled], demands: Iterable[Demand] = ()) -> bool:
        """Whether rules and demands that look at one seat (and the engine) let it stand; a cut may have any size."""
        return all(
            may_hold(self.case, rule, [sight(work, place) for place in rule.operands], self.mode) for rule in rules
        ) and all(allowed(work.demand(d, {}), self.mode) for d in demands if (d.seat, d.feature) not in work.cuts)

    def _looks(self, rule: Ruled, seat: str) -> dict[Look, int]:
        places = [place for place in rule.operands if place[0] == seat]
        alike: dict[Look, int] = {}
        for index, value in enumerate(self.values[seat]):
            empty = value.option.source == "empty"
            look = None if empty else tuple(sight(value.work, place) for place in places)
            alike[look] = alike.get(look, 0) | 1 << index
        return alike

    def _pair(self, rule: Ruled, going: dict[tuple[str, str], list[int]]) -> None:
        one, other = rule.seats
        barred: dict[str, dict[int, int]] = {one: {}, other: {}}  # of each seat's values alike, the other's
        looks = [self.looks[rule.number, seat].items() for seat in rule.seats]
        for (left, mine), (right, theirs) in product(*looks):
            if not self.may_hold(rule, {one: left, other: right}):
                barred[one][mine] = barred[one].get(mine, 0) | theirs
                barred[other][theirs] = barred[other].get(theirs, 0) | mine
        for seat, mate in ((one, other), (other, one)):
            full = (1 << len(self.values[mate])) - 1
            each = going.setdefault((seat, mate), [full] * len(self.values[seat]))
            for alike, bars in barred[seat].items():
                for index in indexes(alike):
                    each[index] &= ~bars

    def may_hold(self, rule: Ruled, looks: Mapping[str, Look]) -> bool:
        """Whether some sizes of the cuts let the rule stand; True when it does not apply."""
        if None in looks.values():
            return True
        return may_hold(self.case, rule, list(self._sights(rule, looks)), self.mode)

    def _sights(self, rule: Ruled, looks: Mapping[str, Look]) -> Iterator[Sight]:
        """Those of the rule's operands, in their order."""
        seen = {seat: iter(look or ()) for seat, look in looks.items()}
        nothing = Work(self.case, self.mode, {})
        for seat, feature in rule.operands:
            yield sight(nothing, (seat, feature)) if seat == ENGINE else next(seen[seat])


def domains_of(case: Case, mode: Mode) -> Domains:
    """The case's domains, worked out once for all that is asked of them."""
    return case.own.once(("domains", mode), lambda: Domains(case, mode))


def _cost(work: Work, seat: str) -> int:
    """The least that this seat's choice can cost whatever the others are, services and used-up parts apart."""
    option, names = work.chosen[seat]
    mine = kind_operations(work.case, option)
    starts = {place: cut.start for place, cut in work.cuts.items()}
    times = [(mine[n].rate, operation_time(work, seat, mine[n], starts)) for n in names if n in mine]
    return sum(line.amount or 0 for line in option_lines(work.case, option)) + sum(
        labour(work.case, rate, time) or 0 for rate, time in times
    )


def _alike(each: list[int]) -> list[tuple[int, int]]:
    """The values that go with the same ones of the other seat together."""
    together: dict[int, int] = {}
    for index, partners in enumerate(each):
        together[partners] = together.get(partners, 0) | 1 << index
    return [(mine, partners) for partners, mine in together.items()]


def indexes(bits: int) -> list[int]:
    """The members of a bit set, in order."""
    found = []
    while bits:
        first = bits & -bits
        found.append(first.bit_length() - 1)
        bits ^= first
    return found
