"""Candidates that no factor can tell apart, gathered into classes.

Rule 1: only rows of the raw tables are merged (Freuder 1991, neighbourhood interchangeability); equal rows of a
message would hide the second best plan behind the best.
Rule 2: no candidate is lost here but one that no plan can use; a class keeps all its members.
"""

from dataclasses import dataclass

import numpy as np

from graph.planning.network import FORBIDDEN, Ints, Network

_DENSE = 1 << 16
"""Keys below this are grouped by a flag array, larger ones by sorting."""


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
    """Number the distinct keys (each below `bound`) upwards: (number of each, how many, a place of each)."""
    if bound <= _DENSE:
        seen = np.zeros(bound, dtype=np.int64)
        seen[keys] = 1
        rank = np.cumsum(seen)
        count = int(rank[-1])
        numbers = (rank - 1)[keys]
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
    flat = np.ascontiguousarray(np.moveaxis(table, axis, 0)).reshape(rows, -1)
    numbers: dict[bytes, int] = {}
    width = flat.shape[1] * flat.itemsize
    data = flat.tobytes()
    new = [numbers.setdefault(data[i : i + width], len(numbers)) for i in range(0, rows * width, width)]
    if len(numbers) == rows:
        return None
    classes = np.array(new, dtype=np.int64)
    return classes, table.take(_places(classes, len(numbers)), axis=axis)


def reduce(network: Network, kept: list[Ints]) -> Reduced | None:
    """The network on the kept candidates, in classes; None when a variable has no candidate left."""
    kept = [k[own[k] < FORBIDDEN] for k, own in zip(kept, network.unary, strict=True)]
    while True:
        if any(len(k) == 0 for k in kept):
            return None
        unary = [own[k] for own, k in zip(network.unary, kept, strict=True)]
        constant = 0
        found: list[_Found] = []
        folded: list[tuple[int, int]] = []
        for number, factor in enumerate(network.factors):
            scope, classes, table = _narrowed(factor.scope, factor.classes, factor.table, kept)
            if len(scope) == 0:
                constant += int(table)
                folded.append((-1, number))
            elif len(scope) == 1:
                unary[scope[0]] = np.minimum(unary[scope[0]] + table[classes[0]], FORBIDDEN)
                folded.append((scope[0], number))
            else:
                found.append((number, scope, classes, table))
                for axis, v in enumerate(scope):
                    others = tuple(a for a in range(len(scope)) if a != axis)
                    dead = table.min(axis=others) >= FORBIDDEN
                    if dead.any():
                        unary[v] = np.where(dead[classes[axis]], FORBIDDEN, unary[v])
        if constant >= FORBIDDEN:
            return None
        alive = [own < FORBIDDEN for own in unary]
        if all(bool(a.all()) for a in alive):
            return _signed(kept, unary, found, constant, folded)
        kept = [k[a] for k, a in zip(kept, alive, strict=True)]


_Found = tuple[int, list[int], list[Ints], Ints]
"""A factor's number, scope, classes of the kept candidates, and table."""


def _narrowed(
    scope: tuple[int, ...], classes: tuple[Ints, ...], table: Ints, kept: list[Ints]
) -> tuple[list[int], list[Ints], Ints]:
    """One factor on the kept candidates: unused and equal rows gone, axes of one class dropped."""
    now = []
    for axis, v in enumerate(scope):
        numbers = classes[axis]
        if len(kept[v]) != len(numbers):
            numbers = numbers[kept[v]]
        numbers, count, place = compress(numbers, table.shape[axis])
        if count != table.shape[axis]:
            used = classes[axis][kept[v]][place]
            table = table.take(used, axis=axis)
        now.append(numbers)
    for axis in range(len(now)):
        fewer = merged(table, axis)
        if fewer is not None:
            new, table = fewer
            now[axis] = new[now[axis]]
    single = tuple(axis for axis, size in enumerate(table.shape) if size == 1)
    if single:
        table = table.reshape(tuple(size for size in table.shape if size != 1))
    return (
        [v for axis, v in enumerate(scope) if axis not in single],
        [c for axis, c in enumerate(now) if axis not in single],
        table,
    )


def _signed(
    kept: list[Ints], unary: list[Ints], found: list[_Found], constant: int, folded: list[tuple[int, int]]
) -> Reduced:
    columns: list[list[tuple[Ints, int]]] = [[] for _ in kept]
    for _, scope, classes, table in found:
        for v, c, size in zip(scope, classes, table.shape, strict=True):
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
        Piece(tuple(scope), tuple(c[places[v]] for v, c in zip(scope, classes, strict=True)), table, factor=number)
        for number, scope, classes, table in found
    ]
    return Reduced(kept, signature, unary, own, pieces, constant, folded)
