"""One fit rule, judged by the facts of its operands (docs/semantics.md, section 2).

Exact over intervals and surviving claims: a rule holds, fails, or is not known; nothing is guessed.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import product

from graph.model.fact import Alternative, Fact
from graph.model.record import Feature, Rule
from graph.model.said import joined, say
from graph.model.value import spelled_code
from graph.model.verdict import Missing, Operand, RuleVerdict, Verdict
from graph.rules.facts import NO_CLAIM, ONLY_HEARD
from graph.rules.spoken import ENGINE, against, fact_text, in_words, operand_name, span, wanted
from graph.rules.threads import designation, same_thread

Pairs = frozenset[tuple[str, str]]
Accepted = Mapping[str, Pairs]
Facts = Mapping[tuple[str, str], Fact | None]

WINDOW = frozenset({"clearance", "interference", "stack"})
NUMBERS = WINDOW | {"at_most", "at_least"}
CODES = frozenset({"same", "thread", "accepted", "control"})
NOTHING = Fact("", "", "known", alternatives=(Alternative(codes=("none",), shown=say("none, the seat is empty")),))
"""What an empty seat has to offer the engine."""

TURN = 360 * 3_600_000_000
"""A whole turn, in quanta of an angle."""

LIMIT_MISSING = say("the rule states no limit")
NOT_CLOSE_ENOUGH = say("not known closely enough to decide")
UNSAID = say("a thread is written without its pitch or series")
UNCOMPARED = say("the values cannot be compared")
VERDICTS = {
    Verdict.YES: say("fits"),
    Verdict.WITH_WORK: say("fits with work"),
    Verdict.UNKNOWN: say("not known"),
    Verdict.NO: say("does not fit"),
}


@lru_cache(maxsize=65536)
def spelled_thread(text: str) -> str:
    """A code as it is looked for: no spaces, decimal point, upper case.

    >>> spelled_thread("m12 × 1,25")
    'M12X1.25'
    """
    return spelled_code(text).replace(" ", "").replace(",", ".").upper()


@lru_cache(maxsize=65536)
def _plain(text: str) -> str:
    return spelled_code(text)


def unfilled(rule: Rule, engine: Mapping[str, Fact | None]) -> list[Fact | None] | None:
    """The operands' facts when the one seat that a rule holds against the engine is empty, as the code `none`.

    `engine`: its facts by feature; one that is not on record stays so, since nobody knows whether the engine wants
    anything there. None: the rule does not apply to an empty seat, since it looks at another seat too, at nothing of
    the engine, at an amount, or at codes that all say the engine wants nothing and are more than heard.
    """
    theirs = [engine.get(feature) for seat, feature in rule.operands if seat == ENGINE]
    if rule.type not in CODES or len(set(rule.seats) - {ENGINE}) != 1 or not theirs:
        return None
    recorded = [side for side in theirs if side is not None and side.alternatives]
    if not all(a.codes for side in recorded for a in side.alternatives):
        return None
    if len(recorded) == len(theirs) and all(side.settles and _wants(side) is False for side in recorded):
        return None
    return [_certain_want(engine.get(feature)) if seat == ENGINE else NOTHING for seat, feature in rule.operands]


def _wants(side: Fact | None) -> bool | None:
    """Whether a code other than `none` is on record; None when the claims do not agree about that."""
    said = {any(_plain(code) != "none" for code in a.codes) for a in side.alternatives} if side is not None else set()
    return said.pop() if len(said) == 1 else None


def _certain_want(side: Fact | None) -> Fact | None:
    """The engine's side, not known where claims do not agree whether it wants anything."""
    if side is None or not side.alternatives or _wants(side) is not None:
        return side
    return Fact(side.subject, side.feature, "unknown", why=_unsure(side))


def _unsure(side: Fact) -> str:
    return say("disputed whether the engine wants it: {claims}", claims=fact_text(side))


def set_name(rule: Rule) -> str:
    """The accepted set of a rule; the set named as the rule when the rule names none."""
    return rule.set or rule.name


def decide(rule: Rule, sides: Sequence[Fact | None], pairs: Pairs = frozenset()) -> tuple[Verdict, int | None]:
    """The bare verdict and margin of `rule` for the facts of its operands, in the order of `rule.operands`.

    The margin is in quanta, from the worst case to the nearer limit, negative outside; None without a number.
    """
    return (Verdict.UNKNOWN, None) if flaw(rule, pairs) else _decided(rule, sides, pairs)


def _decided(rule: Rule, sides: Sequence[Fact | None], pairs: Pairs) -> tuple[Verdict, int | None]:
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
            least, most = _turned_back(least, most)
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
        reached = {frozenset(_turned_back(a, b) for a, b in rivals) for rivals in reached}
        least, most = min(a for r in reached for a, _ in r), max(b for r in reached for _, b in r)
    room = ([] if low is None else [least - low]) + ([] if high is None else [high - most])
    if min(room) >= 0:
        return Verdict.YES, min(room)
    holds_somehow = all(any(_can_hold(low, high, a, b) for a, b in rivals) for rivals in reached)
    return Verdict.UNKNOWN if holds_somehow else Verdict.NO, min(room)


