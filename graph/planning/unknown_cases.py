"""The cases of missing facts: only of facts that can decide, each fact in as few stretches as tell something.

Rule 1: a fact is looked into only if no certain plan exists without it while the others turn out well.
Rule 2: every completion lies in some case; where it lies in several, what each of them says is so.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product
from math import prod
from typing import Literal

from graph.model.verdict import Missing
from graph.planning.options import DONOR, NEW
from graph.planning.unknown_gap import NO_FACT, OTHER, Gap, Given, Look, Range, asked, drawn, hardest, parts_of, same
from graph.planning.unknown_looks import Looks, Spent

MOST_TOGETHER = 24
"""Cases in which every fact turns out well in some way; with more, only one fact at a time leaves its best way."""

MOST_PLANS = 8
"""Plans whose missing facts are tried as a set that decides."""

Outcome = Literal["can", "cannot", "open"]
Stretch = tuple[Outcome, Range]
Judge = Callable[[Range], Outcome]


@dataclass(slots=True)
class Cases:
    """The cases found, each as what it takes for granted, and the sets of facts that decide, smallest first.

    `ended`: the work ended before every completion was in a case.
    """

    able: list[Given] = field(default_factory=list)
    never: list[Given] = field(default_factory=list)
    open: list[Given] = field(default_factory=list)
    decide: list[tuple[Missing, ...]] = field(default_factory=list)
    beyond: tuple[Missing, ...] = ()
    ended: bool = False


def cases_of(looks: Looks, resolution: dict[str, int]) -> Cases:
    """The cases of a question, by the facts that can decide it."""
    found = Cases()
    try:
        _fill(found, looks, resolution)
    except Spent:
        found.ended = True
        found.decide = []
    return found


def _fill(found: Cases, looks: Looks, resolution: dict[str, int]) -> None:
    if looks.able(()):
        found.able.append(())
        return
    if looks.hopeless(()):
        found.never.append(())
        return
    well = _favourable(looks, (), resolution, likeliest=True)
    if well is None:
        well = _favourable(looks, (), resolution, likeliest=False)
    likeliest, cheapest = looks.likeliest(()), looks.cheapest(())
    assert likeliest is not None and cheapest is not None
    if well is None:
        # No way to know enough: only what rules it out can be said.
        found.beyond = tuple(m for m in likeliest.open if m.why.startswith(NO_FACT))
        found.open.append(())
        for gap in {same(g): g for g in (*likeliest.gaps(), *cheapest.gaps())}.values():
            parts = _stretches(looks, (), gap, resolution)
            found.never += [((gap, taken),) for outcome, taken in parts if outcome == "cannot"]
        return
    well = _needed(looks, (), well)
    ways: list[list[Range]] = []
    for gap, best in well:
        parts = _stretches(looks, well, gap, resolution)
        found.never += [((gap, taken),) for outcome, taken in parts if outcome == "cannot"]
        found.open += [((gap, taken),) for outcome, taken in parts if outcome == "open"]
        able = [taken for outcome, taken in parts if outcome == "can"]
        ways.append(sorted(able, key=lambda taken, best=best: not _inside(best, taken)))  # type: ignore[misc]
    for box in _together(found, [gap for gap, _ in well], ways):
        (found.able if looks.able(box) else found.open).append(box)
    found.able.sort(key=lambda given: (_cost(looks.sure(given)), [str(taken) for _, taken in given]))
    cheaper = _cheaper(looks, found.able[0], resolution) if found.able else None
    found.able[1:1] = [cheaper] if cheaper else []
    found.decide = [tuple(gap.missing for gap, _ in given) for given in _sets(looks, well)]


def _inside(one: Range, other: Range) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return one == other
    return other[0] <= one[0] and one[1] <= other[1]


def _cost(look: Look | None) -> int:
    assert look is not None
    return look.plan.cost


def _favourable(
    looks: Looks, given: Given, resolution: dict[str, int], *, likeliest: bool, cost: int | None = None
) -> Given | None:
    """The facts of promising plans, each where all that its plan asks of it is certain, until one is certain.

    `cost`: until a certain plan costs no more than that. None: no facts make one certain.
    """
    while True:
        if looks.able(given) and (cost is None or _cost(looks.sure(given)) <= cost):
            return given
        look = looks.likeliest(given) if likeliest else looks.cheapest(given)
        more = None if look is None else _next(look, given)
        if more is None:
            return None if look is None or cost is not None else _tightened(looks, given, resolution)
        given = (*given, more)


def _tightened(looks: Looks, given: Given, resolution: dict[str, int]) -> Given | None:
    """One of the facts only as far from one of its ends as makes a plan certain, told apart by halving."""
    for i, (gap, taken) in enumerate(given):
        if isinstance(taken, str):
            continue
        fine = resolution.get(gap.quantity, 1)
        low, high = taken

        def able(taken: Range, i: int = i, gap: Gap = gap) -> bool:
            return looks.able((*given[:i], (gap, taken), *given[i + 1 :]))

        if able((high, high)):
            while high - low > fine:
                middle = (low + high) // 2
                low, high = (low, middle) if able((middle, taken[1])) else (middle, high)
            return (*given[:i], (gap, (min(-(-high // fine) * fine, taken[1]), taken[1])), *given[i + 1 :])
        if able((low, low)):
            while high - low > fine:
                middle = (low + high) // 2
                low, high = (middle, high) if able((taken[0], middle)) else (low, middle)
            return (*given[:i], (gap, (taken[0], max(low // fine * fine, taken[0]))), *given[i + 1 :])
    return None


def _next(look: Look, given: Given) -> tuple[Gap, Range] | None:
    """One more fact of a plan, where all that the plan asks of it is certain; else as its kind is drawn."""
    known = {same(gap) for gap, _ in given}
    gaps = [gap for gap in look.gaps() if same(gap) not in known]
    offers = [(gap, taken) for gap in gaps if (taken := asked(look, gap)) is not None]
    offers += [(gap, taken) for gap in gaps if (taken := drawn(look.made.problem, gap)) is not None]
    return offers[0] if offers else None


def _needed(looks: Looks, given: Given, well: Given) -> Given:
    """Without the facts that a certain plan can do without, those of parts that are not the core's left out first."""
    cost = None if not given else _cost(looks.sure(well))
    extra = [item for item in well if item not in given]
    for item in sorted(extra, key=lambda item: item[0].source not in (NEW, DONOR)):
        fewer = tuple(other for other in well if other != item)
        if looks.able(fewer) and (cost is None or _cost(looks.sure(fewer)) <= cost):
            well = fewer
    return well


