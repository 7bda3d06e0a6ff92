"""What any solution with a given candidate costs at least: min-marginals of acyclic parts of the network.

Rule 1: costs are 0 or more, so leaving factors out can only lower the cost; every bound holds for the whole.
What a factor costs in any case is moved to the candidates first, so that it counts in every tree.
Rule 2: each tree works on what the trees before it left, and a candidate's bound is the highest it got.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Final

import numpy as np

from graph.planning.elimination import Stopped
from graph.planning.network import FORBIDDEN, Factor, Ints, Network, yes_or_no

MOST_TREES = 3

_LARGE: Final = 1 << 14
_CHEAPEST: Final = 32
"""In tables of more cells, so many classes of one axis are tried before all of them."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """`of[v]`: shape (candidates of v,). `trees`: each tree's factors in the order worked, after `shifts`."""

    of: list[Ints]
    trees: tuple[tuple[int, ...], ...]
    shifts: tuple["Shift", ...]

    @property
    def least(self) -> int:
        """No solution costs less; FORBIDDEN when there is none."""
        return max((int(bounds.min()) for bounds in self.of), default=0)


def tree_bounds(
    network: Network, stop: Callable[[], bool], trees: int = MOST_TREES, plain: Collection[int] = ()
) -> Bounds:
    """Bounds from up to `trees` forests that together hold as many factors as they can, the strictest first.

    `plain`: factors known to hold nothing but zeros and FORBIDDEN.
    """
    shifted, unary, factors = moved(network, plain)
    rest = sorted(range(len(factors)), key=lambda f: -_strictness(factors[f]))
    bounds = list(unary)
    worked: list[tuple[int, ...]] = []
    used: list[int] = []
    while rest and len(worked) < trees:
        if stop():
            raise Stopped
        tree = forest(network, rest + used)
        fresh = set(tree)
        if not fresh & set(rest):
            break
        masked = [np.maximum(own, b & FORBIDDEN) for b, own in zip(bounds, unary, strict=True)]
        marginals = min_marginals(masked, [factors[f] for f in tree])
        bounds = [np.maximum(a, b) for a, b in zip(bounds, marginals, strict=True)]
        worked.append(tuple(tree))
        used.extend(f for f in rest if f in fresh)
        rest = [f for f in rest if f not in fresh]
    return Bounds(bounds, tuple(worked), tuple(shifted))


Shift = tuple[int, int, Ints]
"""A factor, an axis of its, and what every class of that axis pays less there and each of its members more."""


def moved(network: Network, plain: Collection[int] = ()) -> tuple[list[Shift], list[Ints], list[Factor]]:
    """The same costs, as far as they can be moved from factors to candidates: (shifts, own costs, factors)."""
    unary = list(network.unary)
    factors = list(network.factors)
    shifts: list[Shift] = []
    for number, factor in enumerate(network.factors):
        if number in plain or yes_or_no(factor.table):
            continue
        table = factor.table
        for axis, v in enumerate(factor.scope):
            least = np.minimum.reduce(table, axis=_others(table.ndim, axis))
            least = np.where(least >= FORBIDDEN, 0, least)
            dear = np.flatnonzero(least)
            if len(dear):
                table = table.copy() if table is factor.table else table
                rows = table.take(dear, axis=axis)
                at = (slice(None),) * axis + (dear,)
                table[at] = less(rows, _shaped(least[dear], axis, table.ndim))
                unary[v] = np.minimum(unary[v] + least[factor.classes[axis]], FORBIDDEN)
                shifts.append((number, axis, least))
        factors[number] = Factor(factor.scope, factor.classes, table)
    return shifts, unary, factors


