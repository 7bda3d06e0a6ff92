"""From bundle to answer, on a pump of four seats: every expected size and price is worked out by hand beside it."""

from dataclasses import replace
from itertools import pairwise

import pump
import pytest
from pump import BALANCE, BORE, CASING, CORE, GASKET, IMPELLER, LARGE, RULES, SEAL, SEATS, SHAFT, TRIM, demand, mm

from api.picture.steps import running
from graph.errors import BadQuestion, MixedCurrency
from graph.model.bundle import Bundle
from graph.model.claim import Rank
from graph.model.plan import Plan, PlanAnswer, SeatChoice, Step
from graph.model.record import Consume, Part, Rate, Rule, ServiceDue, Stock, Supersession
from graph.model.value import Code
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import plan
from graph.planning.check import check

WANT_LARGE = demand("impeller", "diameter", "at_least", 81.0)


def answered(bundle: Bundle) -> PlanAnswer:
    """The answer, after the checker (which shares no code with the planner) has confirmed it."""
    answer = plan(bundle)
    assert check(answer, bundle) == []
    return answer


def seat(of: Plan, name: str) -> SeatChoice:
    return next(c for c in of.seats if c.seat == name)


def step(of: Plan, name: str) -> Step:
    return next(s for s in of.steps if s.operation == name)


def open_features(answer: PlanAnswer) -> set[tuple[str, str]]:
    return {(m.seat, m.feature) for m in answer.open}


def test_a_core_that_is_the_build_already_fits_and_only_the_seal_is_renewed() -> None:
    answer = answered(pump.pump())
    assert (answer.verdict, answer.proof) == (Verdict.YES, Proof.CHEAPEST)
    assert answer.plans[0].cost == 2_000 + 500  # book value and one seal
    assert [c.source for c in answer.plans[0].seats] == ["kept", "kept", "kept", "new"]
    assert answer.bound == 2_500
    assert all(v.verdict is Verdict.YES for v in answer.plans[0].joints)


def test_a_larger_impeller_needs_the_casing_bored_and_prices_the_least_cut() -> None:
    answer = answered(pump.pump(demands=(WANT_LARGE,)))
    first = answer.plans[0]
    bore = step(first, "bore-casing")
    # impeller 81.58 to 81.62, gap 0.3 to 0.5, capability 0.01: 81.62 + 0.3 + 0.01 to 81.58 + 0.5 - 0.01
    assert (bore.before, bore.least, bore.low, bore.high, bore.target) == (
        mm(80.0), mm(81.93), mm(81.93), mm(82.07), mm(82.0),
    )  # fmt: skip
    assert (bore.limit, bore.limit_basis) == (mm(84.0), "largest bore 84 mm")
    assert bore.time == 15 * 60_000 + 1_158_000  # 10 + 5 min, and 10 min a mm for 1.93 mm
    # core 20.00, impeller 140.00, seal 5.00, boring 34.3 min and balance 30 min at 60.00 an hour
    assert first.cost == 2_000 + 14_000 + 500 + 3_430 + 3_000
    assert (answer.verdict, answer.proof) == (Verdict.WITH_WORK, Proof.CHEAPEST)
    assert "2 parts are kept, 2 are new, 1 cut is made" in answer.sentence
    assert "229.30 EUR" in answer.sentence


def test_a_bore_that_fits_as_it_is_is_never_bored() -> None:
    answer = answered(pump.pump(best=20))
    bored = [p for p in answer.plans if seat(p, "casing").operations]
    assert bored
    assert all(seat(p, "impeller").part == LARGE.key for p in bored)


