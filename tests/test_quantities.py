"""Numbers with units: read right or refused, against NIST SP 811, hand arithmetic and pint."""

import json
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction
from pathlib import Path
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ontology.currencies import money_shown, read_money
from ontology.quantities import (
    UNITS,
    USUAL,
    Unit,
    Unreadable,
    read_amount,
    read_measure,
    read_number,
    shown,
    unit_of,
    units_named,
)

REGISTRY = pint.UnitRegistry()
CASES = json.loads((Path(__file__).parent / "data" / "unit_conversions.json").read_text())["cases"]

OUR_NAMES = {
    "inch": "in", "lb/min": "lb/min", "metric_horsepower": "PS", "oz*inch": "oz·in", "g*mm": "g·mm",
    "lbf*ft": "lbf·ft",
    "N*m": "N·m", "inch**3": "in³", "liter": "L", "um": "µm", "degF": "°F", "degC": "°C", "delta_degF": "°F",
    "delta_degC": "°C",
}  # fmt: skip

PINT_NAMES = {
    "in": "inch", "µm": "micrometer", "mm²": "mm**2", "cm²": "cm**2", "m²": "m**2", "in²": "inch**2",
    "°": "degree", "arcmin": "arcminute", "arcsec": "arcsecond", "1/s": "revolution/second",
    "lbf·ft": "force_pound*foot", "lbf·in": "force_pound*inch", "kgf·m": "kilogram_force*meter",
    "N·m": "newton*meter",
    "PS": "metric_horsepower", "hp": "horsepower", "g·mm": "g*mm", "mg·mm": "mg*mm", "g·cm": "g*cm",
    "oz·in": "oz*inch", "mg·in": "mg*inch", "%": "percent", "L": "liter", "mL": "milliliter", "cm³": "cm**3",
    "mm³": "mm**3", "m³": "m**3", "in³": "inch**3", "h": "hour", "min": "minute", "d": "day", "lb": "pound",
    "oz": "ounce", "rpm": "revolution/minute", "km/h": "kilometer/hour", "lb/min": "pound/minute",
    "kg/min": "kilogram/minute", "kg/h": "kilogram/hour", "inHg": "inHg", "ft": "foot",
}  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=[c["id"] for c in CASES])
def test_units_convert_as_nist_sp_811_says(case: dict[str, Any]) -> None:
    value, target = case["inputs"]["value"], case["inputs"]["to_unit"]
    source = OUR_NAMES.get(case["inputs"]["from_unit"], case["inputs"]["from_unit"])
    to = OUR_NAMES.get(target, target)
    (quantity,) = {u.quantity for u in units_named(source)} & {u.quantity for u in units_named(to)}
    difference = "delta" in target
    amount, _ = read_amount(f"{value} {source}", quantity, difference=difference)
    unit = unit_of(to, quantity)
    got = float((amount - (0 if difference else unit.offset)) / unit.scale)
    # The table's nine printed digits, or half a quantum where the quantum is coarser (1 mK).
    quantum = float(1 / unit.scale)
    tolerance = case["tol"].get("rel", 0) * abs(case["expected"]) + case["tol"].get("abs", 0) + quantum / 2
    assert abs(got - case["expected"]) <= tolerance


@pytest.mark.parametrize("unit", [u for u in UNITS if u.symbol], ids=lambda u: f"{u.quantity}-{u.symbol}")
def test_every_scale_is_pints_scale(unit: Any) -> None:
    usual = USUAL[unit.quantity].symbol
    if unit.quantity == "temperature":
        there = (
            REGISTRY.Quantity(100, {"°C": "degC", "°F": "degF", "K": "kelvin"}[unit.symbol]).to("kelvin").magnitude
        )
        assert read_amount(f"100 {unit.symbol}", "temperature")[0] == pytest.approx(there * 1000, abs=0.5)
        return
    base = PINT_NAMES.get(usual, usual) or "dimensionless"
    ratio = REGISTRY.Quantity(1, PINT_NAMES.get(unit.symbol, unit.symbol)).to(base).magnitude
    # pint computes in floats: nine digits are enough to catch a wrong definition.
    assert float(unit.scale / USUAL[unit.quantity].scale) == pytest.approx(ratio, rel=1e-8)


