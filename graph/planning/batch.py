"""Bounds of many cases of one network at once: each case may use some of the candidates.

Rule 1: candidates that most cases may use stand side by side, merged where the factors do not tell them apart; of
the others only those that a case may use are worked.
Rule 2: nothing here knows what a case is; a core of the shelf, a unit or a set of parts is all the same.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from graph.planning.bounds import MOST_TREES, forest, less
from graph.planning.classes import merged
from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.tables import barred

Allowed = list[NDArray[np.bool_]]
"""For each variable, shape (cases, candidates of the variable,): whether the case may use the candidate."""

_CELLS = 1 << 18
"""Cells of one batched table; more cases are worked in turns, so that a table stays near the processor."""

_FEW = 4
"""Candidates a case, up to which they are worked one after the other."""

_RARE = 8
"""A candidate that at most one case in so many may use is looked at in those cases only."""


def sides_of(unary: list[Ints], allowed: Allowed) -> list["Side"]:
    """The candidates of each variable, with their own costs."""
    return [Side.of(costs, may) for costs, may in zip(unary, allowed, strict=True)]


def pass_over(network: Network, factors: list[Factor], sides: list["Side"], extra: Ints, ceiling: int) -> Ints:
    """What every case costs at least; what only solutions dearer than the ceiling use is struck out of the sides.

    `factors`: the network's, after costs were moved to the candidates that the sides hold.
    """
    least = np.zeros(len(extra), dtype=np.int64)
    limit = np.minimum(ceiling - extra, FORBIDDEN - 1)[:, None]
    joints = [_Joint.of(factor, sides) for factor in factors]
    order = sorted(range(len(factors)), key=lambda f: -float(factors[f].table.mean(dtype=np.float64)))
    rest, used = list(order), list[int]()
    for _ in range(MOST_TREES):
        tree = forest(network, rest + used)
        fresh = set(tree) & set(rest)
        if not fresh:
            break
        marginals = _marginals(sides, [joints[f] for f in tree])
        for side, totals in zip(sides, marginals, strict=True):
            least = np.maximum(least, side.least(totals))
            side.bound(totals, limit)
        used += [f for f in rest if f in fresh]
        rest = [f for f in rest if f not in fresh]
    whole: Ints = np.minimum(least + extra, FORBIDDEN)
    return whole


Blocks = list[Ints]
"""Costs of a variable's common candidates, shape (cases, common), and its rare ones, shape (cases, most a case)."""


@dataclass(slots=True)
class Side:
    """One variable's candidates: the common ones side by side, of the rare ones only those that a case may use.

    `common`: candidates; `rare`: shape (cases, most a case), candidates; `own`: the costs of both blocks; `most`:
    what a solution with each of them costs at least. `count`: candidates of the variable.
    """

    common: Ints
    rare: Ints
    own: Blocks
    most: Blocks
    count: int

    @classmethod
    def of(cls, costs: Ints, may: NDArray[np.bool_]) -> "Side":
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
        own = [
            np.maximum(costs[common][None, :], barred(may[:, common])),
            np.maximum(costs[rare], barred(there)),
        ]
        return cls(common, rare, own, list(own), len(costs))

    def rows(self, cases: Ints) -> "Side":
        """The same for some cases, without the candidates that none of them may use."""
        common, rare = (block[cases] for block in self.own)
        wanted = (common < FORBIDDEN).any(axis=0)
        places = (rare < FORBIDDEN).any(axis=0)
        most = [self.most[0][cases][:, wanted], self.most[1][cases][:, places]]
        return Side(
            self.common[wanted],
            self.rare[cases][:, places],
            [common[:, wanted], rare[:, places]],
            most,
            self.count,
        )

    def least(self, totals: Blocks) -> Ints:
        """The least of each case."""
        common, rare = (block.min(axis=1, initial=FORBIDDEN) for block in totals)
        both: Ints = np.minimum(common, rare)
        return both

    def bound(self, totals: Blocks, limit: Ints) -> None:
        """Keep what is known by now, and forbid what costs more than the limit."""
        self.most = [np.maximum(m, t) for m, t in zip(self.most, totals, strict=True)]
        self.own = [np.maximum(own, barred(t <= limit)) for own, t in zip(self.own, totals, strict=True)]

    def bounds(self, case: int, most: int) -> Ints:
        """What a solution of the case costs at least with each candidate; FORBIDDEN where it is more than `most`."""
        out = np.full(self.count, FORBIDDEN, dtype=np.int64)
        for candidates, own, bound in zip((self.common, self.rare[case]), self.own, self.most, strict=True):
            open_ = (own[case] < FORBIDDEN) & (bound[case] <= most)
            out[candidates[open_]] = bound[case][open_]
        return out


