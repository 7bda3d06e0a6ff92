"""Many cases over one network at once: each case may use some of the candidates; which cases are the cheapest?

Rule 1: a batched pass over trees bounds every case and every candidate in it; then cases are solved exactly in the
order of their bounds, until no other can be among the best.
Rule 2: once as many cases as are wanted have been solved, the dearest of them is a ceiling: candidates that only
dearer solutions use are left out, for all cases that are left, by a second pass.
Rule 3: nothing here knows what a case is; a core of the shelf, a unit or a set of parts is all the same.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from graph.errors import Unanswerable
from graph.model.verdict import Proof
from graph.planning.answer import never
from graph.planning.bounds import MOST_TREES, forest, moved
from graph.planning.distinct import Solution
from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.search import k_best

Allowed = list[NDArray[np.bool_]]
"""For each variable, shape (cases, candidates of the variable,): whether the case may use the candidate."""

_CELLS = 1 << 18
"""Cells of one batched table; more cases are worked in turns, so that a table stays near the processor."""

_AGAIN = 40
"""Cases solved before a lower ceiling is worth another pass."""

_RARE = 8
"""A candidate that at most one case in so many may use is looked at in those cases only."""


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
    _, unary, factors = moved(network)
    sides = _sides(unary, allowed)
    least = _bounded(network, factors, sides, extra, FORBIDDEN)
    at = np.arange(len(extra))  # of each case, its row in the sides
    done = least >= FORBIDDEN
    found: list[tuple[int, int, Solution]] = []
    waiting = [case for case in _in_order(least) if least[case] < FORBIDDEN]
    ceiling = FORBIDDEN
    solves = since = 0
    while waiting:
        dearest = found[best - 1][0] if len(found) >= best else FORBIDDEN
        since += 1
        if dearest < ceiling and (ceiling == FORBIDDEN or since >= _AGAIN):
            ceiling, since = dearest, 0
            rows = np.array(waiting)
            sides = [side.rows(at[rows]) for side in sides]
            at[rows] = np.arange(len(rows))
            tighter = _bounded(network, factors, sides, extra[rows], ceiling)
            least[rows] = np.maximum(least[rows], np.minimum(tighter, ceiling + 1))
            open_ = set(waiting)
            waiting = [case for case in _in_order(least) if case in open_]
        case = waiting.pop(0)
        if least[case] > dearest:
            break
        solves += 1
        solution = _solved(network, [side.kept(int(at[case])) for side in sides], stop)
        cost = FORBIDDEN if solution is None else solution.cost + int(extra[case])
        if solution is not None and cost <= ceiling:
            found.append((cost, case, solution))
            found.sort(key=lambda f: f[:2])
        least[case] = min(cost, ceiling + 1)
        done[case] = cost <= ceiling or ceiling == FORBIDDEN
    return Swept(found[:best], np.minimum(least, FORBIDDEN), done, solves)


def _in_order(least: Ints) -> list[int]:
    return [int(case) for case in np.lexsort((np.arange(len(least)), least))]


def _solved(network: Network, kept: list[Ints], stop: Callable[[], bool]) -> Solution | None:
    if any(len(k) == 0 for k in kept):
        return None
    result = k_best(restricted(network, kept), 1, stop=stop)
    if result.proof is Proof.UNDECIDED:
        raise Unanswerable("the ranking was not settled before the limit was reached", fix="give it more time")
    if not result.solutions:
        return None
    one = result.solutions[0]
    return Solution(one.cost, one.labels, tuple(int(k[c]) for k, c in zip(kept, one.choice, strict=True)))


def restricted(network: Network, kept: Sequence[Ints]) -> Network:
    """The network on some candidates of each variable, with only the classes that they have."""
    factors = []
    for f in network.factors:
        table = f.table
        classes = []
        for axis, (v, of_all) in enumerate(zip(f.scope, f.classes, strict=True)):
            used, mine = np.unique(of_all[kept[v]], return_inverse=True)
            table = table.take(used, axis=axis)
            classes.append(mine.astype(np.int64))
        factors.append(Factor(f.scope, tuple(classes), table, f.name))
    return Network(
        tuple(own[k] for own, k in zip(network.unary, kept, strict=True)),
        tuple(factors),
        tuple(labels[k] for labels, k in zip(network.labels, kept, strict=True)),
        network.names,
    )


def bounded(network: Network, allowed: Allowed, extra: Ints) -> Ints:
    """What every case costs at least, shape (cases,); FORBIDDEN where it has no solution."""
    _, unary, factors = moved(network)
    return _bounded(network, factors, _sides(unary, allowed), extra, FORBIDDEN)


def _sides(unary: list[Ints], allowed: Allowed) -> list["_Side"]:
    return [_Side.of(costs, may) for costs, may in zip(unary, allowed, strict=True)]


def _bounded(network: Network, factors: list[Factor], sides: list["_Side"], extra: Ints, ceiling: int) -> Ints:
    """The same, and what only solutions dearer than the ceiling use is struck out of the sides."""
    least = np.zeros(len(extra), dtype=np.int64)
    limit = np.minimum(ceiling - extra, FORBIDDEN - 1)[:, None]
    order = sorted(range(len(factors)), key=lambda f: -float(factors[f].table.mean(dtype=np.float64)))
    rest, used = list(order), list[int]()
    for _ in range(MOST_TREES):
        tree = forest(network, rest + used)
        fresh = set(tree) & set(rest)
        if not fresh:
            break
        marginals = _marginals(sides, [factors[f] for f in tree])
        for side, totals in zip(sides, marginals, strict=True):
            least = np.maximum(least, side.least(totals))
            side.strike(totals, limit)
        used += [f for f in rest if f in fresh]
        rest = [f for f in rest if f not in fresh]
    whole: Ints = np.minimum(least + extra, FORBIDDEN)
    return whole


Blocks = list[Ints]
"""Costs of a variable's common candidates, shape (cases, common), and its rare ones, shape (cases, most a case)."""