def test_a_bore_seen_by_two_seats_must_suit_both_at_once() -> None:
    collar = Rule("gap", "collar", "clearance", ("casing", "bore"), (("seal", "diameter"),), mm(0.2), mm(0.9))
    # With impeller I2 the bore is cut to 81.93..82.07. The cheap seal wants 81.2..81.9, the dear one 81.5..82.2:
    # each suits some bore, only the dear one suits the impeller's.
    cheap = pump.part("L1", "seal", {"inside": (20.1, 0.02), "diameter": 81.0}, 500)
    dear = pump.part("L2", "seal", {"inside": (20.1, 0.02), "diameter": 81.3}, 900)
    parts = (CASING, GASKET, IMPELLER, LARGE, SHAFT, cheap, dear)
    core = replace(CORE, found=pump.found(CASING, IMPELLER, SHAFT, None))
    work = (BALANCE, BORE)
    rules = (*RULES, collar)
    answer = answered(pump.pump(parts=parts, core=core, rules=rules, demands=(WANT_LARGE,), operations=work, best=9))
    assert {seat(p, "seal").part for p in answer.plans} == {dear.key}
    assert step(answer.plans[0], "bore-casing").least == mm(81.93)
    without = answered(pump.pump(parts=parts, core=core, demands=(WANT_LARGE,), operations=work))
    assert seat(without.plans[0], "seal").part == cheap.key


def test_two_cuts_that_face_each_other_are_sized_together_and_cheapest() -> None:
    # The casing takes at most 81.5; impeller 82.0 may be trimmed, and 81.0 is wanted. Bore and trim hold 0.01 each,
    # so bore - diameter >= 0.32. Boring is cheaper by the mm, so it goes to its end, 81.49, and the trim to 81.17.
    casing = pump.part("C1", "casing", {"bore": (80.0, 0.02), "flange": "four", "max-bore": 81.5}, 40_000)
    huge = pump.part("I3", "impeller", {"diameter": (82.0, 0.0, {"limit_min": 78.0}), "eye": (20.02, 0.005)}, 9_000)
    parts = (casing, GASKET, IMPELLER, SEAL, SHAFT, huge)
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL))
    first = answered(pump.pump(parts=parts, core=core, demands=(WANT_LARGE,))).plans[0]
    bore, trim = step(first, "bore-casing"), step(first, "trim-impeller")
    assert (bore.least, trim.least) == (mm(81.49), mm(81.17))
    # The left side is set first: diameter may still be 81.01 (81.0 + 0.01), so the bore may be 81.33..81.49.
    assert (bore.low, bore.high, bore.target) == (mm(81.33), mm(81.49), mm(81.41))
    assert (trim.low, trim.high, trim.target) == (mm(81.01), mm(81.09), mm(81.05))
    assert bore.cost == 2_990  # 15 min and 14.9 min
    assert trim.cost == 3_160  # 15 min and 0.83 mm at 20 min


def test_a_casing_that_alone_can_be_cut_enough_leaves_the_impeller_uncut() -> None:
    answer = answered(pump.pump(demands=(WANT_LARGE,), best=20))
    assert answer.plans
    assert all("trim-impeller" not in seat(p, "impeller").operations for p in answer.plans)


def test_identical_donor_parts_are_one_lot_and_read_ones_one_plan() -> None:
    donors = (pump.donor("D1", impeller=LARGE), pump.donor("D2", impeller=LARGE))
    answer = answered(pump.pump(demands=(WANT_LARGE,), donors=donors, best=20))
    assert len({p.identity for p in answer.plans}) == len(answer.plans)
    from_donor = [p for p in answer.plans if seat(p, "impeller").source == "donor"]
    assert {seat(p, "impeller").lot for p in from_donor} == {"D1"}
    # 60.00 and 5 min of stripping instead of 140.00
    assert answer.plans[0].cost == 22_930 - 14_000 + 6_000 + 500
    read = (pump.reading(LARGE.key, "diameter", 81.5, 0.01),)
    donors = (pump.donor("D1", impeller=LARGE), pump.donor("D2", impeller=(LARGE, read)))
    answer = answered(pump.pump(demands=(WANT_LARGE,), donors=donors, best=20))
    assert len({p.identity for p in answer.plans}) == len(answer.plans)
    assert seat(answer.plans[0], "impeller").lot == "D2"  # smaller, so less is bored


