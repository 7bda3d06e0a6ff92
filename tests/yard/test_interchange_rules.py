"""The condition of each kind of rule, against every partner of a small domain judged one by one.

Witness: `graph.rules.judge.decide` on the single partner (which has tests and a second witness of its own), over all
partners that there are in the domain. The condition itself never looks at a partner.
"""

from collections import Counter
from itertools import product
from random import Random

import pytest

from graph.interchange.follows import keeps, no_worse
from graph.interchange.mend import reaches
from graph.model.fact import Alternative, Fact
from graph.model.interchange import Keeps
from graph.model.record import Operation, Rule
from graph.model.verdict import Verdict
from graph.rules.decide import decide

SIZES = range(0, 7)
FAR = range(-9, 17)


def size(low: int, high: int, *more: tuple[int, int]) -> Fact:
    rivals = ((low, high), *more)
    status = "disputed" if more else "known"
    return Fact("part/x", "f", status, "length", tuple(Alternative(a, b) for a, b in rivals))


def code(*rivals: tuple[str, ...]) -> Fact:
    status = "disputed" if len(rivals) > 1 else "known"
    return Fact("part/x", "f", status, "", tuple(Alternative(codes=r) for r in rivals))


PARTNERS = [size(a, b) for a in FAR for b in range(a, min(a + 5, FAR[-1]) + 1)]


def by_trying(rule: Rule, place: int, first: Fact, second: Fact, partners: list[Fact], pairs=frozenset()) -> Keeps:  # type: ignore[no-untyped-def]
    """What all partners together say: which keep it with the first, and of those which with the second."""

    def said(mine: Fact, partner: Fact) -> Verdict:
        sides = [partner, partner]
        sides[place] = mine
        return decide(rule, sides, pairs)[0]

    suiting = [p for p in partners if said(first, p) is Verdict.YES]
    if not suiting:
        return Keeps.IDLE
    verdicts = {said(second, p) for p in suiting}
    if verdicts == {Verdict.YES}:
        return Keeps.KEPT
    return Keeps.BROKEN if Verdict.NO in verdicts else Keeps.UNKNOWN


def draw_rule(r: Random, type_: str) -> Rule:
    low = r.choice([None, *range(-2, 3)])
    high = r.choice([None, (low or 0) + r.randint(0, 4)])
    if type_ == "same":
        low, high = None, r.choice([None, 0, 1, 2])
    return Rule("j", "r", type_, ("a", "f"), (("b", "g"),), low, high)


@pytest.mark.parametrize("type_", ["clearance", "interference", "at_most", "at_least", "same", "stack"])
def test_a_number_rule_is_followed_exactly_when_every_partner_says_so(type_: str) -> None:
    r = Random(f"numbers {type_}")
    seen: Counter[Keeps] = Counter()
    for _ in range(220):
        rule = draw_rule(r, type_)
        if type_ in ("clearance", "interference", "stack") and rule.min is None and rule.max is None:
            continue
        place = r.randint(0, 1)
        facts = []
        for _side in range(2):
            low = r.choice(SIZES)
            more = [(low + r.randint(-1, 2),) * 2] if r.random() < 0.15 else []
            facts.append(size(low, low + r.choice([0, 0, 1, 2]), *more))  # type: ignore[arg-type]
        if r.random() < 0.4:
            facts[1] = size(
                facts[0].low or 0, (facts[0].high or 0) + r.choice([-1, 0, 0, 1]) * (facts[0].high != facts[0].low)
            )
        found = keeps(rule, (place,), facts[:1], facts[1:])
        wanted = by_trying(rule, place, *facts, PARTNERS)
        seen[wanted] += 1
        if wanted is Keeps.BROKEN and found is Keeps.UNKNOWN:
            assert any(len(f.alternatives) > 1 for f in facts)  # rivals: the span of both is looked at, not each
        else:
            assert found is wanted, (rule, place, facts)
    assert seen[Keeps.KEPT] > 20 and seen[Keeps.BROKEN] > 20 and sum(seen.values()) > 150


