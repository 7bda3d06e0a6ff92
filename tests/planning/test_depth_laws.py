"""Laws of plan questions: more parts, tighter rules, other names, another order; and clashes that were altered."""

import random
from dataclasses import replace

import pump
import pytest
from depth_random import hard_bundle
from hypothesis import given, settings
from hypothesis import strategies as st
from pump_random import Dice, random_bundle

from graph.model.bundle import Bundle
from graph.model.depth import Change, Clash, WhyAnswer
from graph.model.value import Amount
from graph.model.verdict import Verdict
from graph.planning.answer import plan
from graph.planning.check.clash import check_why
from graph.planning.clash import DEMAND
from graph.planning.saved import judge_saved, saved_why
from graph.planning.why import why

seeds = st.integers(0, 10**6)


def certain(bundle: Bundle) -> list[int]:
    """The costs of the certain plans; none when only possible ones exist."""
    answer = plan(bundle)
    return [p.cost for p in answer.plans] if answer.verdict in (Verdict.YES, Verdict.WITH_WORK) else []


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_law_a_further_part_never_makes_the_optimum_dearer(seed: int) -> None:
    bundle = replace(random_bundle(seed % 400, best=1))
    before = certain(bundle)
    dice = Dice(seed)
    more = replace(dice.part(dice.r.choice(("casing", "impeller", "shaft", "seal")), 9))
    after = certain(replace(bundle, parts=(*bundle.parts, more)))
    if before:
        assert after
        assert after[0] <= before[0]


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_law_a_tighter_demand_or_wish_never_makes_the_optimum_cheaper(seed: int) -> None:
    bundle = random_bundle(seed % 400, best=1)
    before = certain(bundle)
    r = random.Random(seed)
    wish = r.choice(("no-new", "no-donor", "no-machining", "keep:impeller", "no-used:casing", "only-stock"))
    wishes = tuple(sorted({*bundle.question.wishes, wish}))
    after = certain(replace(bundle, question=replace(bundle.question, wishes=wishes)))
    assert not after or (before and before[0] <= after[0])
    seats = ("seal", "height", "at_least", 148), ("impeller", "diameter", "at_most", 199)
    seat, feature, kind, size = r.choice(seats)
    asked = replace(pump.demand(seat, feature, kind), value=Amount(size, "length"))
    build = replace(bundle.build, demands=(*bundle.build.demands, asked))
    after = certain(replace(bundle, build=build))
    assert not after or (before and before[0] <= after[0])


@settings(max_examples=30, deadline=None)
@given(seeds)
def test_law_the_order_of_rows_changes_nothing(seed: int) -> None:
    bundle = random_bundle(seed % 400, best=3)
    r = random.Random(seed)

    def mixed(rows: tuple) -> tuple:  # type: ignore[type-arg]
        return tuple(r.sample(rows, len(rows)))

    other = replace(
        bundle, parts=mixed(bundle.parts), donors=mixed(bundle.donors), operations=mixed(bundle.operations),
        consumes=mixed(bundle.consumes), services=mixed(bundle.services), rates=mixed(bundle.rates),
        features=mixed(bundle.features), kinds=mixed(bundle.kinds),
    )  # fmt: skip
    one, two = plan(bundle), plan(other)
    assert one.verdict is two.verdict
    assert [(p.cost, p.identity) for p in one.plans] == [(p.cost, p.identity) for p in two.plans]


@settings(max_examples=30, deadline=None)
@given(seeds)
def test_law_other_part_numbers_change_no_cost(seed: int) -> None:
    bundle = random_bundle(seed % 400, best=3)
    r = random.Random(seed)
    new = {
        p.key: f"part/Fenner/{n}" for p, n in zip(bundle.parts, r.sample(range(90), len(bundle.parts)), strict=True)
    }

    def core(c):  # type: ignore[no-untyped-def]
        return replace(c, found=tuple(replace(f, part=new.get(f.part, f.part)) for f in c.found))

    other = replace(
        bundle,
        parts=tuple(sorted((replace(p, key=new[p.key]) for p in bundle.parts), key=lambda p: p.key)),
        core=core(bundle.core),
        donors=tuple(core(d) for d in bundle.donors),
        consumes=tuple(replace(c, part=new[c.part]) for c in bundle.consumes),
    )
    one, two = plan(bundle), plan(other)
    assert one.verdict is two.verdict
    assert [p.cost for p in one.plans] == [p.cost for p in two.plans]


def test_the_same_question_clashes_alike_every_time() -> None:
    for seed in range(12):
        bundle = hard_bundle(seed)
        assert why(bundle) == why(bundle)


LARGE = pump.demand("impeller", "diameter", "at_least", 84.0)
KEEP = pump.demand("casing", "", "keep")


