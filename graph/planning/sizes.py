"""The sizes to which features are cut, where several requirements and several cuts meet.

Rule 1: exact in whole quanta; nothing here knows what is cut or why.
Rule 2: the least sizes are the cheapest; of equally cheap ones those with the least change of the first cut, then
of the second, and so on.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product

from graph.planning.requirement import FAR, Span, Spans, clean, meet

HUNDREDTH = 100_000
"""0.01 mm in quanta of length."""

OPEN = FAR // 2
"""An end beyond this is no end."""


Line = tuple[tuple[int, ...], Span]
"""A signed sum of sizes, one of them more than once perhaps, and the one span in which it must lie."""


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
    """A signed sum of sizes and where it may lie; a sign a size: 0 when not in it, 2 when twice in it."""

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
    if len(sizes) == 2 and _single(r.signs for r in rows) and (pair := _one_row(rows)) is not None:
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
    """Rows over one size made part of that size's spans, those over none dropped or fatal; the others with their
    first sign positive."""
    own = [s.spans for s in sizes]
    left = []
    for row in rows:
        inside = [i for i, sign in enumerate(row.signs) if sign]
        if not inside:
            if not any(low <= 0 <= high for low, high in row.spans):
                own = [() for _ in own]
        elif len(inside) == 1:
            i = inside[0]
            shared = (_shared(span, row.signs[i]) for span in row.spans)
            own[i] = meet(own[i], clean(list(shared)))
        elif row.signs[inside[0]] < 0:
            left.append(Row(tuple(-s for s in row.signs), tuple((-b, -a) for a, b in reversed(row.spans))))
        else:
            left.append(row)
    return [Size(s.way, spans, s.start, s.weight) for s, spans in zip(sizes, own, strict=True)], left


def _single(signs: Iterable[tuple[int, ...]]) -> bool:
    """Whether no size is in a sum more than once."""
    return all(abs(s) <= 1 for each in signs for s in each)


def _shared(span: Span, sign: int) -> Span:
    """Where a size may lie that is `sign` times in a sum in this span; open ends stay open."""
    times = abs(sign)
    low, high = span if sign > 0 else (-span[1], -span[0])
    return (
        -(-low // times) if abs(low) < OPEN else low,
        high // times if abs(high) < OPEN else high,
    )


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


def _reach(box: Sequence[Span], lines: Sequence[Line], i: int) -> Span:
    """The ends of size `i` over all sizes that the box and the lines allow."""
    if _plain(lines):
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


def _plain(lines: Sequence[Line]) -> bool:
    return len({signs for signs, _ in lines}) <= 1 and _single(signs for signs, _ in lines)


def _possible(box: Sequence[Span], lines: Sequence[Line], i: int, x: int) -> bool:
    """Whether the others can still be set when size `i` is `x`.

    Only sums of several kinds, or with a size in them more than once, can leave holes.
    """
    if _plain(lines):
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
    """Three or more cuts that meet, or sums of different kinds: every corner of what is allowed is tried.

    A corner that is no whole point is cut off by branching, as in integer programming; with the sums that joints
    make that is rare.
    """

    def __init__(self, box: Sequence[Span], lines: Sequence[Line]) -> None:
        self.box = box
        self.lines = lines

    def end(self, i: int, way: int) -> int | None:
        """The lowest (1) or highest (-1) that size `i` may be."""
        found = self._lowest([tuple(way if j == i else 0 for j in range(len(self.box)))])
        return None if found is None else found[i]

    def cheapest(self, sizes: Sequence[Size]) -> tuple[int, ...] | None:
        """The sizes of the least cost, then the least changes in order."""
        box = self._narrowed(tuple(self.box))
        if box is None:
            return None
        nearest = tuple(low if s.way > 0 else high for s, (low, high) in zip(sizes, box, strict=True))
        if self._inside(box, nearest):
            return nearest
        cost = tuple(s.way * s.weight for s in sizes)
        changes = [tuple(s.way if j == i else 0 for j, s in enumerate(sizes)) for i in range(len(sizes))]
        return self._lowest([cost, *changes])

    def _lowest(self, objectives: Sequence[tuple[int, ...]]) -> tuple[int, ...] | None:
        """The whole point with the least first objective, among those the least second, and so on."""

        def rank(point: Sequence[Fraction | int]) -> tuple[Fraction | int, ...]:
            return tuple(sum(w * x for w, x in zip(weights, point, strict=True)) for weights in objectives)

        best: tuple[int, ...] | None = None
        waiting = [tuple(self.box)]
        while waiting:
            box = self._narrowed(waiting.pop())
            corner = None if box is None else min(self._corners(box), key=rank, default=None)
            if box is None or corner is None or (best is not None and rank(corner) >= rank(best)):
                continue
            broken = next((i for i, x in enumerate(corner) if x.denominator != 1), None)
            if broken is None:
                best = tuple(int(x) for x in corner)
                continue
            low, high = box[broken]
            below = corner[broken].numerator // corner[broken].denominator
            for part in ((below + 1, high), (low, below)):
                waiting.append((*box[:broken], part, *box[broken + 1 :]))
        return best

    def _narrowed(self, box: tuple[Span, ...]) -> tuple[Span, ...] | None:
        """The box without what no line allows whatever the other sizes are; None when nothing is left."""
        ends = [list(span) for span in box]
        for _ in range(2 * len(box)):
            moved = False
            for signs, (floor, ceiling) in self.lines:
                lows = [min(s * a, s * b) for s, (a, b) in zip(signs, ends, strict=True)]
                highs = [max(s * a, s * b) for s, (a, b) in zip(signs, ends, strict=True)]
                for i, sign in enumerate(signs):
                    if not sign:
                        continue
                    reach = (floor - sum(highs) + highs[i], ceiling - sum(lows) + lows[i])
                    low, high = _shared(reach, sign)
                    if low > ends[i][0] or high < ends[i][1]:
                        ends[i] = [max(low, ends[i][0]), min(high, ends[i][1])]
                        moved = True
                        lows[i], highs[i] = sorted(sign * e for e in ends[i])
                    if ends[i][0] > ends[i][1]:
                        return None
            if not moved:
                break
        return tuple((a, b) for a, b in ends)

    def _corners(self, box: tuple[Span, ...]) -> Iterator[tuple[Fraction, ...]]:
        """Every point of the box within the lines at which as many ends meet as there are sizes."""
        n = len(box)
        planes: list[tuple[tuple[int, ...], int]] = []
        for i, span in enumerate(box):
            planes += [(tuple(int(i == j) for j in range(n)), end) for end in sorted(set(span))]
        for signs, span in self.lines:
            planes += [(signs, end) for end in sorted(set(span)) if abs(end) < OPEN]
        for chosen in combinations(planes, n):
            point = _crossing(chosen)
            if point is not None and self._inside(box, point):
                yield point

    def _inside(self, box: Sequence[Span], point: Sequence[Fraction | int]) -> bool:
        return all(a <= x <= b for (a, b), x in zip(box, point, strict=True)) and all(
            low <= sum(s * x for s, x in zip(signs, point, strict=True)) <= high for signs, (low, high) in self.lines
        )


def _crossing(planes: Sequence[tuple[tuple[int, ...], int]]) -> tuple[Fraction, ...] | None:
    """The one point on all planes; None when there is none or more than one."""
    n = len(planes)
    rows = [[*signs, end] for signs, end in planes]
    for column in range(n):
        pivot = next((r for r in range(column, n) if rows[r][column]), None)
        if pivot is None:
            return None
        rows[column], rows[pivot] = rows[pivot], rows[column]
        head = rows[column]
        lead = head[column]
        for r in range(n):
            factor = rows[r][column]
            if r != column and factor:
                rows[r] = [lead * x - factor * y for x, y in zip(rows[r], head, strict=True)]
    return tuple(Fraction(row[n], row[i]) for i, row in enumerate(rows))
