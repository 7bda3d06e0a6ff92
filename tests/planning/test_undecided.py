"""Seats and joints of which no rule speaks: nothing is certain there but what the core has (docs/semantics.md, 2, 3).

A layout in which a rule was forgotten must not make everything fit: common practice, no source.
"""

from dataclasses import replace

import pump
import pytest

from graph.model.bundle import Bundle
from graph.model.plan import PlanAnswer
from graph.model.record import Core, Rule
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import plan
from graph.planning.check import check
from graph.planning.saved import any_answer_of, saved
from graph.planning.unknown import unknown

OTHER = pump.part("L2", "seal", {"inside": (20.1, 0.02)}, 100)
"""A seal that would be cheaper; whether it goes into the seat only a rule can say."""
SEALLESS = tuple(rule for rule in pump.RULES if rule.joint != "sealing")


def without_seal_rule(**more: object) -> Bundle:
    return pump.pump(parts=(*pump.PARTS, OTHER), rules=SEALLESS, **more)  # type: ignore[arg-type]


def filled(answer: PlanAnswer, seat: str) -> tuple[str, str]:
    choice = next(c for c in answer.plans[0].seats if c.seat == seat)
    return choice.source, choice.part


def lacking(answer: PlanAnswer) -> list[tuple[str, str]]:
    return [(m.seat, m.why) for m in answer.open if not m.feature]


def refused(answer: PlanAnswer) -> set[str]:
    assert answer.bundle is not None
    return {r.code for r in check(answer, answer.bundle)}


def test_a_seat_without_a_rule_takes_for_certain_only_the_number_that_the_core_has_there() -> None:
    answer = plan(without_seal_rule())
    assert answer.verdict is Verdict.YES
    assert filled(answer, "seal") == ("new", pump.SEAL.key)  # dearer than the other, and known to go in
    assert refused(answer) == set()


def test_any_other_part_there_is_not_known_and_the_answer_says_what_lacks() -> None:
    bundle = without_seal_rule()
    found = tuple(f if f.seat != "seal" else replace(f, part="") for f in bundle.core.found)
    answer = plan(replace(bundle, core=replace(bundle.core, found=found)))
    assert answer.verdict is Verdict.UNKNOWN
    assert filled(answer, "seal") == ("new", OTHER.key)
    assert lacking(answer) == [("seal", "no fit rule is on record for this seat")]
    assert "put on record what decides the seat seal" in answer.sentence
    assert refused(answer) == set()
    assert refused(any_answer_of(saved(answer))) == set()  # type: ignore[arg-type]
    assert "open" in refused(replace(answer, open=()))


def test_with_its_rule_the_other_part_fits() -> None:
    answer = plan(pump.pump(parts=(*pump.PARTS, OTHER)))
    assert answer.verdict is Verdict.YES
    assert filled(answer, "seal") == ("new", OTHER.key)


def test_a_donor_s_part_counts_as_a_new_one() -> None:
    seats = tuple(replace(s, may_be_empty=False) for s in pump.SEATS)
    shaftless = tuple(rule for rule in pump.RULES if rule.joint == "outlet" or rule.name == "tip-gap")
    donor = Core("core/D", "D", "pump", may_donate=True, found=pump.found(None, None, pump.SHAFT, None))
    bare = tuple(f for f in pump.CORE.found if f.seat != "shaft")
    for core, verdict in ((pump.CORE, Verdict.YES), (replace(pump.CORE, found=bare), Verdict.UNKNOWN)):
        asked = pump.pump(rules=shaftless, seats=seats, core=core, donors=(donor,), joints=(), wishes=("no-new",))
        answer = plan(asked)
        assert answer.verdict is verdict
        assert filled(answer, "shaft")[0] == ("kept" if verdict is Verdict.YES else "donor")
        assert refused(answer) == set()


@pytest.mark.parametrize(
    ("rules", "joints", "seat", "why"),
    [
        (SEALLESS, pump.JOINTS, "seal", "no fit rule is on record for this joint"),
        (pump.RULES[:3], None, "engine", "no fit rule is on record for this joint"),
    ],
)
def test_where_a_joint_or_the_engine_has_no_rule_no_plan_is_certain(
    rules: tuple[Rule, ...], joints: object, seat: str, why: str
) -> None:
    whole = plan(pump.pump())
    assert whole.verdict is Verdict.YES
    bundle = pump.pump(rules=rules, joints=joints)  # type: ignore[arg-type]
    answer = plan(bundle)
    assert (answer.verdict, answer.proof) == (Verdict.UNKNOWN, Proof.FOUND)
    assert (seat, why) in lacking(answer)
    assert refused(answer) == set()
    certain = replace(whole, bundle=bundle, snapshot=bundle.snapshot)
    assert "rule" in refused(certain)  # the plan that the rules allow is refused where one lacks
    asked, _ = unknown(bundle)
    assert [m.why for m in asked.beyond] == [why]
    assert not asked.complete


def test_work_that_alters_a_part_is_not_certain_in_a_seat_without_a_rule() -> None:
    """The build asks for another flange; where no rule looks at the casing, nothing says that it still mates."""
    onto = Rule("outlet", "shaft", "at_least", ("shaft", "journal"), (("engine", "journal"),))
    rules = (pump.RULES[1], pump.RULES[2], onto)
    engine = replace(pump.ENGINE, claims=(*pump.ENGINE.claims, pump.claim(pump.ENGINE.key, "journal", 1.0)))
    bored = pump.demand("casing", "bore", "at_least", 81.0)
    answer = plan(pump.pump(rules=rules, engine=engine, demands=(bored,)))
    assert [s.operation for s in answer.plans[0].steps if s.seat] == ["bore-casing"]
    assert answer.verdict is Verdict.UNKNOWN
    assert ("casing", "no fit rule is on record for this seat") in lacking(answer)
    assert refused(answer) == set()
    asked = plan(pump.pump(rules=rules, engine=engine))
    assert asked.verdict is Verdict.YES  # left as it came it is
