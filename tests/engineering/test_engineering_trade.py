"""The numbers that the trade works with, and the mistakes that it makes, held against our formulas.

Sources: hand calculation where none is named; lore of the shops is marked as common practice without a source.
"""

import pytest

from graph.engineering import air, atmosphere, balance, corrected, cutting, growth, pitch, rotor, threads
from graph.engineering.fits import fit, limits, nominal_of, tolerance
from graph.engineering.inch_fits import inch_fit
from graph.errors import BadQuantity, BadQuestion, NotFound
from graph.model.value import Amount
from graph.model.verdict import Verdict

LB_MIN = 0.45359237 / 60  # kg/s
HP = 745.69987  # W
SEA = corrected.STANDARD_DAY


# Trim, tip speed, pitches: definitions, by hand.
def test_trims_of_two_wheels() -> None:
    assert rotor.trim(63, 96) == pytest.approx(43.1, abs=0.05)
    assert rotor.trim(67, 100) == pytest.approx(44.9, abs=0.05)


def test_tip_speed_and_the_shaft_speeds_of_equal_tip_speed() -> None:
    assert rotor.tip_speed(100, 100_000) == pytest.approx(524, abs=0.5)
    assert rotor.shaft_speed(90, 500) == pytest.approx(106_100, abs=10)
    assert rotor.shaft_speed(100, 500) == pytest.approx(95_500, abs=10)


def test_fewer_blades_sing_lower_and_unbalance_lower_still() -> None:
    heard = [pitch.blade_pass(blades, 0, 90_000).full for blades in (7, 6, 5)]
    assert heard == [10_500, 9_000, 7_500]
    assert pitch.first_order(90_000) == 1500
    assert pitch.pitch_change(7, 6) < 0 < pitch.pitch_change(6, 7)


def test_a_splittered_wheel_has_two_pitches() -> None:
    assert pitch.blade_pass(6, 6, 90_000) == pitch.BladePass(9_000, 18_000)


# Air: by hand, with pounds and inches converted by their definitions.
def test_fifty_pounds_a_minute_in_three_conventions() -> None:
    measured = corrected.Corrected(50.0, corrected.Reference(298.15, 101_325.0))
    assert corrected.restated_flow(measured, corrected.Reference(288.15, 101_325.0)).value == pytest.approx(
        50.9, abs=0.05
    )
    old_us = corrected.Reference(302.8, 96_200.0)
    assert corrected.restated_flow(measured, old_us).value == pytest.approx(47.1, abs=0.05)


def test_the_same_manifold_pressure_asks_more_ratio_at_height() -> None:
    manifold = 3.04 * 101_325
    high = atmosphere.standard_air(1600, "geopotential")
    assert air.pressure_ratio(manifold, high.pressure) == pytest.approx(3.69, abs=0.005)


def test_six_litres_at_2800_draw_56_pounds_a_minute() -> None:
    demand = air.engine_demand(6.0, 2800, 0.92, 310e3, 330)
    assert demand == pytest.approx(0.42, abs=0.005)
    assert demand / LB_MIN == pytest.approx(55.8, abs=0.1)


@pytest.mark.parametrize(("afr", "power"), [(20, 8.3), (16.7, 10.0)])
def test_power_per_pound_of_air_and_what_ten_would_take(afr: float, power: float) -> None:
    # BSFC 0.36 lb/(hp h); ten horsepower a pound would need an air-fuel ratio at which a diesel smokes.
    grams = 0.36 * 453.59237 / (HP / 1000)
    found = air.power_per_air((afr, afr), (grams, grams))
    assert found.low == found.high
    assert found.low * 1000 * LB_MIN / HP == pytest.approx(power, abs=0.05)


def test_power_per_air_is_a_range_with_its_assumptions() -> None:
    found = air.power_per_air((18, 24), (205, 235))
    assert found.low < 3.6e6 / (20 * 219) < found.high
    assert len(found.assumes) == 3


