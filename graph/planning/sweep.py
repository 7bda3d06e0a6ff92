"""Many cases over one network at once: each case may use some of the candidates; which cases are the cheapest?

Rule 1: a batched pass over trees bounds every case and every candidate in it. Under a guessed ceiling, passes strike
out what only dearer solutions use, and with it most cases; few are left to be solved exactly.
Rule 2: the ceiling rises until as many cases as are wanted are found within it; every case not solved by then is
proved to cost more than the dearest of them.
Rule 3: nothing here knows what a case is; a core of the shelf, a unit or a set of parts is all the same.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from graph.errors import Unanswerable
from graph.model.verdict import Proof
from graph.planning.answer import never
from graph.planning.batch import Allowed, Side, pass_over, sides_of
from graph.planning.bounds import moved
from graph.planning.distinct import Solution
from graph.planning.network import FORBIDDEN, Ints, Network
from graph.planning.search import best_within

_AGAIN = 20
"""Cases solved before a lower ceiling is worth another pass."""

_WORTHWHILE = 0.7
"""Another pass follows one that left no more than so much of the cases."""

_FIRST_STEP = 0.2
_STEP = 0.1
_GUESSES = 8
"""By how much the ceiling first guessed lies above the bounds, by how much it rises, and how often."""


@dataclass(frozen=True, slots=True)
class Swept:
    """`best`: (cost, case, solution), cheapest first, exact. `least[j]`: no solution of case j costs less.

    `done[j]`: nothing of case j is left open; if it is not among `best` and bounded by FORBIDDEN it has no solution.
    """

    best: list[tuple[int, int, Solution]]
    least: Ints
    done: NDArray[np.bool_]
    solves: int


def sweep(network: Network, allowed: Allowed, extra: Ints, best: int, *, stop: Callable[[], bool] = never) -> Swept:
    """The `best` cheapest cases, exactly, ties by case; choices are those of the whole network.

    `extra`: shape (cases,), what each case costs by itself.

    Raises
    ------
    Unanswerable
        Stopped before it was settled.
    """
    return _Sweep(network, allowed, extra, best, stop).run()


class _Sweep:
    """One sweep under way; what is known of every case by then."""

    def __init__(self, network: Network, allowed: Allowed, extra: Ints, best: int, stop: Callable[[], bool]) -> None:
        self.network, self.extra, self.best, self.stop = network, extra, best, stop
        _, unary, self.factors = moved(network)
        self.sides = sides_of(unary, allowed)
        self.least = pass_over(network, self.factors, self.sides, extra, FORBIDDEN)
        self.done = self.least >= FORBIDDEN
        self.found: list[tuple[int, int, Solution]] = []
        self.solves = 0

    def run(self) -> Swept:
        open_ = np.sort(self.least[~self.done])
        step = _FIRST_STEP
        ceiling = int(open_[self.best - 1]) if len(open_) > self.best else FORBIDDEN
        for _ in range(_GUESSES):
            if ceiling >= FORBIDDEN or self.dearest <= ceiling:
                break
            ceiling += max(1, int(ceiling * step))
            self.settle(ceiling)
            step = _STEP
        if self.dearest > ceiling or ceiling >= FORBIDDEN:
            self.settle(FORBIDDEN)
        return Swept(self.found[: self.best], np.minimum(self.least, FORBIDDEN), self.done, self.solves)

    @property
    def dearest(self) -> int:
        """The cost of the last of the best; FORBIDDEN while there are too few."""
        return self.found[self.best - 1][0] if len(self.found) >= self.best else FORBIDDEN

    def settle(self, ceiling: int) -> None:
        """Find the best of what costs no more than the ceiling, unless there are too few of it."""
        cases = np.flatnonzero(~self.done & (self.least <= ceiling))
        sides = [side.rows(cases) for side in self.sides]
        if ceiling < FORBIDDEN:
            cases, sides = self.narrowed(cases, sides, ceiling)
            if len(cases) + len(self.found) < self.best:
                return
        waiting = self.in_order(cases)
        since = 0
        while waiting:
            limit = min(ceiling, self.dearest)
            if limit < ceiling and since >= _AGAIN:
                ceiling, since = limit, 0
                rest = np.array(sorted(waiting))
                cases, sides = self.narrowed(cases[rest], [side.rows(rest) for side in sides], ceiling)
                waiting = self.in_order(cases)
                continue
            row = waiting.pop(0)
            case = int(cases[row])
            if self.least[case] > limit:
                break
            most = FORBIDDEN - 1 if limit == FORBIDDEN else limit - int(self.extra[case])
            self.solve(case, [side.bounds(row, most) for side in sides], limit)
            since += 1

    def in_order(self, cases: Ints) -> list[int]:
        """The rows of the cases by their bounds."""
        order: list[int] = np.lexsort((cases, self.least[cases])).tolist()
        return order

    def narrowed(self, cases: Ints, sides: list[Side], ceiling: int) -> tuple[Ints, list[Side]]:
        """The cases that may cost no more than the ceiling, after passes as long as these strike out many."""
        while len(cases):
            if self.stop():
                raise _unsettled()
            tighter = pass_over(self.network, self.factors, sides, self.extra[cases], ceiling)
            self.least[cases] = np.maximum(self.least[cases], np.minimum(tighter, ceiling + 1))
            alive = np.flatnonzero(tighter <= ceiling)
            before = len(cases)
            cases, sides = cases[alive], [side.rows(alive) for side in sides]
            if len(cases) > _WORTHWHILE * before:
                break
        return cases, sides

    def solve(self, case: int, bounds: list[Ints], limit: int) -> None:
        """The cheapest solution of one case, if it is within the limit."""
        self.solves += 1
        result = best_within(self.network, bounds, stop=self.stop)
        if result.proof not in (Proof.CHEAPEST, Proof.IMPOSSIBLE):
            raise _unsettled()
        cost = result.solutions[0].cost + int(self.extra[case]) if result.solutions else FORBIDDEN
        if cost <= limit and result.solutions:
            self.found.append((cost, case, result.solutions[0]))
            self.found.sort(key=lambda f: f[:2])
        self.least[case] = min(cost, limit + 1)
        self.done[case] = cost <= limit or limit == FORBIDDEN


def _unsettled() -> Unanswerable:
    return Unanswerable("the ranking was not settled before the limit was reached", fix="give it more time")


def bounded(network: Network, allowed: Allowed, extra: Ints) -> Ints:
    """What every case costs at least, shape (cases,); FORBIDDEN where it has no solution."""
    _, unary, factors = moved(network)
    return pass_over(network, factors, sides_of(unary, allowed), extra, FORBIDDEN)
