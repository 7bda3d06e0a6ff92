"""Used parts against their limits, cuts without a core shift, sizes named twice; each number by hand beside it."""

from dataclasses import replace

import pump
import pytest
from pump import BALANCE, BORE, CASING, CORE, GASKET, IMPELLER, LARGE, RULES, SEAL, SHAFT, TRIM, demand, mm

from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.plan import PlanAnswer, Step
from graph.model.record import Limit, Operation, Part, Rule
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import plan
from graph.planning.check import check

GRIND = pump.operation("grind-shaft", "shaft", "journal", "reduce_to_suit", time_per_mm=10 * pump.MINUTE)


def answered(bundle: Bundle) -> PlanAnswer:
    """The answer, after the checker (which shares no code with the planner) has confirmed it."""
    answer = plan(bundle)
    assert check(answer, bundle) == []
    return answer


def used(low: float | None, high: float | None = None, condition: str = "used", rank: Rank = Rank.MAKER) -> Limit:
    ends = (None if low is None else mm(low), None if high is None else mm(high))
    return Limit("journal", condition, *ends, int(rank), "sheet", said=f"lim:{condition}:{rank}:{low}:{high}")


def limited(
    *limits: Limit, readings: tuple[Claim, ...] = pump.JOURNAL_READ, wishes: tuple[str, ...] = ("keep:shaft",)
) -> Bundle:
    """The pump as it stands, its shaft's journal read at 19.998 ± 0.002 unless told otherwise, under these limits."""
    shaft = replace(SHAFT, limits=limits)
    core = replace(CORE, found=pump.found(CASING, IMPELLER, shaft, SEAL, readings={"shaft": readings}))
    return pump.pump(parts=(CASING, GASKET, IMPELLER, LARGE, SEAL, shaft), core=core, wishes=wishes)


def source(answer: PlanAnswer, seat: str) -> str:
    return next(c.source for c in answer.plans[0].seats if c.seat == seat)


def step(answer: PlanAnswer, name: str) -> Step:
    return next(s for s in answer.plans[0].steps if s.operation == name)


def test_a_journal_inside_its_limits_is_kept_and_names_the_rows_and_the_reading() -> None:
    answer = answered(limited(used(19.99), used(None, 20.01)))
    assert answer.verdict is Verdict.YES
    (shaft,) = [c for c in answer.plans[0].seats if c.seat == "shaft"]
    rows = {"lim:used:3:19.99:None", "lim:used:3:None:20.01"}
    assert set(shaft.claims) == {pump.JOURNAL_READ[0].id} | rows


def test_a_journal_worn_below_its_limit_is_not_used_and_the_cause_says_what_was_found() -> None:
    answer = answered(limited(used(20.001)))  # 19.996 to 20.000, all below
    assert answer.verdict is Verdict.NO
    (cause,) = answer.causes
    assert "journal at least 20.001 mm" in cause
    assert "found 19.996 mm to 20 mm" in cause


def test_a_worn_shaft_that_may_be_replaced_is() -> None:
    answer = answered(limited(used(20.001), wishes=()))
    assert answer.verdict is Verdict.WITH_WORK
    assert source(answer, "shaft") == "new"  # a new shaft is not held against a limit for used ones


def test_a_journal_across_its_limit_is_not_known_and_the_measurement_is_named() -> None:
    answer = answered(limited(used(19.998)))  # 19.996 to 20.000
    assert answer.verdict is Verdict.UNKNOWN
    (missing,) = answer.open
    assert (missing.seat, missing.feature) == ("shaft", "journal")
    assert "journal at least 19.998 mm" in missing.why
    assert "measure journal" in missing.measure


