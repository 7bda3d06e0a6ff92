"""What a rule can see of a feature, and whether it may hold: the same for all parts that look alike."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from graph.model.fact import Fact
from graph.planning.check.case import Case, Mode, Place, Ruled, allowed
from graph.planning.check.rules import is_amounts, judged, span, sum_of
from graph.planning.check.work import Cut, Work


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """All that a rule can see of a feature; there is one of all that look alike, the first of them.

    `fact`: the feature, before the cut where there is one. `cut` has the ends of the sizes it may be given.
    """

    fact: Fact
    cut: Cut | None


def sight(work: Work, place: Place) -> Sight:
    """What the work makes of the feature, the size of a cut left open."""
    return work.case.things.once(("sight", place[1], *work.state(place)), lambda: _sight(work, place))


def _sight(work: Work, place: Place) -> Sight:
    cut = work.cuts.get(place)
    fact = work.fact(place, {}) if cut is None else cut.before
    ends = None if cut is None else (cut.sign, cut.start, cut.end, cut.capability)
    values = tuple((a.low, a.high, a.codes, a.position) for a in fact.alternatives) if fact.settles else ()
    return work.case.things.once(("alike", fact.quantity, values, ends), lambda: Sight(fact, cut))


def may_hold(case: Case, rule: Ruled, sights: Sequence[Sight], mode: Mode) -> bool:
    """Whether some sizes of the cuts let the rule stand; `sights` are those of its operands, in their order."""
    return case.things.once(("may hold", rule.number, mode, *sights), lambda: _may_hold(case, rule, sights, mode))


def _may_hold(case: Case, rule: Ruled, sights: Sequence[Sight], mode: Mode) -> bool:
    facts = [s.fact for s in sights]
    if not any(s.cut for s in sights):
        return allowed(judged(case, rule.rule, facts)[0], mode)
    ends = span(rule.rule)
    if ends is None or not all(f.settles for f in facts) or not is_amounts(facts):
        return mode == "possible"
    signed = list(zip(sights, ends.signs, strict=True))
    cuts = [(s.cut, sign) for s, sign in signed if s.cut is not None]
    rest = [(s.fact, sign) for s, sign in signed if s.cut is None]
    slack = sum(cut.capability for cut, _ in cuts)
    low, high = _reach(cuts)
    floors, ceilings = [], []
    for chosen in product(*(fact.alternatives for fact, _ in rest)):
        least, most = sum_of([sign for _, sign in rest], chosen)
        if mode == "certain":
            floors += [ends.low - least + slack] if ends.low is not None else []
            ceilings += [ends.high - most - slack] if ends.high is not None else []
        elif _meets(ends.low, least - slack, ends.high, most + slack, low, high):
            return True
    if mode == "possible":
        return False
    floor = max([*floors, *([low] if low is not None else [])], default=None)
    ceiling = min([*ceilings, *([high] if high is not None else [])], default=None)
    return floor is None or ceiling is None or floor <= ceiling


def _meets(
    end_low: int | None, least: int, end_high: int | None, most: int, low: int | None, high: int | None
) -> bool:
    """Whether some size in low..high puts [size + least, size + most] where it touches the rule's ends."""
    floor = max([x for x in (low, None if end_low is None else end_low - most) if x is not None], default=None)
    ceiling = min([x for x in (high, None if end_high is None else end_high - least) if x is not None], default=None)
    return floor is None or ceiling is None or floor <= ceiling


def _reach(cuts: Iterable[tuple[Cut, int]]) -> tuple[int | None, int | None]:
    """The least and greatest of the signed sum of the cuts' sizes; None is open."""
    low: int | None = 0
    high: int | None = 0
    for cut, sign in cuts:
        first, last = (cut.start, cut.end) if cut.sign * sign > 0 else (cut.end, cut.start)
        low = None if low is None or first is None else low + sign * first
        high = None if high is None or last is None else high + sign * last
    return low, high