def _turned_back(least: int, most: int) -> tuple[int, int]:
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
    return frozenset((_plain(a), _plain(b)) for a, b in pairs)


def _agree(rule: Rule, left: tuple[str, ...], right: tuple[str, ...], allowed: Pairs) -> bool | None:
    """None: a thread is written without the pitch or the series that the other states."""
    if rule.type in ("accepted", "control"):
        return any((_plain(a), _plain(b)) in allowed for a, b in product(left, right))
    if rule.type == "thread":
        if len(left) == len(right) == 1:
            return same_thread(left[0], right[0])
        return {designation(a) for a in left} == {designation(b) for b in right}
    return {_plain(a) for a in left} == {_plain(b) for b in right}


def judge(
    rule: Rule,
    facts: Facts,
    *,
    accepted: Accepted,
    features: Mapping[str, Feature],
    parts: Mapping[str, str],
    empty: frozenset[str] = frozenset(),
    may_be_empty: frozenset[str] = frozenset(),
    spoken: Mapping[str, str] | None = None,
) -> RuleVerdict | None:
    """The rule with its verdict, both values, the margin, the reason and what is missing.

    `parts` says which part (or engine) key fills a seat, `empty` which seats are empty, `spoken` how seats and
    features are called. None: the rule touches a seat that is empty and may be, so it does not apply.
    """
    if any(seat in empty and seat in may_be_empty for seat in rule.seats):
        return None
    words = {**{name: f.label for name, f in features.items()}, **(spoken or {})}
    sides = [None if seat in empty else facts.get((seat, feature)) for seat, feature in rule.operands]
    operands = tuple(
        operand_of(seat, feature, parts.get(seat, ""), fact)
        for (seat, feature), fact in zip(rule.operands, sides, strict=True)
    )
    return Ruling(rule, accepted, words).judged(sides, operands, features=features, parts=parts, empty=empty)


class Ruling:
    """A rule made ready to be judged again and again: what it admits, what it asks for, how its sides are called."""

    __slots__ = ("_asks", "_flaw", "_names", "_pairs", "_words", "rule")

    def __init__(self, rule: Rule, accepted: Accepted, words: Mapping[str, str]) -> None:
        self.rule = rule
        coded = rule.type in ("accepted", "control")
        self._pairs: Pairs = accepted.get(set_name(rule), frozenset()) if coded else frozenset()
        self._flaw = flaw(rule, self._pairs)
        self._words = words
        self._names = tuple(operand_name(seat, feature, words) for seat, feature in rule.operands)
        self._asks: dict[str, str] = {}

    def judged(
        self,
        sides: Sequence[Fact | None],
        operands: tuple[Operand, ...],
        *,
        features: Mapping[str, Feature],
        parts: Mapping[str, str],
        empty: frozenset[str],
    ) -> RuleVerdict:
        """The verdict where the rule applies; `sides` and `operands` are its facts in order."""
        rule = self.rule
        verdict, margin = (Verdict.UNKNOWN, None) if self._flaw else _decided(rule, sides, self._pairs)
        quantity = next((f.quantity for f in sides if f is not None and f.quantity), "")
        missing: tuple[Missing, ...] = ()
        if verdict is Verdict.UNKNOWN:
            missing = _missing(
                rule, sides, self._flaw, features=features, parts=parts, empty=empty, words=self._words
            )
        return RuleVerdict(
            joint=rule.joint,
            rule=rule.name,
            type=rule.type,
            verdict=verdict,
            operands=operands,
            min=rule.min,
            max=rule.max,
            quantity=quantity,
            margin=margin,
            reason=self._reason(sides, operands, verdict, missing, quantity),
            safety=rule.safety,
            missing=missing,
            said=rule.said,
        )

    def _reason(
        self,
        sides: Sequence[Fact | None],
        operands: tuple[Operand, ...],
        verdict: Verdict,
        missing: Sequence[Missing],
        quantity: str,
    ) -> str:
        """One plain sentence with the values, the limit, and what follows."""
        first, *others = [joined(" ", (name, one.shown)) for name, one in zip(self._names, operands, strict=True)]
        values = against((first, joined(" + ", others))) if others else first
        if verdict is Verdict.UNKNOWN:
            gaps = dict.fromkeys(joined(": ", (operand_name(m.seat, m.feature, self._words), m.why)) for m in missing)
            return say("{values}: not known ({gaps}).", values=values, gaps=joined("; ", gaps))
        asks = self._asks.get(quantity)
        if asks is None:
            asks = self._asks[quantity] = wanted(self.rule, set_name(self.rule), quantity, self._words)
        measured = quantity and any(one.low is not None for one in operands)
        apart = _difference(self.rule, sides, quantity) if measured else ""
        return say(
            "{values}; {asks}: {verdict}.",
            values=joined(", ", filter(None, (values, apart))),
            asks=asks,
            verdict=VERDICTS[verdict],
        )


