"""When a second part keeps a joint rule wherever the first one does (derived in docs/interchange.md).

Rule 1: nothing is said of one partner; each condition holds for every partner that there could be.
Rule 2: a rule that the first part cannot keep with any partner proves nothing, and says so.
Rule 3: what a part brings to a rule is read once (a side); two sides are compared without looking at facts again.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from graph.model.fact import Alternative, Fact
from graph.model.interchange import Keeps
from graph.model.record import Rule
from graph.model.value import spelled_code
from graph.model.verdict import Verdict
from graph.rules.decide import CODES, NUMBERS, TURN, Pairs, decide, flaw, signs, window
from graph.rules.threads import designation, same_thread

Ends = tuple[int, int]
Codes = frozenset[str]


@dataclass(frozen=True, slots=True)
class Size:
    """The lowest and the highest end of a size, or of the signed sum of a rule's own sizes.

    `round`: whole turns say nothing, -90° is 270°; the middle then lies from half a turn below nothing to half above.
    """

    quantity: str
    low: int
    high: int
    round: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """Codes that must be the same: those of each alternative, and those of the rivals at each position."""

    said: frozenset[Codes]
    rivals: frozenset[frozenset[Codes]]
    threads: bool = False


@dataclass(frozen=True, slots=True)
class Reach:
    """For each alternative the partner's codes that a set admits with it."""

    admitted: tuple[Codes, ...]


@dataclass(frozen=True, slots=True)
class Alone:
    """What a rule says that looks at nothing but this part."""

    verdict: Verdict


Side = Size | Words | Reach | Alone | None
"""What a part brings to a rule; None: nothing that settles anything. Equal sides are the same to the rule."""


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
    low, high = window(rule)
    return compared(
        side(rule, own, first, pairs),
        side(rule, own, second, pairs),
        low=low is not None,
        high=high is not None,
        wide=spread(rule),
        sets=sets,
    )


def side(rule: Rule, own: Sequence[int], facts: Sequence[Fact], pairs: Pairs = frozenset()) -> Side:
    """What facts of a part, in the order of its own places, bring to a rule."""
    if flaw(rule, pairs) or not all(fact.settles for fact in facts):
        return None
    if len(own) == len(rule.operands):
        return Alone(decide(rule, facts, pairs)[0])
    numeric = {_is_number(fact) for fact in facts}
    if numeric == {True} and (rule.type in NUMBERS or rule.type == "same"):
        if len({fact.quantity for fact in facts}) > 1:
            return None
        sign = signs(rule)
        low, high = _sum([sign[place] for place in own], facts)
        if rule.type == "same" and facts[0].quantity == "angle":
            return Size("angle", *_turned((low, high), 0), round=True)
        return Size(facts[0].quantity, low, high)
    if numeric != {False} or rule.type not in CODES:
        return None
    if rule.type in ("same", "thread"):
        return _words(facts[0], thread=rule.type == "thread")
    return Reach(tuple(suitable(a, own[0], pairs) for a in facts[0].alternatives))


def compared(first: Side, second: Side, *, low: bool, high: bool, wide: int | None, sets: bool) -> Keeps:
    """Whether the second side keeps a rule for every partner for which the first one surely does.

    `low`, `high`: whether the rule's window is bounded there; `wide` is `spread`; `sets` as for `keeps`.
    """
    if isinstance(first, Size) and isinstance(second, Size):
        if first.quantity != second.quantity:
            return Keeps.UNKNOWN
        own = first.low, first.high
        return numbers(own, _near(own, second), low, high, wide)
    if isinstance(first, Words) and isinstance(second, Words):
        return _same(first, second)
    if isinstance(first, Reach) and isinstance(second, Reach):
        return _reaching(first.admitted, second.admitted, sets=sets)
    if isinstance(first, Alone) and isinstance(second, Alone):
        if first.verdict is not Verdict.YES:
            return Keeps.IDLE
        return {Verdict.YES: Keeps.KEPT, Verdict.NO: Keeps.BROKEN}.get(second.verdict, Keeps.UNKNOWN)
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


def _turned(one: Ends, middle: int) -> Ends:
    """Ends of an angle less whole turns, so that their middle is no further than half a turn from this one."""
    off = one[0] + one[1] - 2 * middle
    turns = (off + TURN) // (2 * TURN) * TURN
    return one[0] - turns, one[1] - turns


def _near(first: Ends, second: Size) -> Ends:
    own = second.low, second.high
    return _turned(own, (first[0] + first[1]) // 2) if second.round else own


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


def _words(fact: Fact, *, thread: bool) -> Words:
    spelled = designation if thread else spelled_code
    rivals: dict[str, set[Codes]] = {}
    for a in fact.alternatives:
        rivals.setdefault(a.position, set()).add(frozenset(spelled(c) for c in a.codes))
    return Words(frozenset().union(*rivals.values()), frozenset(map(frozenset, rivals.values())), thread)


def _same(first: Words, second: Words) -> Keeps:
    if len(first.said) > 1:
        return Keeps.IDLE
    if all(rivals == first.said for rivals in second.rivals):
        return Keeps.KEPT
    somehow = all(
        any(_may_be(one, said, threads=first.threads) for one in rivals for said in first.said)
        for rivals in second.rivals
    )
    return Keeps.UNKNOWN if somehow else Keeps.BROKEN


def _may_be(one: Codes, other: Codes, *, threads: bool) -> bool:
    """Whether both may be the same; a thread without its pitch may be one with it."""
    return one == other or (threads and len(one) == len(other) == 1 and same_thread(*one, *other) is None)


def _reaching(reach: Sequence[Codes], theirs: Sequence[Codes], *, sets: bool) -> Keeps:
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
    return weighed(better, duty(first), duty(second))


def duty(fact: Fact) -> Side:
    """What a fact brings to the question whether a duty feature gets worse."""
    if not fact.settles:
        return None
    if not _is_number(fact):
        return _words(fact, thread=False)
    return Size(fact.quantity, *ends(fact), round=fact.quantity == "angle")


def weighed(better: str, first: Side, second: Side) -> Keeps:
    """The same as `no_worse`, of two sides."""
    if isinstance(first, Words) and isinstance(second, Words):
        if first.said == second.said and len(first.said) == 1:
            return Keeps.KEPT
        return Keeps.UNKNOWN if first.said & second.said else Keeps.BROKEN
    if not isinstance(first, Size) or not isinstance(second, Size) or first.quantity != second.quantity:
        return Keeps.UNKNOWN
    if better == "larger":
        return Keeps.KEPT if second.low >= first.low else Keeps.BROKEN if second.high < first.low else Keeps.UNKNOWN
    if better == "smaller":
        return Keeps.KEPT if second.high <= first.high else Keeps.BROKEN if second.low > first.high else Keeps.UNKNOWN
    low, high = _near((first.low, first.high), second)
    if high < first.low or low > first.high:
        return Keeps.BROKEN
    # Twice the middles, to stay whole: as two claims about one feature agree, so do two parts.
    apart = abs(low + high - first.low - first.high)
    return Keeps.KEPT if apart <= max(first.high - first.low, high - low) else Keeps.UNKNOWN
