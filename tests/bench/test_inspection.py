"""Reuse, machine, replace, scrap: worked guard-band decisions, limits of their own unit only, cracks.

The rule is that of ISO 14253-1 (proving conformity needs the whole uncertainty inside the limit, proving
nonconformity needs it outside), as summarised in public descriptions of the standard; the worked figures are ours,
by hand.
"""

from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from graph.desk import Desk
from graph.desk.bench import Bench
from graph.inspection import InspectionEvidence, Instrument, compare, inspect, worst_first
from graph.model.bench import Decision, Outcome
from graph.model.claim import Claim, Rank
from graph.model.record import (
    Core,
    Feature,
    FoundPart,
    Kind,
    Layout,
    Limit,
    Operation,
    Part,
    Seat,
    Snapshot,
    Weakness,
)
from graph.model.value import Amount

UM = 10_000
JOURNAL = Feature("journal", "journal diameter", "length", "mm", wears=True)
BORE = Feature("bore", "bearing bore", "length", "mm", wears=True)
PLAY = Feature("end_play", "end play", "length", "mm")


def um(size: float) -> int:
    return round(size * UM)


def reading(
    feature: str,
    size: float,
    off: float | None,
    position: str = "",
    date: str = "",
    *,
    who: str = "",
    rank: Rank = Rank.MEASURED,
) -> Claim:
    value = Amount(um(size), "length", str(size), "µm")
    tolerance = None if off is None else um(off)
    name = f"{feature}{size}{date}{who}"
    return Claim(name, "", feature, value, "bench", rank, date, tolerance, position=position, who=who)


def limit(
    feature: str, low: float | None, high: float | None, condition: str = "used", rank: Rank = Rank.MAKER
) -> Limit:
    return Limit(
        feature, condition, None if low is None else um(low), None if high is None else um(high), rank, "sheet"
    )


def bench(
    found: FoundPart,
    *,
    limits: Sequence[Limit] = (),
    unit_limits: Sequence[Limit] = (),
    operations: Sequence[Operation] = (),
    claims: Sequence[Claim] = (),
    instruments: Sequence[Instrument] = (),
    rotating: bool = True,
    looked_at: Sequence[str] = (),
) -> list[Decision]:
    part = Part("part/M/1", "M", "1", "shaft", "shaft", tuple(claims), tuple(limits))
    evidence = InspectionEvidence(
        core=Core("core/1", "1", "one", "unit/M/U", found=(found,)),
        layout=Layout("one", (Seat("shaft", "shaft"),), (), ()),
        parts=(part,),
        kinds=(Kind("shaft", "shaft", rotating=rotating),),
        features=(JOURNAL, BORE, PLAY),
        operations=tuple(operations),
        unit_limits=tuple(unit_limits),
        instruments=tuple(instruments),
        weaknesses=(),
        looked_at=frozenset(looked_at),
        snapshot=Snapshot("c", 1),
    )
    return list(inspect(evidence).decisions)


@pytest.mark.parametrize(
    ("size", "off", "expected"),
    [
        # A journal of at least 13.973 mm, worked by hand: value - U >= limit is within, value + U < limit is outside.
        (13_985, 2, "within"),  # 13.983 >= 13.973
        (13_975, 2, "within"),  # 13.973 is the limit itself: inside
        (13_974, 2, "too close"),  # 13.972 to 13.976
        (13_973, 0, "within"),
        (13_971, 2, "too close"),  # 13.973 is reached
        (13_970, 2, "outside"),  # 13.972 < 13.973
        (13_968, 4, "outside"),  # 13.972
        (13_975, 4, "too close"),  # 13.971 to 13.979
        (13_972, 0, "outside"),
        (13_985, None, "no uncertainty"),
    ],
)
def test_worked_decisions_at_a_lower_limit(size: int, off: int | None, expected: str) -> None:
    assert compare(size, off, 13_973, None) == expected


