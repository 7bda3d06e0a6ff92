"""Numbers with units as shops write them, read into whole quanta or refused.

Rule 1: a number is read by the small grammar below with exact fractions, never by `eval` or a units library.
Rule 2: what can be read in two ways is refused with the reason, never guessed.
Rule 3: a unit is one of the table's; a unit of another quantity is refused.

The quanta are those of `graph.model.value`. Units convert by their definitions; a result that is no whole
number of quanta is rounded to the nearest (half to even).

Sources
-------
[1] NIST SP 811 (2008), Guide for the Use of the International System of Units, Appendix B.
QUDT unit names are from memory; a unit whose name is not certain has none.
"""

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final

from graph.errors import BadQuantity

QUDT: Final = "http://qudt.org/vocab/unit/"
MAX_DIGITS: Final = 12
MAX_EXPONENT: Final = 9
MAX_TEXT: Final = 64
# SQLite and every wire format hold 64-bit integers; a bit is kept free so that sums stay inside.
MAX_AMOUNT: Final = 2**62


class Unreadable(BadQuantity):
    """A number or unit that was refused; `reason` is one stable word for the kind of refusal.

    not-a-number, not-finite, ambiguous, too-many-digits, out-of-range, too-fine, no-unit, unknown-unit,
    other-quantity, not-whole, below-zero-kelvin.
    """

    def __init__(self, message: str, *, reason: str, fix: str) -> None:
        super().__init__(message, fix=fix)
        self.reason = reason


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: its symbol, quantity, quanta in one of it, quanta at its zero, QUDT IRI, other spellings."""

    symbol: str
    quantity: str
    scale: Fraction
    iri: str = ""
    offset: Fraction = Fraction(0)
    names: tuple[str, ...] = ()


def _unit(
    symbol: str, quantity: str, scale: str | Fraction | int, qudt: str = "", *names: str, at: str = "0"
) -> Unit:
    return Unit(symbol, quantity, Fraction(scale), QUDT + qudt if qudt else "", Fraction(at), names)


INCH: Final = 254_000_000  # quanta of 100 pm [1]
POUND: Final = Fraction("453.59237")  # g [1]
GRAVITY: Final = Fraction("9.80665")  # m/s² [1]
POUND_FORCE: Final = POUND / 1000 * GRAVITY  # N
SQUARE_INCH: Final = Fraction("0.00064516")  # m²
# 180/π and 60/(2π) to 40 digits: beyond what a quantum of their quantity can show.
DEGREES_IN_RADIAN: Final = Fraction("57.29577951308232087679815481410517033240")
TURNS_A_MINUTE_IN_RADIAN_A_SECOND: Final = DEGREES_IN_RADIAN / 6
MERCURY: Final = Fraction("13595.1") * GRAVITY / 1000  # Pa of 1 mm of conventional mercury

UNITS: Final = (
    _unit("mm", "length", 10_000_000, "MilliM", "millimetre", "millimeter", "millimetres", "millimeters"),
    _unit("µm", "length", 10_000, "MicroM", "um", "micron", "microns", "μm"),
    _unit("cm", "length", 100_000_000, "CentiM", "centimetre", "centimeter"),
    _unit("m", "length", 10_000_000_000, "M", "metre", "meter", "metres", "meters"),
    _unit("in", "length", INCH, "IN", '"', "″", "”", "''", "′′", "in.", "inch", "inches"),
    _unit("ft", "length", 12 * INCH, "FT", "'", "′", "ft.", "foot", "feet"),
    _unit("thou", "length", Fraction(INCH, 1000), "MilliIN", "mil"),
    _unit("mm²", "area", 1_000_000, "MilliM2", "mm2", "sq mm", "mm^2"),
    _unit("cm²", "area", 100_000_000, "CentiM2", "cm2", "sq cm", "cm^2"),
    _unit("m²", "area", 10**12, "M2", "m2", "m^2"),
    _unit("in²", "area", SQUARE_INCH * 10**12, "IN2", "in2", "sq in", "in^2", "sq. in."),
    _unit("°", "angle", 3_600_000_000, "DEG", "deg", "degree", "degrees"),
    _unit("arcmin", "angle", 60_000_000, "ARCMIN", "'", "′"),
    _unit("arcsec", "angle", 1_000_000, "ARCSEC", '"', "″", "′′"),
    _unit("rad", "angle", DEGREES_IN_RADIAN * 3_600_000_000, "RAD"),
    _unit("g", "mass", 10**9, "GM", "gram", "grams"),
    _unit("kg", "mass", 10**12, "KiloGM", "kilogram", "kilograms"),
    _unit("mg", "mass", 10**6, "MilliGM"),
    _unit("lb", "mass", POUND * 10**9, "LB", "lbs", "lb.", "pound", "pounds"),
    _unit("oz", "mass", POUND / 16 * 10**9, "OZ", "oz.", "ounce", "ounces"),
    _unit("rpm", "speed", 1000, "REV-PER-MIN", "rev/min", "r/min", "min-1", "1/min"),
    _unit("1/s", "speed", 60_000, "REV-PER-SEC", "rev/s", "rps", "r/s"),
    _unit("rad/s", "speed", TURNS_A_MINUTE_IN_RADIAN_A_SECOND * 1000, "RAD-PER-SEC"),
    _unit("m/s", "velocity", 10**6, "M-PER-SEC"),
    _unit("ft/s", "velocity", Fraction("0.3048") * 10**6, "FT-PER-SEC", "fps"),
    _unit("km/h", "velocity", Fraction(10**7, 36), "KiloM-PER-HR"),
    _unit("kPa", "pressure", 10**6, "KiloPA"),
    _unit("Pa", "pressure", 1000, "PA"),
    _unit("mPa", "pressure", 1, "MilliPA"),
    _unit("hPa", "pressure", 10**5, "HectoPA"),
    _unit("MPa", "pressure", 10**9, "MegaPA", "N/mm²", "N/mm2"),
    _unit("bar", "pressure", 10**8, "BAR"),
    _unit("mbar", "pressure", 10**5, "MilliBAR"),
    _unit("psi", "pressure", POUND_FORCE / SQUARE_INCH * 1000, "PSI", "lbf/in²", "lbf/in2", "lb/in2"),
    _unit("inHg", "pressure", MERCURY * Fraction("25.4") * 1000, "IN_HG", "in Hg"),
    _unit("mmHg", "pressure", MERCURY * 1000, "MilliM_HG", "mm Hg"),
    _unit("°C", "temperature", 1000, "DEG_C", "degC", "C", "deg C", "° C", at="273150"),
    _unit("K", "temperature", 1000, "K"),
    _unit("°F", "temperature", Fraction(5000, 9), "DEG_F", "degF", "F", "deg F", "° F", at=str(Fraction(2298350, 9))),
    _unit("min", "time", 60_000, "MIN", "minute", "minutes", "mins"),
    _unit("s", "time", 1000, "SEC", "sec", "second", "seconds"),
    _unit("ms", "time", 1, "MilliSEC"),
    _unit("h", "time", 3_600_000, "HR", "hr", "hrs", "hour", "hours"),
    _unit("d", "time", 86_400_000, "DAY", "day", "days"),
    _unit("N·m", "torque", 10**6, "N-M", "Nm", "N m", "N-m", "N*m"),
    _unit("lbf·ft", "torque", POUND_FORCE * Fraction("0.3048") * 10**6, "LB_F-FT",
          "lbf ft", "lb ft", "lb-ft", "ft-lb", "ft lb", "lbf-ft", "lb·ft", "ft·lb", "ft-lbf", "ft lbf", "lbf*ft"),
    _unit("lbf·in", "torque", POUND_FORCE * Fraction("0.0254") * 10**6, "LB_F-IN",
          "lbf in", "lb in", "lb-in", "in-lb", "in lb", "lbf-in", "lb·in", "in·lb", "lbf*in"),
    _unit("kgf·m", "torque", GRAVITY * 10**6, "KiloGM_F-M", "kgf m", "kgm", "kg m", "kg·m"),
    _unit("kW", "power", 10**6, "KiloW"),
    _unit("W", "power", 1000, "W"),
    _unit("mW", "power", 1, "MilliW"),
    _unit("MW", "power", 10**9, "MegaW"),
    _unit("hp", "power", POUND_FORCE * Fraction("0.3048") * 550 * 1000, "HP", "bhp"),
    _unit("PS", "power", GRAVITY * 75 * 1000, "HP_Metric", "metric hp", "cv"),
    _unit("kg/s", "flow", 10**6, "KiloGM-PER-SEC"),
    _unit("g/s", "flow", 1000, "GM-PER-SEC"),
    _unit("kg/min", "flow", Fraction(10**6, 60), "KiloGM-PER-MIN"),
    _unit("kg/h", "flow", Fraction(10**6, 3600), "KiloGM-PER-HR"),
    _unit("lb/min", "flow", POUND / 60 * 1000, "LB-PER-MIN", "lbs/min"),
    _unit("g·mm", "unbalance", 10**6, "", "g mm", "gmm", "g*mm", "g-mm"),
    _unit("mg·mm", "unbalance", 1000, "", "mg mm"),
    _unit("g·cm", "unbalance", 10**7, "", "g cm"),
    _unit("oz·in", "unbalance", POUND / 16 * Fraction("25.4") * 10**6, "", "oz in", "oz-in", "oz*in", "ozin"),
    _unit("mg·in", "unbalance", Fraction("25.4") * 1000, "", "mg in"),
    _unit("", "count", 1, "NUM", "pcs", "pc", "off"),
    _unit("", "ratio", 10**6, "UNITLESS"),
    _unit("%", "ratio", 10**4, "PERCENT", "percent"),
    _unit("L", "volume", 10**6, "L", "l", "litre", "liter", "litres", "liters"),
    _unit("mL", "volume", 1000, "MilliL", "ml", "cc", "ccm"),
    _unit("cm³", "volume", 1000, "CentiM3", "cm3", "cm^3"),
    _unit("mm³", "volume", 1, "MilliM3", "mm3", "mm^3"),
    _unit("m³", "volume", 10**9, "M3", "m3", "m^3"),
    _unit("in³", "volume", INCH**3 / Fraction(10**21), "IN3", "in3", "cu in", "cu. in.", "cid", "in^3"),
)  # fmt: skip
"""All units that are read, each quantity's usual one first."""

