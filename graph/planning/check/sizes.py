"""The least cuts, the windows and the target sizes (docs/semantics.md, sections 3 and 7)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product
from math import ceil, floor
from sys import maxsize

from graph.model.value import Amount
from graph.planning.check.case import Place
from graph.planning.check.rules import span, sum_of
from graph.planning.check.work import Cut, Sizes, Work
from graph.planning.check.worn import asks_for_work

MM = 10_000_000
"""Quanta of 100 pm in a millimetre."""
STEP = 100_000
"""Quanta in 0.01 mm, to which a target is rounded."""

Plane = tuple[tuple[tuple[Place, int], ...], int]  # sum of coefficient × size = constant


def least_sizes(work: Work) -> dict[Place, int] | None:
    """The least cuts of the work, or None when some cut has no size that will do.

    Each group of sizes that meet in a rule is solved by trying every corner of what is allowed: a linear cost
    has its least value at a corner.
    """
    sizes: dict[Place, int] = {}
    for group in groups(work):
        found = least_of(work, group)
        if found is None:
            return None
        sizes |= found
    return sizes


def needless(work: Work, place: Place) -> bool:
    """Whether the plan would stand without the operation on this feature, other cuts taking any size that suits."""
    seat, feature = place
    if work.asked_for(place) or asks_for_work(work.case, work.chosen[seat][0], feature, work.mode):
        return False
    rules, demands = work.about([place])
    alone = [r for r in rules if not any(p in work.cuts and p != place for p in r.operands)]
    if not work.stands({}, alone, demands, undone=place):
        return False
    met = {p for r in rules for p in r.operands if p in work.cuts and p != place}
    return all(_can_be(work, group, place) for group in groups(work, place) if met & set(group))


def change_cost(work: Work, cut: Cut, size: int) -> Fraction:
    """What the depth of a cut costs, in minor units, before rounding."""
    rate = work.case.rates.get(cut.operation.rate)
    return depth_time(cut, size) * (rate.per_hour if rate else 0) / 3_600_000


def depth_time(cut: Cut, size: int) -> Fraction:
    """The time that the depth of a cut takes. [ms]"""
    if cut.before.quantity != "length":
        return Fraction(0)
    return Fraction(cut.operation.time_per_mm * abs(size - cut.origin), MM)


def in_setting_order(work: Work) -> list[Place]:
    """The cuts in the order in which the layout's rules name them, the left side first; then those unnamed."""
    naming = work.case.naming
    return sorted(work.cuts, key=lambda p: (naming.get(p, maxsize), p))


def groups(work: Work, undone: Place | None = None) -> list[list[Place]]:
    """The cuts but for `undone`, those that meet in one rule together, in the order in which they are set."""
    order = [p for p in in_setting_order(work) if p != undone]
    group = {place: index for index, place in enumerate(order)}
    for rule in work.about(order)[0]:
        met = [group[p] for p in rule.operands if p in group]
        if met:
            group = {p: min(met) if g in met else g for p, g in group.items()}
    return [[p for p in order if group[p] == g] for g in sorted(set(group.values()))]


def least_of(work: Work, group: list[Place]) -> dict[Place, int] | None:
    """The least cuts of sizes that meet, or None."""
    key = ("least", work.mode, *_surroundings(work, group))
    return work.case.asked.once(key, lambda: _least_of(work, group))


def _can_be(work: Work, group: list[Place], undone: Place) -> bool:
    """Whether any sizes of the group will do without the operation on `undone`."""
    key = ("can be", work.mode, *_surroundings(work, group, undone))
    corners = _corners(_planes(work, group, undone), group)
    return work.case.asked.once(key, lambda: any(_will_do(work, group, sizes, undone) for sizes in corners))


def _surroundings(work: Work, group: list[Place], undone: Place | None = None) -> Iterable[object]:
    """All that the sizes of the group depend on."""
    for place in group:
        yield place
        yield work.state(place)
    for rule in work.about(group)[0]:
        yield rule.number
        for place in rule.operands:
            yield work.state(place, undone)