def test_a_reading_within_its_uncertainty_of_the_limit_is_to_be_read_again() -> None:
    def core(diameter: float, uncertainty: float) -> Bundle:
        read = {"impeller": (pump.reading(IMPELLER.key, "diameter", diameter, uncertainty),)}
        return pump.pump(
            core=replace(CORE, found=pump.found(CASING, IMPELLER, SHAFT, SEAL, readings=read)),
            wishes=("no-new", "no-machining"),
        )

    # Bore 79.98..80.02 and a gap of 0.3..0.5: a diameter of 79.52..79.68 with all its uncertainty fits.
    assert answered(core(79.66, 0.02)).verdict is Verdict.YES
    across = answered(core(79.67, 0.02))
    assert across.verdict is Verdict.UNKNOWN
    assert ("impeller", "diameter") in open_features(across)
    assert answered(core(79.80, 0.02)).verdict is Verdict.NO


def test_capability_narrows_the_window_of_a_cut_and_not_of_what_is_as_it_is() -> None:
    coarse = replace(BORE, tolerance=mm(0.05))
    first = answered(pump.pump(demands=(WANT_LARGE,), operations=(BALANCE, coarse, TRIM))).plans[0]
    bore = step(first, "bore-casing")
    assert (bore.low, bore.high) == (mm(81.97), mm(82.03))
    too_coarse = replace(BORE, tolerance=mm(0.09))  # 0.2 of gap less 0.04 of impeller leaves 0.16, below 2 x 0.09
    answer = answered(pump.pump(demands=(WANT_LARGE,), operations=(BALANCE, too_coarse)))
    assert answer.verdict is Verdict.UNKNOWN  # it may come out right, and may not


def test_a_worn_part_that_nobody_read_is_not_known_and_names_the_reading() -> None:
    core = replace(CORE, found=pump.found(CASING, IMPELLER, SHAFT, SEAL, readings={"shaft": ()}))
    answer = answered(pump.pump(core=core, wishes=("keep:shaft",)))
    assert (answer.verdict, answer.proof) == (Verdict.UNKNOWN, Proof.FOUND)
    assert open_features(answer) == {("shaft", "journal")}
    assert "journal" in answer.open[0].measure
    assert any("shaft" in text for text in answer.plans[0].confirm)
    bought = answered(pump.pump(core=core))
    assert (bought.verdict, seat(bought.plans[0], "shaft").source) == (Verdict.WITH_WORK, "new")


def walled(north: float | None, south: float | None, least: float | None = 3.0) -> Bundle:
    """The casing's wall read at two places, each to 0.1; the cut may run 0.2 off centre."""
    bore = replace(
        BORE, limit_feature="", wall_feature="wall", wall_positions=("n", "s"), wall_share="half", core_shift=mm(0.2)
    )
    casing = replace(CASING, limits=(pump.wall_limit(least),) if least is not None else ())
    places = {"n": north, "s": south}
    read = tuple(
        pump.reading(casing.key, "wall", size, 0.1, position=p) for p, size in places.items() if size is not None
    )
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL, readings={"casing": read}))
    parts = (casing, GASKET, IMPELLER, LARGE, SEAL, SHAFT)
    return pump.pump(
        parts=parts, core=core, demands=(WANT_LARGE,), operations=(BALANCE, bore), wishes=("keep:casing",)
    )


def test_the_thinnest_wall_less_uncertainty_and_core_shift_limits_the_bore() -> None:
    bore = step(answered(walled(5.0, 4.8)).plans[0], "bore-casing")
    # 4.8 - 0.1 - 0.2 - 3.0 = 1.5 on each side: 79.98 + 3.0
    assert bore.limit == mm(82.98)
    assert "4.7 mm at its thinnest (s)" in bore.limit_basis