def _cheaper(looks: Looks, given: Given, resolution: dict[str, int]) -> Given | None:
    """More facts that, turned out well, make a case cheaper than it is in any event; None: none do."""
    sure, maybe = looks.sure(given), looks.cheapest(given)
    if _cost(maybe) >= _cost(sure):
        return None
    well = _favourable(looks, given, resolution, likeliest=False, cost=_cost(maybe))
    return None if well is None else _needed(looks, given, well)


def _sets(looks: Looks, well: Given) -> list[Given]:
    """Sets of facts that make a certain plan when they turn out well, none of them needless, smallest first."""
    found = [well]
    for look in looks.others(MOST_PLANS):
        box = tuple((gap, taken) for gap in look.gaps() if (taken := asked(look, gap)) is not None)
        if looks.able(box):
            fewer = _needed(looks, (), box)
            keys = {same(gap) for gap, _ in fewer}
            if not any({same(gap) for gap, _ in other} <= keys for other in found):
                found.append(fewer)
    return sorted(found, key=len)


def _together(found: Cases, gaps: Sequence[Gap], ways: Sequence[Sequence[Range]]) -> Iterator[Given]:
    """Every way in which all facts turn out well; with too many, the best ones and those that differ in one fact."""
    if prod(len(way) for way in ways) <= MOST_TOGETHER:
        yield from (tuple(zip(gaps, taken, strict=True)) for taken in product(*ways))
        return
    best = [way[0] for way in ways]
    yield tuple(zip(gaps, best, strict=True))
    for i, way in enumerate(ways):
        for taken in way[1:]:
            yield tuple(zip(gaps, [*best[:i], taken, *best[i + 1 :]], strict=True))
    found.open.append(())


