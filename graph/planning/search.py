"""The exact search: the k cheapest solutions of a network, distinct by labels, with what is proved of them.

Rule 1: nothing here knows what a part is; a network goes in, candidates and costs come out.
Rule 2: nothing here reads a clock; `stop` says when to give up, and what was found till then is kept.
Rule 3: solutions are ordered by cost, then by labels in the order of the variables.

A cost budget keeps only candidates that no tree bound excludes. Every solution within the budget uses kept
candidates alone, so that k solutions within it are the k cheapest of all. The budget rises until that holds.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from graph.errors import OutOfRange
from graph.model.verdict import Proof
from graph.planning.bounds import Bounds, tree_bounds
from graph.planning.certificate import Evidence
from graph.planning.classes import reduce
from graph.planning.distinct import Solution, distinct
from graph.planning.elimination import Elimination, Stopped, TooWide, eliminate, scheme
from graph.planning.network import FORBIDDEN, Ints, Network, check_network

_FIRST_KEPT: Final = 18
"""Candidates a variable kept first, on average; fewer would not make numpy's calls any faster."""

_GROWTH: Final = 3
"""How many times as many are kept when too few solutions were found (measured: 2 and 4 are slower)."""

_FIRST_WIDTH: Final = 1 << 20
_WIDENING: Final = 8
"""Cells of the largest table at first, and how many times as many when no larger budget fits into them."""

_FINENESS: Final = 16
"""How many budgets are told apart when one is looked for that fits; each look costs as much as a small round."""

_ANY: Final = FORBIDDEN - 1
"""The budget that leaves out only what no solution can use."""


@dataclass(frozen=True, slots=True)
class Limits:
    """How far the search may go; counts of work, which repeat, unlike a clock.

    `cells`: of the largest table. `small`: candidates a variable, on average, up to which bounds are not worth
    their time, while no table passes `small_cells`. `flood`: solutions looked through beyond k, for ties and
    equal labels, before labels are fixed one by one. `effort`: CP-SAT's units for the last resort, about a
    second each.
    """

    cells: int = 1 << 24
    small: int = 64
    small_cells: int = 1 << 14
    flood: int = 2000
    effort: float = 20.0


@dataclass(frozen=True, slots=True)
class SearchResult:
    """What was found and what is proved of it.

    `proof`: CHEAPEST: these are the cheapest there are, in order; FOUND: stopped, the first `proved` of them
    stand, of the others a cheaper one may exist; IMPOSSIBLE: there is none; UNDECIDED: stopped with none.
    `complete`: there are no others. `bound`: no solution costs less (None when impossible).
    `evidence` gives the certificate of the bound; None when stopped or proved by the last resort.
    """

    proof: Proof
    solutions: tuple[Solution, ...]
    proved: int
    complete: bool
    bound: int | None
    evidence: Evidence | None = None
    cells: int = 0  # of the largest table
    rounds: int = 0


def never() -> bool:
    """A `stop` that never stops."""
    return False


def k_best(
    network: Network, k: int, *, stop: Callable[[], bool] = never, limits: Limits | None = None
) -> SearchResult:
    """The k cheapest solutions, distinct by labels, ordered by cost and then by labels.

    Raises OutOfRange for a malformed network or k < 1.
    """
    if k < 1:
        raise OutOfRange(f"{k} plans were asked for", fix="ask for at least one")
    plain = check_network(network)
    return _Search(network, k, stop, limits or Limits(), plain=plain).run()


def best_within(
    network: Network, bounds: Sequence[Ints], *, stop: Callable[[], bool] = never, limits: Limits | None = None
) -> SearchResult:
    """The cheapest solution where it is known already what a solution with a candidate costs at least.

    `bounds[v]`: shape (candidates of v,); FORBIDDEN leaves a candidate out. The network is one that `k_best` takes.
    """
    known = Bounds(list(bounds), (), ())
    return _Search(network, 1, stop, limits or Limits(), known).run()


