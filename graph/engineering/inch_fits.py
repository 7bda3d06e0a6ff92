"""Limits and fits of sizes drawn in inches, by their own tables; the metric steps do not hold for them.

Table values are from memory, held in the tests against the one published example that was seen and against the
metric tables to the rounding of a tenth of a thou.
"""

from bisect import bisect_left
from dataclasses import dataclass
from typing import Final

from graph.errors import OutOfRange

# Over the one bound, up to and including the next. [in]
STEPS: Final = (0.12, 0.24, 0.40, 0.72, 1.20, 2.00, 3.20, 4.80, 7.20, 10.00)
GRADES: Final = {
    6: (2, 3, 4, 4, 5, 6, 7, 9, 10, 11),
    7: (4, 5, 6, 7, 8, 10, 12, 14, 16, 18),
    8: (6, 7, 9, 11, 13, 15, 18, 21, 25, 28),
    9: (10, 12, 14, 17, 20, 24, 29, 34, 39, 45),
    10: (16, 19, 23, 28, 33, 39, 47, 55, 63, 73),
    11: (24, 30, 35, 43, 51, 63, 75, 87, 98, 114),
}  # standard tolerances. [0.0001 in]
FINE_STEPS: Final = (
    0.12, 0.24, 0.40, 0.72, 0.96, 1.20, 1.60, 2.00, 2.60, 3.20, 4.00, 4.80, 5.60, 6.40, 7.20, 8.00, 9.00, 10.00,
)  # [in]  # fmt: skip
UPPER: Final = {
    "c": (-24, -28, -31, -37, -43, -43, -47, -51, -55, -59, -67, -71, -79, -83, -91, -94, -102, -110),
    "d": (-8, -12, -16, -20, -26, -26, -31, -31, -39, -39, -47, -47, -57, -57, -57, -67, -67, -67),
    "f": (-2, -4, -5, -6, -8, -8, -10, -10, -12, -12, -14, -14, -17, -17, -17, -20, -20, -20),
    "g": (-1, -2, -2, -2, -3, -3, -4, -4, -4, -4, -5, -5, -6, -6, -6, -6, -6, -6),
    "h": (0,) * 18,
}  # upper deviations of shafts. [0.0001 in]
LOWER: Final = {
    "k": (0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2),
    "n": (2, 3, 4, 5, 6, 6, 7, 7, 8, 8, 9, 9, 11, 11, 11, 12, 12, 12),
    "p": (2, 5, 6, 7, 9, 9, 10, 10, 13, 13, 15, 15, 17, 17, 17, 20, 20, 20),
    "s": (6, 7, 9, 11, 14, 14, 17, 17, 21, 23, 28, 31, 36, 39, 43, 48, 51, 55),
    "u": (7, 9, 11, 13, 16, 19, 24, 28, 34, 40, 49, 57, 67, 75, 83, 93, 102, 112),
}  # lower deviations of shafts; k for grades 6 and 7 only. [0.0001 in]


@dataclass(frozen=True, slots=True)
class InchFit:
    """A hole H and a shaft of one nominal size. [0.0001 in]; a negative clearance is an interference."""

    hole: tuple[int, int]
    shaft: tuple[int, int]

    @property
    def least_clearance(self) -> int:
        """Smallest hole less largest shaft. [0.0001 in]"""
        return self.hole[1] - self.shaft[0]

    @property
    def greatest_clearance(self) -> int:
        """Largest hole less smallest shaft. [0.0001 in]"""
        return self.hole[0] - self.shaft[1]


def inch_fit(nominal: float, zones: str) -> InchFit:
    """The limits of a hole H and a shaft that go together, of a size drawn in inches.

    Parameters
    ----------
    nominal : float
        Nominal size, over 0 up to and including 10. [in]
    zones : str
        Hole and shaft zone: `H7/s6`; the hole is always H. [-]

    Returns
    -------
    InchFit
        Deviations and clearances. [0.0001 in]

    Raises
    ------
    OutOfRange
        A size, letter or grade that the tables here do not have.

    Sources
    -------
    [1] R. G. Budynas, J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed., 2011, tables A-13 and A-14
        (from memory) and example 7-7 (seen).

    Examples
    --------
    >>> inch_fit(2, "H7/s6")
    InchFit(hole=(10, 0), shaft=(23, 17))
    """
    hole, _, shaft = zones.partition("/")
    if hole[:1] != "H" or not hole[1:].isascii() or not hole[1:].isdigit() or not shaft[1:].isdigit():
        raise OutOfRange(f"{zones!r} is not in the inch tables", fix="write a hole H and a shaft, as in H7/s6")
    letter, grade = shaft[0], int(shaft[1:])
    if letter == "k" and grade > 7:
        raise OutOfRange(f"{shaft} is not in the inch tables", fix="use k6 or k7")
    width = _width(nominal, grade)
    fine = _step(nominal, FINE_STEPS)
    if letter in UPPER:
        limits = UPPER[letter][fine], UPPER[letter][fine] - width
    elif letter in LOWER:
        limits = LOWER[letter][fine] + width, LOWER[letter][fine]
    else:
        known = ", ".join((*UPPER, *LOWER))
        raise OutOfRange(f"the letter {letter} is not in the inch tables", fix=f"use one of {known}")
    return InchFit((_width(nominal, int(hole[1:])), 0), limits)


def _width(nominal: float, grade: int) -> int:
    if grade not in GRADES:
        raise OutOfRange(f"IT{grade} is not in the inch tables", fix="use a grade from 6 to 11")
    return GRADES[grade][_step(nominal, STEPS)]


def _step(nominal: float, steps: tuple[float, ...]) -> int:
    if not 0 < nominal <= steps[-1]:  # also refuses NaN
        raise OutOfRange(f"{nominal!r} in is not in the table", fix=f"give a size over 0 and up to {steps[-1]:g} in")
    return bisect_left(steps, nominal)