def _stretches(looks: Looks, well: Given, gap: Gap, resolution: dict[str, int]) -> list[Stretch]:
    """The values of a fact from low to high in stretches: it cannot be done whatever the others are; it can, the
    others well; or neither is known of the whole stretch."""
    rest = tuple(item for item in well if same(item[0]) != same(gap))

    look = looks.likeliest(())
    assert look is not None
    whole, told = parts_of(look, gap) if not gap.codes else ([], True)

    def hopeless(taken: Range) -> bool:
        tried = [taken] if told else hardest(look.made.problem, gap, taken)
        return all(looks.hopeless(((gap, one),)) for one in tried)

    def outcome(taken: Range) -> Outcome:
        if hopeless(taken):
            return "cannot"
        return "can" if well and looks.able((*rest, (gap, taken))) else "open"

    if gap.codes:
        return [(outcome(code), code) for code in (*gap.codes, OTHER)]
    parts: list[Stretch] = []
    if told:
        for hope, low, high in whole:
            no = hopeless((low, high))
            can = not no and hope == "sure" and bool(well) and looks.able((*rest, (gap, (low, high))))
            parts.append(("cannot" if no else "can" if can else "open", (low, high)))
    else:
        best = [taken for other, taken in well if same(other) == same(gap) and not isinstance(taken, str)]
        ends = sorted({*(high for _, _, high in whole), *(end for low, high in best for end in (low - 1, high))})
        halves = _divided(outcome, hopeless, gap.low, gap.high, ends)
        fine = resolution.get(gap.quantity, 1)
        parts = [part for stretch in halves for part in _sharpened(outcome, stretch, fine)]
    return _joined(looks, rest, gap, parts, hopeless)


def _divided(
    outcome: Judge, hopeless: Callable[[Range], bool], low: int, high: int, points: Sequence[int]
) -> Iterator[Stretch]:
    """The stretch as one where it is out of the question or has no points; else each half of it."""
    inside = [p for p in points if low <= p < high]
    if not inside or hopeless((low, high)):
        yield outcome((low, high)), (low, high)
        return
    middle = inside[len(inside) // 2]
    yield from _divided(outcome, hopeless, low, middle, inside)
    yield from _divided(outcome, hopeless, middle + 1, high, inside)


def _sharpened(outcome: Judge, stretch: Stretch, fine: int) -> list[Stretch]:
    """An open stretch with what can be said of either end, as far as it goes, told apart by halving."""
    said, taken = stretch
    if said != "open" or isinstance(taken, str) or taken[1] - taken[0] < fine:
        return [stretch]
    low, high = taken
    out: list[Stretch] = []
    first, last = outcome((low, low)), outcome((high, high))
    if first != "open":
        good, bad = low, high
        while bad - good > fine:
            middle = (good + bad) // 2
            good, bad = (middle, bad) if outcome((low, middle)) == first else (good, middle)
        good = max(good // fine * fine, low)
        if good - low + 1 >= fine:
            out.append((first, (low, good)))
            low = good + 1
    tail: list[Stretch] = []
    if last != "open" and low < high:
        bad, good = low, high
        while good - bad > fine:
            middle = (good + bad) // 2
            bad, good = (bad, middle) if outcome((middle, high)) == last else (middle, good)
        good = min(-(-good // fine) * fine, high)
        if high - good + 1 >= fine:
            tail.append((last, (good, high)))
            high = good - 1
    return [*out, *([("open", (low, high))] if low <= high else []), *tail]  # type: ignore[list-item]


def _joined(
    looks: Looks, rest: Given, gap: Gap, parts: list[Stretch], hopeless: Callable[[Range], bool]
) -> list[Stretch]:
    """Neighbours of which the same is said made one, where that holds for the whole."""
    out: list[Stretch] = []
    for said, taken in parts:
        if out and out[-1][0] == said and not isinstance(taken, str) and not isinstance(out[-1][1], str):
            whole = (out[-1][1][0], taken[1])
            plans = [(*rest, (gap, one)) for one in (out[-1][1], taken, whole)] if said == "can" else []
            if (said == "cannot" and hopeless(whole)) or said == "open" or (plans and _one_plan(looks, plans)):
                out[-1] = (said, whole)
                continue
        out.append((said, taken))
    return out


def _one_plan(looks: Looks, givens: Sequence[Given]) -> bool:
    """Whether the cheapest certain plan is the same in all of these cases."""
    plans = [look.plan.identity if (look := looks.sure(given)) is not None else None for given in givens]
    return None not in plans and all(a == b for a, b in pairwise(plans))
