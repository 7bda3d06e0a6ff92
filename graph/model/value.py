"""What a claim says of one feature: an amount, a code, or a set of codes.

Every number is a whole count of a fixed quantum, so that adding and comparing are exact:

=============  ==================  =========================================
quantity       one quantum is      why
=============  ==================  =========================================
length         100 pm              0.0001 in and 1/64 in are whole
area           1 µm²               1 in² is whole
angle          1/3 600 000 000 °   a decimal degree and a second are whole
mass           1 ng                1 oz is whole
speed          0.001 rev/min       shaft and engine speed
velocity       1 µm/s              tip speed
pressure       1 mPa               1 psi is rounded by less than 0.1 ppb
temperature    1 mK                absolute; 1 °F is rounded by less than 0.5 mK
time           1 ms
torque         1 µN·m
power          1 mW
flow           1 mg/s
unbalance      1 µg·mm
count          1
ratio          0.000 001
volume         1 mm³               engine displacement
=============  ==================  =========================================

The text and unit as written stay beside the number.
"""

import unicodedata
from dataclasses import dataclass
from typing import Final

QUANTITIES: Final = (
    "length", "area", "angle", "mass", "speed", "velocity", "pressure", "temperature", "time", "torque",
    "power", "flow", "unbalance", "count", "ratio", "volume",
)  # fmt: skip

NONE: Final = "none"
"""The code that says a thing is absent, as against not known."""


@dataclass(frozen=True, slots=True)
class Amount:
    """A number of quanta of one quantity, with the text and unit it was written in."""

    amount: int
    quantity: str
    text: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Code:
    """A pattern, thread, connector, protocol or other word; `code` is its one spelling."""

    code: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class CodeSet:
    """Several codes at once, sorted; for instance the control signals an engine can send."""

    codes: tuple[str, ...]
    text: str = ""


Value = Amount | Code | CodeSet


_ALIKE: Final = {ord("×"): "x", **{ord(dash): "-" for dash in "\u2010\u2011\u2012\u2013\u2014\u2212"}}
"""What programs put in place of an x and of a hyphen."""


def spelled_code(text: str) -> str:
    """The one spelling of a code: compatibility forms folded, lower case, single spaces, `×` as `x`, one hyphen.

    >>> spelled_code("  Four-Stud  A ")
    'four-stud a'
    """
    if not text.isascii():  # most codes are; translating those too took three times as long
        text = unicodedata.normalize("NFKC", text).translate(_ALIKE)
    return " ".join(text.casefold().split())