def test_a_wall_too_thin_blocks_the_bore_and_one_unread_is_not_known() -> None:
    assert answered(walled(5.0, 4.0)).verdict is Verdict.NO  # 4.0 - 0.1 - 0.2 - 3.0 = 0.7: 81.38, below 81.93
    unread = answered(walled(5.0, None))
    assert unread.verdict is Verdict.UNKNOWN
    assert ("casing", "wall") in open_features(unread)
    assert any("measure wall at s" in m.measure for m in unread.open)
    no_limit = answered(walled(5.0, 4.8, least=None))
    assert no_limit.verdict is Verdict.UNKNOWN
    assert any("least wall" in m.why for m in no_limit.open)


def test_a_drawings_limit_holds_for_a_part_that_was_read_and_is_cited() -> None:
    casing = replace(
        CASING,
        claims=tuple(replace(c, limit_max=mm(83.0)) if c.feature == "bore" else c for c in CASING.claims),
    )
    read = {"casing": (pump.reading(casing.key, "bore", 80.01, 0.01),)}
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL, readings=read))
    parts = (casing, GASKET, IMPELLER, LARGE, SEAL, SHAFT)
    bore = step(answered(pump.pump(parts=parts, core=core, demands=(WANT_LARGE,))).plans[0], "bore-casing")
    assert (bore.before, bore.limit) == (mm(80.01), mm(83.0))
    assert {c.id for c in casing.claims if c.feature == "bore"} <= set(bore.claims)
    assert {c.id for c in read["casing"]} <= set(bore.claims)


def test_a_cut_without_a_limit_or_a_tolerance_is_not_known() -> None:
    unlimited = replace(BORE, limit_feature="")
    answer = answered(pump.pump(demands=(WANT_LARGE,), operations=(BALANCE, unlimited, TRIM)))
    assert answer.verdict is Verdict.UNKNOWN
    assert ("casing", "bore") in open_features(answer)
    loose = replace(BORE, tolerance=None)
    answer = answered(pump.pump(demands=(WANT_LARGE,), operations=(BALANCE, loose, TRIM)))
    assert answer.verdict is Verdict.UNKNOWN
    assert any("tolerance" in m.why for m in answer.open)


def test_disputed_sizes_are_each_tried_and_none_is_averaged() -> None:
    def casing(one: float, other: float) -> Bundle:
        c = pump.part("C1", "casing", {"flange": "four"}, 40_000)
        claims = tuple(pump.claim(c.key, "bore", size, 0.02, source=s) for s, size in (("a", one), ("b", other)))
        c = replace(c, claims=(*c.claims, *claims))
        return pump.pump(
            parts=(c, GASKET, IMPELLER, SEAL, SHAFT),
            core=replace(CORE, found=pump.found(c, IMPELLER, SHAFT, SEAL)),
            wishes=("no-machining",),
        )

    assert answered(casing(79.98, 80.03)).verdict is Verdict.YES  # both leave 0.3 to 0.5 about 79.58..79.62
    answer = answered(casing(80.0, 81.0))
    assert answer.verdict is Verdict.UNKNOWN
    assert any(m.why.startswith("disputed") for m in answer.open)
    assert answered(casing(79.0, 81.0)).verdict is Verdict.NO  # their mean would fit


def test_hearsay_settles_nothing_and_the_answer_says_so() -> None:
    casing = replace(CASING, claims=tuple(replace(c, rank=Rank.HEARD) for c in CASING.claims))
    core = replace(CORE, found=pump.found(casing, IMPELLER, SHAFT, SEAL))
    answer = answered(pump.pump(parts=(casing, GASKET, IMPELLER, SEAL, SHAFT), core=core))
    assert answer.verdict is Verdict.UNKNOWN
    assert {("casing", "bore"), ("casing", "flange")} <= open_features(answer)