@dataclass(slots=True)
class _Search:
    """One search under way: the best of the last round and what is proved by then."""

    network: Network
    k: int
    stop: Callable[[], bool]
    limits: Limits
    bounds: Bounds | None = None
    plain: frozenset[int] = frozenset()
    best: list[Solution] = field(default_factory=list)
    surely: int = -1  # no solution up to this cost is missing from `best`, unless it has k
    ranked: int = 0  # of `best`, proved by the last resort
    least: int = 0  # no solution costs less
    elimination: Elimination | None = None
    budget: int = _ANY
    cells: int = 0
    rounds: int = 0

    def run(self) -> SearchResult:
        everything = self.kept(_ANY)
        if any(len(kept) == 0 for kept in everything):
            return self.finished(exhausted=True)
        try:
            if sum(map(len, everything)) <= self.limits.small * len(everything):
                try:
                    return self.finished(self.round(everything, _ANY, self.limits.small_cells))
                except TooWide:
                    pass
            return self.rising()
        except Stopped:
            return self.stopped()

    def rising(self) -> SearchResult:
        """Rounds with a rising budget."""
        if self.bounds is None:
            self.bounds = tree_bounds(self.network, self.stop, plain=self.plain)
        bounds = self.bounds
        if bounds.least >= FORBIDDEN:
            return self.finished(exhausted=True)
        self.least = bounds.least
        scores = np.sort(np.concatenate(bounds.of))
        scores = scores[: np.searchsorted(scores, FORBIDDEN)]
        highest = int(scores[-1])
        target = _FIRST_KEPT * len(bounds.of)
        budget = max(_quantile(scores, target), bounds.least)
        worked = -1
        width = min(_FIRST_WIDTH, self.limits.cells)
        while True:
            budget = _ANY if budget >= highest else budget
            try:
                exhausted = self.round(self.kept(budget), budget, width)
            except TooWide:
                narrower = self.narrower(scores, worked, budget, width)
                if narrower is not None:
                    budget = narrower
                elif width < self.limits.cells:
                    width = min(width * _WIDENING, self.limits.cells)
                else:
                    return self.last_resort()
                continue
            worked = budget
            if budget == _ANY:
                return self.finished(exhausted)
            if len(self.best) == self.k:
                worst = self.best[-1].cost
                if worst <= budget:
                    return self.finished(exhausted=False)
                budget = worst
            else:
                target *= _GROWTH
                budget = max(_quantile(scores, target), budget + 1)

    def kept(self, budget: int) -> list[Ints]:
        """The candidates of each variable within the budget."""
        if self.bounds is None:
            return [np.arange(len(own)) for own in self.network.unary]
        return [np.flatnonzero(b <= budget) for b in self.bounds.of]

    def round(self, kept: list[Ints], budget: int, cells: int) -> bool:
        """Eliminate on the kept candidates and list the best; True when no other solution uses only them."""
        reduced = reduce(self.network, kept)
        elimination = None if reduced is None else scheme(reduced, cells)
        exhausted = True
        found: list[Solution] = []
        if elimination is not None:
            eliminate(elimination, self.stop)
            self.cells = max(self.cells, elimination.cells)
            self.least = max(self.least, min(elimination.optimum, budget + 1))
            try:
                exhausted = distinct(
                    self.network, elimination, self.k, found, budget=budget, flood=self.limits.flood, stop=self.stop
                )
            except Stopped:
                if found:
                    self.best = found
                    self.surely = min(budget, max(s.cost for s in found) - 1)
                raise
        else:
            self.least = max(self.least, budget + 1)
        self.rounds += 1
        self.elimination, self.budget, self.best, self.surely = elimination, budget, found, budget
        return exhausted

    def narrower(self, scores: Ints, worked: int, budget: int, width: int) -> int | None:
        """A large budget between the two whose tables are not too wide; None when there is hardly one."""
        steps = scores[(scores > worked) & (scores >= self.least) & (scores < budget)]
        low, high, fitting = 0, len(steps), None
        while high - low > len(steps) // _FINENESS:
            middle = (low + high) // 2
            if self.fits(int(steps[middle]), width):
                low, fitting = middle + 1, int(steps[middle])
            else:
                high = middle
        return fitting

    def fits(self, budget: int, width: int) -> bool:
        """Whether no table would be too wide."""
        if self.stop():
            raise Stopped
        reduced = reduce(self.network, self.kept(budget))
        try:
            return reduced is None or scheme(reduced, width).cells > 0
        except TooWide:
            return False

    def last_resort(self) -> SearchResult:
        """CP-SAT on what the budget leaves."""
        from graph.planning.fallback import solve  # noqa: PLC0415 - OR-Tools is loaded only when it is needed

        enough = len(self.best) == self.k
        reduced = reduce(self.network, self.kept(self.best[-1].cost if enough else _ANY))
        if reduced is None:
            self.elimination, self.budget, self.best = None, _ANY, []
            return self.finished(exhausted=True)
        ranked = solve(self.network, reduced, self.k, self.limits.effort, self.stop)
        first = ranked.solutions[0].cost if ranked.proved else ranked.bound
        self.least = max(self.least, min(first, FORBIDDEN))
        if ranked.complete or ranked.proved == self.k:
            self.best = ranked.solutions
            proof = Proof.CHEAPEST if self.best else Proof.IMPOSSIBLE
            bound = self.least if self.best else None
            return SearchResult(
                proof,
                tuple(self.best),
                ranked.proved,
                ranked.complete and not enough,
                bound,
                None,
                self.cells,
                self.rounds,
            )
        if ranked.proved >= self.proved() and ranked.solutions:
            merged = {s.labels: s for s in sorted([*self.best, *ranked.solutions], key=lambda s: -s.cost)}
            self.best = sorted(merged.values(), key=lambda s: (s.cost, s.labels))[: self.k]
            self.ranked = ranked.proved
        return self.stopped()

    def proved(self) -> int:
        """How many of the best so far are the cheapest there are."""
        return max(self.ranked, sum(s.cost <= self.surely for s in self.best))

    def finished(self, exhausted: bool) -> SearchResult:
        """All that was asked for is proved."""
        complete = exhausted and self.budget == _ANY
        counts = [len(own) for own in self.network.unary]
        evidence = Evidence(counts, self.elimination, self.bounds, self.budget)
        proof = Proof.CHEAPEST if self.best else Proof.IMPOSSIBLE
        bound = self.best[0].cost if self.best else None
        return SearchResult(
            proof, tuple(self.best), len(self.best), complete, bound, evidence, self.cells, self.rounds
        )

    def stopped(self) -> SearchResult:
        """What there is when the caller said stop."""
        best = sorted(self.best, key=lambda s: (s.cost, s.labels))
        proof = Proof.FOUND if best else Proof.UNDECIDED
        return SearchResult(proof, tuple(best), self.proved(), False, self.least, None, self.cells, self.rounds)


def _quantile(scores: Ints, count: int) -> int:
    return int(scores[min(count, len(scores)) - 1])
