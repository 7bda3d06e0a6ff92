"""Factor tables from distinct operand values: whole arrays of classes at once.

Rule 1: sizes are whole quanta; an interval is a pair of arrays, low and high, shape (classes,).
Rule 2: *certain* holds for all values of the intervals, *possible* for some (docs/semantics.md, sections 2 and 6).
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from graph.planning.network import FORBIDDEN, Ints

Flags = NDArray[np.bool_]
_Kind = TypeVar("_Kind", np.int64, np.bool_)

FAR: Final = 1 << 44
"""Further than any size; stands for an open end."""

_WIDEST: Final = 1 << 15
"""Fewer values than this are numbered in 16 bits."""

MILLIMETRE: Final = 10_000_000
"""Quanta of length in a millimetre."""

HOUR: Final = 3_600_000
"""Milliseconds in an hour."""


def distinct(values: Ints) -> tuple[Ints, Ints]:
    """The distinct values, ascending, and the class of each: `values == found[classes]`."""
    order = np.argsort(values, kind="stable")
    ranked = values[order]
    first = np.empty(len(values), dtype=bool)
    first[:1] = True
    np.not_equal(ranked[1:], ranked[:-1], out=first[1:])
    classes = np.empty(len(values), dtype=np.int64)
    classes[order] = np.cumsum(first) - 1
    return ranked[first], classes


def barred(allowed: Flags) -> Ints:
    """0 where it is allowed, FORBIDDEN where it is not (several times as fast as a choice between the two)."""
    costs = (~allowed).astype(np.int64)
    costs <<= FORBIDDEN.bit_length() - 1
    return costs


def window(
    left_low: Ints, left_high: Ints, right_low: Ints, right_high: Ints, minimum: int | None, maximum: int | None
) -> tuple[Flags, Flags]:
    """Whether minimum <= left - right <= maximum: (certain, possible), each of shape (left, right).

    With neither end nothing is certain and everything possible: the limit is missing.
    """
    return stack(left_low, left_high, (right_low,), (right_high,), minimum, maximum)


def stack(
    left_low: Ints,
    left_high: Ints,
    right_lows: Sequence[Ints],
    right_highs: Sequence[Ints],
    minimum: int | None,
    maximum: int | None,
) -> tuple[Flags, Flags]:
    """Whether minimum <= left - sum of right <= maximum: (certain, possible), one axis an operand, left first."""
    axes = 1 + len(right_lows)
    exact = left_low is left_high and all(a is b for a, b in zip(right_lows, right_highs, strict=True))
    if exact and axes == 2 and minimum is not None and maximum is not None and _ascending(right_lows[0]):
        within = _within(left_low, right_lows[0], minimum, maximum)
        return within, within
    low, high = _on_axis(left_low, 0, axes), _on_axis(left_high, 0, axes)
    least = most = np.zeros((1,) * axes, dtype=np.int64)  # of the sum on the right
    for axis, (right_low, right_high) in enumerate(zip(right_lows, right_highs, strict=True), start=1):
        least = least + _on_axis(right_low, axis, axes)
        most = most + _on_axis(right_high, axis, axes)
    if minimum is None and maximum is None:
        shape = np.broadcast_shapes(low.shape, least.shape)
        return np.zeros(shape, dtype=bool), np.ones(shape, dtype=bool)
    floor = -FAR if minimum is None else minimum
    ceiling = FAR if maximum is None else maximum
    if floor > ceiling:
        shape = np.broadcast_shapes(low.shape, least.shape)
        return np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    certain = (low >= most + floor) & (high <= least + ceiling)
    return certain, certain if exact else (high >= least + floor) & (low <= most + ceiling)


def _ascending(values: Ints) -> bool:
    return len(values) < _WIDEST and bool((values[1:] >= values[:-1]).all())


def _within(left: Ints, right: Ints, minimum: int, maximum: int) -> Flags:
    """Whether minimum <= left - right <= maximum, right ascending: of each left a range of places."""
    first = np.searchsorted(right, left - maximum)
    last = np.maximum(np.searchsorted(right, left - minimum, side="right"), first)
    places = np.arange(len(right), dtype=np.uint16)
    return places - first.astype(np.uint16)[:, None] < (last - first).astype(np.uint16)[:, None]


def pairs(
    left_codes: Sequence[Sequence[Collection[str]]],
    right_codes: Sequence[Sequence[Collection[str]]],
    accepted: Collection[tuple[str, str]],
) -> tuple[Flags, Flags]:
    """Whether a member of left and a member of right are an accepted pair: (certain, possible), (left, right).

    A class is its rival alternatives, an alternative its codes (one, or a set's members). No accepted pairs at
    all: nothing certain, everything possible.
    """
    shape = len(left_codes), len(right_codes)
    if not accepted:
        return np.zeros(shape, dtype=bool), np.ones(shape, dtype=bool)
    lefts = {code: i for i, code in enumerate(sorted({left for left, _ in accepted}))}
    rights = {code: i for i, code in enumerate(sorted({right for _, right in accepted}))}
    admits = np.zeros((len(lefts), len(rights)), dtype=np.int64)
    for left, right in accepted:
        admits[lefts[left], rights[right]] = 1
    rows, first_row = _members(left_codes, lefts)
    columns, first_column = _members(right_codes, rights)
    meets = (rows @ admits @ columns.T > 0).astype(np.int64)
    certain = np.minimum.reduceat(np.minimum.reduceat(meets, first_row, axis=0), first_column, axis=1)
    possible = np.maximum.reduceat(np.maximum.reduceat(meets, first_row, axis=0), first_column, axis=1)
    return certain > 0, possible > 0


def _members(classes: Sequence[Sequence[Collection[str]]], codes: dict[str, int]) -> tuple[Ints, Ints]:
    """One row an alternative with a 1 for each known code, and the first row of each class."""
    firsts = np.cumsum([0, *(len(alternatives) for alternatives in classes)])
    rows = np.zeros((int(firsts[-1]), len(codes)), dtype=np.int64)
    flat = (codes_of_one for alternatives in classes for codes_of_one in alternatives)
    for row, members in enumerate(flat):
        for code in members:
            if code in codes:
                rows[row, codes[code]] = 1
    return rows, firsts[:-1]


def labour(setup: Ints, time: Ints, time_per_mm: Ints, change: Ints, rate: Ints) -> Ints:
    """Cost of a cut in minor units: its time, rounded half up to the ms, times the rate, rounded half up once.

    Parameters
    ----------
    setup, time : array
        What it takes before the first chip, and besides the depth. [ms]
    time_per_mm : array
        What each millimetre of change takes. [ms/mm]
    change : array
        How far the feature's value moves from the middle of what it was, 0 or more. [100 pm]
    rate : array
        [minor units/h]

    Sources
    -------
    docs/semantics.md, section 5.

    Examples
    --------
    10 min and 2 min/mm over 0.75 mm (11.5 min) at 60.00 an hour:

    >>> int(labour(*(np.array(n) for n in (600_000, 0, 120_000, 7_500_000, 6000))))
    1150
    """
    ms = setup + time + (2 * time_per_mm * change + MILLIMETRE) // (2 * MILLIMETRE)
    return np.asarray((2 * ms * rate + HOUR) // (2 * HOUR))


@dataclass(frozen=True, slots=True)
class Cutting:
    """The machined modes of one feature, all widened or all reduced; arrays of shape (modes,).

    `low`/`high`: the value as it is. `limit`: the furthest that target and capability may reach. Times in ms,
    rate in minor units an hour, sizes in quanta.
    """

    low: Ints
    high: Ints
    limit: Ints
    capability: Ints
    setup: Ints
    time: Ints
    time_per_mm: Ints
    rate: Ints
    widen: bool = True

    @property
    def before(self) -> Ints:
        """The middle of what was there, rounded down; the change is counted from it."""
        return np.asarray((self.low + self.high) // 2)

    def cost(self, change: Ints) -> Ints:
        """Labour for each mode's change; `change` has the modes on axis 0."""
        shape = (-1,) + (1,) * (change.ndim - 1)
        columns = (self.setup, self.time, self.time_per_mm, self.rate)
        setup, time, time_per_mm, rate = (column.reshape(shape) for column in columns)
        return labour(setup, time, time_per_mm, change, rate)


@dataclass(frozen=True, slots=True)
class CutTable:
    """One machined feature over its partners; the modes on axis 0, then one axis a partner.

    `target`: the least cut. `feasible`: there is one. `needed`: the value as it is would not do. `cost`: labour,
    FORBIDDEN where the cut is not feasible or not needed.
    """

    target: Ints
    feasible: Flags
    needed: Flags
    change: Ints
    cost: Ints


def cut(cutting: Cutting, lows: Sequence[Ints], highs: Sequence[Ints], *, certain: bool = True) -> CutTable:
    """The factor of one machined feature over any number of partners.

    `lows[i]`/`highs[i]`: between which the feature must lie for each class of partner i, shape (classes,) or
    (modes, classes); ±FAR where an end is open, low above high where nothing will do. Intervals meet jointly when
    they meet pairwise, so the least cut is the furthest of the near ends.

    Certain: target ± capability lies within, as does all of the value as it is for it to do. Possible: they meet.
    """
    axes = 1 + len(lows)
    way = 1 if cutting.widen else -1
    near, far, does = _reach(cutting, axes)
    for axis, (low, high) in enumerate(zip(lows, highs, strict=True), start=1):
        floor, ceiling = _partner(low, axis, axes), _partner(high, axis, axes)
        start, end, fits = _asked(cutting, floor, ceiling, axes, certain)
        near, far, does = np.maximum(near, start), np.minimum(far, end), does & fits
    shape = np.broadcast_shapes(near.shape, far.shape, does.shape)
    near, far, does = np.broadcast_to(near, shape), np.broadcast_to(far, shape), np.broadcast_to(does, shape)
    target = way * near
    feasible, needed = near <= far, ~does
    change = np.abs(target - _on_axis(cutting.before, 0, axes)) * feasible
    made = np.flatnonzero(feasible & needed)
    mode = made // max(1, feasible.size // max(1, len(cutting.low)))
    cost = np.full(feasible.shape, FORBIDDEN)
    cost.reshape(-1)[made] = labour(
        cutting.setup[mode],
        cutting.time[mode],
        cutting.time_per_mm[mode],
        change.reshape(-1)[made],
        cutting.rate[mode],
    )
    return CutTable(target, feasible, needed, change, cost)


def _reach(cutting: Cutting, axes: int) -> tuple[Ints, Ints, Flags]:
    """The nearest and furthest target by the part alone, counted in the way of the cut; that as it is it does."""
    if cutting.widen:
        near, far = cutting.high + 1, cutting.limit - cutting.capability
    else:
        near, far = 1 - cutting.low, -(cutting.limit + cutting.capability)
    return _on_axis(near, 0, axes), _on_axis(far, 0, axes), np.ones((1,) * axes, dtype=bool)


def _asked(cutting: Cutting, floor: Ints, ceiling: Ints, axes: int, certain: bool) -> tuple[Ints, Ints, Flags]:
    """The same by a partner that asks for floor..ceiling, and whether the value as it is would do for it."""
    capability = _on_axis(cutting.capability, 0, axes)
    low, high = _on_axis(cutting.low, 0, axes), _on_axis(cutting.high, 0, axes)
    slack = capability if certain else -capability
    least, most = floor + slack, ceiling - slack
    nothing = floor > ceiling
    fits = ((low >= floor) & (high <= ceiling)) if certain else ((high >= floor) & (low <= ceiling))
    start, end = (least, most) if cutting.widen else (-most, -least)
    return np.where(nothing, FAR, start), np.where(nothing, -FAR, end), fits & ~nothing


def _on_axis(values: NDArray[_Kind], axis: int, axes: int) -> NDArray[_Kind]:
    return values.reshape([-1 if a == axis else 1 for a in range(axes)])


def _partner(values: Ints, axis: int, axes: int) -> Ints:
    if values.ndim == 1:
        return _on_axis(values, axis, axes)
    shape = [1] * axes
    shape[0], shape[axis] = values.shape
    return values.reshape(shape)
