"""Limits and fits against published tables, a worked example, and a library that shares no code with ours."""

import json
from pathlib import Path

import pressfit
import pytest

from graph.engineering.fits import (
    FINE_LOWER,
    FINE_STEPS,
    GRADES,
    LOWER,
    STEPS,
    basis,
    fit,
    fundamental_deviation,
    limits,
    nominal_of,
    tolerance,
)
from graph.errors import BadQuantity, OutOfRange
from graph.model.value import Amount

# Each case names its source (ISO 286-1 and -2 by their table values; Shigley, 9th ed., examples 7-7 and 7-8).
EVERY = json.loads((Path(__file__).parents[1] / "data" / "engineering_cases.json").read_text())["cases"]
CASES = [case for case in EVERY if case["topic"] == "iso286"]


def absolute(nominal: float, zone: str) -> tuple[float, float]:
    upper, lower = limits(nominal, zone)
    return nominal + upper / 1000, nominal + lower / 1000


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_the_published_case_holds(case: dict[str, dict[str, object]]) -> None:
    asked, expected = case["inputs"], case["expected"]
    if "nominal_in" in asked:
        check_the_inch_trap(asked, expected)
        return
    nominal = float(asked["nominal_mm"])  # type: ignore[arg-type]
    if "grade" in asked:
        assert tolerance(nominal, int(str(asked["grade"])[2:])) == expected
    elif "letter" in asked:
        assert fundamental_deviation(nominal, str(asked["letter"])) == expected
    elif "band_mm" in asked:
        assert {f"IT{grade}": tolerance(nominal, grade) for grade in GRADES} == expected
    elif "Dmax" in expected:
        hole, shaft = absolute(nominal, str(asked["hole"])), absolute(nominal, str(asked["shaft"]))
        got = dict(zip(("Dmax", "Dmin", "dmax", "dmin"), (*hole, *shaft), strict=True))
        assert got == pytest.approx(expected, abs=1e-9)
    elif "shaft" in asked:
        both = fit(nominal, f"{asked['hole']}/{asked['shaft']}")
        assert {
            "ES": both.hole[0],
            "EI": both.hole[1],
            "es": both.shaft[0],
            "ei": both.shaft[1],
            "min_clearance": both.least_clearance,
            "max_clearance": both.greatest_clearance,
            "type": both.kind,
        } == expected
    else:
        upper, lower = limits(nominal, str(asked["hole"]))
        assert {"ES": upper, "EI": lower} == expected


def check_the_inch_trap(asked: dict[str, object], expected: dict[str, object]) -> None:
    """Two inches by the inch tables is not 50.8 mm by the metric ones, and the conversion is refused."""
    inches = float(asked["nominal_in"])  # type: ignore[arg-type]
    metric = [size / 25.4 for size in absolute(inches * 25.4, str(asked["hole"]))]
    assert abs(metric[0] - float(expected["Dmax"])) > 0.0001  # type: ignore[arg-type]
    with pytest.raises(BadQuantity, match="drawn in inches"):
        nominal_of(Amount(508_000_000, "length", "2", "in"))


def test_all_the_cases_are_here() -> None:
    assert len(CASES) == 109


def test_every_hole_basis_fit_agrees_with_a_second_library() -> None:
    # pressfit 0.1.0, on both sides of every step's bound and between.
    sizes = sorted({bound + by for bound in range(3, 250) for by in (0, 0.001, 0.5)} | {0.5, 1, 2.999, 250})
    for size in sizes:
        for hole in range(5, 12):
            for letter in ("c", "d", "e", "f", "g", "h", "js", "k", "m", "n", "p", "s", "u"):
                theirs = pressfit.fit(f"H{hole}/{letter}{hole}", size)
                ours = fit(size, f"H{hole}/{letter}{hole}")
                assert ours.hole == (theirs.hole_es_um, theirs.hole_ei_um)
                assert ours.shaft == (theirs.shaft_es_um, theirs.shaft_ei_um), (size, letter, hole)
                assert ours.kind == theirs.kind


def test_a_size_drawn_in_millimetres_is_taken_as_it_is() -> None:
    assert nominal_of(Amount(508_000_000, "length", "50,8", "mm")) == 50.8
    with pytest.raises(BadQuantity, match="not a length"):
        nominal_of(Amount(5, "mass", "5", "g"))


@pytest.mark.parametrize(
    ("size", "zones"),
    [
        (0, "H7/g6"),
        (-8, "H7/g6"),
        (250.001, "H7/g6"),
        (float("nan"), "H7/g6"),
        (float("inf"), "H7/g6"),
        (25, "H4/g6"),
        (25, "H12/g6"),
        (25, "H7/q6"),
        (25, "K9/h6"),
        (25, "N5/h6"),
        (25, "g6/H7"),
        (25, "H7"),
        (25, "H7/"),
        (25, "H7.5/g6"),
        (25, "H7/JS6"),
        (25, "jS7/g6"),
    ],
)
def test_what_the_tables_do_not_have_is_refused(size: float, zones: str) -> None:
    with pytest.raises(OutOfRange):
        fit(size, zones)


def test_r_lies_midway_between_p_and_s() -> None:
    # Narayana, Kannaiah, Venkata Reddy, Machine Drawing, table 15.4 (seen): r is the geometric mean of p and s.
    for step, bound in enumerate(FINE_STEPS):
        between_p_and_s = (LOWER["p"][[bound <= top for top in STEPS].index(True)] * FINE_LOWER["s"][step]) ** 0.5
        assert fundamental_deviation(bound, "r") == pytest.approx(between_p_and_s, abs=1.5), (
            bound
        )  # p and s are rounded


@pytest.mark.parametrize(
    ("bound", "r"),
    # The same book, table 15.2 (seen).
    [(3, 10), (6, 15), (10, 19), (18, 23), (30, 28), (50, 34), (65, 41), (80, 43), (100, 51), (120, 54), (140, 63),
     (160, 65), (180, 68)],
)  # fmt: skip
def test_r_is_as_printed(bound: float, r: int) -> None:
    assert limits(bound, "r6") == (r + tolerance(bound, 6), r)


def test_hole_r_follows_the_delta_rule() -> None:
    # ES = -ei + IT7 - IT6 at 25 mm: -28 + 21 - 13 = -20 (ISO 286-1 clause 4.3; by hand).
    assert limits(25, "R7") == (-20, -41)


def test_js_lies_half_above_and_half_below() -> None:
    # ISO 286-1: +-IT/2. Printed tables may round odd widths of grades 7 to 11 down (Narayana, note to table 15.2).
    assert limits(25, "js7") == (10.5, -10.5) == limits(25, "JS7")
    assert limits(25, "js6") == (6.5, -6.5)
    assert limits(40, "JS10") == (50, -50)


def test_one_shaft_with_several_holes_is_the_shaft_basis() -> None:
    assert [basis(zones) for zones in ("F8/h6", "K7/h6", "H8/f7", "H7/h6", "G7/f6")] == [
        "shaft",
        "shaft",
        "hole",
        "both",
        "neither",
    ]
    with pytest.raises(OutOfRange):
        basis("H7")


def test_a_fit_on_the_shaft_basis() -> None:
    # F8/h6 at 20 mm: hole +53/+20 (case iso286 "hole letters"), shaft 0/-13: clearance 20 to 66 (by hand).
    running = fit(20, "F8/h6")
    assert (running.least_clearance, running.greatest_clearance, running.kind) == (20, 66, "clearance")
