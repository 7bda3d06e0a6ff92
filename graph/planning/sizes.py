"""The sizes to which features are cut, where several requirements and several cuts meet.

Rule 1: exact in whole quanta; nothing here knows what is cut or why.
Rule 2: the least sizes are the cheapest; of equally cheap ones those with the least change of the first cut, then
of the second, and so on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from graph.planning.requirement import FAR, Span, Spans, meet

HUNDREDTH = 100_000
"""0.01 mm in quanta of length."""

OPEN = FAR // 2
"""An end beyond this is no end."""


@dataclass(frozen=True, slots=True)
class Size:
    """One cut: which way it goes, where its size may lie, where its change counts from, and what a quantum costs."""

    way: int
    spans: Spans
    start: int
    weight: int

    def change(self, size: int) -> int:
        """By how much the size differs from where it started, in the way of the cut."""
        return self.way * (size - self.start)


@dataclass(frozen=True, slots=True)
class Row:
    """A signed sum of sizes, one sign a size (0: not in it), and where the sum may lie."""

    signs: tuple[int, ...]
    spans: Spans


@dataclass(frozen=True, slots=True)
class Window:
    """Where a size may lie, the target in it, and the least change; an open end is None."""

    low: int | None
    high: int | None
    target: int
    least: int


def least(sizes: Sequence[Size], rows: Sequence[Row]) -> tuple[int, ...] | None:
    """The cheapest sizes that all rows allow; None when there are none."""
    sizes, rows = _folded(sizes, rows)
    if any(not s.spans for s in sizes) or any(not r.spans for r in rows):
        return None
    if not rows:
        return tuple(s.spans[0][0] if s.way > 0 else s.spans[-1][1] for s in sizes)
    if len(sizes) == 2 and (pair := _one_row(rows)) is not None:
        return _least_pair(sizes, pair)
    return _least_of_many(sizes, rows)


def windows(sizes: Sequence[Size], rows: Sequence[Row], at: Sequence[int], length: Sequence[bool]) -> list[Window]:
    """Each size's window and target, set in order, the first with regard to what the others still allow.

    `at`: the least sizes, whose spans the windows are taken from. `length`: whether a size is a length, so that
    its target is rounded to a hundredth of a millimetre.
    """
    sizes, rows = _folded(sizes, rows)
    box = [next(s for s in size.spans if s[0] <= x <= s[1]) for size, x in zip(sizes, at, strict=True)]
    lines = []
    for row in rows:
        total = sum(s * x for s, x in zip(row.signs, at, strict=True))
        lines.append((row.signs, next(s for s in row.spans if s[0] <= total <= s[1])))
    out = []
    for i in range(len(sizes)):
        low, high = _reach(box, lines, i)
        target = _middle(low, high, at[i], length[i])
        if not _possible(box, lines, i, target):
            target = at[i]
        box[i] = (target, target)
        out.append(Window(low if low > -OPEN else None, high if high < OPEN else None, target, at[i]))
    return out


def _middle(low: int, high: int, fallback: int, length: bool) -> int:
    if low <= -OPEN or high >= OPEN:
        return fallback
    if length:
        rounded = (low + high + HUNDREDTH) // (2 * HUNDREDTH) * HUNDREDTH
        if low <= rounded <= high:
            return rounded
    return (low + high) // 2


def _folded(sizes: Sequence[Size], rows: Sequence[Row]) -> tuple[list[Size], list[Row]]:
    """Rows over one size made part of that size's spans; the others with their first sign positive."""
    own = [s.spans for s in sizes]
    left = []
    for row in rows:
        inside = [i for i, sign in enumerate(row.signs) if sign]
        if len(inside) == 1:
            i = inside[0]
            spans = row.spans if row.signs[i] > 0 else tuple((-b, -a) for a, b in reversed(row.spans))
            own[i] = meet(own[i], spans)
        elif inside and row.signs[inside[0]] < 0:
            left.append(Row(tuple(-s for s in row.signs), tuple((-b, -a) for a, b in reversed(row.spans))))
        else:
            left.append(row)
    return [Size(s.way, spans, s.start, s.weight) for s, spans in zip(sizes, own, strict=True)], left


def _one_row(rows: Sequence[Row]) -> Row | None:
    """All rows over two sizes as one, when they bound the same sum; None when they bound different ones."""
    spans = rows[0].spans
    first = rows[0].signs
    for row in rows[1:]:
        if row.signs != first:
            return None
        spans = meet(spans, row.spans)
    return Row(first, spans)


