"""Candidates that no factor can tell apart, gathered into classes.

Rule 1: only rows of the raw tables are merged (Freuder 1991, neighbourhood interchangeability); equal rows of a
message would hide the second best plan behind the best.
Rule 2: no candidate is lost here but one that no plan can use; a class keeps all its members.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from graph.planning.network import FORBIDDEN, Ints, Network, yes_or_no

_FEW = 48
"""So few keys are grouped by a dictionary."""

_LARGE = 1 << 10
"""Larger tables are compared by a byte a cell where there is nothing but yes and no."""

_DENSE = 1 << 16
"""More keys are grouped by a flag array while they stay below this, else by sorting."""


@dataclass(slots=True)
class Piece:
    """A table over classes of signatures. `maps[i]`: shape (signatures of scope[i],), the class of each.

    It is the message of the bucket `source`, or the network's factor `factor`; the other is -1.
    """

    scope: tuple[int, ...]
    maps: tuple[Ints, ...]
    table: Ints
    source: int = -1
    factor: int = -1


@dataclass(slots=True)
class Reduced:
    """A network on kept candidates; a variable's candidates with equal classes everywhere share a signature.

    `kept[v]`: shape (kept,), candidates. `signature[v]`: shape (kept,). `own[v]`: shape (signatures,), the
    cheapest member's cost. `unary[v]`: shape (kept,), own cost with that of the factors that tell apart no
    other variable's candidates; `folded` says which (variable, -1: nobody's; factor).
    """

    kept: list[Ints]
    signature: list[Ints]
    unary: list[Ints]
    own: list[Ints]
    pieces: list[Piece]
    constant: int
    folded: list[tuple[int, int]]

    @property
    def sizes(self) -> list[int]:
        """Signatures of each variable."""
        return [len(own) for own in self.own]


def compress(keys: Ints, bound: int) -> tuple[Ints, int, Ints]:
    """Number the distinct keys (each below `bound`): (number of each, how many, where each stands first)."""
    if len(keys) <= _FEW:
        plain = keys.tolist()
        first = {key: place for place, key in zip(range(len(plain) - 1, -1, -1), reversed(plain), strict=True)}
        rank = {key: number for number, key in enumerate(first)}
        return np.array([rank[key] for key in plain]), len(rank), np.array(list(first.values()))
    if bound <= _DENSE:
        seen = np.zeros(bound, dtype=np.int64)
        seen[keys] = 1
        ranks = seen.cumsum()
        count = int(ranks[-1])
        numbers = (ranks - 1)[keys]
    else:
        distinct, numbers = np.unique(keys, return_inverse=True)
        count = len(distinct)
    return numbers, count, _places(numbers, count)


def _places(numbers: Ints, count: int) -> Ints:
    """Where each number stands first."""
    place = np.empty(count, dtype=np.int64)
    place[numbers[::-1]] = np.arange(len(numbers) - 1, -1, -1)
    return place


def joined(columns: list[tuple[Ints, int]]) -> tuple[Ints, int, Ints]:
    """The common refinement of several classings (classes, how many), as `compress` gives it."""
    keys, bound = columns[0]
    for classes, count in columns[1:]:
        if bound * count >= 1 << 62:
            keys, bound, _ = compress(keys, bound)
        keys = keys * count + classes
        bound *= count
    return compress(keys, bound)


def merged(table: Ints, axis: int) -> tuple[Ints, Ints] | None:
    """Equal rows of one axis made one: (new class of each old one, the smaller table); None when all differ."""
    rows = table.shape[axis]
    cells: NDArray[np.generic] = table
    if table.size > _LARGE and yes_or_no(table):
        cells = table != 0
    if axis:
        cells = cells.transpose(axis, *(a for a in range(table.ndim) if a != axis))
    numbers: dict[bytes, int] = {}
    width = cells.size // rows * cells.itemsize
    data = cells.tobytes()
    new = [numbers.setdefault(data[i : i + width], len(numbers)) for i in range(0, rows * width, width)]
    if len(numbers) == rows:
        return None
    classes = np.array(new, dtype=np.int64)
    return classes, table.take(_places(classes, len(numbers)), axis=axis)


@dataclass(slots=True)
class _Narrowed:
    """A factor on kept candidates: `classes[i]`: shape (kept of scope[i],)."""

    number: int
    scope: list[int]
    classes: list[Ints]
    table: Ints


def reduce(network: Network, kept: list[Ints]) -> Reduced | None:
    """The network on the kept candidates, in classes; None when a variable has no candidate left."""
    kept = [k[own[k] < FORBIDDEN] for k, own in zip(kept, network.unary, strict=True)]
    unary = [own[k] for own, k in zip(network.unary, kept, strict=True)]
    if any(len(k) == 0 for k in kept):
        return None
    constant = 0
    folded: list[tuple[int, int]] = []
    waiting: list[_Narrowed] = []
    for number, raw in enumerate(network.factors):
        classes = [c if len(kept[v]) == len(c) else c[kept[v]] for v, c in zip(raw.scope, raw.classes, strict=True)]
        waiting.append(_Narrowed(number, list(raw.scope), classes, raw.table))
    found: list[_Narrowed] = []
    while waiting:
        for factor in waiting:
            _narrow(factor)
            if not factor.scope:
                constant += int(factor.table)
                folded.append((-1, factor.number))
            elif len(factor.scope) == 1:
                v = factor.scope[0]
                unary[v] = np.minimum(unary[v] + factor.table[factor.classes[0]], FORBIDDEN)
                folded.append((v, factor.number))
            else:
                found.append(factor)
                _strike_out(factor, unary)
        if constant >= FORBIDDEN:
            return None
        struck = set()
        for v, own in enumerate(unary):
            if own.max() >= FORBIDDEN:
                alive = np.flatnonzero(own < FORBIDDEN)
                if len(alive) == 0:
                    return None
                unary[v], kept[v] = own[alive], kept[v][alive]
                struck.add(v)
                for factor in found:
                    if v in factor.scope:
                        axis = factor.scope.index(v)
                        factor.classes[axis] = factor.classes[axis][alive]
        waiting = [factor for factor in found if struck.intersection(factor.scope)]
        found = [factor for factor in found if not struck.intersection(factor.scope)]
    return _signed(kept, unary, found, constant, folded)


def _strike_out(factor: _Narrowed, unary: list[Ints]) -> None:
    """Forbid candidates that go with nothing in this factor."""
    axes = range(factor.table.ndim)
    for axis, v in enumerate(factor.scope):
        least = np.minimum.reduce(factor.table, axis=tuple(a for a in axes if a != axis))
        if np.maximum.reduce(least) >= FORBIDDEN:
            unary[v] = np.maximum(unary[v], (least & FORBIDDEN)[factor.classes[axis]])


def _narrow(factor: _Narrowed) -> None:
    """Leave out unused rows, make equal ones one, and drop axes of one class."""
    table, classes = factor.table, factor.classes
    for axis, numbers in enumerate(classes):
        if len(numbers) <= table.shape[axis]:
            table = table.take(numbers, axis=axis)
            classes[axis] = np.arange(len(numbers))
    for axis, numbers in enumerate(classes):
        fewer = merged(table, axis)
        if fewer is not None:
            new, table = fewer
            classes[axis] = new[numbers]
    if 1 in table.shape:
        lasting = [axis for axis, size in enumerate(table.shape) if size != 1]
        factor.scope = [factor.scope[axis] for axis in lasting]
        factor.classes = [classes[axis] for axis in lasting]
        table = table.reshape([table.shape[axis] for axis in lasting])
    factor.table = table


def _signed(
    kept: list[Ints], unary: list[Ints], found: list[_Narrowed], constant: int, folded: list[tuple[int, int]]
) -> Reduced:
    columns: list[list[tuple[Ints, int]]] = [[] for _ in kept]
    for factor in found:
        for v, c, size in zip(factor.scope, factor.classes, factor.table.shape, strict=True):
            columns[v].append((c, size))
    signature, own, places = [], [], []
    for v, cols in enumerate(columns):
        if cols:
            numbers, count, place = joined(cols)
        else:
            numbers, count, place = np.zeros(len(kept[v]), dtype=np.int64), 1, np.zeros(1, dtype=np.int64)
        least = np.full(count, FORBIDDEN, dtype=np.int64)
        np.minimum.at(least, numbers, unary[v])
        signature.append(numbers)
        own.append(least)
        places.append(place)
    pieces = [
        Piece(
            tuple(factor.scope),
            tuple(c[places[v]] for v, c in zip(factor.scope, factor.classes, strict=True)),
            factor.table,
            factor=factor.number,
        )
        for factor in sorted(found, key=lambda factor: factor.number)
    ]
    return Reduced(kept, signature, unary, own, pieces, constant, folded)
