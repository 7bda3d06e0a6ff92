"""What a fit rule comes to by the facts of its operands: its verdict and its margin (docs/semantics.md, section 2).

Exact over intervals and surviving claims: a rule holds, fails, or is not known; nothing is guessed.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import product

from graph.model.fact import Alternative, Fact
from graph.model.record import Rule
from graph.model.said import say
from graph.model.value import spelled_code
from graph.model.verdict import Verdict
from graph.rules.threads import designation, same_thread

Pairs = frozenset[tuple[str, str]]

WINDOW = frozenset({"clearance", "interference", "stack"})
NUMBERS = WINDOW | {"at_most", "at_least"}
CODES = frozenset({"same", "thread", "accepted", "control"})

TURN = 360 * 3_600_000_000
"""A whole turn, in quanta of an angle."""

LIMIT_MISSING = say("the rule states no limit")


@lru_cache(maxsize=65536)
def spelled_thread(text: str) -> str:
    """A code as it is looked for: no spaces, decimal point, upper case.

    >>> spelled_thread("m12 × 1,25")
    'M12X1.25'
    """
    return spelled_code(text).replace(" ", "").replace(",", ".").upper()


@lru_cache(maxsize=65536)
def plain_code(text: str) -> str:
    """A code in its one spelling; kept, since rules ask for the same codes again and again."""
    return spelled_code(text)


def set_name(rule: Rule) -> str:
    """The accepted set of a rule; the set named as the rule when the rule names none."""
    return rule.set or rule.name


def decide(rule: Rule, sides: Sequence[Fact | None], pairs: Pairs = frozenset()) -> tuple[Verdict, int | None]:
    """The bare verdict and margin of `rule` for the facts of its operands, in the order of `rule.operands`.

    The margin is in quanta, from the worst case to the nearer limit, negative outside; None without a number.
    """
    return (Verdict.UNKNOWN, None) if flaw(rule, pairs) else decided(rule, sides, pairs)


def decided(rule: Rule, sides: Sequence[Fact | None], pairs: Pairs) -> tuple[Verdict, int | None]:
    """The same of a rule that has no flaw."""
    known = [fact for fact in sides if fact is not None and fact.settles]
    if len(known) != len(sides):
        return Verdict.UNKNOWN, None
    numeric = all(a.low is not None and a.high is not None for fact in known for a in fact.alternatives)
    if numeric and (rule.type in NUMBERS or rule.type == "same"):
        if any(fact.quantity != known[0].quantity for fact in known):
            return Verdict.UNKNOWN, None
        return _by_numbers(rule, known)
    if rule.type in CODES and all(a.codes for fact in known for a in fact.alternatives):
        return _by_codes(rule, known, pairs), None
    return Verdict.UNKNOWN, None


def flaw(rule: Rule, pairs: Pairs) -> str:
    """Why the rule itself can decide nothing, whatever the facts; empty when it can."""
    right = len(rule.right)
    if rule.type not in NUMBERS | CODES:
        return say("the rule is of a kind not known here: {kind}", kind=rule.type)
    if rule.type in WINDOW and rule.min is None and rule.max is None:
        return LIMIT_MISSING
    if (rule.type == "at_most" and not right and rule.max is None) or (
        rule.type == "at_least" and not right and rule.min is None
    ):
        return LIMIT_MISSING
    if rule.type != "stack" and right > 1:
        return say("the rule names several right sides, which only a stack may")
    if rule.type not in ("stack", "at_most", "at_least") and not right:
        return say("the rule names no right side")
    if rule.type in ("accepted", "control") and not pairs:
        return say("the accepted set {set} has no pairs", set=set_name(rule))
    return ""


def window(rule: Rule) -> tuple[int | None, int | None]:
    """The least and greatest value that the measured difference of a number rule may take; None is open."""
    if rule.type == "at_most":
        return (rule.min or 0, None) if rule.right else (None, rule.max)
    if rule.type == "at_least":
        return (rule.min or 0, None) if rule.right else (rule.min, None)
    if rule.type == "same":
        return -(rule.max or 0), rule.max or 0
    return rule.min, rule.max


def signs(rule: Rule) -> tuple[int, ...]:
    """With which sign each operand enters the difference that `window` bounds."""
    swapped = rule.type == "interference" or (rule.type == "at_most" and rule.right)
    return (-1, 1) if swapped else (1, *(-1 for _ in rule.right))


def _by_numbers(rule: Rule, facts: Sequence[Fact]) -> tuple[Verdict, int | None]:
    low, high = window(rule)
    least = most = 0
    turns = rule.type == "same" and facts[0].quantity == "angle"
    if all(len(fact.alternatives) == 1 for fact in facts):
        for sign, fact in zip(signs(rule), facts, strict=True):
            a, b = _signed(sign, fact.alternatives[0])
            least, most = least + a, most + b
        if turns:
            least, most = turned_back(least, most)
        margin = min(([] if low is None else [least - low]) + ([] if high is None else [high - most]))
        if margin >= 0:
            return Verdict.YES, margin
        return Verdict.UNKNOWN if _can_hold(low, high, least, most) else Verdict.NO, margin
    reached: set[frozenset[tuple[int, int]]] = {frozenset({(0, 0)})}
    for sign, fact in zip(signs(rule), facts, strict=True):
        ends = [_signed(sign, a) for a in fact.alternatives]
        least += min(a for a, _ in ends)
        most += max(b for _, b in ends)
        places = [{_signed(sign, a) for a in rivals} for rivals in _places(fact)]
        reached = {
            frozenset((a + c, b + d) for a, b in before for c, d in rivals) for before in reached for rivals in places
        }
    if turns:
        reached = {frozenset(turned_back(a, b) for a, b in rivals) for rivals in reached}
        least, most = min(a for r in reached for a, _ in r), max(b for r in reached for _, b in r)
    room = ([] if low is None else [least - low]) + ([] if high is None else [high - most])
    if min(room) >= 0:
        return Verdict.YES, min(room)
    holds_somehow = all(any(_can_hold(low, high, a, b) for a, b in rivals) for rivals in reached)
    return Verdict.UNKNOWN if holds_somehow else Verdict.NO, min(room)


def turned_back(least: int, most: int) -> tuple[int, int]:
    """A difference of angles less whole turns: from 358° to 2° it is 4°, not 356°."""
    whole = (least + most + TURN) // (2 * TURN) * TURN
    return least - whole, most - whole


def _places(fact: Fact) -> list[list[Alternative]]:
    """The rival alternatives at each position: the part has a value at every position, of the rivals only one."""
    places: dict[str, list[Alternative]] = {}
    for alternative in fact.alternatives:
        places.setdefault(alternative.position, []).append(alternative)
    return list(places.values())


def _signed(sign: int, alternative: Alternative) -> tuple[int, int]:
    assert alternative.low is not None and alternative.high is not None
    return (alternative.low, alternative.high) if sign > 0 else (-alternative.high, -alternative.low)


def _can_hold(low: int | None, high: int | None, least: int, most: int) -> bool:
    at_least = least if low is None else max(least, low)
    at_most = most if high is None else min(most, high)
    return at_least <= at_most


def _by_codes(rule: Rule, facts: Sequence[Fact], pairs: Pairs) -> Verdict:
    allowed = _spelled(pairs)
    if all(len(fact.alternatives) == 1 for fact in facts):
        agree = _agree(rule, facts[0].alternatives[0].codes, facts[1].alternatives[0].codes, allowed)
        return Verdict.UNKNOWN if agree is None else Verdict.YES if agree else Verdict.NO
    always, somehow = True, True
    for here, there in product(_places(facts[0]), _places(facts[1])):
        said = {_agree(rule, one.codes, other.codes, allowed) for one in here for other in there}
        always &= said == {True}
        somehow &= said != {False}
    if always:
        return Verdict.YES
    return Verdict.UNKNOWN if somehow else Verdict.NO


@lru_cache(maxsize=4096)
def _spelled(pairs: Pairs) -> Pairs:
    return frozenset((plain_code(a), plain_code(b)) for a, b in pairs)


def _agree(rule: Rule, left: tuple[str, ...], right: tuple[str, ...], allowed: Pairs) -> bool | None:
    """None: a thread is written without the pitch or the series that the other states."""
    if rule.type in ("accepted", "control"):
        return any((plain_code(a), plain_code(b)) in allowed for a, b in product(left, right))
    if rule.type == "thread":
        if len(left) == len(right) == 1:
            return same_thread(left[0], right[0])
        return {designation(a) for a in left} == {designation(b) for b in right}
    return {plain_code(a) for a in left} == {plain_code(b) for b in right}