def _least_of(work: Work, group: list[Place]) -> dict[Place, int] | None:
    best: tuple[tuple[Fraction, list[int]], dict[Place, int]] | None = None
    planes = _planes(work, group)
    for sizes in _corners(planes, group):
        cost = sum((change_cost(work, work.cuts[p], sizes[p]) for p in group), Fraction(0))
        rank = (cost, [sizes[p] * work.cuts[p].sign for p in group])
        if (best is None or rank < best[0]) and _will_do(work, group, sizes) and _is_least(work, group, sizes):
            best = (rank, sizes)
    return best[1] if best else None


def _will_do(work: Work, group: Sequence[Place], sizes: Sizes, undone: Place | None = None) -> bool:
    if not all(work.cuts[p].reaches(sizes[p]) for p in group):
        return False
    return work.stands(sizes, *work.about(group), undone)


def _is_least(work: Work, group: list[Place], sizes: dict[Place, int]) -> bool:
    """Whether no cut of the group could be smaller with the others as they are."""
    if len(group) == 1:
        return True
    return not any(
        (sizes[place] - size) * work.cuts[place].sign > 0 and _will_do(work, group, {**sizes, place: size})
        for place in group
        for size in _stops(work, group, place, sizes)
    )


def _corners(planes: Sequence[Plane], group: Sequence[Place]) -> Iterable[dict[Place, int]]:
    """Every point in which as many planes meet as there are sizes; whole sizes on both sides of a broken one."""
    seen: set[tuple[int, ...]] = set()
    for chosen in combinations(planes, len(group)):
        meeting = _meeting(chosen, group)
        for point in product(*({floor(x), ceil(x)} for x in meeting or ())):
            if point and point not in seen:
                seen.add(point)
                yield dict(zip(group, point, strict=True))


def _meeting(planes: Sequence[Plane], group: Sequence[Place]) -> list[Fraction] | None:
    """The one point on all planes, by elimination; None when there is none."""
    rows = [
        [Fraction(sum(c for p, c in terms if p == place)) for place in group] + [Fraction(constant)]
        for terms, constant in planes
    ]
    size = len(group)
    if size == 1:
        return [rows[0][1] / rows[0][0]] if rows[0][0] else None
    for column in range(size):
        pivot = next((r for r in range(column, size) if rows[r][column]), None)
        if pivot is None:
            return None
        rows[column], rows[pivot] = rows[pivot], rows[column]
        rows[column] = [x / rows[column][column] for x in rows[column]]
        for other in range(size):
            if other != column and rows[other][column]:
                factor = rows[other][column]
                rows[other] = [x - factor * y for x, y in zip(rows[other], rows[column], strict=True)]
    return [row[size] for row in rows]


def _planes(work: Work, group: Sequence[Place], undone: Place | None = None) -> list[Plane]:
    """Where what is allowed may begin or end: the cuts' own ends, and those of each rule and demand."""
    planes: set[Plane] = set()
    for place in group:
        cut = work.cuts[place]
        planes.add((((place, 1),), cut.start))
        if cut.end is not None:
            planes.add((((place, 1),), cut.end))
    rules, demands = work.about(group)
    for rule in rules:
        ends = span(rule.rule)
        if ends is not None:
            terms = list(zip(rule.operands, ends.signs, strict=True))
            planes |= set(_rule_planes(work, group, terms, (ends.low, ends.high), undone))
    for demand in demands:
        value = demand.value
        if isinstance(value, Amount):
            place = (demand.seat, demand.feature)
            stops = (value.amount, value.amount if demand.value_to is None else demand.value_to)
            planes |= set(_rule_planes(work, group, [(place, 1)], stops, undone))
            planes.add((((place, 1),), value.amount))
    return sorted(planes)


def _rule_planes(
    work: Work,
    group: Sequence[Place],
    terms: Sequence[tuple[Place, int]],
    ends: tuple[int | None, int | None],
    undone: Place | None,
) -> Iterable[Plane]:
    free = tuple((p, s) for p, s in terms if p in group)
    rest = [(work.fact(p, {}, undone), s) for p, s in terms if p not in group]
    if not free or not all(f.settles and all(a.low is not None for a in f.alternatives) for f, _ in rest):
        return
    slack = sum(work.cuts[p].capability for p, _ in free)
    for chosen in product(*(fact.alternatives for fact, _ in rest)):
        low, high = sum_of([s for _, s in rest], chosen)
        for end in (e for e in ends if e is not None):
            for constant in (end - low + slack, end - high - slack, end - low - slack, end - high + slack):
                yield (free, constant)


