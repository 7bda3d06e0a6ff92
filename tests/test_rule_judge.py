"""The judge against enumeration: every world that the facts allow is tried, one by one."""

import random
from dataclasses import dataclass
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from graph.model.fact import Alternative, Fact
from graph.model.record import Feature, Rule
from graph.model.value import spelled_code
from graph.model.verdict import RuleVerdict, Verdict
from graph.planning.check.rules import judged
from graph.rules.decide import decide, spelled_thread
from graph.rules.judge import judge

NUMBER_KINDS = ("clearance", "interference", "at_most", "at_least", "stack", "same")
CODE_KINDS = ("same", "thread", "accepted", "control")
CODES = ("a", "b", "none", "M12 x 1,25", "m12x1.25", "m12x1.25-lh")


def holds(rule: Rule, values: tuple[int, ...]) -> bool:
    """The arithmetic of graph/model/record.py, `Rule`, written once more and for single numbers only."""
    left, right = values[0], values[1:]
    match rule.type:
        case "same":
            return abs(left - right[0]) <= (rule.max or 0)
        case "clearance":
            return (rule.min is None or rule.min <= left - right[0]) and (
                rule.max is None or left - right[0] <= rule.max
            )
        case "interference":
            return (rule.min is None or rule.min <= right[0] - left) and (
                rule.max is None or right[0] - left <= rule.max
            )
        case "at_most":
            return left <= right[0] - (rule.min or 0) if right else left <= (rule.max if rule.max is not None else 0)
        case "at_least":
            return left >= right[0] + (rule.min or 0) if right else left >= (rule.min if rule.min is not None else 0)
        case "stack":
            over = left - sum(right)
            return (rule.min is None or rule.min <= over) and (rule.max is None or over <= rule.max)
    raise AssertionError(rule.type)


def codes_hold(rule: Rule, left: tuple[str, ...], right: tuple[str, ...], pairs: frozenset[tuple[str, str]]) -> bool:
    if rule.type in ("accepted", "control"):
        return any((spelled_code(a), spelled_code(b)) in pairs for a in left for b in right)
    if rule.type == "thread":
        # docs/semantics.md section 2: no spaces, decimal comma as point, upper case.
        left = tuple(a.replace(" ", "").replace(",", ".").upper() for a in left)
        right = tuple(a.replace(" ", "").replace(",", ".").upper() for a in right)
    return set(left) == set(right)


def places(fact: Fact) -> list[list[object]]:
    """What the part can be at each position: of every rival every whole number of its interval, or its codes."""
    out: dict[str, list[object]] = {}
    for a in fact.alternatives:
        said = range(a.low, a.high + 1) if a.low is not None and a.high is not None else [a.codes]
        out.setdefault(a.position, []).extend(said)
    return list(out.values())


def enumerated(rule: Rule, facts: list[Fact], pairs: frozenset[tuple[str, str]]) -> Verdict:
    """At each choice of positions every value is tried; the rule must hold at each of them."""
    said = []
    for chosen in product(*(places(fact) for fact in facts)):
        if facts[0].alternatives[0].codes:
            seen = {codes_hold(rule, a, b, pairs) for a, b in product(*chosen)}
        else:
            seen = {holds(rule, values) for values in product(*chosen)}
        said.append({(True,): Verdict.YES, (False,): Verdict.NO}.get(tuple(seen), Verdict.UNKNOWN))
    return min(said, key=[Verdict.NO, Verdict.UNKNOWN, Verdict.YES].index)


def a_fact(draw: random.Random, make: object, most: int) -> Fact:
    places = draw.choice([[""], [""], [""], ["front", "rear"]])
    alternatives = []
    for place in places:
        for _ in range(draw.choice([1, 1, 2])):
            alternatives.append(make(place))  # type: ignore[operator]
    return Fact("part/x", "f", "known", "length", tuple(alternatives[:most]))


def a_number_case(draw: random.Random) -> tuple[Rule, list[Fact]]:
    kind = draw.choice(NUMBER_KINDS)
    rights = draw.choice([1, 2]) if kind == "stack" else draw.choice([0, 1]) if kind.startswith("at_") else 1
    low = draw.choice([None, draw.randint(-3, 3)])
    high = draw.choice([None, draw.randint(-3, 4)])
    if kind == "same":
        low, high = None, draw.choice([None, 0, 1, 2])
    rule = Rule("j", "r", kind, ("l", "f"), tuple((f"r{i}", "f") for i in range(rights)), low, high)

    def make(place: str) -> Alternative:
        start = draw.randint(0, 6)
        return Alternative(start, start + draw.choice([0, 0, 1, 2]), position=place)

    return rule, [a_fact(draw, make, 4 if rights < 2 else 2) for _ in range(1 + rights)]


