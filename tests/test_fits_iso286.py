"""Limits and fits against published tables, a worked example, and a library that shares no code with ours."""

import json
from pathlib import Path

import pressfit
import pytest

from graph.engineering.fits import GRADES, fit, limits, nominal_of, tolerance
from graph.errors import BadQuantity, OutOfRange
from graph.model.value import Amount

# Each case names its source (ISO 286-1 and -2 by their table values; Shigley, 9th ed., examples 7-7 and 7-8).
CASES = json.loads((Path(__file__).parent / "data" / "iso286_cases.json").read_text())["cases"]


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
        upper, lower = limits(nominal, f"{asked['letter']}6")
        assert (upper if str(asked["letter"]) in "abcdefgh" else lower) == expected
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
            for letter in "cdefghkmnpsu":
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
    ],
)
def test_what_the_tables_do_not_have_is_refused(size: float, zones: str) -> None:
    with pytest.raises(OutOfRange):
        fit(size, zones)