@dataclass(slots=True)
class _Side:
    """One variable's candidates: the common ones side by side, of the rare ones only those that a case may use.

    `common`: candidates; `rare`: shape (cases, most a case), candidates; `own`: the costs of both blocks.
    """

    common: Ints
    rare: Ints
    own: Blocks

    @classmethod
    def of(cls, costs: Ints, may: NDArray[np.bool_]) -> "_Side":
        """A variable with its candidates' own costs, and what each case may use."""
        counts = may.sum(axis=0)
        few = (counts > 0) & (counts * _RARE <= len(may))
        common = np.flatnonzero((counts > 0) & ~few)
        cases, which = np.nonzero(may[:, few])
        each = np.bincount(cases, minlength=len(may))
        rare = np.zeros((len(may), int(each.max(initial=0))), dtype=np.int64)
        place = np.arange(len(cases)) - np.repeat(np.cumsum(each) - each, each)
        rare[cases, place] = np.flatnonzero(few)[which]
        there = np.zeros(rare.shape, dtype=np.bool_)
        there[cases, place] = True
        own = [np.where(may[:, common], costs[common][None, :], FORBIDDEN), np.where(there, costs[rare], FORBIDDEN)]
        return cls(common, rare, own)

    def rows(self, cases: Ints) -> "_Side":
        """The same for some cases, without the candidates that none of them may use."""
        common, rare = (block[cases] for block in self.own)
        wanted = (common < FORBIDDEN).any(axis=0)
        places = (rare < FORBIDDEN).any(axis=0)
        return _Side(self.common[wanted], self.rare[cases][:, places], [common[:, wanted], rare[:, places]])

    def ids(self, classes: Ints) -> list[Ints]:
        """The classes of both blocks, shapes (1, common) and (cases, most a case)."""
        return [classes[self.common][None, :], classes[self.rare]]

    def least(self, totals: Blocks) -> Ints:
        """The least of each case."""
        common, rare = (block.min(axis=1, initial=FORBIDDEN) for block in totals)
        both: Ints = np.minimum(common, rare)
        return both

    def strike(self, totals: Blocks, limit: Ints) -> None:
        """Forbid what costs more than the limit."""
        self.own = [np.where(t > limit, FORBIDDEN, own) for own, t in zip(self.own, totals, strict=True)]

    def kept(self, case: int) -> Ints:
        """What a case may still use, ascending."""
        common = self.common[self.own[0][case] < FORBIDDEN]
        return np.sort(np.concatenate([common, self.rare[case][self.own[1][case] < FORBIDDEN]]))