def a_code_case(draw: random.Random) -> tuple[Rule, list[Fact], frozenset[tuple[str, str]]]:
    kind = draw.choice(CODE_KINDS)
    rule = Rule("j", "r", kind, ("l", "f"), (("r", "f"),), set="s")
    few = draw.choice([CODES, CODES[:2], CODES[3:]])

    def make(place: str) -> Alternative:
        return Alternative(codes=tuple(sorted(draw.sample(few, draw.choice([1, 1, 2])))), position=place)

    pairs = frozenset(
        (spelled_code(draw.choice(few)), spelled_code(draw.choice(few))) for _ in range(draw.randint(1, 5))
    )
    return rule, [a_fact(draw, make, 4) for _ in range(2)], pairs


def test_a_number_rule_is_judged_as_trying_every_value_judges_it() -> None:
    draw = random.Random(20)
    seen: dict[tuple[str, Verdict], int] = {}
    for _ in range(6000):
        rule, facts = a_number_case(draw)
        no_limit = (
            rule.min is None and rule.max is None and rule.type in ("clearance", "interference", "stack")
        ) or (
            not rule.right
            and ((rule.type == "at_most" and rule.max is None) or rule.min is None)
            and not (rule.type == "at_most" and rule.max is not None)
        )
        expected = Verdict.UNKNOWN if no_limit else enumerated(rule, facts, frozenset())
        verdict, margin = decide(rule, facts)
        assert verdict is expected, (rule, facts)
        if margin is not None:
            assert (margin >= 0) == (verdict is Verdict.YES), (rule, facts, margin)
        seen[rule.type, verdict] = seen.get((rule.type, verdict), 0) + 1
    # Every kind was seen with every verdict, or the test proves less than it says.
    assert {k for k, _ in seen} == set(NUMBER_KINDS)
    assert all(seen.get((k, v), 0) > 20 for k in NUMBER_KINDS for v in (Verdict.YES, Verdict.NO, Verdict.UNKNOWN))


def test_a_code_rule_is_judged_as_trying_every_pair_judges_it() -> None:
    draw = random.Random(21)
    seen: dict[tuple[str, Verdict], int] = {}
    for _ in range(4000):
        rule, facts, pairs = a_code_case(draw)
        verdict, margin = decide(rule, facts, pairs)
        assert verdict is enumerated(rule, facts, pairs), (rule, facts, pairs)
        assert margin is None
        seen[rule.type, verdict] = seen.get((rule.type, verdict), 0) + 1
    assert all(seen.get((k, v), 0) > 20 for k in CODE_KINDS for v in (Verdict.YES, Verdict.NO, Verdict.UNKNOWN))


def test_the_checker_s_own_judge_says_the_same() -> None:
    # graph.planning.check shares no code with graph.rules.
    draw = random.Random(22)
    for _ in range(3000):
        rule, facts = a_number_case(draw)
        assert decide(rule, facts) == judged(Pairs({}), rule, facts), (rule, facts)  # type: ignore[arg-type]
        coded, sides, pairs = a_code_case(draw)
        assert decide(coded, sides, pairs) == judged(Pairs({"s": pairs}), coded, sides)  # type: ignore[arg-type]


@dataclass
class Pairs:
    """As much of the checker's case as its judge looks at."""

    pairs: dict[str, frozenset[tuple[str, str]]]

    def codes(self, rule: Rule) -> frozenset[tuple[str, str]]:
        """The pairs of codes, spelled, that the rule accepts."""
        said = self.pairs.get(rule.set or rule.name, frozenset())
        return frozenset((spelled_code(a), spelled_code(b)) for a, b in said)


@given(st.randoms(use_true_random=False), st.sampled_from([None, "unknown", "heard"]))
@settings(max_examples=200, deadline=None)
def test_a_fact_that_settles_nothing_leaves_every_rule_open_and_is_named(draw: random.Random, status: str) -> None:
    rule, facts = a_number_case(draw)
    at = draw.randrange(len(facts))
    sides = {rule.operands[i]: f for i, f in enumerate(facts)}
    old = facts[at]
    sides[rule.operands[at]] = None if status is None else Fact("part/x", "f", status, "length", old.alternatives)  # type: ignore[arg-type]
    verdict = asked(rule, sides)
    assert verdict.verdict is Verdict.UNKNOWN
    assert rule.operands[at] in {(m.seat, m.feature) for m in verdict.missing}
    assert all(m.measure and m.why for m in verdict.missing)


def asked(rule: Rule, facts: dict[tuple[str, str], Fact | None], **more: object) -> RuleVerdict:
    answer = judge(
        rule,
        facts,
        accepted={"s": frozenset({("vacuum", "vacuum")})},
        features={"f": Feature("f", "bore", "length", look="gauge")},
        parts={"l": "part/O/1", "r0": "part/O/2", "r": "part/O/3"},
        spoken={"l": "cover", "r0": "wheel"},
        **more,  # type: ignore[arg-type]
    )
    assert answer is not None
    return answer