Groups = tuple[Ints, Ints]
"""An order of the common candidates, and where each group of it starts."""


@dataclass(slots=True)
class _Axis:
    """One variable of a factor. `used`: its common candidates' classes, each once; `place`: of each candidate, which.

    `rare`: shape (cases, most a case), classes. `merged`: of each common candidate, its class in the `small` table.
    """

    side: Side
    used: Ints
    place: Ints
    rare: Ints
    merged: Ints
    by_class: Groups
    by_merged: Groups


@dataclass(slots=True)
class _Joint:
    """A factor between sides. `small`: over the common candidates alone, equal rows of them made one."""

    scope: tuple[int, ...]
    table: Ints
    small: Ints
    axes: list[_Axis]

    @classmethod
    def of(cls, factor: Factor, sides: list[Side]) -> "_Joint":
        """The factor on the candidates that are left."""
        mine = [sides[v] for v in factor.scope]
        found = [np.unique(c[s.common], return_inverse=True) for c, s in zip(factor.classes, mine, strict=True)]
        small = factor.table
        for axis, (used, _) in enumerate(found):
            small = small.take(used, axis=axis)
        merges = [place for _, place in found]
        for axis in range(small.ndim):
            fewer = merged(small, axis) if small.size else None
            if fewer is not None:
                numbers, small = fewer
                merges[axis] = numbers[merges[axis]]
        axes = [
            _Axis(side, used, place, classes[side.rare], number, _groups(place), _groups(number))
            for side, (used, place), classes, number in zip(mine, found, factor.classes, merges, strict=True)
        ]
        return cls(factor.scope, factor.table, small, axes)


def _groups(numbers: Ints) -> Groups:
    order = np.argsort(numbers, kind="stable")
    return order, np.flatnonzero(np.diff(numbers[order], prepend=-1))


def _least(costs: Ints, groups: Groups) -> Ints:
    """The least of each group, shape (cases, groups)."""
    order, starts = groups
    if len(starts) == 0:
        return np.zeros((len(costs), 0), dtype=np.int64)
    least: Ints = np.minimum.reduceat(costs[:, order], starts, axis=1)
    return least


def _marginals(sides: list[Side], joints: list[_Joint]) -> list[Blocks]:
    """The least cost of each candidate in each case on a forest: messages up to a root of each tree, and down."""
    below: list[list[int]] = [[] for _ in sides]
    for number, joint in enumerate(joints):
        for v in joint.scope:
            below[v].append(number)
    order: list[tuple[int, int]] = []  # (joint, its upper variable), upper ones first
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
                    lower = [w for w in joints[number].scope if w != v]
                    seen.update(lower)
                    todo += lower
    total = [list(side.own) for side in sides]
    raised: dict[int, Blocks] = {}
    for number, up in reversed(order):
        raised[number] = _message(joints[number], up, total)
        total[up] = _plus(total[up], raised[number])
    carried = [list(blocks) for blocks in total]  # of lower variables: what is below them alone
    for number, up in order:
        outside = list(carried)
        outside[up] = [less(t, r) for t, r in zip(total[up], raised[number], strict=True)]
        for w in joints[number].scope:
            if w != up:
                total[w] = _plus(total[w], _message(joints[number], w, outside))
    return total


def _plus(one: Blocks, other: Blocks) -> Blocks:
    return [np.minimum(a + b, FORBIDDEN) for a, b in zip(one, other, strict=True)]


