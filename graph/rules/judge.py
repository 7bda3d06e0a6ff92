"""One fit rule, judged and put into words: the reason, what is missing and what settles it (docs/semantics.md, 2)."""

from collections.abc import Mapping, Sequence

from graph.model.fact import Alternative, Fact
from graph.model.record import Feature, Rule
from graph.model.said import joined, say
from graph.model.verdict import Missing, Operand, RuleVerdict, Verdict
from graph.rules.decide import CODES, Pairs, decided, flaw, plain_code, set_name, signs, turned_back
from graph.rules.facts import NO_CLAIM, ONLY_HEARD
from graph.rules.spoken import ENGINE, against, fact_text, in_words, operand_name, span, wanted

Accepted = Mapping[str, Pairs]
Facts = Mapping[tuple[str, str], Fact | None]

NOTHING = Fact("", "", "known", alternatives=(Alternative(codes=("none",), shown=say("none, the seat is empty")),))
"""What an empty seat has to offer the engine."""

NOT_CLOSE_ENOUGH = say("not known closely enough to decide")
UNSAID = say("a thread is written without its pitch or series")
UNCOMPARED = say("the values cannot be compared")
VERDICTS = {
    Verdict.YES: say("fits"),
    Verdict.WITH_WORK: say("fits with work"),
    Verdict.UNKNOWN: say("not known"),
    Verdict.NO: say("does not fit"),
}


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
    alternatives = () if side is None else side.alternatives
    said = {any(plain_code(code) != "none" for code in a.codes) for a in alternatives}
    return said.pop() if len(said) == 1 else None


def _certain_want(side: Fact | None) -> Fact | None:
    """The engine's side, not known where claims do not agree whether it wants anything."""
    if side is None or not side.alternatives or _wants(side) is not None:
        return side
    return Fact(side.subject, side.feature, "unknown", why=_unsure(side))


def _unsure(side: Fact) -> str:
    return say("disputed whether the engine wants it: {claims}", claims=fact_text(side))


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
        verdict, margin = (Verdict.UNKNOWN, None) if self._flaw else decided(rule, sides, self._pairs)
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
        low, high = turned_back(low, high)
    apart = span(low, high, quantity, difference=True)
    if rule.type == "clearance":
        return say("clearance {size}", size=apart)
    if rule.type == "interference":
        return say("interference {size}", size=apart)
    return say("left over {size}", size=apart) if rule.type == "stack" else say("difference {size}", size=apart)