@pytest.mark.parametrize(
    ("size", "off", "expected"),
    [
        # End play 0.08 to 0.16 mm, with a dial indicator sure to 0.005 mm.
        (80, 5, "too close"),
        (85, 5, "within"),
        (155, 5, "within"),
        (156, 5, "too close"),
        (165, 5, "too close"),
        (166, 5, "outside"),
        (74, 5, "outside"),
        (75, 5, "too close"),
        # With an uncertainty wider than the whole window nothing can be proved good.
        (120, 50, "too close"),
    ],
)
def test_worked_decisions_between_two_limits(size: int, off: int, expected: str) -> None:
    assert compare(size, off, 80, 160) == expected


@given(st.integers(0, 60), st.integers(0, 12), st.integers(0, 60) | st.none(), st.integers(0, 60) | st.none())
def test_the_rule_is_what_every_true_value_within_the_uncertainty_would_say(
    size: int, off: int, low: int | None, high: int | None
) -> None:
    if low is not None and high is not None and low > high:
        return
    said = {
        (low is None or Fraction(true, 4) >= low) and (high is None or Fraction(true, 4) <= high)
        for true in range(4 * (size - off), 4 * (size + off) + 1)
    }
    got = compare(size, off, low, high)
    if low is None and high is None:
        assert got == "no limit"
    elif off > 0 or len(said) == 1:
        # Where both ends lie outside on different sides some true value in between is good: too close.
        assert got == {frozenset({True}): "within", frozenset({False}): "outside"}.get(frozenset(said), "too close")


def test_a_close_reading_says_what_to_measure_with_again() -> None:
    found = FoundPart("shaft", "part/M/1", readings=(reading("journal", 13_975, 4, "turbine end"),))
    instruments = (Instrument("micrometer", "journal", um(3)), Instrument("lever micrometer", "journal", um(1)))
    (decision,) = bench(found, limits=[limit("journal", 13_973, None)], instruments=instruments)
    assert decision.outcome is Outcome.TOO_CLOSE
    # 2 micrometres to the limit: the 3 µm micrometer could not settle it, the lever micrometer can.
    assert "measure again with lever micrometer (± 0.001 mm)" in decision.reason


def test_each_plane_is_judged_and_the_worst_decides() -> None:
    both = (reading("journal", 13_985, 2, "compressor end"), reading("journal", 13_951, 2, "turbine end"))
    (decision,) = bench(FoundPart("shaft", "part/M/1", readings=both), limits=[limit("journal", 13_973, None)])
    assert decision.outcome is Outcome.REPLACE
    assert [j.result for j in decision.judged] == ["within", "outside"]


def test_a_part_beyond_its_limit_is_machined_where_an_operation_has_room() -> None:
    grind = Operation("grind", "grind", "shaft", "journal", "reduce_to_suit", 0, 0, tolerance=um(3))
    worn = FoundPart("shaft", "part/M/1", readings=(reading("journal", 13_960, 2),))
    kind = Claim("k", "", "journal", Amount(um(13_985), "length"), "drawing", Rank.DRAWING, tolerance=um(5))
    limits = [limit("journal", 13_973, None)]

    def decided(least: float | None) -> Decision:
        permits = None if least is None else um(least)
        claim = Claim(kind.id, "", "journal", kind.value, "drawing", Rank.DRAWING, tolerance=um(5), limit_min=permits)
        (decision,) = bench(worn, limits=limits, operations=[grind], claims=[claim])
        return decision

    assert decided(13_730).outcome is Outcome.MACHINE
    assert decided(13_730).work == ("grind",)
    # 13.958 - 0.003 leaves nothing above 13.955.
    assert decided(13_955).outcome is Outcome.REPLACE
    # Nobody says how far: not known, never yes.
    assert decided(None).outcome is Outcome.UNKNOWN
    assert "whether it can be machined is not known" in decided(None).reason


def test_a_missing_limit_is_not_known() -> None:
    found = FoundPart("shaft", "part/M/1", readings=(reading("journal", 13_985, 2),))
    for limits in ([], [limit("journal", 13_980, 13_990, "new")], [limit("journal", 13_973, None, rank=Rank.HEARD)]):
        (decision,) = bench(found, limits=limits)
        assert decision.outcome is Outcome.UNKNOWN
        assert decision.judged[0].result == "no limit"


def test_a_worn_feature_that_nobody_read_is_not_known() -> None:
    (decision,) = bench(FoundPart("shaft", "part/M/1"), limits=[limit("journal", 13_973, None)])
    assert decision.outcome is Outcome.UNKNOWN
    assert "not read" in decision.reason


