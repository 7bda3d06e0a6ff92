"""The values of each seat for the bound: an option with a set of operations, and which values go together."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import product

from graph.planning.check.case import ENGINE, Case, Mode, Ruled, allowed
from graph.planning.check.choices import Option, kind_operations, operation_sets, options
from graph.planning.check.derive import unreachable, value_cost
from graph.planning.check.rules import is_amounts, judged, span, sum_of
from graph.planning.check.unfilled import missed
from graph.planning.check.work import Cut, Place, State, Work
from graph.planning.check.worn import worn_out


@dataclass(frozen=True, slots=True)
class Value:
    """One way to fill a seat. `cost` is the least it can add, services and used-up parts apart."""

    option: Option
    names: tuple[str, ...]
    cost: int
    changed: bool
    near: frozenset[str]  # the seats on which the need for its operations and the depth of its cuts may hang
    work: Work = field(compare=False, hash=False, repr=False)

    @property
    def identity(self) -> tuple[str, str, tuple[str, ...]]:
        """Its share in a plan's identity, the seat apart."""
        return self.option.part, self.option.source, self.names


@dataclass
class Domains:
    """All values by seat, cheapest first, and the pairs that no rule forbids, as bit sets."""

    case: Case
    mode: Mode
    values: dict[str, list[Value]] = field(init=False)
    pairs: dict[tuple[str, str], list[int]] = field(init=False)  # (seat, other): of each value, the other's values
    wide: list[Ruled] = field(init=False)  # rules over more than two seats
    _known: dict[object, bool] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        layout = self.case.bundle.layout
        self.values = {seat.name: self._values_of(seat.name) for seat in layout.seats}
        self.pairs = {}
        self.wide = []
        for rule in self.case.rules:
            if len(rule.seats) == 2:
                self._pair(rule, rule.seats[0], rule.seats[1])
            elif len(rule.seats) > 2:
                self.wide.append(rule)

    def _values_of(self, name: str) -> list[Value]:
        seat = self.case.bundle.layout.seat(name)
        assert seat is not None
        made: list[Value] = []
        for option in self._lots(options(self.case, seat)):
            for names in operation_sets(self.case, option, self.mode):
                if worn_out(self.case, option, names, self.mode) or missed(self.case, option, self.mode):
                    continue
                work, cost = value_cost(self.case, option, names)
                work = Work(self.case, self.mode, work.chosen)
                if unreachable(work) or not self._stands_alone(work, name):
                    continue
                mine = kind_operations(self.case, option)
                changed = option.source in ("new", "donor") or any(mine[n].effect != "service" for n in names)
                made.append(Value(option, names, cost, changed, self._near(work, name), work))
        return sorted(made, key=lambda v: (v.cost, v.option.part, v.option.source, v.option.lot, v.names))

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

    def _stands_alone(self, work: Work, seat: str) -> bool:
        """The rules and demands that look at this seat (and the engine) alone; a cut may have any size."""
        for rule in work.rules:
            if seat in rule.seats and not self.may_hold(rule, {seat: work}):
                return False
        free = set(work.cuts)
        return all(allowed(work.demand(d, {}), self.mode) for d in work.demands if (d.seat, d.feature) not in free)

    def _pair(self, rule: Ruled, one: str, other: str) -> None:
        for seat, mate in ((one, other), (other, one)):
            full = (1 << len(self.values[mate])) - 1
            self.pairs.setdefault((seat, mate), [full] * len(self.values[seat]))
        groups = {seat: self._by_state(rule, seat) for seat in (one, other)}
        for (_, left), (_, right) in product(groups[one].items(), groups[other].items()):
            works = {one: self.values[one][left[0]].work, other: self.values[other][right[0]].work}
            if self.may_hold(rule, works):
                continue
            for seat, mate, mine, theirs in ((one, other, left, right), (other, one, right, left)):
                barred = sum(1 << i for i in theirs)
                for i in mine:
                    self.pairs[seat, mate][i] &= ~barred

    def _by_state(self, rule: Ruled, seat: str) -> dict[object, list[int]]:
        """The seat's values, those alike to the rule together."""
        groups: dict[object, list[int]] = {}
        for index, value in enumerate(self.values[seat]):
            groups.setdefault(self.state(rule, seat, value.work), []).append(index)
        return groups

    def state(self, rule: Ruled, seat: str, work: Work) -> tuple[State, ...]:
        """All that a rule can see of a seat's value."""
        return tuple(work.state(place) for place in rule.operands if place[0] == seat)

    def may_hold(self, rule: Ruled, works: dict[str, Work]) -> bool:
        """Whether some sizes of the cuts let the rule stand; True when it does not apply."""
        if any(w.chosen[seat][0].source == "empty" for seat, w in works.items()):
            return True
        key = (rule.number, *(self.state(rule, seat, w) for seat, w in works.items()))
        if key not in self._known:
            self._known[key] = self._may_hold(rule, works)
        return self._known[key]

    def _may_hold(self, rule: Ruled, works: dict[str, Work]) -> bool:
        any_work = next(iter(works.values()))
        cuts: list[tuple[Cut, int]] = []
        facts = []
        ends = span(rule.rule)
        for index, (seat, feature) in enumerate(rule.operands):
            work = any_work if seat == ENGINE else works[seat]
            place: Place = (seat, feature)
            cut = work.cuts.get(place)
            if cut is None:
                facts.append((index, work.fact(place, {})))
            else:
                sign = ends.signs[index] if ends and index < len(ends.signs) else 1
                cuts.append((cut, sign))
        if not cuts:
            return allowed(judged(self.case, rule.rule, [f for _, f in facts])[0], self.mode)
        befores = [c.before for c, _ in cuts]
        rest = [f for _, f in facts]
        if not all(f.settles for f in rest) or ends is None or not is_amounts([*befores, *rest]):
            return self.mode == "possible"
        slack = sum(c.capability for c, _ in cuts)
        low, high = _reach(cuts)
        floors, ceilings = [], []
        for chosen in product(*(f.alternatives for f in rest)):
            least, most = sum_of([ends.signs[i] for i, _ in facts], chosen)
            if self.mode == "certain":
                floors += [ends.low - least + slack] if ends.low is not None else []
                ceilings += [ends.high - most - slack] if ends.high is not None else []
            elif _meets(ends.low, least - slack, ends.high, most + slack, low, high):
                return True
        if self.mode == "possible":
            return False
        floor = max([*floors, *([low] if low is not None else [])], default=None)
        ceiling = min([*ceilings, *([high] if high is not None else [])], default=None)
        return floor is None or ceiling is None or floor <= ceiling


def _meets(
    end_low: int | None, least: int, end_high: int | None, most: int, low: int | None, high: int | None
) -> bool:
    """Whether some size in low..high puts [size + least, size + most] where it touches the rule's ends."""
    floor = max([x for x in (low, None if end_low is None else end_low - most) if x is not None], default=None)
    ceiling = min([x for x in (high, None if end_high is None else end_high - least) if x is not None], default=None)
    return floor is None or ceiling is None or floor <= ceiling


def _reach(cuts: Iterable[tuple[Cut, int]]) -> tuple[int | None, int | None]:
    """The least and greatest of the signed sum of the cuts' sizes; None is open."""
    low: int | None = 0
    high: int | None = 0
    for cut, sign in cuts:
        first, last = (cut.start, cut.end) if cut.sign * sign > 0 else (cut.end, cut.start)
        low = None if low is None or first is None else low + sign * first
        high = None if high is None or last is None else high + sign * last
    return low, high