def _strictness(factor: Factor) -> float:
    """About how much of the table is forbidden or dear, from some of its cells."""
    cells = factor.table.reshape(-1)
    return float(cells[:: 1 + len(cells) // 509].sum(dtype=np.float64)) / max(1, min(len(cells), 509))


def forest(network: Network, factors: list[int]) -> list[int]:
    """Of the factors in order, those that close no ring with those before."""
    parent = list(range(len(network.unary)))

    def top(v: int) -> int:
        while parent[v] != v:
            parent[v] = parent[parent[v]]
            v = parent[v]
        return v

    chosen = []
    for f in factors:
        tops = [top(v) for v in network.factors[f].scope]
        if len(set(tops)) == len(tops):
            chosen.append(f)
            for t in tops[1:]:
                parent[t] = tops[0]
    return chosen


def min_marginals(unary: list[Ints], factors: list[Factor]) -> list[Ints]:
    """The least cost of each candidate with the factors of a forest; FORBIDDEN where there is none.

    Two passes of messages, up to a root of each tree and down again.
    """
    below: list[list[int]] = [[] for _ in unary]
    for number, factor in enumerate(factors):
        for v in factor.scope:
            below[v].append(number)
    order: list[tuple[int, int]] = []  # (factor, axis of its upper variable), upper ones first
    seen_variables: set[int] = set()
    seen_factors: set[int] = set()
    for root in range(len(unary)):
        if root in seen_variables:
            continue
        seen_variables.add(root)
        todo = [root]
        while todo:
            v = todo.pop()
            for number in below[v]:
                if number not in seen_factors:
                    seen_factors.add(number)
                    order.append((number, factors[number].scope.index(v)))
                    lower = [w for w in factors[number].scope if w != v]
                    seen_variables.update(lower)
                    todo.extend(lower)
    total = list(unary)
    raised: dict[int, Ints] = {}
    carried: dict[tuple[int, int], Ints] = {}
    for number, up in reversed(order):
        factor = factors[number]
        table = factor.table
        vectors = []
        for axis, v in enumerate(factor.scope):
            if axis != up:
                carried[number, axis] = _least(total[v], factor.classes[axis], table.shape[axis])
                vectors.append((axis, carried[number, axis]))
        at = _message(table, vectors, up)[factor.classes[up]]
        raised[number] = at
        v = factor.scope[up]
        total[v] = np.minimum(total[v] + at, FORBIDDEN)
    for number, up in order:
        factor = factors[number]
        v = factor.scope[up]
        outside = less(total[v], raised[number])
        carried[number, up] = _least(outside, factor.classes[up], factor.table.shape[up])
        for axis, w in enumerate(factor.scope):
            if axis != up:
                vectors = [(other, carried[number, other]) for other in range(factor.table.ndim) if other != axis]
                message = _message(factor.table, vectors, axis)
                total[w] = np.minimum(total[w] + message[factor.classes[axis]], FORBIDDEN)
    return total


def _message(table: Ints, vectors: list[tuple[int, Ints]], to: int) -> Ints:
    """The least of a table and a vector an axis, for each class of the axis left."""
    axes = table.ndim
    if axes == 2 and table.size > _LARGE and table.shape[1 - to] > 2 * _CHEAPEST:
        return np.minimum(_by_the_cheapest(table, vectors[0][1], to), FORBIDDEN)
    for axis, vector in vectors:
        table = table + _shaped(vector, axis, axes)
    message: Ints = np.minimum(np.minimum.reduce(table, axis=_others(axes, to)), FORBIDDEN)
    return message


def _by_the_cheapest(table: Ints, vector: Ints, to: int) -> Ints:
    """The same of a large table: most classes find their least among a few cheap ones of the other axis."""
    order = np.argsort(vector)
    few = order[:_CHEAPEST]
    message: Ints = np.minimum.reduce(table.take(few, axis=1 - to) + _shaped(vector[few], 1 - to, 2), axis=1 - to)
    open_ = np.flatnonzero(message > vector[order[_CHEAPEST]])
    if len(open_):
        rest = table.take(open_, axis=to) + _shaped(vector, 1 - to, 2)
        message[open_] = np.minimum.reduce(rest, axis=1 - to)
    return message


def less(costs: Ints, part: Ints) -> Ints:
    """Costs without a part of them; FORBIDDEN, whose bit no other cost has, stays."""
    rest: Ints = np.maximum(costs - part, costs & FORBIDDEN)
    return rest


def _least(costs: Ints, classes: Ints, count: int) -> Ints:
    least = np.full(count, FORBIDDEN, dtype=np.int64)
    np.minimum.at(least, classes, costs)
    return least


def _shaped(vector: Ints, axis: int, axes: int) -> Ints:
    if axis == axes - 1:
        return vector
    return vector.reshape((-1,) + (1,) * (axes - 1 - axis))


def _others(axes: int, axis: int) -> tuple[int, ...]:
    return tuple(a for a in range(axes) if a != axis)
