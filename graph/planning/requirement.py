"""What a choice must satisfy: a fit rule of the layout or a demand of the build, judged alike.

Rule 1: rules are judged by `graph.rules.judge`; this module adds demands and the sizes that a cut may have.
Rule 2: nothing is relaxed here; what is not known is said to be so, and the caller decides how to take it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from graph.model.fact import Alternative, Fact
from graph.model.record import Demand, Rule
from graph.model.value import Amount, Code, CodeSet, spelled_code
from graph.model.verdict import Verdict, worst
from graph.rules.decide import Pairs, decide, flaw, signs, window

FAR = 1 << 44
"""Further than any size; an end beyond it is open."""

Span = tuple[int, int]
Spans = tuple[Span, ...]
EVERYWHERE: Spans = ((-FAR, FAR),)
NOWHERE: Spans = ()

EXACT = ("same", "one_of")
"""Demands that a size meets only by being the one that is asked for."""

NUMBER_DEMANDS = {"at_least": "at_least", "at_most": "at_most", "between": "stack"}


@dataclass(frozen=True, slots=True, eq=False)
class Requirement:
    """One rule, or one demand on a feature, over the facts of its operands in order."""

    name: str
    operands: tuple[tuple[str, str], ...]
    rule: Rule | None = None  # for a demand on an amount: the rule that says the same
    pairs: Pairs = frozenset()
    demand: Demand | None = None
    seats: tuple[str, ...] = field(init=False)  # those it looks at, each once, in order

    def __post_init__(self) -> None:
        object.__setattr__(self, "seats", tuple(dict.fromkeys(seat for seat, _ in self.operands)))

    def verdict(self, facts: Sequence[Fact | None]) -> Verdict:
        """Fits, does not fit or not known, for facts in the operands' order."""
        if self.demand is None:
            assert self.rule is not None
            return decide(self.rule, facts, self.pairs)[0]
        return met(self.demand, self.rule, facts[0])

    def sums(self, facts: Sequence[Fact | None], cut: Mapping[int, int], quantity: str, certain: bool) -> Spans:
        """Where the signed sum of the cut operands' sizes may lie; `cut` maps an operand's place to its capability.

        Certain: the rule then holds for every value; possible: for some. `facts` of cut places are not looked at.
        """
        unknown = NOWHERE if certain else EVERYWHERE
        rule = self.rule
        if rule is None or flaw(rule, self.pairs) or rule.type in ("thread", "accepted", "control"):
            return unknown
        low, high = window(rule)
        rivals: set[frozenset[Span]] = {frozenset({(0, 0)})}
        for place, (sign, fact) in enumerate(zip(signs(rule), facts, strict=True)):
            if place in cut:
                continue
            if fact is None or not fact.settles or fact.quantity != quantity or fact.low is None:
                return unknown
            rivals = {
                frozenset((a + c, b + d) for a, b in before for c, d in after)
                for before in rivals
                for after in _by_position(sign, fact)
            }
        exact = self.demand is not None and self.demand.type in EXACT
        slack = 0 if exact else sum(cut.values())
        floor = -FAR if low is None else low
        ceiling = FAR if high is None else high
        if floor > ceiling:
            return NOWHERE
        if certain:
            least = min(a for each in rivals for a, _ in each)
            most = max(b for each in rivals for _, b in each)
            return clean([(floor - least + slack, ceiling - most - slack)])
        spans = EVERYWHERE
        for each in rivals:
            spans = meet(spans, clean([(floor - b - slack, ceiling - a + slack) for a, b in each]))
        return spans

    def sizes(self, facts: Sequence[Fact | None], place: int, capability: int, quantity: str, certain: bool) -> Spans:
        """Where the size of the one cut operand may lie."""
        spans = self.sums(facts, {place: capability}, quantity, certain)
        if self.rule is None or not spans or spans is EVERYWHERE or signs(self.rule)[place] > 0:
            return spans
        return tuple((-high, -low) for low, high in reversed(spans))