def _stops(work: Work, group: Sequence[Place], place: Place, sizes: Sizes) -> list[int]:
    """The sizes of one cut at which something may begin or end to hold, the other sizes being as they are."""
    stops: set[int] = set()
    for terms, constant in _planes(work, group):
        factor = sum(c for p, c in terms if p == place)
        if factor:
            rest = constant - sum(c * sizes[p] for p, c in terms if p != place)
            stops |= {rest // factor, -(-rest // factor)}
    return sorted(stops)


@dataclass(frozen=True, slots=True)
class Setting:
    """A cut as the sheet states it. The window may be open at its far end (None)."""

    least: int
    target: int
    low: int | None
    high: int | None


def settings(work: Work, least: dict[Place, int]) -> dict[Place, Setting]:
    """Every cut's window and target; each is set in its turn, those after it being free to follow."""
    made: dict[Place, Setting] = {}
    for group in groups(work):
        fixed: dict[Place, int] = {}
        for place in group:
            low, high = _window(work, group, place, fixed, least)
            cut = work.cuts[place]
            middle = least[place] if low is None or high is None else target_in(low, high, cut.before.quantity)
            made[place] = Setting(least[place], middle, low, high)
            fixed[place] = middle
    return made


def _window(
    work: Work, group: list[Place], place: Place, fixed: Sizes, least: Sizes
) -> tuple[int | None, int | None]:
    """The sizes that all rules, demands, the limit and the capability leave, when the free sizes suit."""
    pinned = {((((p, 1),)), size) for p, size in fixed.items()}
    corners = _corners([*_planes(work, group), *sorted(pinned)], group)
    fitting = sorted(
        {c[place] for c in corners if all(c[p] == s for p, s in fixed.items()) and _will_do(work, group, c)}
    )
    if not fitting:
        return least[place], least[place]
    low, high = fitting[0], fitting[-1]
    if len(group) == 1:
        low, high = _run(work, place, least[place])
    sign = work.cuts[place].sign
    far = high if sign > 0 else low
    if work.cuts[place].end is None and _goes_on(work, group, place, fixed, far + sign):
        return (low, None) if sign > 0 else (None, high)
    return low, high


def _run(work: Work, place: Place, here: int) -> tuple[int, int]:
    """How far it holds without a break about `here`, between the stops."""
    stops = _stops(work, [place], place, {place: here})
    ends = []
    for way, ahead in ((-1, [s for s in reversed(stops) if s < here]), (1, [s for s in stops if s > here])):
        last = here
        for stop in ahead:
            between = {place: last + way * ((abs(stop - last) + 1) // 2)}
            if not _will_do(work, [place], {place: stop}) or not _will_do(work, [place], between):
                break
            last = stop
        ends.append(last)
    return ends[0], ends[1]


def _goes_on(work: Work, group: list[Place], place: Place, fixed: Sizes, size: int) -> bool:
    """Whether one quantum more would do as well, so that nothing ends the window."""
    pinned = {**fixed, place: size}
    planes = [*_planes(work, group), *(((((p, 1),)), s) for p, s in pinned.items())]
    return any(
        all(c[p] == s for p, s in pinned.items()) and _will_do(work, group, c) for c in _corners(planes, group)
    )


def target_in(low: int, high: int, quantity: str) -> int:
    """The middle of the window, rounded to 0.01 mm where there is room for that, else rounded down."""
    if quantity == "length":
        rounded = round_half_up(Fraction(low + high, 2 * STEP)) * STEP
        if low <= rounded <= high:
            return rounded
    return (low + high) // 2


def round_half_up(amount: Fraction) -> int:
    """The nearest whole number, a half going up."""
    return half_up(amount.numerator, amount.denominator)


def half_up(amount: int, parts: int) -> int:
    """The nearest whole number to `amount` / `parts`, a half going up."""
    return (2 * amount + parts) // (2 * parts)