def test_of_two_limits_that_differ_both_are_shown_and_the_stricter_governs() -> None:
    found = FoundPart("shaft", "part/M/1", readings=(reading("journal", 13_974, 0.5),))
    (decision,) = bench(found, limits=[limit("journal", 13_973, None), limit("journal", 13_976, None)])
    assert decision.outcome is Outcome.REPLACE
    judged = decision.judged[0]
    assert (judged.min, judged.disputed) == (um(13_976), True)
    assert [x.governs for x in judged.limits] == [False, True]
    assert "the stricter governs" in judged.text


def test_limits_that_contradict_each_other_settle_nothing() -> None:
    found = FoundPart("shaft", "part/M/1", readings=(reading("journal", 13_974, 0.5),))
    (decision,) = bench(found, limits=[limit("journal", 13_976, None), limit("journal", None, 13_970)])
    assert decision.outcome is Outcome.UNKNOWN


def test_a_cracked_rotating_part_is_scrap_and_nobody_lifts_that() -> None:
    fine = (reading("journal", 13_985, 2),)
    (decision,) = bench(FoundPart("shaft", "part/M/1", "cracked", fine), limits=[limit("journal", 13_973, None)])
    assert (decision.outcome, decision.final) == (Outcome.SCRAP, True)
    (still,) = bench(FoundPart("shaft", "part/M/1", "cracked", fine), rotating=False)
    assert (still.outcome, still.final) == (Outcome.REPLACE, False)


LATE = "2026-03-11T09:00"


@pytest.mark.parametrize(
    ("later", "expected"),
    [
        (reading("journal", 13_985, 2, date=LATE, who="Ann"), Outcome.REUSE),  # her own later one
        (reading("journal", 13_985, 2, date=LATE, who="Bo"), Outcome.UNKNOWN),
        (reading("journal", 13_985, 2, date=LATE), Outcome.UNKNOWN),  # nobody knows that it is hers
        (reading("journal", 13_974, 2, date=LATE, who="Bo"), Outcome.UNKNOWN),  # too close against outside
        (reading("journal", 13_985, None, date=LATE, who="Bo"), Outcome.UNKNOWN),
        (reading("journal", 13_960, 2, date=LATE, who="Bo"), Outcome.REPLACE),  # both are outside
        (reading("journal", 13_985, 2, date=LATE, who="Bo", rank=Rank.HEARD), Outcome.REPLACE),
    ],
)
def test_another_person_s_reading_stands_beside_the_first(later: Claim, expected: Outcome) -> None:
    first = reading("journal", 13_951, 2, date="2026-03-10", who="Ann")
    found = FoundPart("shaft", "part/M/1", readings=(first, later))
    (decision,) = bench(found, limits=[limit("journal", 13_973, None)])
    assert decision.outcome is expected
    if expected is Outcome.UNKNOWN:
        assert "measure again" in decision.reason


def test_a_reading_that_is_only_heard_decides_nothing() -> None:
    heard = reading("journal", 13_985, 2, who="a caller", rank=Rank.HEARD)
    (decision,) = bench(FoundPart("shaft", "part/M/1", readings=(heard,)), limits=[limit("journal", 13_973, None)])
    assert decision.outcome is Outcome.UNKNOWN
    assert "only heard" in decision.reason


def test_a_surer_reading_within_a_close_one_decides() -> None:
    close = reading("journal", 13_975, 4, who="Ann")
    sure = reading("journal", 13_976, 1, who="Bo")
    found = FoundPart("shaft", "part/M/1", readings=(close, sure))
    (decision,) = bench(found, limits=[limit("journal", 13_973, None)])
    assert decision.outcome is Outcome.REUSE


def test_what_is_read_on_the_unit_is_held_against_the_units_own_limits() -> None:
    found = FoundPart("unit", "", readings=(reading("end_play", 170, 5),))
    decisions = bench(found, unit_limits=[limit("end_play", 80, 160, "")])
    unit = next(d for d in decisions if d.seat == "unit")
    assert unit.outcome is Outcome.UNKNOWN
    assert "find the part that is worn" in unit.reason
    good = bench(
        FoundPart("unit", "", readings=(reading("end_play", 100, 5),)), unit_limits=[limit("end_play", 80, 160, "")]
    )
    assert next(d for d in good if d.seat == "unit").outcome is Outcome.REUSE