@pytest.mark.parametrize(
    ("text", "unit", "millimetres"),
    [  # the right column by hand: inches times 25.4
        ("2 1/16 in", "", "52.3875"),
        ('2-1/16"', "", "52.3875"),
        ("52,4 mm", "", "52.4"),
        ('2.0625"', "mm", "52.3875"),
        ("52.4", "mm", "52.4"),
        (".500", "in", "12.7"),
        ("1 1/4", "in", "31.75"),
        ("2½″", "", "63.5"),
        ("17/64 in.", "", "6.746875"),
        ("0,375", "mm", "0.375"),
        ("1234,567 mm", "", "1234.567"),
        ("  52.4\u00a0mm ", "", "52.4"),
        ("+0.05", "mm", "0.05"),
        ("\u22120.05", "mm", "-0.05"),
        ("１２.５ mm", "", "12.5"),
        ("5.24e1 mm", "", "52.4"),
        ("40 thou", "", "1.016"),
        ("12.7 µm", "", "0.0127"),
        ("12.7 μm", "", "0.0127"),
        ("1 INCH", "", "25.4"),
    ],
)
def test_a_size_reads_right(text: str, unit: str, millimetres: str) -> None:
    amount, _ = read_amount(text, "length", unit)
    assert Fraction(amount, 10_000_000) == Fraction(millimetres)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("1.234,5 mm", "ambiguous"),
        ("1,234 mm", "ambiguous"),
        ("1,234,567 mm", "ambiguous"),
        ("1'234 mm", "not-a-number"),
        ("1 234 mm", "not-a-number"),
        ("NaN", "not-finite"),
        ("-inf", "not-finite"),
        ("Infinity mm", "not-finite"),
        ("∞", "not-finite"),
        ("1e400 mm", "out-of-range"),
        ("1e99999999999 mm", "out-of-range"),
        ("9**9**9**9", "not-a-number"),
        ("__import__('os')", "not-a-number"),
        ("52.4000000000001 mm", "too-many-digits"),
        ("9" * 64, "too-many-digits"),
        ("9" * 5000, "not-a-number"),
        ("52±0.1 mm", "not-a-number"),
        ("52 - 54 mm", "not-a-number"),
        ("52..54", "not-a-number"),
        ("ca. 52 mm", "not-a-number"),
        ("52 mm (2.05 in)", "not-a-number"),
        ("2 17/16 in", "not-a-number"),
        ("1/0 in", "not-a-number"),
        ("52, mm", "not-a-number"),
        ("٥٢ mm", "not-a-number"),
        ("52", "no-unit"),
        ("52 furlong", "unknown-unit"),
        ("52 kg", "other-quantity"),
        ("0.00000000001 mm", "too-fine"),
        ("", "not-a-number"),
        ("1e9 m", "out-of-range"),
    ],
)
def test_a_size_that_cannot_be_read_without_guessing_is_refused(text: str, reason: str) -> None:
    with pytest.raises(Unreadable) as refused:
        read_amount(text, "length")
    assert refused.value.reason == reason
    assert refused.value.fix
    assert text[:20] in refused.value.message or "kg" in refused.value.message or "furlong" in refused.value.message


def test_a_file_known_for_its_decimal_comma_is_not_in_doubt() -> None:
    assert read_number("15,875", comma=True) == Fraction("15.875")
    with pytest.raises(Unreadable, match="two ways"):
        read_number("15.875", comma=True)


def test_megapascal_and_millipascal_are_never_merged() -> None:
    assert read_amount("1 MPa", "pressure")[0] == 10**9 * read_amount("1 mPa", "pressure")[0]
    with pytest.raises(Unreadable):
        read_amount("1 mpa", "pressure")


def test_an_inch_mark_is_a_second_of_arc_where_an_angle_is_asked_for() -> None:
    assert read_amount('3600"', "angle") == (3_600_000_000, "arcsec")


def test_a_tolerance_in_celsius_has_no_zero_point() -> None:
    assert read_amount("10 °C", "temperature", difference=True)[0] == 10_000
    assert read_amount("10 °C", "temperature")[0] == 283_150