def test_a_limited_feature_that_no_rule_looks_at_must_be_known_all_the_same() -> None:
    """The depth wears in no rule; nobody has read it and no drawing gives it."""
    casing = replace(CASING, limits=(Limit("depth", "", mm(30.0), None, int(Rank.MAKER), "sheet", said="lim:depth"),))
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL))
    parts = (casing, GASKET, IMPELLER, LARGE, SEAL, SHAFT)
    unread = answered(pump.pump(parts=parts, core=core, wishes=("keep:casing",)))
    assert unread.verdict is Verdict.UNKNOWN
    assert [(m.seat, m.feature) for m in unread.open] == [("casing", "depth")]
    read = pump.reading(casing.key, "depth", 30.2, 0.1)
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL, readings={"casing": (read,)}))
    assert answered(pump.pump(parts=parts, core=core, wishes=("keep:casing",))).verdict is Verdict.YES


@pytest.mark.parametrize(
    ("limits", "verdict"),
    [
        ((used(20.001, condition="new"),), Verdict.YES),  # for new parts only
        ((used(20.001, rank=Rank.HEARD),), Verdict.YES),  # only heard
        ((used(19.99), used(20.001, condition="")), Verdict.NO),  # the strictest counts
        ((used(None),), Verdict.YES),  # no limit at all
    ],
)
def test_only_limits_for_used_parts_on_record_count_and_the_strictest_of_them(
    limits: tuple[Limit, ...], verdict: Verdict
) -> None:
    assert answered(limited(*limits)).verdict is verdict


def test_one_worn_end_of_a_journal_is_enough() -> None:
    ends = tuple(
        pump.reading(SHAFT.key, "journal", size, 0.001, position=p) for p, size in (("a", 20.003), ("b", 19.998))
    )
    assert answered(limited(used(20.0), readings=ends)).verdict is Verdict.NO  # b: 19.997 to 19.999


def test_a_worn_feature_that_is_cut_is_not_held_against_its_limit_and_the_wear_is_the_cause() -> None:
    """The journal fits the eye as it is (0.015 to 0.029 of 0 to 0.05), but is worn; ground it need only fit.

    Least change: any size below 19.996 fits down to 20.025 - 0.05 + 0.01 = 19.985, so one quantum does.
    """
    journal = {"journal": (20.0, 0.005, {"limit_min": 19.9})}
    shaft = replace(pump.part("S1", "shaft", journal, 9_000, 4_000), limits=(used(20.001),))
    core = replace(CORE, found=pump.found(CASING, IMPELLER, shaft, SEAL))
    bundle = pump.pump(
        parts=(CASING, GASKET, IMPELLER, LARGE, SEAL, shaft), core=core, wishes=("keep:shaft",),
        operations=(BALANCE, GRIND),
    )  # fmt: skip
    answer = answered(bundle)
    assert answer.verdict is Verdict.WITH_WORK
    ground = step(answer, "grind-shaft")
    assert (ground.least, ground.low, ground.high) == (mm(19.996) - 1, mm(19.985), mm(19.996) - 1)
    (kept,) = [c for c in answer.plans[0].seats if c.seat == "shaft"]
    assert kept.claims == ()


def test_limits_on_a_wall_bound_cuts_and_do_not_condemn_the_part() -> None:
    walled: Operation = replace(BORE, wall_feature="wall", core_shift=0)
    casing = replace(CASING, limits=(pump.wall_limit(3.0),))
    read = pump.reading(casing.key, "wall", 2.0)
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL, readings={"casing": (read,)}))
    parts = (casing, GASKET, IMPELLER, LARGE, SEAL, SHAFT)
    answer = answered(pump.pump(parts=parts, core=core, operations=(BALANCE, walled)))
    assert answer.verdict is Verdict.YES


def without_core_shift(casing: Part) -> Bundle:
    reading = pump.reading(casing.key, "wall", 6.0)
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL, readings={"casing": (reading,)}))
    cut = replace(BORE, wall_feature="wall")
    parts = (casing, GASKET, IMPELLER, LARGE, SEAL, SHAFT)
    wants = (demand("impeller", "diameter", "at_least", 81.0),)
    return pump.pump(parts=parts, core=core, operations=(BALANCE, cut), demands=wants, wishes=("keep:casing",))


