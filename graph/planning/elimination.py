"""Bucket elimination on class tables (Dechter 1999): one bucket a variable, cheapest table first.

Rule 1: a scheme says which tables there will be before one is made, so that a too wide one is never begun.
Rule 2: a bucket keeps its whole table, since the second best plans are read from it.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import prod

import numpy as np

from graph.planning.classes import Piece, Reduced, joined
from graph.planning.network import FORBIDDEN, Ints

_EMPTY = np.zeros((), dtype=np.int64)


class Stopped(Exception):
    """The caller's `stop` said to give up."""


class TooWide(Exception):
    """A table would have more cells than allowed."""


@dataclass(slots=True)
class Child:
    """A message into a bucket. `axes[i]`: (place in the bucket's table, class of each entry of that axis)."""

    source: int
    axes: list[tuple[int, Ints]]


@dataclass(slots=True)
class Bucket:
    """One variable with all tables that still hold it; axis 0 of `table` is its signatures.

    `separators`: the other variables. `joints[i]`: shape (signatures of separators[i],), the class of each.
    """

    variable: int
    separators: tuple[int, ...]
    joints: tuple[Ints, ...]
    pieces: list[tuple[Piece, tuple[Ints, ...]]]  # with the index of each axis, shaped to broadcast
    shape: tuple[int, ...]
    children: list[Child] = field(default_factory=list)
    message: Piece | None = None
    table: Ints | None = None


@dataclass(slots=True)
class Elimination:
    """The buckets in order; `roots` are those whose message is a number; `optimum` their sum."""

    reduced: Reduced
    buckets: list[Bucket]
    roots: list[int]
    optimum: int = FORBIDDEN

    @property
    def cells(self) -> int:
        """Cells of the largest table."""
        return max((prod(b.shape) for b in self.buckets), default=1)


def scheme(reduced: Reduced, cells: int, last: int = -1) -> Elimination:
    """Buckets without tables, smallest next table first, variable `last` at the end.

    Raises TooWide when a table would have more than `cells` cells.
    """
    sizes = reduced.sizes
    live: list[list[Piece]] = [[] for _ in sizes]
    for piece in reduced.pieces:
        for v in piece.scope:
            live[v].append(piece)
    left = set(range(len(sizes)))
    guess = {v: _guess(v, live[v], sizes) for v in left}
    result = Elimination(reduced, [], [])
    while left:
        v = min((u for u in left if u != last), key=lambda u: (guess[u], u), default=last)
        bucket = _bucket(v, live[v], sizes)
        if prod(bucket.shape) > cells:
            raise TooWide
        left.discard(v)
        number = len(result.buckets)
        result.buckets.append(bucket)
        message = Piece(bucket.separators, bucket.joints, np.broadcast_to(_EMPTY, bucket.shape[1:]), number)
        bucket.message = message
        gone = {id(piece) for piece, _ in bucket.pieces}
        if not bucket.separators:
            result.roots.append(number)
        for w in bucket.separators:
            live[w] = [p for p in live[w] if id(p) not in gone]
            live[w].append(message)
        for w in bucket.separators:
            guess[w] = _guess(w, live[w], sizes)
    return result


def _guess(v: int, pieces: list[Piece], sizes: list[int]) -> int:
    classes: dict[int, int] = {}
    for piece in pieces:
        for w, size in zip(piece.scope, piece.table.shape, strict=True):
            classes[w] = classes.get(w, 1) * size
    classes[v] = sizes[v]
    return prod(min(count, sizes[w]) for w, count in classes.items())


def _bucket(v: int, pieces: list[Piece], sizes: list[int]) -> Bucket:
    columns: dict[int, list[tuple[Piece, Ints, int]]] = {}
    for piece in pieces:
        for w, classes, size in zip(piece.scope, piece.maps, piece.table.shape, strict=True):
            columns.setdefault(w, []).append((piece, classes, size))
    mine = columns.pop(v, [])
    separators = tuple(sorted(columns))
    axis = {w: i + 1 for i, w in enumerate(separators)}
    index: dict[tuple[int, int], Ints] = {(id(piece), v): classes for piece, classes, _ in mine}
    joints: list[Ints] = []
    shape = [sizes[v]]
    for w in separators:
        entries = columns[w]
        if len(entries) == 1:
            piece, classes, count = entries[0]
            index[id(piece), w] = np.arange(count)
            joints.append(classes)
        else:
            numbers, count, place = joined([(classes, size) for _, classes, size in entries])
            for piece, classes, _ in entries:
                index[id(piece), w] = classes[place]
            joints.append(numbers)
        shape.append(count)
    axis[v] = 0
    bucket = Bucket(v, separators, tuple(joints), [], tuple(shape))
    ones = [1] * len(shape)
    for piece in pieces:
        shaped: list[Ints] = []
        axes: list[tuple[int, Ints]] = []
        for w in piece.scope:
            numbers = index[id(piece), w]
            at = axis[w]
            ones[at] = len(numbers)
            shaped.append(numbers.reshape(ones))
            ones[at] = 1
            axes.append((at, numbers))
        bucket.pieces.append((piece, tuple(shaped)))
        if piece.source >= 0:
            bucket.children.append(Child(piece.source, axes))
    return bucket


def eliminate(elimination: Elimination, stop: Callable[[], bool]) -> None:
    """Fill the tables, bucket by bucket, and the optimum."""
    own = elimination.reduced.own
    total = elimination.reduced.constant
    for bucket in elimination.buckets:
        if stop():
            raise Stopped
        table = own[bucket.variable].reshape((-1,) + (1,) * len(bucket.separators))
        for piece, index in bucket.pieces:
            table = table + piece.table[index]
        if table.shape != bucket.shape:
            table = np.broadcast_to(table, bucket.shape)
        bucket.table = np.minimum(table, FORBIDDEN)
        assert bucket.message is not None
        bucket.message.table = bucket.table.min(axis=0)
        if not bucket.separators:
            total += int(bucket.message.table)
    elimination.optimum = min(total, FORBIDDEN)