def test_a_feature_read_at_two_places_must_hold_at_both() -> None:
    def journal(one: float, other: float) -> Bundle:
        read = tuple(pump.reading(SHAFT.key, "journal", x, position=p) for p, x in (("a", one), ("b", other)))
        core = replace(CORE, found=pump.found(CASING, IMPELLER, SHAFT, SEAL, readings={"shaft": read}))
        return pump.pump(core=core, wishes=("keep:shaft",))

    assert answered(journal(20.0, 19.99)).verdict is Verdict.YES
    assert answered(journal(20.0, 19.90)).verdict is Verdict.NO  # 20.015 - 19.90 is more than 0.05


def test_a_part_superseded_for_good_is_offered_only_from_stock() -> None:
    def with_large(*chain: Supersession, stock: tuple[Stock, ...] = ()) -> Verdict:
        large = replace(LARGE, superseded_by=chain, stock=stock)
        bundle = pump.pump(parts=(CASING, GASKET, IMPELLER, SEAL, SHAFT, large), demands=(WANT_LARGE,))
        return answered(bundle).verdict

    gone = Supersession(LARGE.key, IMPELLER.key, from_date="2025-01-01")
    assert with_large(gone) is Verdict.NO
    assert with_large(gone, stock=(Stock("bin 3", 1),)) is Verdict.WITH_WORK
    assert with_large(replace(gone, two_way=True)) is Verdict.WITH_WORK
    assert with_large(replace(gone, condition="with the long stud")) is Verdict.WITH_WORK
    assert with_large(replace(gone, from_serial="4000")) is Verdict.WITH_WORK
    assert with_large(replace(gone, from_date="2027-01-01")) is Verdict.WITH_WORK


def test_a_missing_price_makes_the_cost_at_least_and_never_proved_cheapest() -> None:
    large = replace(LARGE, price_new=None)
    answer = answered(pump.pump(parts=(CASING, GASKET, IMPELLER, SEAL, SHAFT, large), demands=(WANT_LARGE,)))
    assert (answer.verdict, answer.proof) == (Verdict.WITH_WORK, Proof.FOUND)
    assert (answer.plans[0].at_least, answer.plans[0].cost) == (True, 22_930 - 14_000)
    assert "at least" in answer.sentence
    no_rate = answered(pump.pump(demands=(WANT_LARGE,), rates=()))
    assert (no_rate.plans[0].at_least, no_rate.plans[0].cost) == (True, 2_000 + 14_000 + 500)
    no_book = answered(pump.pump(core=replace(CORE, book_value=None)))
    assert (no_book.plans[0].at_least, no_book.plans[0].cost) == (True, 500)
    own = answered(pump.pump(core=replace(CORE, book_value=None, own=True)))
    assert (own.plans[0].at_least, own.plans[0].cost) == (False, 500)


def test_equal_costs_are_ordered_by_identity() -> None:
    twins = tuple(pump.part(f"L{n}", "seal", {"inside": (20.1, 0.02)}, 500) for n in (3, 1, 2))
    answer = answered(pump.pump(parts=(CASING, GASKET, IMPELLER, SHAFT, *twins), best=3))
    assert [seat(p, "seal").part[-2:] for p in answer.plans] == ["L1", "L2", "L3"]
    assert {p.cost for p in answer.plans} == {2_500}


@pytest.mark.parametrize(("where", "own"), [("casing", CASING), ("impeller", IMPELLER), ("shaft", SHAFT)])
def test_of_plans_that_cost_the_same_the_one_that_keeps_the_cores_part_comes_first(where: str, own: Part) -> None:
    """A new part without a price on record adds nothing to a cost, and its number comes before the core's own."""
    unpriced = replace(own, key="part/pump/A1", number="A1", price_new=None, price_used=None)
    answer = answered(pump.pump(parts=(*pump.PARTS, unpriced), services=(), best=2))
    assert [(seat(p, where).source, p.cost, p.at_least) for p in answer.plans] == [
        ("kept", 2_500, False),
        ("new", 2_500, True),
    ]