def test_a_part_that_was_looked_at_may_go_on_where_nothing_of_it_wears() -> None:
    (silent,) = bench(FoundPart("shaft", "part/M/1"))
    (looked,) = bench(FoundPart("shaft", "part/M/1"), looked_at=["shaft"])
    assert (silent.outcome, looked.outcome) == (Outcome.UNKNOWN, Outcome.REUSE)


def test_few_cases_count_less_than_many_in_where_to_look_first() -> None:
    # Laplace's rule by hand: 14 of 31 is 15/33 = 0.4545, 1 of 1 is 2/3, 4 of 9 is 5/11 = 0.4545…, 0 of 40 is 1/42.
    rows = [
        Weakness("u", "never", 0, 40),
        Weakness("u", "often", 14, 31),
        Weakness("u", "once", 1, 1),
        Weakness("u", "unsaid"),
    ]
    assert [w.text for w in worst_first(rows)] == ["once", "unsaid", "often", "never"]


# Published limits, each with its own unit: TRADE.md, section 2 (sources S1, S4 and S6 there). A limit of one
# unit says nothing about another.

PUBLISHED = [
    # unit class, feature, min, max in µm, a reading in µm, what follows with 2 µm
    ("16 mm journal class", "journal", 15_875, 15_885, 15_880, "within"),
    ("16 mm journal class", "journal", 15_875, 15_885, 15_870, "outside"),
    ("another unit", "journal", 14_250, None, 15_870, "within"),
    ("8 mm shaft class", "journal", 7_980, None, 7_979, "too close"),
    ("8 mm shaft class", "ring groove", None, 1_290, 1_293, "outside"),
    ("16 mm journal class", "housing bore", 24_961, 24_973, 24_972, "too close"),
    ("another unit", "housing bore", None, 22_255, 22_250, "within"),
    ("one unit", "end play", 30, 100, 110, "outside"),
    ("another unit", "end play", 100, 230, 110, "within"),
    ("16 mm journal class", "end play", 150, 270, 110, "outside"),
]


@pytest.mark.parametrize(("unit", "feature", "low", "high", "size", "expected"), PUBLISHED)
def test_published_limits_decide_for_their_own_unit(
    unit: str, feature: str, low: int | None, high: int | None, size: int, expected: str
) -> None:
    assert compare(size, 2, low, high) == expected


def test_the_limit_of_another_part_or_unit_is_never_borrowed(demo_desk: Desk) -> None:
    # Only the OV46 and one OT38 and the QF50 state an end play; a QV52 has none on record.
    decisions = Bench(demo_desk).inspect("HB-033").decisions
    assert all(d.seat != "unit" for d in decisions)
    housing = next(d for d in decisions if d.seat == "bearing-housing")
    assert housing.outcome is Outcome.UNKNOWN


def test_the_demos_cores_come_out_as_its_bench_sheets_say(demo_desk: Desk) -> None:
    bench_ = Bench(demo_desk)

    def outcome(tag: str, seat: str) -> Outcome:
        return next(d.outcome for d in bench_.inspect(tag).decisions if d.seat == seat)

    # HB-017: bores 22.150 and 22.156 against at most 22.136 mm, castings permit 22.4; rotor written off.
    assert outcome("HB-017", "bearing-housing") is Outcome.MACHINE
    assert outcome("HB-017", "shaft-wheel") is Outcome.SCRAP
    # HB-026: 13.951 against at least 13.973, and the ring groove at 1.93 against at most 1.88, which nothing mends.
    assert outcome("HB-026", "shaft-wheel") is Outcome.REPLACE
    # HB-008: 13.985 and 13.984, groove 1.80.
    assert outcome("HB-008", "shaft-wheel") is Outcome.REUSE
    # HB-033 has a cracked compressor wheel, HB-021 a cracked housing.
    assert outcome("HB-033", "compressor-wheel") is Outcome.SCRAP
    assert outcome("HB-021", "turbine-housing") is Outcome.REPLACE
