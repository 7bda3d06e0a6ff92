"""Housing work: the wall that a cut leaves, contours, vanes, stacks and what else changes. Figures by hand."""

import itertools

import pytest

from graph.engineering import changes, stacks
from graph.engineering.contour import Point, bore_for, normal_removal, target_contour
from graph.engineering.housing import (
    CRACKED,
    DEMANDS,
    OVER_LIMIT,
    WallReading,
    diffuser,
    vane_check,
    wall_left,
    window,
)
from graph.engineering.rotor import AreaRadius
from graph.errors import OutOfRange
from graph.model.verdict import Verdict


def reading(wall: float, removal: float = 2.0, uncertainty: float = 0.1) -> WallReading:
    return WallReading(wall, uncertainty, removal)


@pytest.mark.parametrize(
    ("wall", "core_shift", "limit", "verdict"),
    [
        (7.2, 0.4, 4.0, Verdict.YES),  # 4.7 left
        (6.5, 0.4, 4.0, Verdict.YES),  # 4.0 left, just what is asked
        (6.4, 0.4, 4.0, Verdict.NO),  # 3.9 left
        (7.2, 0.4, None, Verdict.UNKNOWN),  # nobody set a limit
        (7.2, None, 4.0, Verdict.UNKNOWN),  # core shift not measured
        (6.0, None, 4.0, Verdict.NO),  # too thin even without core shift
        (2.0, None, None, Verdict.NO),  # through
        (2.4, 0.4, None, Verdict.NO),  # through
    ],
)
def test_a_wall_passes_only_when_all_is_known(
    wall: float, core_shift: float | None, limit: float | None, verdict: Verdict
) -> None:
    found = wall_left({"90°": reading(wall)}, core_shift, limit)
    assert found.verdict is verdict
    assert bool(found.blocks) is (verdict is Verdict.NO)
    assert [caution.code for caution in found.cautions] == ["containment"]


def test_an_unread_position_is_not_known_and_no_average_hides_it() -> None:
    found = wall_left({"0°": reading(9.0), "90°": None, "180°": reading(9.0), "270°": reading(9.0)}, 0.3, 4.0)
    assert found.verdict is Verdict.UNKNOWN
    assert found.thinnest is None
    assert [p.left for p in found.positions] == pytest.approx([6.6, None, 6.6, 6.6])


def test_one_thin_position_decides_even_beside_an_unread_one() -> None:
    found = wall_left({"0°": reading(9.0), "90°": None, "180°": reading(5.0)}, 0.3, 4.0)
    assert found.verdict is Verdict.NO
    assert [block.lifted_by for block in found.blocks] == ["a new limit claim with author and evidence"]


def test_nobody_lifts_a_cracked_wheel_or_an_over_speeding_one() -> None:
    assert (CRACKED.lifted_by, OVER_LIMIT.lifted_by) == ("", "")


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -1.0])
def test_a_wall_reading_that_is_no_size_is_refused(bad: float) -> None:
    with pytest.raises(OutOfRange):
        wall_left({"0°": reading(bad)}, 0.3, 4.0)
    with pytest.raises(OutOfRange):
        wall_left({}, 0.3, 4.0)


def test_every_side_of_the_contour_keeps_the_clearance() -> None:
    profile = [Point(0, 30), Point(8, 30.2), Point(14, 33), Point(17, 38), Point(18, 44)]
    moved = target_contour(profile, 0.4, shift=1.5)
    for (a, b), (c, d) in zip(itertools.pairwise(profile), itertools.pairwise(moved), strict=True):
        length = ((b.axial - a.axial) ** 2 + (b.radius - a.radius) ** 2) ** 0.5
        for end in (c, d):  # distance of the moved side from the old one, by the cross product
            across = (b.axial - a.axial) * (end.radius - a.radius) - (b.radius - a.radius) * (
                end.axial - 1.5 - a.axial
            )
            assert across / length == pytest.approx(0.4, abs=1e-9)


@pytest.mark.parametrize(
    "profile",
    [
        [Point(0, 30)],
        [Point(0, 30), Point(0, 30)],
        [Point(0, 30), Point(10, -1)],
        [Point(0, 30), Point(10, 30), Point(0, 30.1)],
        [Point(0, 30), Point(10, 30), Point(10.1, 30.1), Point(10.1, 40)],  # bends more tightly than the clearance
    ],
)
def test_a_profile_that_makes_no_contour_is_refused(profile: list[Point]) -> None:
    with pytest.raises(OutOfRange):
        target_contour(profile, 0.8)


def test_bores_and_cuts() -> None:
    assert bore_for(62.0, 0.35) == pytest.approx(62.7)
    assert normal_removal(2.0, 90.0) == pytest.approx(0.0, abs=1e-12)  # a face: a radial change takes nothing from it