def test_an_operation_of_another_part_that_is_needed_binds_the_order_alone() -> None:
    trim = replace(TRIM, needs=("bore-casing",))
    small = demand("impeller", "diameter", "at_most", 79.0)
    answer = answered(pump.pump(operations=(BALANCE, BORE, trim), demands=(small,), rules=RULES[1:]))
    assert [s.operation for s in answer.plans[0].steps] == ["trim-impeller", "balance"]
    both = (small, demand("casing", "bore", "at_least", 80.5))
    answer = answered(pump.pump(operations=(BALANCE, BORE, trim), demands=both, rules=RULES[1:]))
    assert [s.operation for s in answer.plans[0].steps] == ["bore-casing", "trim-impeller", "balance"]


def test_what_can_be_undone_comes_first_and_services_after_what_they_follow() -> None:
    engine = replace(pump.ENGINE, claims=(pump.claim(pump.ENGINE.key, "flange", Code("six")),))
    redrill = replace(pump.REDRILL, to_value=Code("six"))
    bundle = pump.pump(demands=(WANT_LARGE,), engine=engine, operations=(BALANCE, BORE, redrill, TRIM))
    assert [s.operation for s in answered(bundle).plans[0].steps] == ["redrill", "bore-casing", "balance"]


def test_operations_that_need_each_other_in_a_circle_are_refused() -> None:
    bore = replace(BORE, needs=("balance",))  # balance follows boring
    with pytest.raises(BadQuestion, match="circle"):
        plan(pump.pump(demands=(WANT_LARGE,), operations=(BALANCE, bore, TRIM)))


def test_a_code_is_changed_only_where_the_old_one_breaks_something() -> None:
    assert all(not seat(p, "casing").operations for p in answered(pump.pump(best=4)).plans[:1])
    engine = replace(pump.ENGINE, claims=(pump.claim(pump.ENGINE.key, "flange", Code("six")),))
    redrill = replace(pump.REDRILL, to_value=Code("six"))
    answer = answered(pump.pump(engine=engine, operations=(BALANCE, redrill)))
    assert seat(answer.plans[0], "casing").operations == ("redrill",)
    assert answer.plans[0].cost == 2_500 + 1_500  # 15 min at 60.00
    assert step(answer.plans[0], "redrill").to_code == "six"
    assert answered(pump.pump(engine=engine, operations=(BALANCE,))).verdict is Verdict.NO


def test_a_needed_code_operation_whose_result_is_there_counts_as_done() -> None:
    bore = replace(BORE, needs=("redrill",))  # the flange is `four` already
    answer = answered(pump.pump(demands=(WANT_LARGE,), operations=(BALANCE, bore, pump.REDRILL, TRIM)))
    assert seat(answer.plans[0], "casing").operations == ("bore-casing",)


def test_services_are_done_once_and_consumed_parts_count_by_seat_and_unit() -> None:
    consumes = (
        Consume("seal", GASKET.key, 2, "seat", "use:seal"),
        Consume("impeller", GASKET.key, 1, "seat", "use:impeller"),
        Consume("balance", GASKET.key, 3, "unit", "use:balance"),
        Consume("always", GASKET.key, 5, "unit", "use:always"),
    )
    services = (ServiceDue("impeller", "balance", "sd:i"), ServiceDue("seal", "balance", "sd:s"))
    first = answered(pump.pump(demands=(WANT_LARGE,), consumes=consumes, services=services)).plans[0]
    assert [s.operation for s in first.steps].count("balance") == 1
    assert [(c.part, c.quantity) for c in first.consumed] == [(GASKET.key, 2 + 1 + 5)]
    assert first.cost == 22_930 + 8 * 300


def test_lead_time_deposits_and_time_are_summed() -> None:
    large = replace(LARGE, price_new=pump.price(14_000, deposit=2_500, lead_days=9))
    seal = replace(SEAL, stock=(Stock("bin", 1),), price_new=pump.price(500, lead_days=30))
    first = answered(pump.pump(parts=(CASING, GASKET, IMPELLER, SHAFT, large, seal), demands=(WANT_LARGE,))).plans[0]
    assert (first.deposits, first.lead_days) == (2_500, 9)
    assert first.time == 34.3 * 60_000 + 30 * 60_000
    unknown = replace(seal, stock=(), price_new=pump.price(500, lead_days=None))
    first = answered(pump.pump(parts=(CASING, GASKET, IMPELLER, SHAFT, large, unknown))).plans[0]
    assert first.lead_days is None