def clean(spans: Sequence[Span]) -> Spans:
    """The spans in order, without empty ones, those that touch made one."""
    out: list[Span] = []
    for low, high in sorted(s for s in spans if s[0] <= s[1]):
        if out and low <= out[-1][1] + 1:
            out[-1] = (out[-1][0], max(out[-1][1], high))
        else:
            out.append((low, high))
    return tuple(out)


def meet(one: Spans, other: Spans) -> Spans:
    """What lies in both."""
    if one is EVERYWHERE:
        return other
    if other is EVERYWHERE:
        return one
    return tuple((max(a, c), min(b, d)) for a, b in one for c, d in other if max(a, c) <= min(b, d))


def _by_position(sign: int, fact: Fact) -> list[frozenset[Span]]:
    """The rival intervals at each position, with the sign under which they enter."""
    places: dict[str, set[Span]] = {}
    for a in fact.alternatives:
        assert a.low is not None and a.high is not None
        places.setdefault(a.position, set()).add((a.low, a.high) if sign > 0 else (-a.high, -a.low))
    return [frozenset(spans) for spans in places.values()]


def of_rule(rule: Rule, pairs: Pairs) -> Requirement:
    """A fit rule as a requirement."""
    return Requirement(f"rule {rule.joint}/{rule.name}", rule.operands, rule, pairs)


def of_demand(demand: Demand) -> Requirement:
    """A demand on a feature as a requirement; `keep` is no requirement on facts and is not asked here."""
    operand = (demand.seat, demand.feature)
    rule = None
    value = demand.value
    if isinstance(value, Amount):
        kind = NUMBER_DEMANDS.get(demand.type)
        low, high = value.amount, value.amount
        if demand.type == "at_least":
            rule = Rule("", "demand", "at_least", operand, min=low, said=demand.said)
        elif demand.type == "at_most":
            rule = Rule("", "demand", "at_most", operand, max=high, said=demand.said)
        elif demand.type in EXACT or (kind and demand.value_to is not None):
            end = low if demand.type in EXACT or demand.value_to is None else demand.value_to
            rule = Rule("", "demand", "stack", operand, min=low, max=end, said=demand.said)
    return Requirement(f"demand {demand.seat}/{demand.feature} {demand.type}", (operand,), rule, demand=demand)


def met(demand: Demand, rule: Rule | None, fact: Fact | None) -> Verdict:
    """Whether the fact meets the demand (docs/semantics.md, section 4)."""
    value = demand.value
    if fact is None or not fact.settles or value is None:
        return Verdict.UNKNOWN
    if isinstance(value, Amount):
        if fact.quantity != value.quantity or rule is None or fact.low is None:
            return Verdict.UNKNOWN
        if demand.type not in EXACT:
            return decide(rule, (fact,))[0]
        return _held(fact, lambda a: a.low is not None and a.high is not None and a.low <= value.amount <= a.high)
    if fact.low is not None or demand.type not in ("same", "one_of"):
        return Verdict.UNKNOWN
    wanted = codes_of(value)
    if demand.type == "same":
        return _held(fact, lambda a: {spelled_code(c) for c in a.codes} == wanted)
    return _held(fact, lambda a: {spelled_code(c) for c in a.codes} <= wanted)


def _held(fact: Fact, holds: Callable[[Alternative], bool]) -> Verdict:
    places: dict[str, set[bool]] = {}
    for a in fact.alternatives:
        places.setdefault(a.position, set()).add(holds(a))
    return worst(
        [
            Verdict.UNKNOWN if len(said) == 2 else Verdict.YES if True in said else Verdict.NO
            for said in places.values()
        ]
    )


def codes_of(value: Code | CodeSet) -> set[str]:
    """The codes of a value in their one spelling."""
    return {spelled_code(c) for c in (value.codes if isinstance(value, CodeSet) else (value.code,))}
