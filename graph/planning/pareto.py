"""The Pareto front of two costs over one network: bucket elimination that keeps every pair that none beats.

Rule 1: a label is a pair of costs with the choice that has them; of the labels of one cell only those that no other
of that cell beats go on, since whatever completes one completes the other.
Rule 2: of equal pairs the one first by labels stands, then by candidates. Labels of some variables alone order as
they do with the rest, so that this too is settled cell by cell.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from graph.planning.classes import Piece, Reduced, reduce
from graph.planning.elimination import Bucket, Stopped, scheme
from graph.planning.network import FORBIDDEN, Ints, Network

_ROWS = 1 << 20
"""Labels or cells worked on at once."""

_WIDEST = 1 << 62
"""Cells are worked on in parts, so that no table is too wide to begin with."""


@dataclass(frozen=True, slots=True)
class Point:
    """A pair of costs that no other beats, and one candidate a variable that has it."""

    first: int
    second: int
    choice: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Labels:
    """Rows by cell, then by first cost. `choice`: shape (rows, variables), a column for each of `variables`."""

    cell: Ints
    first: Ints
    second: Ints
    choice: NDArray[np.int32]
    variables: tuple[int, ...]

    def take(self, rows: Ints) -> "_Labels":
        return _Labels(self.cell[rows], self.first[rows], self.second[rows], self.choice[rows], self.variables)

    def at(self, cell: Ints) -> "_Labels":
        """The same labels in other cells."""
        return _Labels(cell, self.first, self.second, self.choice, self.variables)


def front(first: Network, second: Network, stop: Callable[[], bool]) -> list[Point]:
    """All pairs that no solution beats, by the first cost; a solution is one of both networks.

    Raises
    ------
    Stopped
        The caller's `stop` said to give up.
    """
    return _Front(first, second, stop).points()


class _Front:
    def __init__(self, first: Network, second: Network, stop: Callable[[], bool]) -> None:
        self.networks = (first, second)
        self.factors = (*first.factors, *second.factors)
        self.stop = stop
        self.names = first.labels

    def points(self) -> list[Point]:
        first, second = self.networks
        barred = [np.maximum(a, b) >= FORBIDDEN for a, b in zip(first.unary, second.unary, strict=True)]
        allowed = Network(tuple(np.where(b, FORBIDDEN, 0) for b in barred), self.factors, self.names)
        reduced = reduce(allowed, [np.arange(len(b)) for b in barred])
        if reduced is None:
            return []
        elimination = scheme(reduced, _WIDEST)
        members = self._members(reduced)
        messages: list[_Labels] = []
        for bucket in elimination.buckets:
            messages.append(self._message(bucket, members[bucket.variable], messages))
        whole = self._nothing(np.zeros(1, dtype=np.int64))
        for root in elimination.roots:
            whole = self._joined(whole, whole.cell, messages[root])
        constant = self._folded(reduced, -1)
        rows = zip(whole.first.tolist(), whole.second.tolist(), whole.choice.tolist(), strict=True)
        return [Point(a + int(constant[0][0]), b + int(constant[1][0]), tuple(choice)) for a, b, choice in rows]

    def _folded(self, reduced: Reduced, v: int) -> tuple[Ints, Ints]:
        """What the factors cost that tell apart only this variable's candidates (-1: nobody's), by measure."""
        count = 1 if v < 0 else len(reduced.kept[v])
        costs = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
        for variable, number in reduced.folded:
            if variable == v:
                factor = self.factors[number]
                cell = tuple(
                    c[reduced.kept[w]] if w == v else c[reduced.kept[w][:1]]
                    for w, c in zip(factor.scope, factor.classes, strict=True)
                )
                measure = costs[self._measure(number)]
                measure += factor.table[cell]
        return costs

    def _measure(self, factor: int) -> int:
        return int(factor >= len(self.networks[0].factors))

    def _members(self, reduced: Reduced) -> list[_Labels]:
        """The candidates of each variable, a cell a signature."""
        out = []
        for v, kept in enumerate(reduced.kept):
            a, b = self._folded(reduced, v)
            first, second = (n.unary[v][kept] for n in self.networks)
            out.append(
                self._best(_Labels(reduced.signature[v], first + a, second + b, kept[:, None].astype(np.int32), (v,)))
            )
        return out

    def _message(self, bucket: Bucket, members: _Labels, messages: list[_Labels]) -> _Labels:
        """The labels of a bucket for each cell of its separators."""
        below = prod(bucket.shape[1:])
        parts: list[_Labels] = []
        for cells in self._cells(bucket):
            place = np.unravel_index(cells, bucket.shape)
            costs = [np.zeros(len(cells), dtype=np.int64), np.zeros(len(cells), dtype=np.int64)]
            joins: list[tuple[_Labels, Ints]] = [(members, place[0])]
            for piece, index in bucket.pieces:
                at = _at(piece, index, place)
                if piece.source >= 0:
                    shape = piece.table.shape
                    joins.append((messages[piece.source], np.ravel_multi_index(at, shape) if shape else place[0] * 0))
                else:
                    costs[self._measure(piece.factor)] += piece.table[at]
            open_ = np.flatnonzero(np.maximum(*costs) < FORBIDDEN)
            nothing = self._nothing(np.arange(len(open_)))
            labels = _Labels(nothing.cell, costs[0][open_], costs[1][open_], nothing.choice, ())
            for other, cell in joins:
                labels = self._joined(labels, cell[open_][labels.cell], other)
            parts.append(self._best(labels.at(cells[open_][labels.cell] % below)))
        return parts[0] if len(parts) == 1 else self._best(_stacked(parts))

    def _cells(self, bucket: Bucket) -> Iterator[Ints]:
        """The bucket's cells, so many at a time."""
        for begin in range(0, prod(bucket.shape), _ROWS):
            if self.stop():
                raise Stopped
            yield np.arange(begin, min(begin + _ROWS, prod(bucket.shape)))

    def _nothing(self, cells: Ints) -> _Labels:
        zero = np.zeros(len(cells), dtype=np.int64)
        return _Labels(cells, zero, zero, np.zeros((len(cells), 0), dtype=np.int32), ())

    def _joined(self, labels: _Labels, wanted: Ints, other: _Labels) -> _Labels:
        """Each label with every one that the other has in the wanted cell; those that none beats in its own cell."""
        begin = np.searchsorted(other.cell, wanted)
        counts = np.searchsorted(other.cell, wanted, side="right") - begin
        ends = counts.cumsum()
        variables = (*labels.variables, *other.variables)
        order = sorted(range(len(variables)), key=variables.__getitem__)
        parts: list[_Labels] = []
        at = 0
        while at < len(wanted) or not parts:
            if self.stop():
                raise Stopped
            before = int(ends[at - 1]) if at else 0
            to = max(at + 1, int(np.searchsorted(ends, before + _ROWS, side="right")))
            mine = np.repeat(np.arange(at, min(to, len(wanted))), counts[at:to])
            theirs = np.arange(len(mine)) + np.repeat((begin - ends + counts)[at:to] + before, counts[at:to])
            parts.append(
                self._best(
                    _Labels(
                        labels.cell[mine],
                        labels.first[mine] + other.first[theirs],
                        labels.second[mine] + other.second[theirs],
                        np.hstack([labels.choice[mine], other.choice[theirs]])[:, order],
                        tuple(variables[i] for i in order),
                    )
                )
            )
            at = to
        return parts[0] if len(parts) == 1 else self._best(_stacked(parts))

    def _best(self, labels: _Labels) -> _Labels:
        """Those that none beats in their cell, by cell and first cost; of equal ones the first by labels."""
        if len(labels.cell) == 0:
            return labels
        rows = np.lexsort((labels.second, labels.first, labels.cell))
        cell, first, second = labels.cell[rows], labels.first[rows], labels.second[rows]
        new_cell = np.diff(cell, prepend=cell[0]) != 0
        new = new_cell | (np.diff(first, prepend=first[0]) != 0) | (np.diff(second, prepend=second[0]) != 0)
        new[0] = True
        heights = np.unique(second, return_inverse=True)[1]
        falling = heights - new_cell.cumsum() * len(rows)  # a later cell lies below all of those before
        least = np.minimum.accumulate(falling)
        beaten = np.zeros(len(rows), dtype=np.bool_)
        beaten[1:] = falling[1:] >= least[:-1]
        group = new.cumsum() - 1
        rows, group = (x[~beaten[new][group]] for x in (rows, group))
        if len(rows) and (np.diff(group) == 0).any():
            choice = labels.choice[rows]
            keys = [self.names[v][choice[:, i]] for i, v in enumerate(labels.variables)]
            keys += [choice[:, i] for i in range(len(labels.variables))]
            order = np.lexsort((*reversed(keys), group))
            rows, group = rows[order], group[order]
            rows = rows[np.diff(group, prepend=-1) != 0]
        return labels.take(rows)


def _at(piece: Piece, index: tuple[Ints, ...], place: tuple[Ints, ...]) -> tuple[Ints, ...]:
    """The piece's class on each of its axes at the bucket's cells."""
    out = []
    for numbers in index:
        axis = next((a for a, size in enumerate(numbers.shape) if size > 1), 0)
        out.append(numbers.reshape(-1)[place[axis]] if numbers.size > 1 else np.full(len(place[0]), numbers.item()))
    return tuple(out)


def _stacked(parts: list[_Labels]) -> _Labels:
    return _Labels(
        np.concatenate([p.cell for p in parts]),
        np.concatenate([p.first for p in parts]),
        np.concatenate([p.second for p in parts]),
        np.vstack([p.choice for p in parts]),
        parts[0].variables,
    )