def test_wishes_narrow_the_options() -> None:
    def ask(*wishes: str) -> PlanAnswer:
        donors = (pump.donor("D1", impeller=LARGE),)
        return answered(pump.pump(demands=(WANT_LARGE,), donors=donors, wishes=wishes, best=30))

    sources = {seat(p, "impeller").source for p in ask().plans}
    assert sources == {"new", "donor"}
    assert {seat(p, "impeller").source for p in ask("no-new").plans} == {"donor"}
    assert {seat(p, "impeller").source for p in ask("no-donor").plans} == {"new"}
    assert {seat(p, "casing").source for p in ask("keep:casing").plans} == {"kept"}
    assert ask("no-machining").verdict is Verdict.NO
    assert ask("no-operation:bore-casing").verdict is Verdict.NO
    assert ask(f"no-part:{LARGE.key}").verdict is Verdict.NO
    with pytest.raises(BadQuestion, match="no-such-wish"):
        ask("no-such-wish")


def test_a_demand_to_keep_holds_the_part_or_the_feature() -> None:
    keep = demand("impeller", "", "keep")
    assert answered(pump.pump(demands=(WANT_LARGE, keep))).verdict is Verdict.NO
    uncut = demand("casing", "bore", "keep")
    assert answered(pump.pump(demands=(WANT_LARGE, uncut))).verdict is Verdict.NO


def test_a_cracked_or_missing_part_is_never_kept() -> None:
    cracked = tuple(replace(f, state="cracked") if f.seat == "impeller" else f for f in CORE.found)
    answer = answered(pump.pump(core=replace(CORE, found=cracked), best=5))
    assert all(seat(p, "impeller").source == "new" for p in answer.plans)
    donors = (replace(pump.donor("D1", impeller=LARGE), found=(replace(CORE.found[1], state="scrap"),)),)
    answer = answered(pump.pump(core=replace(CORE, found=cracked), donors=donors, best=9))
    assert all(seat(p, "impeller").source == "new" for p in answer.plans)


def test_a_seat_that_may_be_empty_is_left_so_unless_something_is_demanded_of_it() -> None:
    seats = tuple(replace(s, may_be_empty=s.name == "seal") for s in SEATS)
    first = answered(pump.pump(seats=seats)).plans[0]
    assert (seat(first, "seal").source, first.cost) == ("empty", 2_000)
    assert all("seal" not in {o.seat for o in v.operands} for v in first.joints)
    asked = demand("seal", "inside", "at_least", 20.0)
    first = answered(pump.pump(seats=seats, demands=(asked,))).plans[0]
    assert seat(first, "seal").source == "new"


def test_a_part_that_was_not_identified_is_known_by_its_readings_alone() -> None:
    read = (pump.reading("", "bore", 80.0), pump.reading("", "flange", Code("four")))
    found = tuple(replace(f, part="", readings=read) if f.seat == "casing" else f for f in CORE.found)
    answer = answered(pump.pump(core=replace(CORE, found=found)))
    assert (answer.verdict, seat(answer.plans[0], "casing").part) == (Verdict.YES, "")
    found = tuple(replace(f, part="", readings=read[:1]) if f.seat == "casing" else f for f in CORE.found)
    answer = answered(pump.pump(core=replace(CORE, found=found), wishes=("no-new",)))
    assert open_features(answer) == {("casing", "flange")}


def test_an_impossible_build_says_which_demand_removes_which_parts() -> None:
    answer = answered(pump.pump(demands=(demand("impeller", "diameter", "at_least", 85.0),)))
    assert (answer.verdict, answer.proof, answer.plans, answer.bound) == (Verdict.NO, Proof.IMPOSSIBLE, (), None)
    assert "diameter at least 85 mm" in answer.causes[0]
    assert "none of 3 possible parts" in answer.causes[0]