def test_nothing_is_colder_than_absolute_zero() -> None:
    with pytest.raises(Unreadable) as refused:
        read_amount("-300 °C", "temperature")
    assert refused.value.reason == "below-zero-kelvin"


def test_pieces_are_counted_whole() -> None:
    assert read_amount("6", "count") == (6, "")
    with pytest.raises(Unreadable, match="whole"):
        read_amount("6.5", "count")


@pytest.mark.parametrize(
    ("number", "half_a_digit"),
    [("32.46", "0.005"), ("1.278", "0.0005"), ("52", "0.5"), ("2 1/16", "0"), ("1e3", "500")],
)
def test_how_finely_a_number_is_printed_is_known(number: str, half_a_digit: str) -> None:
    assert read_measure(number, "length", "mm").rounding == Fraction(half_a_digit) * 10_000_000


@given(st.integers(0, 10**11 - 1), st.integers(0, 7))
def test_millimetres_survive_being_shown_and_read(digits: int, places: int) -> None:
    text = f"{digits // 10**places}.{digits % 10**places:0{places}d}" if places else str(digits)
    amount, _ = read_amount(f"{text} mm", "length")
    assert read_amount(shown(amount, "length"), "length") == (amount, "mm")
    assert Fraction(shown(amount, "length").removesuffix(" mm")) == Fraction(text)


@given(st.integers(0, 100), st.integers(0, 63))
def test_sixty_fourths_of_an_inch_are_exact(whole: int, part: int) -> None:
    amount, _ = read_amount(f"{whole} {part}/64 in", "length")
    assert Fraction(amount, 254_000_000) == whole + Fraction(part, 64)


@given(st.text(max_size=80), st.sampled_from(sorted(USUAL)))
def test_any_text_is_read_or_refused(text: str, quantity: str) -> None:
    try:
        amount, unit = read_amount(text, quantity)
    except Unreadable as refused:
        assert refused.fix
    else:
        assert isinstance(amount, int)
        assert unit_of(unit, quantity).quantity == quantity


@given(st.integers(-(10**14), 10**14), st.sampled_from(UNITS), st.booleans())
def test_any_amount_is_shown_in_any_unit_as_decimal_arithmetic_has_it(
    amount: int, unit: Unit, difference: bool
) -> None:
    """Python's decimal module is the witness: to the tenth place where that is exact, else to even at the sixth."""
    exact = (amount - (0 if difference else unit.offset)) / unit.scale
    with localcontext(prec=60):
        value = Decimal(exact.numerator) / Decimal(exact.denominator)
        tenth = value.quantize(Decimal("1e-10"))
        expected = tenth if Fraction(tenth) == exact else value.quantize(Decimal("1e-6"), ROUND_HALF_EVEN)
    text = shown(amount, unit.quantity, unit.symbol, difference=difference).removesuffix(unit.symbol).rstrip()
    assert Decimal(text) == expected
    assert "." not in text or text[-1] not in ".0"


def test_inches_are_shown_as_they_were_printed() -> None:
    assert shown(read_amount("0.0001 in", "length")[0], "length", "in") == "0.0001 in"
    assert shown(read_amount("50 psi", "pressure")[0], "pressure", "psi") == "50 psi"
    assert shown(-40_000 + 273_150, "temperature", "°F") == "-40 °F"  # NIST SP 811 B.9: -40 °F is -40 °C


@pytest.mark.parametrize(
    ("text", "currency", "minor"),
    [("120.50", "EUR", 12050), ("1200", "JPY", 1200), ("1.5", "KWD", 1500), ("-3", "EUR", -300)],
)
def test_money_is_kept_in_minor_units(text: str, currency: str, minor: int) -> None:
    assert read_money(text, currency) == minor
    assert Fraction(money_shown(minor, currency).split()[0]) == Fraction(text)


@pytest.mark.parametrize(
    ("text", "currency"), [("1.005", "EUR"), ("1.5", "JPY"), ("1", "XXQ"), ("1,234", "EUR"), ("", "EUR")]
)
def test_money_that_cannot_be_paid_is_refused(text: str, currency: str) -> None:
    with pytest.raises(Unreadable):
        read_money(text, currency)