USUAL: Final = {unit.quantity: unit for unit in reversed(UNITS)}
"""The unit in which an amount of a quantity is shown when nothing else is asked for."""

SIGNED: Final = frozenset({"temperature", "angle"})
"""The quantities of which a negative amount makes sense."""


def _table() -> dict[str, tuple[Unit, ...]]:
    found: dict[str, list[Unit]] = {}
    for unit in UNITS:
        for name in dict.fromkeys(_squeezed(n) for n in (unit.symbol, *unit.names)):
            found.setdefault(name, []).append(unit)
    return {name: tuple(units) for name, units in found.items()}


def _squeezed(text: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", text).split())


_EXACT: Final = _table()
_FOLDED: Final[dict[str, set[str]]] = {}
for _name in _EXACT:
    _FOLDED.setdefault(_name.casefold(), set()).add(_name)


def units_named(text: str) -> tuple[Unit, ...]:
    """The units that go by this name, of whatever quantity; none if the name is unknown.

    Case is forgiven only where one unit remains: `MPa` and `mPa` are a million million apart.

    >>> [unit.symbol for unit in units_named("Inch")]
    ['in']
    >>> units_named("mpa")
    ()
    """
    name = _squeezed(text)
    if name in _EXACT:
        return _EXACT[name]
    others = [_EXACT[other] for other in _FOLDED.get(name.casefold(), ())]
    return others[0] if len(set(others)) == 1 else ()


def unit_of(text: str, quantity: str) -> Unit:
    """The unit of that name and quantity.

    Raises
    ------
    Unreadable
        An unknown unit, or a unit of another quantity only.
    """
    named = units_named(text)
    for unit in named:
        if unit.quantity == quantity:
            return unit
    usable = ", ".join(unit.symbol or "no unit" for unit in UNITS if unit.quantity == quantity)
    if not named:
        raise Unreadable(f"{text!r} is no unit known here", reason="unknown-unit", fix=f"use one of {usable}")
    raise Unreadable(
        f"{text!r} is a unit of {named[0].quantity}, not of {quantity}",
        reason="other-quantity",
        fix=f"use one of {usable}",
    )


_NUMBER: Final = re.compile(
    r"(?P<sign>[+-])?\s*"
    r"(?:(?P<whole>[0-9]+)(?:\s+|-)(?P<part>[0-9]+)/(?P<of>[0-9]+)"
    r"|(?P<over>[0-9]+)/(?P<under>[0-9]+)"
    r"|(?P<decimal>[.,]?[0-9][0-9.,]*)(?:[eE](?P<exponent>[+-]?[0-9]+))?(?![0-9.,]))"
)
_NOT_FINITE: Final = re.compile(r"[+-]?\s*(?:nan|inf|infinity|∞)\b.*|.*∞.*", re.IGNORECASE | re.DOTALL)
_RANGE: Final = re.compile(r"[0-9]\s*(?:-|–|—|\.\.+|…|to|bis)\s*[0-9]")


@dataclass(frozen=True, slots=True)
class Number:
    """A number as read: its value, half of its last printed digit (0 for a fraction), its text, the rest."""

    value: Fraction
    rounding: Fraction
    text: str
    rest: str


def _folded(text: str) -> str:
    """Compatibility forms folded, `½` kept apart from the figure before it, one kind of minus and slash."""
    spread = "".join(
        f" {unicodedata.normalize('NFKC', c)}" if unicodedata.decomposition(c).startswith("<fraction>") else c
        for c in text
    )
    return unicodedata.normalize("NFKC", spread).replace("⁄", "/").replace("−", "-").strip()


def _split(text: str, comma: bool) -> Number:
    if len(text) > MAX_TEXT:
        raise _no_number(text[:20] + "…", "it is too long for a number")
    folded = _folded(text)
    if _NOT_FINITE.fullmatch(folded):
        raise Unreadable(f"{text!r} is no finite number", reason="not-finite", fix="leave the cell empty or measure")
    match = _NUMBER.match(folded)
    if not match:
        raise _no_number(text, "no number was found")
    rest = folded[match.end() :].strip()
    if "±" in rest or "+/-" in rest:
        raise _no_number(text, "the tolerance stands in the same cell")
    if _RANGE.search(folded) and not match["of"]:
        raise _no_number(text, "it reads like a range of two numbers")
    if any(c.isdigit() for c in rest) and not units_named(rest):
        raise _no_number(text, f"{rest!r} after the number is no unit")
    value, rounding = _value(match, text, comma)
    written = folded[: match.end()].strip()
    return Number(-value if match["sign"] == "-" else value, rounding, written, rest)


def _no_number(text: str, why: str) -> Unreadable:
    return Unreadable(
        f"{text!r} cannot be read as one number: {why}",
        reason="not-a-number",
        fix="write one number, for instance 52.4 or 2 1/16, and its unit",
    )


def _value(match: re.Match[str], text: str, comma: bool) -> tuple[Fraction, Fraction]:
    if match["decimal"] is not None:
        return _decimal(match["decimal"], match["exponent"], text, comma)
    whole, over, under = match["whole"] or "0", match["part"] or match["over"], match["of"] or match["under"]
    if len(whole.lstrip("0")) + len(over) + len(under) > MAX_DIGITS:
        raise _too_long(text)
    if int(under) == 0:
        raise _no_number(text, "nothing can be divided by zero")
    if match["of"] and int(over) >= int(under):
        raise _no_number(text, f"{over}/{under} is no proper fraction")
    return int(whole) + Fraction(int(over), int(under)), Fraction(0)


def _too_long(text: str) -> Unreadable:
    return Unreadable(
        f"{text!r} has more than {MAX_DIGITS} digits",
        reason="too-many-digits",
        fix="write no more digits than were measured",
    )


def _decimal(digits: str, exponent: str | None, text: str, comma: bool) -> tuple[Fraction, Fraction]:
    marks = [c for c in digits if c in ".,"]
    if len(marks) > 1:
        raise _ambiguous(text, "points and commas may be thousands or decimals")
    before, _, after = digits.replace(",", ".").partition(".")
    if marks == [","] and not after:
        raise _no_number(text, "it ends with a comma")
    doubtful = "." if comma else ","
    if marks == [doubtful] and len(after) == 3 and 1 <= len(before) <= 3 and before[0] != "0":
        raise _ambiguous(text, f"{digits!r} may be {before}{after} or {before}.{after}")
    if len((before + after).lstrip("0")) > MAX_DIGITS or len(before + after) > 2 * MAX_DIGITS:
        raise _too_long(text)
    power = int(exponent) if exponent and len(exponent) < 5 else (10**4 if exponent else 0)
    if abs(power) > MAX_EXPONENT:
        raise Unreadable(f"{text!r} is out of all proportion", reason="out-of-range", fix="check the exponent")
    step = Fraction(10) ** (power - len(after))
    return int(before + after) * step, step / 2


def _ambiguous(text: str, why: str) -> Unreadable:
    return Unreadable(
        f"{text!r} can be read in two ways: {why}",
        reason="ambiguous",
        fix="write decimals with a point and thousands without any mark",
    )


def read_number(text: str, *, comma: bool = False) -> Fraction:
    """The number in a text that holds nothing else.

    `comma`: the file is known to write decimals with a comma, so that `15,875` is not in doubt.

    Raises
    ------
    Unreadable
        No number, two readings, not finite, or more digits than anybody measures.

    >>> read_number("2 1/16"), read_number("52,4"), read_number(".500")
    (Fraction(33, 16), Fraction(262, 5), Fraction(1, 2))
    """
    number = _split(text, comma)
    if number.rest:
        raise _no_number(text, f"{number.rest!r} after the number is no part of it")
    return number.value


@dataclass(frozen=True, slots=True)
class Reading:
    """A cell that was read: quanta, quantity, unit symbol, the number as written, and how finely it is printed.

    `rounding` is half of the last printed digit in quanta; `own_unit` says that the unit stood in the cell.
    """

    amount: int
    quantity: str
    unit: str
    text: str
    rounding: Fraction
    own_unit: bool


@lru_cache(maxsize=65536)
def read_measure(
    text: str, quantity: str, default_unit: str = "", *, comma: bool = False, difference: bool = False
) -> Reading:
    """A number with its unit, in quanta; the unit in the text counts before `default_unit`.

    `difference` says that a temperature is a difference (a tolerance), so that its unit's zero does not count.

    Raises
    ------
    Unreadable
        What `read_number` refuses; no unit, an unknown one or one of another quantity; a size finer than one
        quantum; a part of a thing that is counted; a temperature below absolute zero.
    """
    number = _split(text, comma)
    unitless = quantity in ("count", "ratio")
    if not number.rest and not default_unit and not unitless:
        raise Unreadable(
            f"{text!r} has no unit",
            reason="no-unit",
            fix=f"write the unit, for instance {number.text} {USUAL[quantity].symbol}",
        )
    unit = unit_of(number.rest or default_unit, quantity)
    exact = number.value * unit.scale + (0 if difference else unit.offset)
    amount = round(exact)
    if amount != exact and quantity == "count":
        raise Unreadable(f"{text!r} is no whole number", reason="not-whole", fix="count whole pieces")
    if amount == 0 and exact != 0:
        raise Unreadable(f"{text!r} is finer than anything kept here", reason="too-fine", fix="check the unit")
    if abs(amount) >= MAX_AMOUNT:
        raise Unreadable(f"{text!r} is out of all proportion", reason="out-of-range", fix="check the unit")
    if quantity == "temperature" and not difference and amount < 0:
        raise Unreadable(f"{text!r} is below absolute zero", reason="below-zero-kelvin", fix="check the unit")
    return Reading(amount, quantity, unit.symbol, number.text, number.rounding * unit.scale, bool(number.rest))


def read_amount(
    text: str, quantity: str, default_unit: str = "", *, comma: bool = False, difference: bool = False
) -> tuple[int, str]:
    """Quanta and unit symbol; as `read_measure`, for callers that need no more.

    >>> read_amount('2 1/16 in', "length")
    (523875000, 'in')
    >>> read_amount("52,4", "length", "mm")
    (524000000, 'mm')
    """
    reading = read_measure(text, quantity, default_unit, comma=comma, difference=difference)
    return reading.amount, reading.unit


def _plain(amount: int, per: int, places: int = 6) -> str:
    """`amount / per` as a decimal without trailing zeros: exact where ten places do, else rounded to `places`."""
    digits = 10
    whole, rest = divmod(amount * 10**digits, per)
    if rest:
        digits = places
        whole = round(Fraction(amount * 10**digits, per))
    sign, text = ("-" if whole < 0 else ""), str(abs(whole)).rjust(digits + 1, "0")
    return (sign + f"{text[:-digits]}.{text[-digits:]}").rstrip("0").rstrip(".")


@lru_cache(maxsize=16_384)  # answers say the same sizes again and again
def shown(amount: int, quantity: str, unit: str | None = None, *, difference: bool = False) -> str:
    """An amount as a person reads it: in the quantity's usual unit, or in `unit`.

    Exact where ten decimals suffice, else rounded to six.

    >>> shown(523_875_000, "length"), shown(523_875_000, "length", "in"), shown(288_150, "temperature")
    ('52.3875 mm', '2.0625 in', '15 °C')
    """
    chosen = USUAL[quantity] if unit is None else unit_of(unit, quantity)
    zero, scale = Fraction(0) if difference else chosen.offset, chosen.scale
    above = amount * zero.denominator - zero.numerator  # whole numbers: a fraction takes several times as long
    number = _plain(above * scale.denominator, zero.denominator * scale.numerator)
    if chosen.symbol == "":
        return number
    return number + ("" if chosen.symbol in ("°", "%") else " ") + chosen.symbol