def test_an_impossible_joint_names_the_rules_that_clash() -> None:
    answer = answered(pump.pump(demands=(WANT_LARGE,), operations=(BALANCE,)))
    assert answer.proof is Proof.IMPOSSIBLE
    assert "impeller in its casing: casing bore against impeller diameter, 0.3 mm to 0.5 mm" in answer.causes[0]
    assert "lip" not in answer.causes[0]


def test_a_question_stopped_at_once_is_undecided_and_proves_nothing() -> None:
    answer = plan(pump.pump(), stop=lambda: True)
    assert (answer.verdict, answer.proof, answer.plans) == (Verdict.UNKNOWN, Proof.UNDECIDED, ())


def test_questions_that_do_not_go_together_are_refused_with_all_faults() -> None:
    with pytest.raises(BadQuestion) as refused:
        plan(pump.pump(demands=(demand("rotor", "diameter", "at_least", 1.0),), wishes=("keep:stator",)))
    assert "rotor" in refused.value.message
    assert "stator" in refused.value.message
    with pytest.raises(MixedCurrency):
        plan(pump.pump(rates=(Rate("shop", 6_000, "USD"),)))


def test_a_cut_is_cautioned_as_lasting_and_no_longer_the_tested_part() -> None:
    caution = replace(BORE, caution="keep the chips out of the gallery")
    first = answered(pump.pump(demands=(WANT_LARGE,), operations=(BALANCE, caution, TRIM))).plans[0]
    said = {c.code: c.text for c in first.cautions}
    assert {"operation", "irreversible", "containment", "emissions"} <= said.keys()
    assert "keep the chips out" in said["operation"]
    assert answered(pump.pump()).plans[0].cautions == ()


def test_the_target_is_the_middle_of_the_window_to_a_hundredth_where_there_is_room() -> None:
    # Impeller 81.58..81.62 and a gap of 0.3..0.407: 81.93 to 81.977, middle 81.9535, to a hundredth 81.95.
    tight = (replace(RULES[0], max=mm(0.407)), *RULES[1:])
    bore = step(answered(pump.pump(demands=(WANT_LARGE,), rules=tight)).plans[0], "bore-casing")
    assert (bore.high, bore.target) == (mm(81.977), mm(81.95))
    # A gap up to 0.367 leaves 81.93 to 81.937 exactly; from 0.302 on, 81.932 to 81.937 has no hundredth in it.
    tight = (replace(RULES[0], min=mm(0.302), max=mm(0.367)), *RULES[1:])
    bore = step(answered(pump.pump(demands=(WANT_LARGE,), rules=tight)).plans[0], "bore-casing")
    assert bore.target == mm(81.9345)


def test_a_size_demanded_exactly_is_cut_to_that_size() -> None:
    exact = demand("casing", "bore", "same", 82.05)
    bore = step(answered(pump.pump(demands=(WANT_LARGE, exact))).plans[0], "bore-casing")
    assert (bore.least, bore.low, bore.high, bore.target) == (mm(82.05),) * 4
    unreachable = demand("casing", "bore", "same", 82.2)  # 82.19 - 81.62 is more than 0.5
    assert answered(pump.pump(demands=(WANT_LARGE, unreachable))).verdict is Verdict.NO


def test_the_way_shown_ends_at_the_plans_cost_and_has_each_step() -> None:
    first = answered(pump.pump(demands=(WANT_LARGE,), consumes=(Consume("seal", GASKET.key, 2),))).plans[0]
    points = running(first)
    assert [label for label, _ in points[1:]] == ["bore-casing (casing)", "balance"]
    assert points[0][1] == 2_000 + 14_000 + 500 + 2 * 300  # core, impeller, seal, two gaskets
    assert points[-1][1] == first.cost
    assert all(a <= b for (_, a), (_, b) in pairwise(points))
