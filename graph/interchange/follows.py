"""When a second part keeps a joint rule wherever the first one does (derived in docs/interchange.md).

Rule 1: nothing is said of one partner; each condition holds for every partner that there could be.
Rule 2: a rule that the first part cannot keep with any partner proves nothing, and says so.
"""

from collections.abc import Iterable, Sequence

from graph.model.fact import Alternative, Fact
from graph.model.interchange import Keeps
from graph.model.record import Rule
from graph.model.value import spelled_code
from graph.model.verdict import Verdict
from graph.rules.judge import CODES, NUMBERS, Pairs, decide, flaw, signs, spelled_thread, window

Ends = tuple[int, int]


def keeps(
    rule: Rule,
    own: Sequence[int],
    first: Sequence[Fact],
    second: Sequence[Fact],
    pairs: Pairs = frozenset(),
    *,
    sets: bool = True,
) -> Keeps:
    """Whether the second part's facts keep the rule for every partner for which the first one's surely do.

    `own` are the places of the rule's operands that are the part's; `first` and `second` their facts, in order.
    `sets`: the partner may have several codes at once; otherwise it has one.
    """
    if flaw(rule, pairs) or not all(fact.settles for fact in (*first, *second)):
        return Keeps.UNKNOWN
    if len(own) == len(rule.operands):
        return _alone(rule, first, second, pairs)
    numeric = {_is_number(fact) for fact in (*first, *second)}
    if len(numeric) > 1:
        return Keeps.UNKNOWN
    if True in numeric and (rule.type in NUMBERS or rule.type == "same"):
        if len({fact.quantity for fact in (*first, *second)}) > 1:
            return Keeps.UNKNOWN
        low, high = window(rule)
        sign = [signs(rule)[place] for place in own]
        return numbers(_sum(sign, first), _sum(sign, second), low is not None, high is not None, spread(rule))
    if False in numeric and rule.type in CODES:
        return _codes(rule, own[0], first[0], second[0], pairs, sets=sets)
    return Keeps.UNKNOWN


def spread(rule: Rule) -> int | None:
    """How wide the rule's window is; None when one side is open."""
    low, high = window(rule)
    return None if low is None or high is None else high - low


def numbers(first: Ends, second: Ends, low: bool, high: bool, wide: int | None) -> Keeps:
    """The second's ends against the first's, where the window bounds the sum from below, from above, or both."""
    if wide is not None and first[1] - first[0] > wide:
        return Keeps.IDLE
    if (not low or second[0] >= first[0]) and (not high or second[1] <= first[1]):
        return Keeps.KEPT
    if (low and second[1] < first[0]) or (high and second[0] > first[1]):
        return Keeps.BROKEN
    return Keeps.UNKNOWN


def _is_number(fact: Fact) -> bool:
    return all(a.low is not None and a.high is not None for a in fact.alternatives)


def ends(fact: Fact) -> Ends:
    """The lowest and the highest end of a settled number."""
    assert fact.low is not None and fact.high is not None
    return fact.low, fact.high


def _sum(sign: Iterable[int], facts: Iterable[Fact]) -> Ends:
    least = most = 0
    for s, fact in zip(sign, facts, strict=True):
        low, high = ends(fact)
        least += low if s > 0 else -high
        most += high if s > 0 else -low
    return least, most


def _alone(rule: Rule, first: Sequence[Fact], second: Sequence[Fact], pairs: Pairs) -> Keeps:
    """A rule that looks at nothing but this part."""
    if decide(rule, first, pairs)[0] is not Verdict.YES:
        return Keeps.IDLE
    said = decide(rule, second, pairs)[0]
    return {Verdict.YES: Keeps.KEPT, Verdict.NO: Keeps.BROKEN}.get(said, Keeps.UNKNOWN)


def _codes(rule: Rule, place: int, first: Fact, second: Fact, pairs: Pairs, *, sets: bool) -> Keeps:
    if rule.type in ("same", "thread"):
        spelled = spelled_thread if rule.type == "thread" else spelled_code
        mine = {frozenset(spelled(c) for c in a.codes) for a in first.alternatives}
        if len(mine) > 1:
            return Keeps.IDLE
        rivals: dict[str, set[frozenset[str]]] = {}
        for a in second.alternatives:
            rivals.setdefault(a.position, set()).add(frozenset(spelled(c) for c in a.codes))
        if all(other == mine for other in rivals.values()):
            return Keeps.KEPT
        return Keeps.UNKNOWN if all(other & mine for other in rivals.values()) else Keeps.BROKEN
    reach = [suitable(a, place, pairs) for a in first.alternatives]
    theirs = [suitable(a, place, pairs) for a in second.alternatives]
    common = frozenset.intersection(*reach)
    if not all(reach) or (not sets and not common):
        return Keeps.IDLE
    kept = all(any(r <= t for r in reach) if sets else common <= t for t in theirs)
    if kept:
        return Keeps.KEPT
    nowhere = all(not (common if not sets else r) & t for t in theirs for r in reach)
    return Keeps.BROKEN if len(theirs) == 1 or nowhere else Keeps.UNKNOWN


def suitable(alternative: Alternative, place: int, pairs: Pairs) -> frozenset[str]:
    """The partner's codes that the set admits with one of these; `place` 0 is the left side."""
    codes = {spelled_code(c) for c in alternative.codes}
    if place == 0:
        return frozenset(spelled_code(b) for a, b in pairs if spelled_code(a) in codes)
    return frozenset(spelled_code(a) for a, b in pairs if spelled_code(b) in codes)


def no_worse(better: str, first: Fact, second: Fact) -> Keeps:
    """Whether a duty feature does not get worse: `better` says which way is no worse (larger, smaller, same)."""
    if not first.settles or not second.settles:
        return Keeps.UNKNOWN
    if _is_number(first) != _is_number(second) or first.quantity != second.quantity:
        return Keeps.UNKNOWN
    if not _is_number(first):
        mine = {frozenset(spelled_code(c) for c in a.codes) for a in first.alternatives}
        other = {frozenset(spelled_code(c) for c in a.codes) for a in second.alternatives}
        if mine == other and len(mine) == 1:
            return Keeps.KEPT
        return Keeps.UNKNOWN if mine & other else Keeps.BROKEN
    (low, high), (least, most) = ends(first), ends(second)
    if better == "larger":
        return Keeps.KEPT if least >= low else Keeps.BROKEN if most < low else Keeps.UNKNOWN
    if better == "smaller":
        return Keeps.KEPT if most <= high else Keeps.BROKEN if least > high else Keeps.UNKNOWN
    if most < low or least > high:
        return Keeps.BROKEN
    # Twice the middles, to stay whole: as two claims about one feature agree, so do two parts.
    return Keeps.KEPT if abs(least + most - low - high) <= max(high - low, most - least) else Keeps.UNKNOWN