def _message(joint: _Joint, to: int, total: Sequence[Blocks]) -> Blocks:
    """What the factor and the other variables in it add to each candidate of one variable."""
    axis = joint.scope.index(to)
    others = [a for a in range(len(joint.scope)) if a != axis]
    mine = joint.axes[axis]
    cases = len(total[to][0])
    common = np.full((cases, len(mine.used)), FORBIDDEN, dtype=np.int64)
    rare = np.full(mine.rare.shape, FORBIDDEN, dtype=np.int64)
    sources = [
        [
            (joint.axes[a].used[None, :], _least(total[joint.scope[a]][0], joint.axes[a].by_class)),
            (joint.axes[a].rare, total[joint.scope[a]][1]),
        ]
        for a in others
    ]
    for which in product((0, 1), repeat=len(others)):
        chosen = [source[block] for source, block in zip(sources, which, strict=True)]
        if all(ids.shape[1] for ids, _ in chosen):
            if any(which) and common.size:
                _lower(common, joint.table, axis, mine.used[None, :], others, chosen)
            if rare.size:
                _lower(rare, joint.table, axis, mine.rare, others, chosen)
    out = common[:, mine.place]
    if joint.small.size:
        shape = joint.small.shape
        chosen = [
            (np.arange(shape[a])[None, :], _least(total[joint.scope[a]][0], joint.axes[a].by_merged)) for a in others
        ]
        merged_ = np.full((cases, shape[axis]), FORBIDDEN, dtype=np.int64)
        _lower(merged_, joint.small, axis, np.arange(shape[axis])[None, :], others, chosen)
        out = np.minimum(out, merged_[:, mine.merged])
    return [out, rare]


def _lower(
    best: Ints, table: Ints, axis: int, mine: Ints, others: list[int], chosen: Sequence[tuple[Ints, Ints]]
) -> None:
    """Lower `best` by what one choice of blocks offers; of a block with few a case, one after the other."""
    few = [i for i, (ids, _) in enumerate(chosen) if ids.shape[1] <= _FEW and len(ids) > 1]
    wide = [i for i in range(len(chosen)) if i not in few]
    if len(mine) == 1 and len(others) == 1 and few:
        _lower_by_rows(best, table.take(mine[0], axis=axis), others[0], *chosen[0])
        return
    axes = 2 + len(wide)
    size = mine.shape[1]
    for i in wide:
        size *= chosen[i][0].shape[1]
    step = max(1, _CELLS // size)
    for start in range(0, len(best), step):
        rows = slice(start, start + step)
        index: list[Ints] = [mine] * table.ndim
        index[axis] = _shaped(mine if len(mine) == 1 else mine[rows], 1, axes)
        for place, i in enumerate(wide):
            ids = chosen[i][0]
            index[others[i]] = _shaped(ids if len(ids) == 1 else ids[rows], 2 + place, axes)
        for entries in product(*(range(chosen[i][0].shape[1]) for i in few)):
            for i, entry in zip(few, entries, strict=True):
                index[others[i]] = _shaped(chosen[i][0][rows, entry : entry + 1], 1, axes)
            cells = table[tuple(index)]
            for place, i in enumerate(wide):
                cells = cells + _shaped(chosen[i][1][rows], 2 + place, axes)
            for i, entry in zip(few, entries, strict=True):
                cells = cells + _shaped(chosen[i][1][rows, entry : entry + 1], 1, axes)
            least = np.minimum.reduce(cells, axis=tuple(range(2, axes))) if wide else cells
            np.minimum(best[rows], least, out=best[rows])


def _lower_by_rows(best: Ints, table: Ints, axis: int, ids: Ints, costs: Ints) -> None:
    """The same for two variables, the one with few a case on this axis: its rows of the table are taken whole."""
    rows = np.ascontiguousarray(table if axis == 0 else table.T)
    for entry in range(ids.shape[1]):
        cells = rows.take(ids[:, entry], axis=0)
        cells += costs[:, entry : entry + 1]
        np.minimum(best, cells, out=best)


def _shaped(block: Ints, place: int, axes: int) -> Ints:
    shape = [1] * axes
    shape[0], shape[place] = block.shape
    return block.reshape(shape)
