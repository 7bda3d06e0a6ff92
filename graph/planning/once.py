"""What a plan does or uses up once, however many seats cause it: services, and one-time-use parts per unit.

Rule 1: each has levels (not at all, done; or how many are used); a plan's level is the highest that a seat causes.
Rule 2: its variable says which level and which seat is the first to cause it, so that a plan is one solution.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from graph.model.record import Consume
from graph.planning import money
from graph.planning.modes import SeatModes
from graph.planning.network import FORBIDDEN, Ints
from graph.planning.problem import ALWAYS, Problem


@dataclass(slots=True)
class OnceItem:
    """`seats` that may raise the level; `levels[i]`: shape (modes of seats[i],); `costs`: shape (levels,)."""

    name: str
    seats: list[int]
    levels: list[Ints]
    costs: Ints

    def tables(self) -> tuple[Ints, list[Ints]]:
        """The variable's own costs, and a table (level of the seat, value) for each seat."""
        values: list[tuple[int, int]] = [(0, -1)]
        for level in range(1, len(self.costs)):
            values += [(level, i) for i, found in enumerate(self.levels) if (found == level).any()]
        own = np.array([self.costs[level] for level, _ in values], dtype=np.int64)
        tables = []
        for i in range(len(self.seats)):
            table = np.full((len(self.costs), len(values)), FORBIDDEN, dtype=np.int64)
            for n, (level, first) in enumerate(values):
                for mine in range(len(self.costs)):
                    if mine < level if i < first else mine == level if i == first else mine <= level:
                        table[mine, n] = 0
            tables.append(table)
        return own, tables


def once_items(problem: Problem, seats: Sequence[SeatModes]) -> tuple[int, list[OnceItem]]:
    """The cost that is sure, and what depends on the seats; items that depend on them alike are made one."""
    always = money.services_always(problem)
    sure = money.rows_cost(problem, money.per_seat_rows(problem, ALWAYS))
    causes = [_causes(problem, s) for s in seats]
    raw: list[tuple[str, list[list[int]], int, dict[int, int]]] = []
    every_service = sorted(always.union(*(c.services for c in causes)))
    for name in every_service:
        operation = problem.operations[name]
        cost = money.labour(problem, operation.rate, money.work_time(operation)) or 0
        cost += money.rows_cost(problem, money.per_seat_rows(problem, name))
        found = [c.service(name) for c in causes]
        raw.append((name, found, int(name in always), {0: 0, 1: cost, 2: 0}))
    for part in sorted({row.part for row in problem.bundle.consumes if row.per == "unit"}):
        rows = [row for row in problem.bundle.consumes if row.part == part and row.per == "unit"]
        found = [c.used(part, rows) for c in causes]
        base = _quantity(rows, always | {ALWAYS})
        price = money.new_price(problem, part)
        each = price.price if price is not None else 0
        quantities = {base, 0, *(q for row in found for q in row)}
        raw.append((part, found, base, {q: q * each for q in quantities}))
    alike: dict[tuple[tuple[int, ...], tuple[bytes, ...]], OnceItem] = {}
    for name, found, base, costs in raw:
        floor = max([base, *(min(row) for row in found if row)])
        steps = sorted({floor, *(q for row in found for q in row if q > floor)})
        least = min(costs[q] for q in steps)
        sure += least
        extra = np.array([costs[q] - least for q in steps], dtype=np.int64)
        if not extra.any():
            continue
        rank = {q: i for i, q in enumerate(steps)}
        moving = [i for i, row in enumerate(found) if any(q > floor for q in row)]
        levels = [np.array([rank[max(q, floor)] for q in found[i]], dtype=np.int64) for i in moving]
        key = tuple(moving), tuple(x.tobytes() for x in levels)
        if key in alike:
            same = alike[key]
            alike[key] = OnceItem(f"{same.name}, {name}", same.seats, same.levels, same.costs + extra)
        else:
            alike[key] = OnceItem(name, moving, levels, extra)
    return sure, list(alike.values())


@dataclass(slots=True)
class _Causes:
    """What the modes of one seat make happen; each row is worked out once."""

    names: list[tuple[str, ...]]
    due: list[frozenset[str]]
    happening: list[frozenset[str]]
    services: frozenset[str]
    _rows: dict[str, list[int]] = field(default_factory=dict)

    def service(self, name: str) -> list[int]:
        """For each mode 0: it does not cause the service; 1: it does; 2: among its own operations, paid for there."""
        if name not in self._rows:
            own = zip(self.names, self.due, strict=True)
            self._rows[name] = [2 if name in names else int(name in due) for names, due in own]
        return self._rows[name]

    def used(self, part: str, rows: Sequence[Consume]) -> list[int]:
        """How many of a part each mode uses up once for the unit."""
        key = f"used {part}"
        if key not in self._rows:
            self._rows[key] = [_quantity(rows, what) for what in self.happening]
        return self._rows[key]


def _causes(problem: Problem, seats: SeatModes) -> _Causes:
    def made() -> _Causes:
        due = [money.services_of(problem, m) for m in seats.modes]
        happening = [money.occasions(m) | d for m, d in zip(seats.modes, due, strict=True)]
        return _Causes([m.names for m in seats.modes], due, happening, frozenset().union(*due))

    return problem.kept.once(("causes", problem.ground, problem.prices, problem.kept.mark(seats)), made)


def _quantity(rows: Sequence[Consume], happening: frozenset[str]) -> int:
    """The largest quantity that any of the occasions uses up once for the unit."""
    return max((row.quantity for row in rows if row.when in happening), default=0)