def test_a_sure_answer_of_a_rule_with_several_sides_is_borne_out_by_every_partner() -> None:
    r = Random("stack")
    seen: Counter[Keeps] = Counter()
    for _ in range(300):
        low = r.choice([None, *range(-2, 3)])
        rule = Rule(
            "j",
            "r",
            "stack",
            ("a", "f"),
            (("a", "f2"), ("b", "g")),
            low,
            r.choice([None, (low or 0) + r.randint(0, 5)]),
        )
        if rule.min is None and rule.max is None:
            continue
        mine = [[size(v := r.choice(SIZES), v + r.choice([0, 0, 1])) for _ in range(2)] for _ in range(2)]
        found = keeps(rule, (0, 1), mine[0], mine[1])
        suiting = [p for p in PARTNERS if decide(rule, [*mine[0], p])[0] is Verdict.YES]
        verdicts = {decide(rule, [*mine[1], p])[0] for p in suiting}
        wanted = (
            Keeps.IDLE
            if not suiting
            else Keeps.KEPT
            if verdicts == {Verdict.YES}
            else Keeps.BROKEN
            if Verdict.NO in verdicts
            else Keeps.UNKNOWN
        )
        seen[wanted] += 1
        assert found is wanted, (rule, mine)
    assert seen[Keeps.KEPT] > 30 and seen[Keeps.BROKEN] > 30


WORDS = ("a", "b", "c", "none")
SETS = [tuple(w for w, on in zip(WORDS, bits, strict=True) if on) for bits in product((0, 1), repeat=4) if any(bits)]


@pytest.mark.parametrize("type_", ["same", "thread", "accepted", "control"])
@pytest.mark.parametrize("sets", [True, False])
def test_a_code_rule_is_followed_exactly_when_every_partner_says_so(type_: str, sets: bool) -> None:
    r = Random(f"codes {type_} {sets}")
    partners = [code(s) for s in SETS] if sets else [code((w,)) for w in WORDS]
    every = list(product(WORDS, WORDS))
    seen: Counter[Keeps] = Counter()
    for _ in range(600):
        pairs = frozenset(p for p in every if r.random() < 0.4)
        if type_ in ("accepted", "control") and not pairs:
            continue
        rule = Rule("j", "r", type_, ("a", "f"), (("b", "g"),), set="s")
        place = r.randint(0, 1)
        facts = []
        for _side in range(2):
            rivals = [
                r.choice(SETS) if sets and r.random() < 0.5 else (r.choice(WORDS),)
                for _ in range(r.choice([1, 1, 2]))
            ]
            facts.append(code(*rivals))
        if r.random() < 0.3:
            facts[1] = facts[0]
        found = keeps(rule, (place,), facts[:1], facts[1:], pairs, sets=sets)
        wanted = by_trying(rule, place, *facts, partners, pairs)
        seen[wanted] += 1
        if wanted is Keeps.BROKEN and found is Keeps.UNKNOWN:
            assert len(facts[1].alternatives) > 1  # a disputed code: said with less certainty than it could be
        else:
            assert found is wanted, (rule, place, facts, sorted(pairs))
    assert seen[Keeps.KEPT] > 30 and seen[Keeps.BROKEN] > 30 and sum(seen.values()) > 500


def test_a_thread_without_its_pitch_is_neither_kept_nor_refuted_by_one_that_states_it() -> None:
    """ISO 965-1: M12 alone may be any M12; so of such a partner nothing is sure (witness: every partner in turn)."""
    written = ("m12", "m12x1.75", "m12x1.5", "1/8npt", "none")
    rule, partners = Rule("j", "r", "thread", ("a", "f"), (("b", "g"),)), [code((w,)) for w in written]
    found = {
        (one, other): keeps(rule, (0,), [code((one,))], [code((other,))]) for one, other in product(written, written)
    }
    for (one, other), said in found.items():
        assert said is by_trying(rule, 0, code((one,)), code((other,)), partners), (one, other)
    assert found["m12", "m12x1.75"] is found["m12x1.75", "m12"] is Keeps.UNKNOWN
    assert found["m12x1.5", "m12x1.75"] is found["m12", "1/8npt"] is Keeps.BROKEN


def test_what_is_not_known_or_only_heard_on_either_side_is_never_followed() -> None:
    rule = Rule("j", "r", "clearance", ("a", "f"), (("b", "g"),), 0, 5)
    known = size(3, 3)
    for status in ("unknown", "heard"):
        open_ = Fact("part/y", "f", status, "length", (Alternative(3, 3),))  # type: ignore[arg-type]
        assert keeps(rule, (0,), [known], [open_]) is Keeps.UNKNOWN
        assert keeps(rule, (0,), [open_], [known]) is Keeps.UNKNOWN
        assert no_worse("larger", known, open_) is no_worse("larger", open_, known) is Keeps.UNKNOWN


