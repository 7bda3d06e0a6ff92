"""Chosen parts and operations, and what every feature is before and after the work."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from graph.model.fact import Fact
from graph.model.record import Demand, Operation
from graph.model.verdict import Verdict
from graph.planning.check.case import ENGINE, Case, Mode, Place, Ruled, allowed
from graph.planning.check.choices import CUTS, ENGINE_SIDE, Option, as_is, coded, cut_to, kind_operations, specimen
from graph.planning.check.limits import CutLimit, limit_of
from graph.planning.check.rules import demand_met, judged

Sizes = Mapping[Place, int]
State = tuple[int, str]
"""What decides a feature of a seat: the specimen that fills it, and the operation that changes it ('': none)."""


@dataclass(frozen=True)
class Cut:
    """One size that is cut: from `start`, the smallest change, to `end`, the greatest (None: not known)."""

    operation: Operation
    before: Fact
    limit: CutLimit

    @property
    def capability(self) -> int:
        """The ± the operation holds."""
        return self.operation.tolerance or 0

    @property
    def sign(self) -> int:
        """1 for widening, -1 for reducing."""
        return 1 if self.operation.effect == "widen_to_suit" else -1

    @cached_property
    def origin(self) -> int:
        """The middle of what the size may be before, from which the change is counted."""
        assert self.before.low is not None
        assert self.before.high is not None
        return (self.before.low + self.before.high) // 2

    @cached_property
    def start(self) -> int:
        """The smallest change."""
        end = self.before.high if self.sign > 0 else self.before.low
        assert end is not None
        return end + self.sign

    @cached_property
    def end(self) -> int | None:
        """The greatest change that the limit and the capability leave."""
        return None if self.limit.value is None else self.limit.value - self.sign * self.capability

    def reaches(self, size: int) -> bool:
        """Whether the part permits this size."""
        ahead = (size - self.start) * self.sign >= 0
        return ahead and (self.end is None or (self.end - size) * self.sign >= 0)


@dataclass
class Work:
    """Some or all seats with what fills them and what is done to it."""

    case: Case
    mode: Mode
    chosen: Mapping[str, tuple[Option, tuple[str, ...]]]
    changes: dict[Place, Operation] = field(init=False)
    cuts: dict[Place, Cut] = field(init=False)
    _specimens: dict[str, int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.changes = {}
        self.cuts = {}
        for option, names in self.chosen.values():
            if names:
                changes, cuts = _done_to(self.case, option, names)
                self.changes |= changes
                self.cuts |= cuts

    def fact(self, place: Place, sizes: Sizes, undone: Place | None = None) -> Fact:
        """The feature after the work, but for the operation on `undone`; a cut has the size in `sizes`."""
        seat, feature = place
        before = as_is(self.case, self.option(seat), feature)
        operation = self.changes.get(place)
        if operation is None or place == undone:
            return before
        if place in self.cuts:
            return cut_to(before, sizes[place], self.cuts[place].capability)
        if operation.effect in CUTS:
            return Fact(before.subject, feature, "unknown", why="the size before the cut is not known")
        return coded(operation, before)

    def state(self, place: Place, undone: Place | None = None) -> State:
        """All that the feature, but for the size of a cut, depends on."""
        operation = self.changes.get(place) if place != undone else None
        seat = place[0]
        if seat not in self._specimens:
            self._specimens[seat] = specimen(self.case, self.option(seat))
        return self._specimens[seat], operation.name if operation else ""

    def option(self, seat: str) -> Option:
        """What fills the seat."""
        return ENGINE_SIDE if seat == ENGINE else self.chosen[seat][0]

    def covers(self, rule: Ruled) -> bool:
        """Whether every seat of the rule is decided."""
        return all(seat in self.chosen for seat in rule.seats)

    def applies(self, rule: Ruled) -> bool:
        """Whether every seat of the rule is decided and none stays empty."""
        chosen = self.chosen
        return all(seat in chosen and chosen[seat][0].source != "empty" for seat in rule.seats)

    def verdict(self, rule: Ruled, sizes: Sizes, undone: Place | None = None) -> tuple[Verdict, int | None]:
        """The rule after the work."""
        if any(place in self.cuts and place != undone for place in rule.operands):
            return judged(self.case, rule.rule, [self.fact(place, sizes, undone) for place in rule.operands])
        key = ("verdict", rule.number, *[self.state(place, undone) for place in rule.operands])
        return self.case.things.once(
            key, lambda: judged(self.case, rule.rule, [self.fact(place, sizes, undone) for place in rule.operands])
        )

    def demand(self, demand: Demand, sizes: Sizes, undone: Place | None = None) -> Verdict:
        """A demand on a feature after the work; nothing can be asked of an empty seat."""
        if self.chosen[demand.seat][0].source == "empty":
            return Verdict.NO
        return demand_met(demand, self.fact((demand.seat, demand.feature), sizes, undone))

    @cached_property
    def rules(self) -> list[Ruled]:
        """The rules that are decided and apply."""
        return [r for r in self.case.rules if self.applies(r)]

    @cached_property
    def demands(self) -> list[Demand]:
        """The demands on features of decided seats."""
        return [d for d in self.case.demands if d.seat in self.chosen]

    def about(self, places: Iterable[Place]) -> tuple[list[Ruled], list[Demand]]:
        """The rules and demands that look at any of these features."""
        wanted = set(places)
        about = self.case.rules_about
        rules = {r.number: r for p in sorted(wanted) for r in about.get(p, ()) if self.applies(r)}
        return list(rules.values()), [d for d in self.demands if (d.seat, d.feature) in wanted]

    def stands(
        self, sizes: Sizes, rules: Iterable[Ruled], demands: Iterable[Demand], undone: Place | None = None
    ) -> bool:
        """Whether all these rules and demands let the plan stand."""
        return all(allowed(self.verdict(r, sizes, undone)[0], self.mode) for r in rules) and all(
            allowed(self.demand(d, sizes, undone), self.mode) for d in demands
        )

    def asked_for(self, place: Place) -> bool:
        """Whether another operation of the same set needs the one on this feature."""
        seat = place[0]
        name = self.changes[place].name
        mine = kind_operations(self.case, self.chosen[seat][0])
        return any(name in mine[n].needs for n in self.chosen[seat][1] if n in mine and n != name)

    def settled_about(self, place: Place) -> bool:
        """Whether every rule that looks at this feature has all its seats decided."""
        return all(self.covers(r) for r in self.case.rules_about.get(place, ()))


def _done_to(case: Case, option: Option, names: tuple[str, ...]) -> tuple[dict[Place, Operation], dict[Place, Cut]]:
    """What these operations change of the option's part, and which of it they cut."""
    mine = kind_operations(case, option)
    changes: dict[Place, Operation] = {}
    cuts: dict[Place, Cut] = {}
    for operation in (mine[n] for n in names if n in mine and mine[n].effect != "service"):
        place = (option.seat, operation.feature)
        changes[place] = operation
        cut = _cut(case, option, operation)
        if cut is not None:
            cuts[place] = cut
    return changes, cuts


def _cut(case: Case, option: Option, operation: Operation) -> Cut | None:
    """The cut that the operation makes of a size that is known; None for other work."""
    if operation.effect not in CUTS:
        return None
    key = ("cut", specimen(case, option), operation.name)
    return case.things.once(key, lambda: _new_cut(case, option, operation))


def _new_cut(case: Case, option: Option, operation: Operation) -> Cut | None:
    before = as_is(case, option, operation.feature)
    if not before.settles or before.low is None:
        return None
    return Cut(operation, before, limit_of(case, option, operation))
