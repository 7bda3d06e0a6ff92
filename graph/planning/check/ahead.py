"""The search for a certain plan that by some measures is ahead of those shown: everything is tried that could be.

Rule 1: a plan is left out only where what it comes to at least, by every measure asked of, is no longer ahead.
Rule 2: what the depth of cuts hangs on is decided first, since all else adds up seat by seat.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import inf

from graph.model.plan import Plan
from graph.planning.check.bound import Open, Search, Stopped
from graph.planning.check.case import Case
from graph.planning.check.choices import kind_operations
from graph.planning.check.domains import Value, domains_of, indexes
from graph.planning.check.money import (
    Sums,
    changed_seats,
    operation_time,
    seat_quantity,
    services_done,
    strip_time,
    sums,
)
from graph.planning.check.work import Work

Come = tuple[float, ...]
"""What a plan comes to by several measures; less is better."""

Stop = Callable[[], bool] | None


def measured(work: Work, total: Sums | Plan) -> dict[str, float]:
    """A plan by every measure: minor units, ms, seats, operations, days (not known counts as longest)."""
    lasting = sum(_lasting(work, seat) for seat in work.chosen)
    lead = inf if total.lead_days is None else total.lead_days
    changes = len(changed_seats(work.case, work.chosen))
    return {"cost": total.cost, "time": total.time, "changes": changes, "lasting": lasting, "lead": lead}


def before(case: Case, order: tuple[str, ...], stated: Come, stop: Stop = None) -> Come | None:
    """What a certain plan comes to that an order of measures puts before the stated one; None: there is none.

    Raises
    ------
    Stopped
        The caller's limit was reached first.
    """
    search = _Before(domains_of(case, "certain"), 1, None, stop or (lambda: False), order=order, stated=stated)
    search.run()
    return search.found


def unbeaten(case: Case, points: Sequence[tuple[int, int]], stop: Stop = None) -> Come | None:
    """The (money, time) of a certain plan that no stated pair equals or beats in both; None: there is none.

    Raises
    ------
    Stopped
        The caller's limit was reached first.
    """
    search = _Unbeaten(domains_of(case, "certain"), 1, None, stop or (lambda: False), order=("cost", "time"))
    search.points = sorted(points)
    search.run()
    return search.found


def _lasting(work: Work, seat: str) -> int:
    """The operations in a seat that cannot be undone."""
    option, names = work.chosen[seat]
    mine = kind_operations(work.case, option)
    return sum(mine[n].effect != "service" and not mine[n].reversible for n in names if n in mine)


@dataclass
class _Ahead(Search):
    """Tries everything that may be ahead; a subclass says what is."""

    order: tuple[str, ...] = ()
    found: Come | None = None
    least: dict[tuple[str, int], Come] = field(default_factory=dict)
    services: dict[object, int] = field(default_factory=dict)
    cutting: dict[tuple[str, int], frozenset[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        super().__post_init__()
        self.each = {seat: [self._alone(value) for value in values] for seat, values in self.domains.values.items()}

    def ahead(self, come: Come) -> bool:
        """Whether a plan may be ahead that comes to no less than this."""
        raise NotImplementedError

    def leasts(self, each: list[Come]) -> Come:
        """What any of these shares of a plan comes to at least."""
        raise NotImplementedError

    def _alone(self, value: Value) -> Come:
        """The least that a value adds by each measure (lead time: that it makes it), services apart."""
        work, seat = value.work, value.option.seat
        mine = kind_operations(self.case, value.option)
        starts = {place: cut.start for place, cut in work.cuts.items()}
        time = sum(operation_time(work, seat, mine[n], starts) for n in value.names if n in mine)
        time += strip_time(self.case, seat) if value.option.source == "donor" else 0
        by = {"cost": value.cost, "time": time, "changes": value.changed, "lasting": _lasting(work, seat)}
        return tuple(self._wait(value) if name == "lead" else by[name] for name in self.order)

    def _wait(self, value: Value) -> float:
        part = self.case.parts.get(value.option.part)
        wanted = seat_quantity(self.case, value.option.seat)
        if value.option.source != "new" or part is None or sum(s.quantity for s in part.stock) >= wanted:
            return 0
        return inf if part.price_new is None or part.price_new.lead_days is None else part.price_new.lead_days

    def _branch(self, domains: Open) -> None:
        self.nodes += 1
        if self.stop():
            raise Stopped
        narrowed: Open | None = domains
        while narrowed is not None and self.found is None:
            floors = self._floors(narrowed)
            if floors is None or not self.ahead(floors):
                return
            fewer = self._fewer(narrowed, floors)
            if not fewer:
                self._parted(narrowed)
                return
            narrowed = self._narrowed({**narrowed, **fewer}, list(fewer)) if all(fewer.values()) else None

    def _parted(self, domains: Open) -> None:
        """Each value in turn of a seat that is open; or the plan that is left."""
        undecided = [s for s, bits in domains.items() if bits & (bits - 1)]
        if not undecided:
            self._hold(domains)
            return
        cutting = frozenset().union(*(self._cutting(seat, bits) for seat, bits in domains.items()))
        seat = min(undecided, key=lambda s: (s not in cutting, domains[s].bit_count()))
        for index in sorted(indexes(domains[seat]), key=lambda i: self.each[seat][i]):
            narrowed = self._narrowed({**domains, seat: 1 << index}, [seat])
            if narrowed is not None:
                self._branch(narrowed)

    def _cutting(self, seat: str, bits: int) -> frozenset[str]:
        """The seats on which the depth of a cut that may be made in this one hangs."""
        if (seat, bits) not in self.cutting:
            left = (self.domains.values[seat][i] for i in indexes(bits))
            self.cutting[seat, bits] = frozenset().union(*(value.near for value in left if value.work.cuts))
        return self.cutting[seat, bits]

    def _floors(self, domains: Open) -> Come | None:
        """What any plan left here comes to at least; None when there is none."""
        depth = self._depth_floor(domains)
        if depth is None:
            return None
        due = self.due_anyway(domains)
        if due not in self.services:
            done = (self.case.operations[name] for name in services_done(self.case, due[0], [n for _, n in due[1]]))
            self.services[due] = sum(o.setup + o.time for o in done if not o.kind)
            self.fixed[due] = self._due(*due)
        anyway = {"cost": self.base + self.fixed[due] + depth[0], "time": self.services[due] + depth[1]}
        floors: Come = tuple(anyway.get(name, 0) for name in self.order)
        for seat, bits in domains.items():
            floors = self._together(floors, self._least(seat, bits))
        return floors

    def _together(self, one: Come, other: Come) -> Come:
        """What two shares of a plan come to: the sum; of waits the longer."""
        return tuple(
            max(a, b) if name == "lead" else a + b for name, a, b in zip(self.order, one, other, strict=True)
        )

    def _least(self, seat: str, bits: int) -> Come:
        if (seat, bits) not in self.least:
            self.least[seat, bits] = self.leasts([self.each[seat][i] for i in indexes(bits)])
        return self.least[seat, bits]

    def _fewer(self, domains: Open, floors: Come) -> Open:
        """The seats with values with which no plan left here is ahead, without those values."""
        fewer: Open = {}
        for seat, bits in domains.items():
            if not bits & (bits - 1):
                continue
            least = self._least(seat, bits)
            others = tuple(
                floor if name == "lead" else floor - low
                for name, floor, low in zip(self.order, floors, least, strict=True)
            )
            kept = bits
            for index in indexes(bits):
                if not self.ahead(self._together(others, self.each[seat][index])):
                    kept &= ~(1 << index)
            if kept != bits:
                fewer[seat] = kept
        return fewer

    def _hold(self, domains: Open) -> None:
        made = self.standing(domains)
        if made is None:
            return
        work, least = made
        come = measured(work, sums(work, least))
        reached = tuple(come[name] for name in self.order)
        if self.ahead(reached):
            self.found = reached


@dataclass
class _Before(_Ahead):
    """What an order of measures puts before the stated.

    The least of a sum, compared as the order compares, is the sum of what is least in each seat compared so. The wait
    is no sum: the measures on both sides of it are compared for themselves.
    """

    stated: Come = ()

    def ahead(self, come: Come) -> bool:
        return come < self.stated

    def leasts(self, each: list[Come]) -> Come:
        at = self.order.index("lead") if "lead" in self.order else len(self.order)
        return (
            *min(one[:at] for one in each),
            *min(one[at : at + 1] for one in each),
            *min(one[at + 1 :] for one in each),
        )


@dataclass
class _Unbeaten(_Ahead):
    """What no stated pair equals or beats in both."""

    points: list[tuple[int, int]] = field(default_factory=list)  # the first rising, the second falling

    def ahead(self, come: Come) -> bool:
        at = bisect_right(self.points, come[0], key=lambda point: point[0]) - 1
        return at < 0 or self.points[at][1] > come[1]

    def leasts(self, each: list[Come]) -> Come:
        return tuple(map(min, zip(*each, strict=True)))