def _least_pair(sizes: Sequence[Size], row: Row) -> tuple[int, ...] | None:
    """A vertex of the box cut by the row; with signs of 1 every vertex is whole."""
    one, two = sizes
    s, t = row.signs
    best: tuple[tuple[int, int, int], tuple[int, int]] | None = None
    for (a, b), (c, d), (low, high) in product(one.spans, two.spans, row.spans):
        firsts = {a, b, *(s * (end - t * other) for end in (low, high) for other in (c, d))}
        for x in firsts:
            if not a <= x <= b:
                continue
            for y in {c, d, t * (low - s * x), t * (high - s * x)}:
                if c <= y <= d and low <= s * x + t * y <= high:
                    change = one.change(x), two.change(y)
                    key = (one.weight * change[0] + two.weight * change[1], *change)
                    if best is None or key < best[0]:
                        best = key, (x, y)
    return best[1] if best else None


def _reach(box: Sequence[Span], lines: Sequence[tuple[tuple[int, ...], Span]], i: int) -> Span:
    """The ends of size `i` over all sizes that the box and the lines allow."""
    if len({signs for signs, _ in lines}) <= 1:
        low, high = box[i]
        for signs, (floor, ceiling) in lines:
            if signs[i]:
                rest = [(s * a, s * b) if s > 0 else (s * b, s * a) for s, (a, b) in zip(signs, box, strict=True)]
                least_rest = sum(a for j, (a, _) in enumerate(rest) if j != i)
                most_rest = sum(b for j, (_, b) in enumerate(rest) if j != i)
                ends = (floor - most_rest, ceiling - least_rest)
                low = max(low, ends[0] if signs[i] > 0 else -ends[1])
                high = min(high, ends[1] if signs[i] > 0 else -ends[0])
        return low, high
    model = _Model(box, lines)
    low_end, high_end = model.end(i, 1), model.end(i, -1)
    assert low_end is not None and high_end is not None
    return low_end, high_end


def _possible(box: Sequence[Span], lines: Sequence[tuple[tuple[int, ...], Span]], i: int, x: int) -> bool:
    """Whether the others can still be set when size `i` is `x`; only sums of several kinds can leave holes."""
    if len({signs for signs, _ in lines}) <= 1:
        return True
    tried = list(box)
    tried[i] = (x, x)
    return _Model(tried, lines).end(i, 1) is not None


def _least_of_many(sizes: Sequence[Size], rows: Sequence[Row]) -> tuple[int, ...] | None:
    best: tuple[tuple[int, ...], tuple[int, ...]] | None = None
    for chosen in product(*(s.spans for s in sizes), *(r.spans for r in rows)):
        box, sums = chosen[: len(sizes)], chosen[len(sizes) :]
        found = _Model(box, [(r.signs, s) for r, s in zip(rows, sums, strict=True)]).cheapest(sizes)
        if found is not None:
            changes = tuple(s.change(x) for s, x in zip(sizes, found, strict=True))
            key = (sum(s.weight * c for s, c in zip(sizes, changes, strict=True)), *changes)
            if best is None or key < best[0]:
                best = key, found
    return best[1] if best else None


class _Model:
    """Three or more cuts that meet, or sums of different kinds: rare, so a general solver does them (CP-SAT)."""

    def __init__(self, box: Sequence[Span], lines: Sequence[tuple[tuple[int, ...], Span]]) -> None:
        self.box = box
        self.lines = lines

    def _solve(self, objectives: Sequence[tuple[int, ...]]) -> tuple[int, ...] | None:
        """Minimise each weighted sum of the sizes in turn."""
        from ortools.sat.python import cp_model  # noqa: PLC0415 - slow to import, and rarely needed

        model = cp_model.CpModel()
        names = [model.new_int_var(a, b, f"size{i}") for i, (a, b) in enumerate(self.box)]
        for signs, (low, high) in self.lines:
            model.add_linear_constraint(sum(s * x for s, x in zip(signs, names, strict=True)), low, high)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        found: tuple[int, ...] | None = None
        for weights in objectives:
            goal = sum(w * x for w, x in zip(weights, names, strict=True))
            model.minimize(goal)
            if solver.solve(model) != cp_model.OPTIMAL:
                return None
            found = tuple(solver.value(x) for x in names)
            model.add(goal == sum(w * x for w, x in zip(weights, found, strict=True)))
        return found

    def end(self, i: int, way: int) -> int | None:
        """The lowest (1) or highest (-1) that size `i` may be."""
        found = self._solve([tuple(way if j == i else 0 for j in range(len(self.box)))])
        return None if found is None else found[i]

    def cheapest(self, sizes: Sequence[Size]) -> tuple[int, ...] | None:
        """The sizes of the least cost, then the least changes in order."""
        cost = tuple(s.way * s.weight for s in sizes)
        changes = [tuple(s.way if j == i else 0 for j, s in enumerate(sizes)) for i in range(len(sizes))]
        return self._solve([cost, *changes])