@pytest.fixture(scope="module")
def asked() -> WhyAnswer:
    """An impeller larger than any, in the casing that is to be kept; the impellers on record have 79.6 and 81.6."""
    return why(pump.pump(demands=(KEEP, LARGE)))


def test_a_demand_that_no_part_meets_clashes_with_nothing_but_itself(asked: WhyAnswer) -> None:
    assert asked.clash is not None
    assert [(m.kind, m.place) for m in asked.clash.members] == [(DEMAND, 1)]
    (way,) = asked.ways
    (change,) = way.changes
    assert change.becomes is not None
    assert isinstance(change.becomes.value, Amount)
    # the larger impeller is drawn at 81.6 within 0.02, so that the whole of it is above 81.58
    assert change.becomes.value.amount == pump.mm(81.58)
    assert "81.6 mm instead of at least 84 mm" in way.sentence


def refused(answer: WhyAnswer) -> set[str]:
    assert answer.bundle is not None
    return {r.code for r in check_why(answer, answer.bundle)}


def altered(answer: WhyAnswer, **clash: object) -> WhyAnswer:
    assert answer.clash is not None
    return replace(answer, clash=replace(answer.clash, **clash))  # type: ignore[arg-type]


def test_a_clash_as_it_was_given_stands(asked: WhyAnswer) -> None:
    assert refused(asked) == set()
    assert judge_saved(saved_why(asked)) == []


def test_an_altered_clash_is_refused(asked: WhyAnswer) -> None:
    assert asked.clash is not None
    (member,) = asked.clash.members
    assert "clash" in refused(altered(asked, members=(replace(member, place=0),)))  # it can be met
    assert "clash" in refused(altered(asked, members=(member, member)))
    assert "clash" in refused(altered(asked, members=()))
    assert "clash" in refused(altered(asked, members=(replace(member, place=7),)))
    more = replace(member, place=0)
    assert "clash-not-minimal" in refused(altered(asked, members=(more, member)))
    assert "clash-not-minimal" in refused(
        altered(asked, members=(replace(member, without=replace(member.without, cost=1)),))
    )
    assert "clash" in refused(altered(asked, seats=()))
    assert "causes" in refused(replace(asked, clash=None))
    assert "causes" in refused(replace(asked, clash=None, causes=("because",)))
    assert refused(replace(asked, clash=Clash(("casing",), asked.clash.members)))


def test_an_altered_way_out_is_refused(asked: WhyAnswer) -> None:
    (way,) = asked.ways
    cheaper = replace(way.answer.plans[0], cost=way.answer.plans[0].cost - 1)
    assert refused(replace(asked, ways=(replace(way, answer=replace(way.answer, plans=(cheaper,))),)))
    (change,) = way.changes
    tighter = replace(change, becomes=pump.demand("impeller", "diameter", "at_least", 85.0))
    assert "way" in refused(replace(asked, ways=(replace(way, changes=(tighter,)),)))
    needless = (change, Change(DEMAND, 0, None, "with another casing"))
    assert refused(replace(asked, ways=(replace(way, changes=needless),)))


def test_a_safety_rule_is_shown_and_never_given_up() -> None:
    """The gap is a safety rule: the ways out move the demand or change the casing, with `waive` too."""
    rules = tuple(replace(rule, safety=True) for rule in pump.RULES)
    large = pump.part("I3", "impeller", {"diameter": (90.0, 0.02), "eye": (20.02, 0.005)}, 16_000)
    bundle = pump.pump(
        parts=(*pump.PARTS, large), rules=rules, demands=(pump.demand("impeller", "diameter", "at_least", 89.0),)
    )
    answer = why(bundle, waive=True)
    assert answer.clash is not None
    assert any(m.safety for m in answer.clash.members)
    assert answer.ways
    assert all(change.kind == DEMAND for way in answer.ways for change in way.changes)
    assert check_why(answer, bundle) == []
    waived = replace(answer.ways[0], changes=(Change("rule", 0, None, "somebody answers for it"),))
    assert "way" in {r.code for r in check_why(replace(answer, ways=(waived,)), bundle)}


def test_a_seat_that_nothing_can_fill_is_no_clash() -> None:
    parts = tuple(p for p in pump.PARTS if p.kind != "seal")
    bundle = pump.pump(parts=parts)
    answer = why(bundle)
    assert answer.verdict is Verdict.NO
    assert answer.clash is None
    assert answer.causes
    assert answer.ways == ()
    assert check_why(answer, bundle) == []


def test_a_possible_question_has_nothing_to_explain() -> None:
    answer = why(pump.pump())
    assert answer.verdict is not Verdict.NO
    assert answer.clash is None
    assert check_why(answer, pump.pump()) == []
    assert "clash" in {r.code for r in check_why(replace(answer, clash=Clash((), ())), pump.pump())}
