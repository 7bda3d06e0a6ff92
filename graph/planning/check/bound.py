"""The costs of the cheapest plans, by trying everything that could be cheaper: depth first, with bounds.

Rule 1: nothing is left out but what a rule forbids or what costs at least as much as the plans already held.
Rule 2: a bound never overstates; the plan that is reached is judged and priced as any stated plan is.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from graph.model.bundle import Bundle
from graph.planning.check.case import Case, Mode
from graph.planning.check.domains import Domains, Value
from graph.planning.check.emptied import needlessly_empty
from graph.planning.check.money import labour, operation_time, parts_consumed, services_done, sums
from graph.planning.check.sizes import groups, least_sizes, needless
from graph.planning.check.work import Work

Identity = tuple[tuple[str, str, str, tuple[str, ...]], ...]
Open = dict[str, int]  # seat: the values still open, as a bit set


@dataclass(frozen=True, slots=True)
class Optimum:
    """The costs of the best distinct plans, cheapest first; fewer than asked for: there are no more.

    `stopped`: the search was cut short and the costs prove nothing.
    """

    costs: tuple[int, ...]
    stopped: bool = False
    nodes: int = 0


class Stopped(Exception):
    """The caller's limit was reached."""


def optimum(
    bundle: Bundle,
    *,
    best: int = 1,
    mode: Mode = "certain",
    ceiling: int | None = None,
    stop: Callable[[], bool] | None = None,
) -> Optimum:
    """The costs of the `best` cheapest plans that differ in identity, those above `ceiling` left out."""
    search = _Search(Domains(Case(bundle), mode), best, ceiling, stop or (lambda: False))
    try:
        search.run()
    except Stopped:
        return Optimum(tuple(sorted(search.held.values())), stopped=True, nodes=search.nodes)
    return Optimum(tuple(sorted(search.held.values())), nodes=search.nodes)