def operand_of(seat: str, feature: str, part: str, fact: Fact | None) -> Operand:
    """A fact as one side of a rule."""
    if fact is None:
        return Operand(seat, feature, part, "unknown", shown=fact_text(None))
    return Operand(
        seat=seat,
        feature=feature,
        part=part,
        status=fact.status,
        low=fact.low,
        high=fact.high,
        quantity=fact.quantity,
        codes=tuple(sorted({code for a in fact.alternatives for code in a.codes})),
        shown=fact_text(fact),
        claims=tuple(sorted({claim for a in fact.alternatives for claim in a.claims})),
    )


def _missing(
    rule: Rule,
    sides: Sequence[Fact | None],
    fault: str,
    *,
    features: Mapping[str, Feature],
    parts: Mapping[str, str],
    empty: frozenset[str],
    words: Mapping[str, str],
) -> tuple[Missing, ...]:
    """The facts without which the rule stays open, each with the look or measurement that settles it."""
    out: dict[tuple[str, str], Missing] = {}

    def name(seat: str, feature: str, why: str, measure: str) -> None:
        out.setdefault((seat, feature), Missing(seat, feature, parts.get(seat, ""), why, measure))

    operands = list(zip(rule.operands, sides, strict=True))
    for (seat, feature), fact in operands:
        measure = rule.measure or how_to_settle(seat, features.get(feature), feature, words)
        if seat in empty:
            called = words.get(seat) or in_words(seat)
            settles = say("say which part sits in the {seat}", seat=called)
            name(seat, feature, say("the seat is empty and must be filled"), settles)
        elif fact is None or not fact.settles:
            name(seat, feature, _why_open(fact), measure)
    if fault:
        called = words.get(rule.joint) or in_words(rule.joint)
        limit = in_words(rule.name)
        settles = say("put the limit of {rule} ({joint}) on record, with who states it", rule=limit, joint=called)
        name(*rule.left, fault, settles)
    if out:
        return tuple(out.values())
    for (seat, feature), fact in operands:
        assert fact is not None
        measure = rule.measure or how_to_settle(seat, features.get(feature), feature, words)
        if fact.status == "disputed":
            name(seat, feature, fact.why or say("disputed"), measure)
        elif any(a.low != a.high for a in fact.alternatives):
            name(seat, feature, joined(": ", (NOT_CLOSE_ENOUGH, fact_text(fact))), measure)
    if not out:
        threads = rule.type == "thread" and all(a.codes for fact in sides if fact for a in fact.alternatives)
        why = joined(": ", (UNSAID if threads else UNCOMPARED, against(fact_text(fact) for fact in sides)))
        for (seat, feature), _ in operands:
            name(seat, feature, why, rule.measure or how_to_settle(seat, features.get(feature), feature, words))
    return tuple(out.values())


def _why_open(fact: Fact | None) -> str:
    if fact is None:
        return NO_CLAIM
    return fact.why or (ONLY_HEARD if fact.status == "heard" else NO_CLAIM)


def how_to_settle(seat: str, feature: Feature | None, name: str, words: Mapping[str, str]) -> str:
    """The look or measurement that settles a feature, from where it can be seen."""
    called = feature.label if feature is not None else words.get(name, name)
    at = say("the engine's side") if seat == ENGINE else say("the {seat}", seat=words.get(seat) or in_words(seat))
    if feature is not None and feature.type in ("code", "set", "text"):
        settles = say("look up {feature} on {place}", feature=called, place=at)
    else:
        settles = say("measure {feature} on {place}", feature=called, place=at)
    look = feature.look if feature is not None else ""
    if look == "outside":
        return say("{measure}, seen from outside", measure=settles)
    if look == "stripped":
        return say("{measure}, once stripped", measure=settles)
    return say("{measure}, with a gauge", measure=settles) if look == "gauge" else settles


def _difference(rule: Rule, sides: Sequence[Fact | None], quantity: str) -> str:
    if not rule.right:
        return ""
    low = high = 0
    for sign, fact in zip(signs(rule), sides, strict=True):
        assert fact is not None and fact.low is not None and fact.high is not None
        low += fact.low if sign > 0 else -fact.high
        high += fact.high if sign > 0 else -fact.low
    if rule.type == "same" and quantity == "angle":
        low, high = _turned_back(low, high)
    apart = span(low, high, quantity, difference=True)
    if rule.type == "clearance":
        return say("clearance {size}", size=apart)
    if rule.type == "interference":
        return say("interference {size}", size=apart)
    return say("left over {size}", size=apart) if rule.type == "stack" else say("difference {size}", size=apart)