def _marginals(sides: list[_Side], factors: list[Factor]) -> list[Blocks]:
    """The least cost of each candidate in each case on a forest: messages up to a root of each tree, and down."""
    below: list[list[int]] = [[] for _ in sides]
    for number, factor in enumerate(factors):
        for v in factor.scope:
            below[v].append(number)
    order: list[tuple[int, int]] = []  # (factor, its upper variable), upper ones first
    seen: set[int] = set()
    used: set[int] = set()
    for root in range(len(sides)):
        todo = [] if root in seen else [root]
        seen.add(root)
        while todo:
            v = todo.pop()
            for number in below[v]:
                if number not in used:
                    used.add(number)
                    order.append((number, v))
                    lower = [w for w in factors[number].scope if w != v]
                    seen.update(lower)
                    todo += lower
    total = [list(side.own) for side in sides]
    raised: dict[int, Blocks] = {}
    for number, up in reversed(order):
        raised[number] = _message(factors[number], up, sides, total)
        total[up] = _plus(total[up], raised[number])
    carried = [list(blocks) for blocks in total]  # of lower variables: what is below them alone
    for number, up in order:
        outside = list(carried)
        outside[up] = [
            np.where(t >= FORBIDDEN, FORBIDDEN, t - r) for t, r in zip(total[up], raised[number], strict=True)
        ]
        for w in factors[number].scope:
            if w != up:
                total[w] = _plus(total[w], _message(factors[number], w, sides, outside))
    return total


def _plus(one: Blocks, other: Blocks) -> Blocks:
    return [np.minimum(a + b, FORBIDDEN) for a, b in zip(one, other, strict=True)]


def _message(factor: Factor, to: int, sides: list[_Side], total: Sequence[Blocks]) -> Blocks:
    """What the factor and the other variables in it add to each candidate of one variable."""
    axis = factor.scope.index(to)
    others = [a for a in range(len(factor.scope)) if a != axis]
    cases = len(total[to][0])
    sources = [_grouped(sides[factor.scope[a]], factor.classes[a], total[factor.scope[a]]) for a in others]
    out = []
    for block, ids in enumerate(sides[to].ids(factor.classes[axis])):
        distinct, back = np.unique(ids[0], return_inverse=True) if block == 0 else (ids, None)
        mine = distinct[None, :] if block == 0 else ids
        best = np.full((cases, mine.shape[1]), FORBIDDEN, dtype=np.int64)
        for chosen in product(*sources):
            if mine.shape[1] and all(i.shape[1] for i, _ in chosen):
                _lower(best, factor.table, axis, mine, others, chosen)
        out.append(best[:, back] if back is not None else best)
    return out


def _grouped(side: _Side, classes: Ints, total: Blocks) -> list[tuple[Ints, Ints]]:
    """The classes of both blocks with their costs; of the common block each class once, at its least."""
    common, rare = side.ids(classes)
    of_common = common[0]
    used = np.unique(of_common)
    least = np.empty((len(total[0]), len(used)), dtype=np.int64)
    if len(used):
        order = np.argsort(of_common, kind="stable")
        starts = np.searchsorted(of_common[order], used)
        least = np.minimum.reduceat(total[0][:, order], starts, axis=1)
    return [(used[None, :], least), (rare, total[1])]


def _lower(
    best: Ints, table: Ints, axis: int, mine: Ints, others: list[int], chosen: Sequence[tuple[Ints, Ints]]
) -> None:
    """Lower `best` by what one choice of blocks offers."""
    axes = 2 + len(others)
    size = mine.shape[1]
    for ids, _ in chosen:
        size *= ids.shape[1]
    step = max(1, _CELLS // size)
    for start in range(0, len(best), step):
        rows = slice(start, start + step)
        index: list[Ints] = [mine] * table.ndim
        index[axis] = _shaped(mine if len(mine) == 1 else mine[rows], 1, axes)
        for place, (a, (ids, _)) in enumerate(zip(others, chosen, strict=True)):
            index[a] = _shaped(ids if len(ids) == 1 else ids[rows], 2 + place, axes)
        cells = table[tuple(index)]
        for place, (_, costs) in enumerate(chosen):
            cells = cells + _shaped(costs[rows], 2 + place, axes)
        np.minimum(best[rows], cells.min(axis=tuple(range(2, axes))), out=best[rows])


def _shaped(block: Ints, place: int, axes: int) -> Ints:
    shape = [1] * axes
    shape[0], shape[place] = block.shape
    return block.reshape(shape)