def test_a_rule_without_its_limit_is_never_followed() -> None:
    for rule in (
        Rule("j", "r", "clearance", ("a", "f"), (("b", "g"),)),
        Rule("j", "r", "at_most", ("a", "f")),
        Rule("j", "r", "accepted", ("a", "f"), (("b", "g"),), set="empty"),
    ):
        assert keeps(rule, (0,), [size(3, 3)], [size(3, 3)]) is Keeps.UNKNOWN


def test_a_rule_that_looks_at_the_part_alone_must_be_kept_by_the_second_itself() -> None:
    rule = Rule("j", "r", "at_least", ("a", "f"), (), 4)
    assert keeps(rule, (0,), [size(5, 5)], [size(4, 6)]) is Keeps.KEPT
    assert keeps(rule, (0,), [size(5, 5)], [size(3, 3)]) is Keeps.BROKEN
    assert keeps(rule, (0,), [size(5, 5)], [size(3, 4)]) is Keeps.UNKNOWN
    assert keeps(rule, (0,), [size(3, 3)], [size(5, 5)]) is Keeps.IDLE


def test_a_duty_feature_may_get_better_and_never_worse() -> None:
    """By hand: the guaranteed end counts, as the match line counts sameness."""
    assert no_worse("larger", size(100, 100), size(101, 105)) is Keeps.KEPT
    assert no_worse("larger", size(100, 100), size(98, 99)) is Keeps.BROKEN
    assert no_worse("larger", size(100, 100), size(98, 105)) is Keeps.UNKNOWN
    assert no_worse("smaller", size(100, 100), size(98, 99)) is Keeps.KEPT
    assert no_worse("same", size(100, 100), size(101, 101)) is Keeps.BROKEN
    assert no_worse("same", code(("left",)), code(("left",))) is Keeps.KEPT
    assert no_worse("same", code(("left",)), code(("right",))) is Keeps.BROKEN


@pytest.mark.parametrize("effect", ["widen_to_suit", "reduce_to_suit"])
def test_a_part_cut_to_suit_reaches_every_span_that_holds_the_first_size(effect: str) -> None:
    """Witness: every span over whole sizes that a partner may leave, and every size to cut to, one by one."""
    r = Random(effect)
    good = bad = 0
    for _ in range(3000):
        capability = r.choice([0, 0, 1])
        operation = Operation("cut", "", "k", "f", effect, 0, 0, tolerance=capability)
        a, b = r.choice(SIZES), r.choice(SIZES)
        first, second = (a, a + r.choice([0, 0, 1, 2])), (b, b + r.choice([0, 0, 1]))
        low, high = r.choice([(True, True), (True, False), (False, True)])
        wide = r.randint(first[1] - first[0], 6) if low and high else None
        limit = r.randint(-2, 12)
        found = reaches(operation, first, second, low=low, high=high, wide=wide, limit=limit)
        spans = _spans(first, low, high, wide)
        wanted = all(_suits(effect, second, span, capability, limit) for span in spans)
        if not any(not _inside(second, span) for span in spans):
            continue  # as it is it suits them all: nothing to mend
        good += wanted
        bad += not wanted
        if found:
            assert wanted, (effect, first, second, low, high, wide, capability, limit)
        elif wanted:
            # The one case said with less certainty: the second's own tolerance swallows the span that is left.
            assert wide is not None and wide < second[1] - second[0] + capability
    assert good > 100 and bad > 100


END = 40


def _spans(first: tuple[int, int], low: bool, high: bool, wide: int | None) -> list[tuple[int, int]]:
    """Every span [A, B] that holds the first size and that some partner leaves."""
    if wide is not None:
        return [(a, a + wide) for a in range(first[1] - wide, first[0] + 1)]
    if low:
        return [(a, END) for a in range(first[0] - 12, first[0] + 1)]
    assert high
    return [(-END, b) for b in range(first[1], first[1] + 12)]


def _inside(size_: tuple[int, int], span: tuple[int, int]) -> bool:
    return span[0] <= size_[0] and size_[1] <= span[1]


def _suits(effect: str, second: tuple[int, int], span: tuple[int, int], capability: int, limit: int) -> bool:
    if _inside(second, span):
        return True
    if effect == "widen_to_suit":
        targets = range(second[1] + 1, limit - capability + 1)
    else:
        targets = range(limit + capability, second[0])
    return any(_inside((t - capability, t + capability), span) for t in targets)
