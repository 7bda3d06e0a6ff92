"""The cheapest plans, by trying everything that could be cheaper: depth first, with bounds.

Rule 1: nothing is left out but what a rule forbids or what comes after the plans already held, by cost and identity.
Rule 2: a bound never overstates; the plan that is reached is judged and priced as any stated plan is.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from graph.model.bundle import Bundle
from graph.planning.check.case import Case, Mode, Place
from graph.planning.check.domains import Domains, Value, domains_of, indexes
from graph.planning.check.emptied import needlessly_empty
from graph.planning.check.money import labour, operation_time, parts_consumed, services_done, sums
from graph.planning.check.sizes import groups, least_sizes, needless
from graph.planning.check.work import Work

HOUR = 3_600_000
"""Milliseconds."""

Identity = tuple[tuple[str, bool, str, str, tuple[str, ...]], ...]
Open = dict[str, int]  # seat: the values still open, as a bit set


@dataclass(frozen=True, slots=True)
class Optimum:
    """The best distinct plans by (cost, identity); fewer than asked for: there are no more.

    `stopped`: the search was cut short and they prove nothing.
    """

    plans: tuple[tuple[int, Identity], ...]
    stopped: bool = False
    nodes: int = 0

    @property
    def costs(self) -> tuple[int, ...]:
        """What the plans cost, cheapest first."""
        return tuple(cost for cost, _ in self.plans)


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
    """The `best` first plans by (cost, identity) that differ in identity, those that cost over `ceiling` left out."""
    return optimum_of(Case(bundle), best=best, mode=mode, ceiling=ceiling, stop=stop)


def optimum_of(
    case: Case,
    *,
    best: int = 1,
    mode: Mode = "certain",
    ceiling: int | None = None,
    stop: Callable[[], bool] | None = None,
) -> Optimum:
    """The same of a bundle of which something was worked out already."""
    search = Search(domains_of(case, mode), best, ceiling, stop or (lambda: False))
    stopped = False
    try:
        search.run()
    except Stopped:
        stopped = True
    return Optimum(tuple(sorted((cost, who) for who, cost in search.held.items())), stopped, search.nodes)


@dataclass
class Search:
    """Tries every way to fill the seats that could be among the best, and leaves out what a bound shows is not."""

    domains: Domains
    best: int
    ceiling: int | None
    stop: Callable[[], bool]
    held: dict[Identity, int] = field(default_factory=dict)  # the first plans so far
    last: tuple[int, Identity] | None = None  # of those held, when they are as many as wanted
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
        self.by_name = sorted(values)
        self.fixed: dict[object, int] = {}
        self.depths: dict[object, tuple[int, int] | None] = {}

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
        if self._comes_after(floor, domains):
            return
        extra = self._depth_floor(domains)
        if extra is None or self._comes_after(floor + extra[0], domains):
            return
        undecided = [s for s, bits in domains.items() if bits & (bits - 1)]
        if not undecided:
            self._hold(domains)
            return
        seat = min(undecided, key=lambda s: domains[s].bit_count())
        values = self.domains.values[seat]
        cheapest = values[_first(domains[seat])].cost
        for index in indexes(domains[seat]):
            if self._too_dear(floor - cheapest + values[index].cost):
                break
            narrowed = self._narrowed({**domains, seat: 1 << index}, [seat])
            if narrowed is not None:
                self._branch(narrowed)

    def _too_dear(self, cost: int) -> bool:
        dearest = self.ceiling if self.last is None else self.last[0]
        return dearest is not None and cost > dearest

    def _comes_after(self, cost: int, domains: Open) -> bool:
        """Whether no plan left here, of at least this cost, comes before those held."""
        if self._too_dear(cost):
            return True
        if self.last is None or cost != self.last[0]:
            return False
        return self._first_identity(domains) >= self.last[1]

    def _first_identity(self, domains: Open) -> Identity:
        """No plan left here has an identity before this one."""
        values = self.domains.values
        return tuple((s, *min(values[s][i].identity for i in indexes(domains[s]))) for s in self.by_name)

    def _floor(self, domains: Open) -> int:
        """What any plan left here costs at least: the cheapest value of each seat, and what is due anyway."""
        values = self.domains.values
        cost = self.base + sum(values[seat][_first(bits)].cost for seat, bits in domains.items())
        due = self.due_anyway(domains)
        if due not in self.fixed:
            self.fixed[due] = self._due(*due)
        return cost + self.fixed[due]

    def due_anyway(self, domains: Open) -> tuple[frozenset[str], frozenset[tuple[str, str]]]:
        """The seats that every plan left here changes, and the operations (with their seat) that it has."""
        changed = frozenset(s for s, bits in domains.items() if not bits & self.unchanged[s])
        return changed, frozenset(key for key, lacking in self.lacking.items() if not domains[key[0]] & lacking)

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

    def _depth_floor(self, domains: Open) -> tuple[int, int] | None:
        """The money and time that the depth of decided cuts adds at least; None when they cannot be, or need not."""
        decided = self._decided(domains)
        worked = [value for value in decided.values() if value.names]
        if not worked:
            return 0, 0
        near = frozenset().union(*(value.near for value in worked))
        key = frozenset((s, _first(bits)) for s, bits in domains.items() if s in near and s in decided)
        if key not in self.depths:
            self.depths[key] = self._depth(decided, near)
        return self.depths[key]

    def _depth(self, decided: dict[str, Value], near: frozenset[str]) -> tuple[int, int] | None:
        work = Work(self.case, self.domains.mode, {s: (v.option, v.names) for s, v in decided.items() if s in near})
        least = least_sizes(work)
        if least is None:
            return None
        met = groups(work)
        for place in work.changes:
            near_places = {place, *(p for group in met if _near(work, place, group) for p in group)}
            if all(work.settled_about(p) for p in near_places) and needless(work, place):
                return None
        money = time = 0
        for group in met:
            if len(group) > 1:  # each line's rounding may turn out the other way
                money, time = money - 2 * len(group), time - 2 * len(group)
            rates = {work.cuts[place].operation.rate for place in group}
            # Cuts that meet are the least by money; so by time where one rate pays them all.
            timed = len(group) == 1 or (len(rates) == 1 and bool(labour(self.case, min(rates), HOUR)))
            for place in group:
                cut = work.cuts[place]
                rate = cut.operation.rate
                deep = operation_time(work, place[0], cut.operation, least)
                shallow = operation_time(work, place[0], cut.operation, {place: cut.start})
                money += (labour(self.case, rate, deep) or 0) - (labour(self.case, rate, shallow) or 0)
                time += deep - shallow if timed else 0
        return money, time

    def _narrowed(self, domains: Open, changed: list[str]) -> Open | None:
        """The values that still have a partner in every mated seat; None when a seat has none left."""
        queue = list(changed)
        while queue:
            seat = queue.pop()
            for mate in self.mates[seat]:
                kept = 0
                for alike, partners in self.domains.pairs[mate, seat]:
                    if partners & domains[seat]:
                        kept |= alike & domains[mate]
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
            seats = rule.seats
            undecided = [s for s in seats if s not in decided]
            if len(undecided) > 1:
                continue
            seat = undecided[0] if undecided else seats[0]
            seen = {s: self.domains.looks[rule.number, s] for s in seats}
            looks = {s: next(look for look, alike in seen[s].items() if alike & domains[s]) for s in seats}
            kept = 0
            for look, alike in seen[seat].items():
                if alike & domains[seat] and self.domains.may_hold(rule, {**looks, seat: look}):
                    kept |= alike & domains[seat]
            if not kept:
                return None
            if kept != domains[seat]:
                domains[seat] = kept
                narrowed.append(seat)
        return narrowed

    def _hold(self, domains: Open) -> None:
        """A whole plan is reached: judge and price it, and keep it when it is among the best."""
        made = self.standing(domains)
        if made is None:
            return
        work, least = made
        cost = sums(work, least).cost
        if self._comes_after(cost, domains):
            return
        identity = self._first_identity(domains)
        self.held[identity] = min(cost, self.held.get(identity, cost))
        if len(self.held) > self.best:
            del self.held[max(self.held, key=lambda i: (self.held[i], i))]
        if len(self.held) == self.best:
            self.last = max((held, who) for who, held in self.held.items())

    def standing(self, domains: Open) -> tuple[Work, dict[Place, int]] | None:
        """The plan that is left, when it is one, with its least cuts."""
        chosen = {s: (v.option, v.names) for s, v in self._decided(domains).items()}
        work = Work(self.case, self.domains.mode, chosen)
        least = least_sizes(work)
        if least is None or not work.stands(least, work.rules, work.demands):
            return None
        if any(needless(work, place) for place in work.changes) or needlessly_empty(work):
            return None
        return work, least


def _near(work: Work, place: Place, group: list[Place]) -> bool:
    """Whether a rule looks at this feature and at one of the cuts."""
    return place in group or any(not set(group).isdisjoint(r.operands) for r in work.about([place])[0])


def _bits(values: list[Value], holds: Callable[[Value], bool]) -> int:
    return sum(1 << index for index, value in enumerate(values) if holds(value))


def _first(bits: int) -> int:
    return (bits & -bits).bit_length() - 1
