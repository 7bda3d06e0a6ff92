"""Sizes in millimetres or inches: every length in a text, with the original beside it."""

import re
from contextvars import ContextVar
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

MM_PER_INCH: Final = Decimal("25.4")  # exact: the international yard agreement of 1959
TENTH: Final = Decimal("0.0001")
"""Shops read inches to the ten-thousandth, 2.54 µm; the millimetres that stand beside are exact."""

UNITS: ContextVar[str] = ContextVar("units", default="mm")
_LENGTH: Final = re.compile(r"(?<!about )(?<![\w.,/-])(-?\d[\d,]*(?:\.\d+)?) mm(?![\w²³/·])")


def in_units(text: object) -> str:
    """The text with its millimetres as the reader wants them; inches keep the millimetres in brackets.

    >>> token = UNITS.set("in")
    >>> in_units("contour 62.65 mm, from 25.4 mm to 50.8 mm")
    'contour 2.4665 in (62.65 mm), from 1.0000 in (25.4 mm) to 2.0000 in (50.8 mm)'
    >>> UNITS.reset(token)
    >>> in_units("contour 62.65 mm")
    'contour 62.65 mm'
    """
    said = str(text)
    return _LENGTH.sub(_inches, said) if UNITS.get() == "in" else said


def _inches(match: re.Match[str]) -> str:
    inches = (Decimal(match[1].replace(",", "")) / MM_PER_INCH).quantize(TENTH, ROUND_HALF_EVEN)
    return f"{inches} in ({match[0]})"