def test_the_wheel_must_clear_the_vanes_at_every_position() -> None:
    found = vane_check(64.0, {"open": 68.0, "half": 66.0, "closed": 64.6}, 0.5)
    assert [check.verdict for check in found] == [Verdict.YES, Verdict.YES, Verdict.NO]
    assert vane_check(64.0, {"open": 68.0, "closed": None}, 0.5)[1].verdict is Verdict.UNKNOWN


@pytest.mark.parametrize(
    ("figure", "least", "most", "verdict"),
    [
        (None, 1.0, 2.0, Verdict.UNKNOWN),
        (1.5, None, None, Verdict.UNKNOWN),
        (1.5, 1.0, None, Verdict.YES),
        (0.9, 1.0, 2.0, Verdict.NO),
        (2.1, 1.0, 2.0, Verdict.NO),
        (2.0, 1.0, 2.0, Verdict.YES),
    ],
)
def test_a_missing_limit_is_no_pass(
    figure: float | None, least: float | None, most: float | None, verdict: Verdict
) -> None:
    assert window("diffuser gap", figure, least, most).verdict is verdict


def test_a_diffuser_is_compared_by_gap_over_tip_width() -> None:
    found = diffuser(88.0, 5.0, 4.5)
    assert found.entry_area / found.tip_area == pytest.approx(found.width_ratio) == pytest.approx(0.9)


def test_form_and_finish_demands_say_that_they_are_common_practice() -> None:
    assert [(d.most, d.unit) for d in DEMANDS] == [(0.03, "mm"), (1.6, "µm"), (0.4, "µm")]
    assert {d.source for d in DEMANDS} == {"common practice, no source"}


@pytest.mark.parametrize(
    ("least", "most", "verdict"),
    [(-0.005, 0.015, Verdict.YES), (0.0, 0.02, Verdict.UNKNOWN), (0.016, 0.03, Verdict.NO), (-1, -0.01, Verdict.NO)],
)
def test_the_worst_case_decides_a_stack(least: float, most: float, verdict: Verdict) -> None:
    # Shigley's gap (from memory): 1.750±.003 - .750±.001 - .120±.005 - .875±.001 = .005±.010.
    found = stacks.Stack(0.005, -0.005, 0.015, -0.001, 0.011)
    assert stacks.stack_verdict(found, least, most) is verdict


def test_root_of_squares_never_turns_not_known_into_fits() -> None:
    found = stacks.Stack(1.0, 0.8, 1.2, 0.9, 1.1)
    assert stacks.stack_verdict(found, 0.9, 1.1) is Verdict.UNKNOWN
    assert "information only" in stacks.DECIDES


# What else changes: not known until measured, a range with assumptions when it is.
NOTHING = changes.Duty()
FULL = changes.Duty(58, 80, 74, 7, 7, AreaRadius(20.0, "throat to centroid"), 520)
LARGER = changes.Duty(62, 88, 78, 6, 6, AreaRadius(22.0, "throat to centroid"), 500)


def test_what_was_not_measured_is_not_known() -> None:
    found = [
        changes.flow_change(NOTHING, LARGER),
        *changes.spool_change(NOTHING, LARGER),
        *changes.sound_change(NOTHING, LARGER),
        changes.burst_energy(NOTHING, LARGER),
        changes.ratio_margin(NOTHING, 300e3, 0, "geometric"),
    ]
    assert all(change.low is None and change.high is None and "not known" in change.says for change in found)


def test_a_larger_wheel_flows_more_comes_in_later_and_bursts_harder() -> None:
    flow = changes.flow_change(FULL, LARGER)
    assert flow.low is not None and flow.high is not None
    assert flow.low < 100 * ((62 / 58) ** 2 - 1) < flow.high
    compressor, turbine, throat = changes.spool_change(FULL, LARGER)
    assert compressor.low is not None and compressor.high is not None
    assert compressor.low < 100 * (1.1**5 - 1) < compressor.high
    assert turbine.low is not None
    assert (throat.low, throat.high) == pytest.approx((10.0, 10.0))
    assert changes.burst_energy(FULL, LARGER).high == pytest.approx(33.1)  # 1.1³
    assert all(change.assumes for change in (flow, compressor, turbine))


def test_an_ar_of_another_convention_changes_nothing_that_is_known() -> None:
    cast = changes.Duty(turbine_ar=AreaRadius(0.83, "cast mark"))
    assert changes.spool_change(FULL, cast)[2].low is None


def test_height_takes_the_margin_of_pressure_ratio() -> None:
    low, high = (changes.ratio_margin(LARGER, 300e3, h, "geopotential", 298.15) for h in (0, 2500))
    assert low.high is not None and high.high is not None
    # 300 kPa over 101.325 and over 74.683 kPa (ICAO table): 1.056 more is asked.
    assert low.high - high.high == pytest.approx(300 / 74.68252 - 300 / 101.325, abs=1e-4)
