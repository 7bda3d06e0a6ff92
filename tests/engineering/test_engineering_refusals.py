"""No formula passes on a number that is none: NaN, infinities and, nearly everywhere, negatives are refused."""

from collections.abc import Callable
from typing import Any

import pytest

from graph.engineering import (
    air,
    atmosphere,
    balance,
    changes,
    contour,
    corrected,
    cutting,
    fits,
    gas,
    growth,
    housing,
    inch_fits,
    pitch,
    rotor,
    stacks,
    studs,
    threads,
    wheel,
)
from graph.errors import SpoolwrightError

STATE = corrected.STANDARD_DAY
GOOD: list[tuple[Callable[..., Any], tuple[Any, ...]]] = [
    (air.density, (1e5, 300.0)),
    (air.engine_demand, (6.0, 2000.0, 0.9, 2e5, 320.0, 287.05)),
    (air.pressure_ratio, (2e5, 1e5, 1e3, 1e3)),
    (air.compression_temperature, (300.0, 2.0, 0.75, 1.4)),
    (air.isentropic_efficiency, (300.0, 390.0, 2.0, 1.4)),
    (air.compressor_power, (0.3, 300.0, 390.0, 1005.0)),
    (air.cooled, (400.0, 300.0, 0.7)),
    (corrected.corrected_flow, (0.3, 300.0, 1e5, STATE)),
    (corrected.corrected_speed, (1e5, 300.0, STATE)),
    (gas.real_air, (300.0, 2.0, 0.75)),
    (gas.isentropic, (0.5, 1.4)),
    (gas.choking_parameter, (1.4, 287.05)),
    (gas.choked_flow, (1000.0, 2e5, 900.0, 1.33, 287.0)),
    (gas.critical_ratio, (1.4,)),
    (gas.turbine_temperature, (900.0, 2.0, 0.7, 1.33)),
    (wheel.whirl_ratio, (450.0, 100.0, 25.0)),
    (wheel.wheel_work, (450.0, 0.7, 1.0)),
    (wheel.ratio_of_work, (1e5, 300.0, 0.75, 1005.0, 1.4)),
    (wheel.expected_ratio, (450.0, 300.0)),
    (wheel.expected_flow, (60.0, 300.0, 1e5)),
    (rotor.trim, (60.0, 80.0)),
    (rotor.area_radius, (1200.0, 60.0, "throat")),
    (rotor.tip_speed, (80.0, 1e5)),
    (rotor.shaft_speed, (80.0, 450.0)),
    (rotor.speed_check, (80.0, 1e5, 500.0)),
    (rotor.tip_mach, (80.0, 1e5, 300.0)),
    (rotor.collar_height, (60.0, (20.0, 30.0))),
    (pitch.first_order, (1e5,)),
    (pitch.blade_pass, (6, 6, 1e5)),
    (pitch.whistle, (1500.0, 9e4, 6, 6, 0.05)),
    (balance.permissible_eccentricity, (6.3, 1e5)),
    (balance.permissible_unbalance, (6.3, 0.4, 1e5)),
    (balance.achieved_grade, (0.2, 0.4, 1e5)),
    (balance.two_planes, (0.2, 30.0, 20.0)),
    (balance.bearing_shares, (0.2, 30.0, 20.0)),
    (balance.correction_mass, (0.2, 20.0)),
    (balance.unbalance_force, (0.2, 1e5)),
    (growth.per_kelvin, (7e-6,)),
    (growth.thermal_growth, (60.0, 1e-5, 293.0, 500.0)),
    (growth.centrifugal_growth, (100.0, 9e4, 71e9, 2770.0, 0.33)),
    (growth.heating_for_fit, (50.0, 0.05, 0.03, 1.2e-5)),
    (contour.bore_for, (60.0, 0.3)),
    (contour.normal_removal, (1.0, 30.0)),
    (housing.diffuser, (80.0, 5.0, 4.5)),
    (studs.stress_area, (10.0, 1.5)),
    (studs.general_torque, (8.0, 2e4, 0.2)),
    (threads.metric, (10.0, 1.5)),
    (threads.tap_drill, (10.0, 1.5)),
    (threads.thread_limits, (10.0, 1.5)),
    (cutting.cutting_speed, (50.0, 500.0)),
    (cutting.spindle_speed, (50.0, 100.0)),
    (cutting.turning_time, (50.0, 0.1, 500.0)),
    (cutting.drilling, (10.0, 30.0, 0.1, 500.0, 118.0)),
    (cutting.metal_removal, (50.0, 1.0, 0.1, 500.0)),
    (cutting.finish, (0.1, 0.4)),
    (cutting.boring_minutes, ("grey iron", 60.0, 20.0, 1.5)),
    (cutting.total_minutes, ([1.0], 30.0)),
    (fits.tolerance, (25.0, 7)),
    (fits.limits, (25.0, "H7")),
    (inch_fits.inch_fit, (1.0, "H7/g6")),
    (changes.ratio_margin, (changes.Duty(tip_limit=500.0), 3e5, 0.0, "geometric", 300.0)),
    (stacks.stack_verdict, (stacks.Stack(1.0, 0.9, 1.1, 0.95, 1.05), 0.5, 1.5)),
]
BELOW = {"ratio_margin"}  # places below the sea


def bad_numbers(formula: Callable[..., Any], good: float) -> list[float]:
    if formula is stacks.stack_verdict:  # its limits may be open
        return [float("nan")]
    return [float("nan"), float("inf"), -float("inf"), *([] if formula.__name__ in BELOW else [-good])]


def spoiled() -> list[Any]:
    return [
        pytest.param(formula, (*good[:n], bad, *good[n + 1 :]), id=f"{formula.__name__}-{n}-{bad}")
        for formula, good in GOOD
        for n, argument in enumerate(good)
        if isinstance(argument, float)
        for bad in bad_numbers(formula, argument)
    ]


@pytest.mark.parametrize(("formula", "arguments"), spoiled())
def test_a_number_that_is_none_is_refused(formula: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    with pytest.raises(SpoolwrightError):
        formula(*arguments)


@pytest.mark.parametrize("formula", [pytest.param(f, id=f.__name__) for f, _ in GOOD])
def test_the_same_question_with_sound_numbers_is_answered(formula: Callable[..., Any]) -> None:
    (arguments,) = [a for f, a in GOOD if f is formula]
    assert formula(*arguments) is not None


@pytest.mark.parametrize("end", [0, 1])
def test_a_limit_that_is_no_number_never_becomes_a_pass(end: int) -> None:
    limits: list[float | None] = [None, None]
    limits[end] = float("nan")
    with pytest.raises(SpoolwrightError):
        housing.window("diffuser gap", 1.0, *limits)
    with pytest.raises(SpoolwrightError):
        housing.wall_left({"0°": housing.WallReading(9.0, 0.1, 1.0)}, 0.1, float("nan"))


def test_a_height_below_the_tables_or_above_them_is_refused() -> None:
    for height in (-2001.0, 11_001.0, float("nan")):
        with pytest.raises(SpoolwrightError):
            atmosphere.standard_air(height, "geopotential")