@dataclass
class _Search:
    domains: Domains
    best: int
    ceiling: int | None
    stop: Callable[[], bool]
    held: dict[Identity, int] = field(default_factory=dict)  # the cheapest plans so far
    nodes: int = 0

    def __post_init__(self) -> None:
        case = self.case = self.domains.case
        values = self.domains.values
        core = case.bundle.core
        self.base = 0 if core.own else core.book_value or 0
        self.mates: dict[str, list[str]] = {seat: [] for seat in values}
        for seat, mate in self.domains.pairs:
            self.mates[seat].append(mate)
        self.unchanged = {s: _bits(vs, lambda v: not v.changed) for s, vs in values.items()}
        telling = {o.name for o in case.bundle.operations if o.follows or o.needs}
        telling |= {c.when for c in case.bundle.consumes}
        self.lacking = {
            (seat, name): _bits(vs, lambda v, name=name: name not in v.names)  # type: ignore[misc]
            for seat, vs in values.items()
            for name in {n for v in vs for n in v.names} & telling
        }
        self.fixed: dict[object, int] = {}

    def run(self) -> None:
        """Try everything."""
        full = {seat: (1 << len(values)) - 1 for seat, values in self.domains.values.items()}
        if self.best > 0 and all(full.values()):
            start = self._narrowed(full, list(full))
            if start is not None:
                self._branch(start)

    def _branch(self, domains: Open) -> None:
        self.nodes += 1
        if self.stop():
            raise Stopped
        floor = self._floor(domains)
        if self._too_dear(floor):
            return
        extra = self._work_floor(domains)
        if extra is None or self._too_dear(floor + extra):
            return
        undecided = [s for s, bits in domains.items() if bits & (bits - 1)]
        if not undecided:
            self._hold(domains)
            return
        seat = min(undecided, key=lambda s: domains[s].bit_count())
        values = self.domains.values[seat]
        cheapest = values[_first(domains[seat])].cost
        for index in _indexes(domains[seat]):
            if self._too_dear(floor - cheapest + values[index].cost):
                break
            narrowed = self._narrowed({**domains, seat: 1 << index}, [seat])
            if narrowed is not None:
                self._branch(narrowed)

    def _too_dear(self, cost: int) -> bool:
        if self.ceiling is not None and cost > self.ceiling:
            return True
        return len(self.held) == self.best and cost >= max(self.held.values())

    def _floor(self, domains: Open) -> int:
        """What any plan left here costs at least: the cheapest value of each seat, and what is due anyway."""
        values = self.domains.values
        cost = self.base + sum(values[seat][_first(bits)].cost for seat, bits in domains.items())
        changed = frozenset(s for s, bits in domains.items() if not bits & self.unchanged[s])
        chosen = frozenset(key for key, lacking in self.lacking.items() if not domains[key[0]] & lacking)
        key = (changed, chosen)
        if key not in self.fixed:
            self.fixed[key] = self._due(changed, chosen)
        return cost + self.fixed[key]

    def _due(self, changed: frozenset[str], chosen: frozenset[tuple[str, str]]) -> int:
        """Services (those of the whole unit) and used-up parts that these changes bring with them."""
        case = self.case
        operations: dict[str, list[str]] = {}
        for seat, name in sorted(chosen):
            operations.setdefault(seat, []).append(name)
        services = services_done(case, changed, [name for _, name in chosen])
        due = 0
        for name in services:
            service = case.operations[name]
            due += 0 if service.kind else labour(case, service.rate, service.setup + service.time) or 0
        for key, (quantity, _) in parts_consumed(case, changed, operations, services).items():
            part = case.parts.get(key)
            due += part.price_new.price * quantity if part and part.price_new else 0
        return due

    def _decided(self, domains: Open) -> dict[str, Value]:
        values = self.domains.values
        return {s: values[s][_first(bits)] for s, bits in domains.items() if not bits & (bits - 1)}

    def _work_floor(self, domains: Open) -> int | None:
        """What the depth of the decided seats' cuts adds at least; None when they cannot be, or need not."""
        decided = self._decided(domains)
        if not any(v.names for v in decided.values()):
            return 0
        work = Work(self.case, self.domains.mode, {s: (v.option, v.names) for s, v in decided.items()})
        least = least_sizes(work)
        if least is None:
            return None
        met = groups(work)
        for place in work.changes:
            near = {place, *(p for group in met if _near(work, place, group) for p in group)}
            if all(work.settled_about(p) for p in near) and needless(work, place):
                return None
        extra = 0
        for group in met:
            extra -= 2 * len(group) if len(group) > 1 else 0  # each line's rounding may turn out the other way
            for place in group:
                cut = work.cuts[place]
                rate = cut.operation.rate
                deep = labour(self.case, rate, operation_time(work, place[0], cut.operation, least)) or 0
                starts = {place: cut.start}
                extra += deep - (labour(self.case, rate, operation_time(work, place[0], cut.operation, starts)) or 0)
        return extra

    def _narrowed(self, domains: Open, changed: list[str]) -> Open | None:
        """The values that still have a partner in every mated seat; None when a seat has none left."""
        queue = list(changed)
        while queue:
            seat = queue.pop()
            for mate in self.mates[seat]:
                table = self.domains.pairs[mate, seat]
                kept = 0
                for index in _indexes(domains[mate]):
                    if table[index] & domains[seat]:
                        kept |= 1 << index
                if kept != domains[mate]:
                    if not kept:
                        return None
                    domains[mate] = kept
                    queue.append(mate)
            if not queue:
                narrower = self._narrowed_wide(domains)
                if narrower is None:
                    return None
                queue += narrower
        return domains

    def _narrowed_wide(self, domains: Open) -> list[str] | None:
        """Rules over more seats, where all seats but one are decided: the seats narrowed by them."""
        narrowed = []
        decided = self._decided(domains)
        for rule in self.domains.wide:
            seats = [s for s in rule.seats if s in domains]
            undecided = [s for s in seats if s not in decided]
            if len(undecided) > 1:
                continue
            works = {s: decided[s].work for s in seats if s in decided}
            seat = undecided[0] if undecided else seats[0]
            kept = 0
            for index in _indexes(domains[seat]):
                value = self.domains.values[seat][index]
                ordered = {s: value.work if s == seat else works[s] for s in seats}
                if self.domains.may_hold(rule, ordered):
                    kept |= 1 << index
            if not kept:
                return None
            if kept != domains[seat]:
                domains[seat] = kept
                narrowed.append(seat)
        return narrowed

    def _hold(self, domains: Open) -> None:
        """A whole plan is reached: judge and price it, and keep it when it is among the best."""
        chosen = {s: (v.option, v.names) for s, v in self._decided(domains).items()}
        work = Work(self.case, self.domains.mode, chosen)
        least = least_sizes(work)
        if least is None or not work.stands(least, work.rules, work.demands):
            return
        if any(needless(work, place) for place in work.changes) or needlessly_empty(work):
            return
        cost = sums(work, least).cost
        if self._too_dear(cost):
            return
        identity = tuple(sorted((s, o.part, o.source, names) for s, (o, names) in chosen.items()))
        self.held[identity] = min(cost, self.held.get(identity, cost))
        if len(self.held) > self.best:
            del self.held[max(self.held, key=lambda i: (self.held[i], i))]


def _near(work: Work, place: tuple[str, str], group: list[tuple[str, str]]) -> bool:
    """Whether a rule looks at this feature and at one of the cuts."""
    return place in group or any(place in r.operands and set(group) & set(r.operands) for r in work.rules)


def _bits(values: list[Value], holds: Callable[[Value], bool]) -> int:
    return sum(1 << index for index, value in enumerate(values) if holds(value))


def _first(bits: int) -> int:
    return (bits & -bits).bit_length() - 1


def _indexes(bits: int) -> list[int]:
    found = []
    while bits:
        found.append(_first(bits))
        bits &= bits - 1
    return found