# Balance and growth.
def test_both_published_grades_are_offered_with_who_says_so() -> None:
    assert [advice.grade for advice in balance.ADVICE] == [6.3, 1.0]
    assert all(advice.says for advice in balance.ADVICE)
    found = [balance.permissible_unbalance(advice.grade, 0.4, 100_000) for advice in balance.ADVICE]
    assert found == pytest.approx([0.24, 0.04], abs=0.002)


def test_ten_milligram_inches_are_of_the_order_of_g_6_3() -> None:
    quoted = 10 * 25.4 / 1000  # g mm; a trade article's figure for each component
    assert quoted == pytest.approx(0.25, abs=0.005)
    assert balance.achieved_grade(quoted, 0.4, 100_000) == pytest.approx(6.65, abs=0.05)  # by hand: U*2pi*n/60/m


def test_growth_of_an_aluminium_wheel_by_speed_and_by_heat() -> None:
    # A solid disc at 500 m/s, Roark; E 71 GPa, 2770 kg/m3, 0.33 are handbook figures from memory.
    speed = rotor.shaft_speed(100, 500)
    assert growth.centrifugal_growth(100, speed, 71e9, 2770, 0.33) == pytest.approx(0.08, abs=0.005)
    assert growth.thermal_growth(50, 22e-6, 293.15, 293.15 + 130) == pytest.approx(0.14, abs=0.005)


def test_the_housing_alloy_turns_the_turbine_gap_from_closing_to_opening() -> None:
    # Radii of 50 mm, 560 K hotter: wheel 0.38, plain iron 0.32, austenitic iron 0.45 mm (by hand).
    def body(coefficient: float, size: float = 100) -> growth.Body:
        return growth.Body(size, 293.15, 853.15, coefficient, coefficient)

    wheel = body(13.5e-6)
    grown = [growth.thermal_growth(50, c, 293.15, 853.15) for c in (13.5e-6, 11.5e-6, 16.0e-6)]
    assert grown == pytest.approx([0.38, 0.32, 0.45], abs=0.005)
    assert growth.hot_gap(body(11.5e-6, 101), wheel).low < 0.5 < growth.hot_gap(body(16.0e-6, 101), wheel).low


def test_the_spread_of_a_published_coefficient_becomes_a_range_of_the_hot_gap() -> None:
    iron, alloy = growth.expansion("ductile iron"), growth.expansion("alloy 713c")
    found = growth.hot_gap(
        growth.Body(65.0, 293.15, 823.15, iron.low, iron.high),
        growth.Body(64.0, 293.15, 893.15, alloy.low, alloy.high),
    )
    assert found.cold == 0.5
    # By hand: half of 65 mm times 530 K times the spread of 4.0e-6.
    assert found.high - found.low == pytest.approx(65 / 2 * 530 * 4.0e-6, rel=1e-9)


# Traps, each seen in print or in a library.
def test_two_inches_are_not_50_8_mm_in_a_fit_table() -> None:
    assert inch_fit(2, "H7/s6").hole == (10, 0)
    assert tolerance(50.8, 7) == 30  # 0.0012 in, another step
    with pytest.raises(BadQuantity):
        nominal_of(Amount(508_000_000, "length", "2", "in"))


def test_inch_tables_are_the_metric_ones_rounded_to_a_tenth_of_a_thou() -> None:
    # Shigley's inch tables (from memory) are conversions; in the middle of a step they agree to the rounding.
    for inches in (0.3, 0.5, 0.8, 1.1, 1.5, 1.8, 2.3, 3.0, 3.5, 4.5, 5.2, 6.0, 7.0, 7.5, 8.5, 9.5):
        for zones in ("H7/g6", "H7/h6", "H7/k6", "H7/n6", "H7/p6", "H7/s6", "H7/u6", "H8/f7", "H9/d9", "H11/c11"):
            ours, metric = inch_fit(inches, zones), fit(inches * 25.4, zones)
            for one, other in zip((*ours.hole, *ours.shaft), (*metric.hole, *metric.shaft), strict=True):
                assert one == pytest.approx(other / 2.54, abs=1.3), (inches, zones)


def test_hole_k6_is_nine_wide_where_a_library_says_eight() -> None:
    assert limits(8, "K6") == (2, -7)