def test_a_wall_without_a_core_shift_leaves_the_cut_not_known() -> None:
    answer = answered(without_core_shift(replace(CASING, limits=(pump.wall_limit(3.0),))))
    assert answer.verdict is Verdict.UNKNOWN
    (missing,) = [m for m in answer.open if m.feature == "wall"]
    assert "core shift" in missing.why


def test_a_least_wall_that_is_only_heard_is_none() -> None:
    heard = replace(pump.wall_limit(3.0), rank=int(Rank.HEARD))
    answer = answered(without_core_shift(replace(CASING, limits=(heard,))))
    assert answer.verdict is Verdict.UNKNOWN
    assert any("least wall" in m.why for m in answer.open)


def twice(low: float, high: float) -> Bundle:
    """A rule that takes the impeller's diameter off a length of 170 twice."""
    casing = pump.part("C1", "casing", {"bore": (80.0, 0.02), "flange": "four", "depth": 170.0}, 40_000, 15_000)
    sides = (("impeller", "diameter"), ("impeller", "diameter"))
    rule = Rule("gap", "both-sides", "stack", ("casing", "depth"), sides, mm(low), mm(high), said="r:twice")
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL))
    rules = (rule, *(r for r in RULES if r.name != "tip-gap"))
    return pump.pump(
        parts=(casing, GASKET, IMPELLER, SEAL, SHAFT), core=core, rules=rules, operations=(BALANCE, TRIM)
    )


def test_a_cut_that_a_rule_names_twice_counts_twice() -> None:
    """By hand: 12 <= 170 - 2 T, less twice the capability: T <= 79 - 0.01; 170 - 2 T <= 14: T >= 78 + 0.01."""
    answer = answered(twice(12.0, 14.0))
    assert (answer.verdict, answer.proof) == (Verdict.WITH_WORK, Proof.CHEAPEST)
    cut = step(answer, "trim-impeller")
    assert (cut.least, cut.low, cut.high, cut.target) == (mm(78.99), mm(78.01), mm(78.99), mm(78.5))
    assert all(joint.verdict is Verdict.YES for joint in answer.plans[0].joints)


def test_a_cut_that_a_rule_names_twice_may_find_no_room() -> None:
    # Twice the capability on both sides: a window of 0.04 takes it, one of 0.03 is a matter of luck.
    assert answered(twice(12.0, 12.04)).verdict is Verdict.WITH_WORK
    assert answered(twice(12.0, 12.03)).verdict is Verdict.UNKNOWN
    # The drawing permits 76, so the sheet says 76.01 at least: 170 - 2 × 76.02 = 17.96 to 170 - 2 × 76.00 = 18.
    assert answered(twice(17.96, 20.0)).verdict is Verdict.WITH_WORK
    assert answered(twice(18.01, 20.0)).verdict is Verdict.NO


def test_an_impossible_plan_names_the_limit_that_stops_its_cut() -> None:
    """The large impeller wants 81.93; by hand the wall allows 79.98 + 2 × (4.0 - 0.1 - 0.2 - 3.0) = 81.38."""
    casing = replace(CASING, limits=(pump.wall_limit(3.0),))
    read = tuple(pump.reading(casing.key, "wall", size, 0.1, position=p) for p, size in (("n", 5.0), ("s", 4.0)))
    cut = replace(
        BORE, limit_feature="", wall_feature="wall", wall_positions=("n", "s"), wall_share="half", core_shift=mm(0.2)
    )
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL, readings={"casing": read}))
    wants = (demand("impeller", "diameter", "at_least", 81.0),)
    parts = (casing, GASKET, IMPELLER, LARGE, SEAL, SHAFT)
    operations = (BALANCE, cut)
    bundle = pump.pump(parts=parts, core=core, demands=wants, operations=operations, wishes=("keep:casing",))
    answer = answered(bundle)
    assert answer.verdict is Verdict.NO
    (wall,) = [c for c in answer.causes if "81.38 mm" in c]
    assert "wall 3.9 mm at its thinnest (s), read as 4 mm" in wall
