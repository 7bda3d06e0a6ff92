"""Rules and demands, judged on facts (docs/semantics.md, sections 2 and 4)."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from graph.model.fact import Alternative, Fact
from graph.model.record import Demand, Rule
from graph.model.value import Amount, spelled_code
from graph.model.verdict import Verdict, worst
from graph.planning.check.case import Case
from graph.planning.check.facts import value_codes
from graph.planning.check.threads import agree, spelled

HALF_TURN = 180 * 3_600_000_000  # quanta of an angle


@dataclass(frozen=True, slots=True)
class Span:
    """low <= sum of signs × operands <= high; None is open."""

    signs: tuple[int, ...]
    low: int | None
    high: int | None


def span(rule: Rule) -> Span | None:
    """The rule as one sum that must lie between two ends; None when a limit is missing or it is not such a rule."""
    one = len(rule.right) == 1
    if rule.type == "clearance" and one:
        return _unless_open(Span((1, -1), rule.min, rule.max))
    if rule.type == "interference" and one:
        return _unless_open(Span((-1, 1), rule.min, rule.max))
    if rule.type == "stack":
        return _unless_open(Span((1, *(-1 for _ in rule.right)), rule.min, rule.max))
    if rule.type == "at_most":
        return Span((-1, 1), rule.min or 0, None) if one else _alone(rule, Span((1,), None, rule.max))
    if rule.type == "at_least":
        return Span((1, -1), rule.min or 0, None) if one else _alone(rule, Span((1,), rule.min, None))
    if rule.type == "same" and one:
        return Span((1, -1), -(rule.max or 0), rule.max or 0)
    return None


def _unless_open(made: Span) -> Span | None:
    return None if made.low is None and made.high is None else made


def _alone(rule: Rule, made: Span) -> Span | None:
    return None if rule.right else _unless_open(made)


def is_amounts(facts: Sequence[Fact]) -> bool:
    """Whether every alternative of every fact is an amount, all of one quantity."""
    return all(a.low is not None and a.high is not None for f in facts for a in f.alternatives) and (
        len({f.quantity for f in facts}) == 1
    )


def judged(case: Case, rule: Rule, facts: Sequence[Fact]) -> tuple[Verdict, int | None]:
    """The rule's verdict on its operands' facts (in `rule.operands` order), with the margin of a number rule.

    A part read at several places has all of these values: the rule must hold at each place. Claims that
    dispute one place are alternatives: all must hold for a yes, none for a no.
    """
    if not all(f.settles for f in facts):
        return Verdict.UNKNOWN, None
    if rule.type in ("thread", "accepted", "control") or (rule.type == "same" and _is_codes(facts)):
        return _judged_codes(case, rule, facts), None
    ends = span(rule)
    if ends is None or not is_amounts(facts):
        return Verdict.UNKNOWN, None
    verdicts: list[Verdict] = []
    margins: list[int] = []
    for places in _by_place(facts):
        holds: list[tuple[bool, bool]] = []  # (for every value, for some value) of each set of alternatives
        for chosen in product(*places):
            low, high = sum_of(ends.signs, chosen)
            if rule.type == "same" and facts[0].quantity == "angle":
                low, high = _less_turns(low, high)
            margins += [low - ends.low] if ends.low is not None else []
            margins += [ends.high - high] if ends.high is not None else []
            holds.append((_inside(low, high, ends), _touches(low, high, ends)))
        verdicts.append(_said(holds))
    return worst(verdicts), min(margins, default=None)


def _less_turns(low: int, high: int) -> tuple[int, int]:
    """The difference of two angles with its middle between half a turn below and above nothing."""
    middle = (low + high) // 2
    shift = (middle + HALF_TURN) % (2 * HALF_TURN) - HALF_TURN - middle
    return low + shift, high + shift


def sum_of(signs: Sequence[int], chosen: Sequence[Alternative]) -> tuple[int, int]:
    """The least and greatest value of the signed sum of intervals."""
    low = high = 0
    for sign, alternative in zip(signs, chosen, strict=True):
        assert alternative.low is not None
        assert alternative.high is not None
        low += alternative.low if sign > 0 else -alternative.high
        high += alternative.high if sign > 0 else -alternative.low
    return low, high


def _inside(low: int, high: int, ends: Span) -> bool:
    return (ends.low is None or low >= ends.low) and (ends.high is None or high <= ends.high)


def _touches(low: int, high: int, ends: Span) -> bool:
    start = low if ends.low is None else max(low, ends.low)
    return start <= (high if ends.high is None else min(high, ends.high))


def _said(holds: Sequence[tuple[bool, bool]]) -> Verdict:
    if all(every for every, _ in holds):
        return Verdict.YES
    return Verdict.UNKNOWN if any(some for _, some in holds) else Verdict.NO


def _by_place(facts: Sequence[Fact]) -> list[tuple[list[Alternative], ...]]:
    """One entry for each choice of a place of every operand: the alternatives there."""
    places = []
    for fact in facts:
        names = sorted({a.position for a in fact.alternatives})
        places.append([[a for a in fact.alternatives if a.position == name] for name in names])
    return list(product(*places))


def _is_codes(facts: Sequence[Fact]) -> bool:
    return all(a.codes for f in facts for a in f.alternatives)


def _judged_codes(case: Case, rule: Rule, facts: Sequence[Fact]) -> Verdict:
    if len(facts) != 2 or not _is_codes(facts):
        return Verdict.UNKNOWN
    pairs = case.codes(rule)
    if rule.type in ("accepted", "control") and not pairs:
        return Verdict.UNKNOWN
    verdicts = []
    for left, right in _by_place(facts):
        holds = []
        for a, b in product(left, right):
            if rule.type == "thread" and len(a.codes) == len(b.codes) == 1:
                same = agree(a.codes[0], b.codes[0])
                holds.append((same is True, same is not False))
                continue
            if rule.type == "thread":
                held = {spelled(c) for c in a.codes} == {spelled(c) for c in b.codes}
            elif rule.type == "same":
                held = {spelled_code(c) for c in a.codes} == {spelled_code(c) for c in b.codes}
            else:
                held = any((spelled_code(x), spelled_code(y)) in pairs for x in a.codes for y in b.codes)
            holds.append((held, held))
        verdicts.append(_said(holds))
    return worst(verdicts)


def demand_met(demand: Demand, fact: Fact) -> Verdict:
    """What the final fact says of a demand on a feature (all but `keep`)."""
    if not fact.settles or demand.value is None:
        return Verdict.UNKNOWN
    if not isinstance(demand.value, Amount):
        return _demand_codes(demand, fact)
    if not is_amounts([fact]) or fact.quantity != demand.value.quantity:
        return Verdict.UNKNOWN
    wanted = demand.value.amount
    if demand.type in ("same", "one_of"):
        return _demand_same(wanted, fact)
    if demand.type == "between" and demand.value_to is None:
        return Verdict.UNKNOWN
    ends = Span(
        (1,),
        wanted if demand.type in ("at_least", "between") else None,
        wanted if demand.type == "at_most" else demand.value_to if demand.type == "between" else None,
    )
    return inside(fact, ends)


def inside(fact: Fact, ends: Span) -> Verdict:
    """Whether an amount lies between two ends: all of it, none of it, or not known."""
    if not fact.settles or not is_amounts([fact]):
        return Verdict.UNKNOWN
    verdicts = []
    for (here,) in _by_place([fact]):
        sums = [sum_of((1,), (a,)) for a in here]
        verdicts.append(_said([(_inside(low, high, ends), _touches(low, high, ends)) for low, high in sums]))
    return worst(verdicts)


def _demand_same(wanted: int, fact: Fact) -> Verdict:
    """As it is: the wanted value lies within the tolerance. Machined: the target is the wanted value."""
    verdicts = []
    for (here,) in _by_place([fact]):
        holds = []
        for a in here:
            assert a.low is not None
            assert a.high is not None
            machined = fact.status == "machined"
            held = a.low + a.high == 2 * wanted if machined else a.low <= wanted <= a.high
            holds.append((held, held))
        verdicts.append(_said(holds))
    return worst(verdicts)


def _demand_codes(demand: Demand, fact: Fact) -> Verdict:
    assert demand.value is not None
    if not _is_codes([fact]) or demand.type not in ("same", "one_of"):
        return Verdict.UNKNOWN
    wanted = {spelled_code(c) for c in value_codes(demand.value)}
    verdicts = []
    for (here,) in _by_place([fact]):
        holds = []
        for a in here:
            codes = {spelled_code(c) for c in a.codes}
            held = codes == wanted if demand.type == "same" else codes <= wanted
            holds.append((held, held))
        verdicts.append(_said(holds))
    return worst(verdicts)