def mm(low: float, high: float | None = None, **more: object) -> Fact:
    a, b = round(low * 10_000_000), round((low if high is None else high) * 10_000_000)
    return Fact("part/x", "f", "known", "length", (Alternative(a, b, **more),))  # type: ignore[arg-type]


CLEARANCE = Rule("contour", "gap", "clearance", ("l", "f"), (("r0", "f"),), 3_000_000, 5_000_000, safety=True)


def test_the_reason_says_both_values_the_clearance_and_the_limits_with_units() -> None:
    # 71.45 - 71.00 = 0.45 mm, by hand; 0.05 mm to the upper limit of 0.50 mm.
    fit = asked(CLEARANCE, {("l", "f"): mm(71.45), ("r0", "f"): mm(71.0)})
    assert fit.verdict is Verdict.YES
    assert fit.margin == 500_000
    assert fit.safety
    for said in ("cover bore 71.45 mm", "wheel bore 71 mm", "0.45 mm", "0.3 mm to 0.5 mm", "fits"):
        assert said in fit.reason


def test_a_tolerance_across_the_limit_is_not_known_and_asks_for_a_closer_measurement() -> None:
    open_rule = asked(CLEARANCE, {("l", "f"): mm(71.4, 71.6), ("r0", "f"): mm(71.0)})
    assert open_rule.verdict is Verdict.UNKNOWN
    assert [(m.seat, m.measure) for m in open_rule.missing] == [("l", "measure bore on the cover, with a gauge")]
    assert "not known closely enough" in open_rule.missing[0].why


def test_a_rule_that_may_not_apply_says_nothing_and_an_unfilled_seat_is_not_known() -> None:
    facts = {("l", "f"): mm(71.45), ("r0", "f"): mm(71.0)}
    kwargs: dict[str, object] = {"accepted": {}, "features": {}, "parts": {}}
    bare = judge(CLEARANCE, facts, empty=frozenset({"r0"}), may_be_empty=frozenset({"r0"}), **kwargs)  # type: ignore[arg-type]
    assert bare is None
    unfilled = judge(CLEARANCE, facts, empty=frozenset({"r0"}), **kwargs)  # type: ignore[arg-type]
    assert unfilled is not None and unfilled.verdict is Verdict.UNKNOWN
    assert [m.seat for m in unfilled.missing] == ["r0"]


@pytest.mark.parametrize(
    "rule",
    [
        Rule("j", "r", "clearance", ("l", "f"), (("r0", "f"),)),
        Rule("j", "r", "interference", ("l", "f"), (("r0", "f"),)),
        Rule("j", "r", "stack", ("l", "f"), (("r0", "f"),)),
        Rule("j", "r", "at_most", ("l", "f"), (), 3),
        Rule("j", "r", "at_least", ("l", "f"), (), None, 3),
        Rule("j", "r", "accepted", ("l", "f"), (("r0", "f"),), set="nothing"),
        Rule("j", "r", "at_most", ("l", "f"), (("r0", "f"), ("r", "f"))),
        Rule("j", "r", "guess", ("l", "f"), (("r0", "f"),)),
    ],
)
def test_a_missing_limit_is_never_a_pass(rule: Rule) -> None:
    open_rule = asked(rule, {("l", "f"): mm(1), ("r0", "f"): mm(1), ("r", "f"): mm(1)})
    assert open_rule.verdict is Verdict.UNKNOWN
    assert open_rule.missing and "on record" in open_rule.missing[0].measure


def test_a_number_is_never_compared_with_a_code_or_with_another_quantity() -> None:
    code = Fact("part/x", "f", "known", "", (Alternative(codes=("none",)),))
    kilo = Fact("part/x", "f", "known", "mass", (Alternative(710_000_000, 710_000_000),))
    for other in (code, kilo):
        open_rule = asked(CLEARANCE, {("l", "f"): mm(71.45), ("r0", "f"): other})
        assert open_rule.verdict is Verdict.UNKNOWN
        assert "cannot be compared" in open_rule.missing[0].why


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        # One designation written in several ways; a left hand is another thread (ISO 965-1 writes it `-LH`;
        # from memory).
        ("M12×1,25", "M12x1.25", True),
        ("m12 x 1.25", "M12X1.25", True),
        ("M12x1.25-LH", "M12x1.25", False),
        ("M12x1.25", "M12x1.5", False),
        ("none", "NONE", True),
    ],
)
def test_a_thread_is_the_same_however_it_is_written(one: str, other: str, same: bool) -> None:
    assert (spelled_thread(one) == spelled_thread(other)) is same
    sides = [Fact("p", "f", "known", "", (Alternative(codes=(text,)),)) for text in (one, other)]
    verdict, _ = decide(Rule("j", "r", "thread", ("l", "f"), (("r", "f"),)), sides)
    assert verdict is (Verdict.YES if same else Verdict.NO)