def test_turns_a_minute_become_hertz_without_two_pi() -> None:
    # A units library that counts the radian as one makes 60 rpm 6.283 Hz.
    assert pitch.first_order(60) == 1


def test_heights_on_a_map_are_not_the_heights_of_the_tables() -> None:
    geometric = atmosphere.standard_air(3000, "geometric").pressure
    table = atmosphere.standard_air(3000, "geopotential").pressure
    assert geometric - table == pytest.approx(12.6, abs=0.1)
    with pytest.raises(BadQuestion):
        atmosphere.standard_air(3000, "metres")  # type: ignore[arg-type]


def test_the_published_turning_time_of_one_minute_is_wrong() -> None:
    # An answer site divides 200 mm by 200 mm/min; the feed is 250 mm/min.
    assert cutting.turning_time(200, 250 / 400, 400) == pytest.approx(0.8)


def test_the_web_tables_slip_in_npt_is_not_copied() -> None:
    assert threads.npt("3/8").effective / 25.4 == pytest.approx(0.4078, abs=6e-5)


def test_the_6h_limit_is_the_tables_not_the_formulas() -> None:
    assert threads.thread_limits(10, 1.5).nut_pitch[1] == pytest.approx(9.206, abs=5e-4)


def test_flows_of_two_reference_states_are_not_compared() -> None:
    here = corrected.corrected_flow(0.3, 298, 98e3, SEA)
    there = corrected.corrected_flow(0.3, 298, 98e3, corrected.Reference(298, 100e3))
    assert there.value / here.value == pytest.approx(0.97, abs=0.001)  # 3 %, as the references differ
    with pytest.raises(BadQuestion, match=r"to 288\.15 K, 101325 Pa, the other to 298 K"):
        corrected.flow_difference(here, there)
    assert corrected.flow_difference(here, corrected.restated_flow(there, SEA)) == pytest.approx(0, abs=1e-12)


def test_a_constant_gamma_is_two_kelvin_too_hot_at_a_ratio_of_four() -> None:
    from graph.engineering.gas import real_air

    # CoolProp 8.0.0 and Cantera 3.2.0, as recorded with the cases: 0.2 K at 2, 0.5 K at 2.5, 2 K at 4.
    gaps = [air.compression_temperature(298.15, r, 0.76) - real_air(298.15, r, 0.76).temperature for r in (2, 2.5, 4)]
    assert gaps == pytest.approx([0.2, 0.5, 2.0], abs=0.35)


def test_a_coefficient_has_a_source_and_a_range_of_temperature() -> None:
    for name, found in growth.EXPANSION.items():
        assert found.source, name
        assert 300 < found.up_to < 1200, name
        assert 0 < found.low <= found.high, name
    iron = growth.expansion("ductile iron")
    assert (iron.low, iron.high) == (10.8e-6, 14.8e-6)  # as the sources seen spread
    with pytest.raises(NotFound):
        growth.expansion("pot metal")


def test_ar_of_two_conventions_is_not_compared() -> None:
    cast, measured = rotor.AreaRadius(0.83, "cast mark, in"), rotor.AreaRadius(21.0, "throat to centroid, mm")
    with pytest.raises(BadQuestion, match="not comparable"):
        rotor.area_radius_ratio(measured, cast)


# A wheel's speed: its own limit, or not known.
@pytest.mark.parametrize(
    ("limit", "verdict"), [(None, Verdict.UNKNOWN), (500.0, Verdict.NO), (523.0, Verdict.NO), (560.0, Verdict.YES)]
)
def test_a_wheel_is_held_to_its_own_limit_only(limit: float | None, verdict: Verdict) -> None:
    found = rotor.speed_check(100, 100_000, limit)
    assert found.verdict is verdict
    assert bool(found.cautions) is (verdict is not Verdict.YES)


@pytest.mark.parametrize(
    ("heard", "names"),
    [(1500, ("unbalance (1x)",)), (9000, ("full blades",)), (18_300, ("all blades",)), (5000, ())],
)
def test_a_whistle_is_told_from_its_pitch(heard: float, names: tuple[str, ...]) -> None:
    assert pitch.whistle(heard, 90_000, 6, 6) == names
