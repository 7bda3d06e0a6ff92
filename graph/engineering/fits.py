"""Limits and fits of plain sizes by the metric tables of ISO 286 (standard tolerances and fundamental deviations).

Table values are as carried by two independent libraries; the text of the standard was not seen.
"""

import re
from bisect import bisect_left
from dataclasses import dataclass
from typing import Final, Literal

from graph.errors import BadQuantity, OutOfRange
from graph.model.value import Amount

Kind = Literal["clearance", "transition", "interference"]
Basis = Literal["hole", "shaft", "both", "neither"]

MM: Final = 10_000_000  # quanta of length in one millimetre (graph/model/value.py)
INCH_WORDS: Final = frozenset({"in", "inch", "inches", '"', "″", "''", "thou", "mil"})

# A step is over the one bound, up to and including the next. [mm]
STEPS: Final = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250)
GRADES: Final = {
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18, 20),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160, 185),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290),
}  # standard tolerances. [µm]
UPPER: Final = {
    "d": (-20, -30, -40, -50, -65, -80, -100, -120, -145, -170),
    "e": (-14, -20, -25, -32, -40, -50, -60, -72, -85, -100),
    "f": (-6, -10, -13, -16, -20, -25, -30, -36, -43, -50),
    "g": (-2, -4, -5, -6, -7, -9, -10, -12, -14, -15),
    "h": (0, 0, 0, 0, 0, 0, 0, 0, 0, 0),
}  # upper deviations of shafts on the main steps. [µm]
LOWER: Final = {
    "k": (0, 1, 1, 1, 2, 2, 2, 3, 3, 4),
    "m": (2, 4, 6, 7, 8, 9, 11, 13, 15, 17),
    "n": (4, 8, 10, 12, 15, 17, 20, 23, 27, 31),
    "p": (6, 12, 15, 18, 22, 26, 32, 37, 43, 50),
}  # lower deviations of shafts on the main steps; k for grades 4 to 7 only. [µm]
FINE_STEPS: Final = (3, 6, 10, 14, 18, 24, 30, 40, 50, 65, 80, 100, 120, 140, 160, 180, 200, 225, 250)  # [mm]
FINE_UPPER: Final = {
    "c": (
        -60,
        -70,
        -80,
        -95,
        -95,
        -110,
        -110,
        -120,
        -130,
        -140,
        -150,
        -170,
        -180,
        -200,
        -210,
        -230,
        -240,
        -260,
        -280,
    ),
}  # upper deviations of shafts on the intermediate steps. [µm]
FINE_LOWER: Final = {
    "r": (10, 15, 19, 23, 23, 28, 28, 34, 34, 41, 43, 51, 54, 63, 65, 68, 77, 80, 84),
    "s": (14, 19, 23, 28, 28, 35, 35, 43, 43, 53, 59, 71, 79, 92, 100, 108, 122, 130, 140),
    "u": (18, 23, 28, 33, 33, 41, 48, 60, 70, 87, 102, 124, 144, 170, 190, 210, 236, 258, 284),
}  # lower deviations of shafts on the intermediate steps. [µm]

_ZONE = re.compile(r"(js|JS|[A-Za-z])([0-9]{1,2})")


def tolerance(nominal: float, grade: int) -> int:
    """The standard tolerance of a grade.

    Parameters
    ----------
    nominal : float
        Nominal size, over 0 up to and including 250. [mm]
    grade : int
        5 to 11, as in IT7. [-]

    Returns
    -------
    int
        Width of the zone. [µm]

    Raises
    ------
    OutOfRange
        A size or grade that the table here does not have.

    Sources
    -------
    [1] ISO 286-1:2010, table 1 (text not seen; values as carried by two independent libraries).

    Examples
    --------
    >>> tolerance(25, 7)
    21
    """
    if grade not in GRADES:
        raise OutOfRange(f"IT{grade} is not in the table", fix="use a grade from 5 to 11")
    return GRADES[grade][_step(nominal, STEPS)]


def limits(nominal: float, zone: str) -> tuple[float, float]:
    """The upper and lower limit deviation of a tolerance zone.

    Parameters
    ----------
    nominal : float
        Nominal size, over 0 up to and including 250. [mm]
    zone : str
        Letter and grade: `H7` for a hole, `g6` for a shaft. [-]

    Returns
    -------
    tuple of float
        (upper, lower) deviation from the nominal size; halves occur in js and JS only. [µm]

    Raises
    ------
    OutOfRange
        A size, letter or grade that the tables here do not have.

    Notes
    -----
    Holes C to H mirror the shaft of the letter. Holes K, M, N (grades 6 to 8) and P, R, S, U (grades 6, 7) have
    ES = -ei + delta, with delta = ITn - IT(n-1), and no delta up to 3 mm; M, P, R, S, U of coarser grades have
    ES = -ei, N has 0 (above 3 mm). js and JS lie half above and half below; printed tables may round an odd
    width of grades 7 to 11 to the even value below [2], which is not done here. Sizes drawn in inches have tables
    of their own with other steps: 2 in is not 50.8 mm here (see `nominal_of`).

    Sources
    -------
    [1] ISO 286-1:2010, tables 1 to 5 and clause 4.3, ISO 286-2:2010 (text not seen; values as carried by two
        independent libraries).
    [2] Narayana, Kannaiah, Venkata Reddy, Machine Drawing, table 15.2 (seen: letters m to u, js and its note).

    Examples
    --------
    >>> limits(25, "H7"), limits(25, "g6"), limits(25, "js7")
    ((21, 0), (-7, -20), (10.5, -10.5))
    """
    match = _ZONE.fullmatch(zone)
    if match is None:
        raise OutOfRange(f"{zone!r} is not a tolerance zone", fix="write a letter and a grade, as in H7 or g6")
    letter, grade = match[1], int(match[2])
    width = tolerance(nominal, grade)
    if letter in ("js", "JS"):
        half = width / 2 if width % 2 else width // 2
        return half, -half
    return _shaft(nominal, letter, grade, width) if letter.islower() else _hole(nominal, letter, grade, width)


def fundamental_deviation(nominal: float, letter: str) -> int:
    """The deviation of a shaft that lies nearest to the nominal size.

    Parameters
    ----------
    nominal : float
        Nominal size, over 0 up to and including 250. [mm]
    letter : str
        Shaft letter, c to h (the upper deviation) or k to u (the lower one; k of grades 4 to 7). [-]

    Returns
    -------
    int
        Upper deviation of c to h, lower deviation of k to u. [µm]

    Raises
    ------
    OutOfRange
        A size or letter that the tables here do not have; js, which has none.

    Sources
    -------
    [1] ISO 286-1:2010, tables 4 and 5 (text not seen; values as carried by two independent libraries).
    [2] Narayana, Kannaiah, Venkata Reddy, Machine Drawing, table 15.2 (seen: letters m to u).

    Examples
    --------
    >>> fundamental_deviation(20, "f"), fundamental_deviation(60, "n"), fundamental_deviation(60, "r")
    (-20, 20, 41)
    """
    main, fine = _step(nominal, STEPS), _step(nominal, FINE_STEPS)
    if letter in UPPER:
        return UPPER[letter][main]
    return FINE_UPPER[letter][fine] if letter in FINE_UPPER else _lower(letter, main, fine)


def basis(zones: str) -> Basis:
    """Which of the two parts keeps the plain zone, so that the other is made to suit.

    Parameters
    ----------
    zones : str
        Hole and shaft zone: `H7/g6`. [-]

    Returns
    -------
    str
        `hole` for H, `shaft` for h, `both` for H/h, else `neither`. [-]

    Raises
    ------
    OutOfRange
        A text that is not two zones.

    Sources
    -------
    [1] ISO 286-1:2010, hole-basis and shaft-basis systems (text not seen).

    Examples
    --------
    >>> basis("H7/g6"), basis("F8/h6"), basis("H7/h6"), basis("K7/g6")
    ('hole', 'shaft', 'both', 'neither')
    """
    hole, _, shaft = zones.partition("/")
    if not _ZONE.fullmatch(hole) or not _ZONE.fullmatch(shaft):
        raise OutOfRange(f"{zones!r} is not a hole and a shaft", fix="write the hole first, as in H7/g6")
    if hole[0] == "H":
        return "both" if shaft[0] == "h" else "hole"
    return "shaft" if shaft[0] == "h" else "neither"


@dataclass(frozen=True, slots=True)
class Fit:
    """A hole and a shaft of one nominal size. [µm]; a negative clearance is an interference."""

    hole: tuple[float, float]  # ES, EI
    shaft: tuple[float, float]  # es, ei

    @property
    def least_clearance(self) -> float:
        """Smallest hole less largest shaft. [µm]"""
        return self.hole[1] - self.shaft[0]

    @property
    def greatest_clearance(self) -> float:
        """Largest hole less smallest shaft. [µm]"""
        return self.hole[0] - self.shaft[1]

    @property
    def kind(self) -> Kind:
        """Clearance when the parts never bind, interference when they always do, else transition."""
        if self.least_clearance >= 0:
            return "clearance"
        return "interference" if self.greatest_clearance <= 0 else "transition"


def fit(nominal: float, zones: str) -> Fit:
    """The limits of a hole and a shaft that go together.

    Parameters
    ----------
    nominal : float
        Nominal size, over 0 up to and including 250. [mm]
    zones : str
        Hole and shaft zone: `H7/g6`. [-]

    Returns
    -------
    Fit
        Deviations and clearances. [µm]

    Raises
    ------
    OutOfRange
        A size, letter or grade that the tables here do not have.

    Sources
    -------
    [1] ISO 286-1:2010, ISO 286-2:2010 (text not seen; values as carried by two independent libraries).

    Examples
    --------
    >>> sliding = fit(25, "H7/g6")
    >>> sliding.least_clearance, sliding.greatest_clearance, sliding.kind
    (7, 41, 'clearance')
    """
    hole, _, shaft = zones.partition("/")
    if not hole[:1].isupper() or not shaft[:1].islower():
        raise OutOfRange(f"{zones!r} is not a hole and a shaft", fix="write the hole first, as in H7/g6")
    return Fit(limits(nominal, hole), limits(nominal, shaft))


def nominal_of(size: Amount) -> float:
    """The nominal size for these tables, of a size that was drawn in millimetres.

    Parameters
    ----------
    size : Amount
        A diameter or a width as it was written. [100 pm]

    Returns
    -------
    float
        The nominal size. [mm]

    Raises
    ------
    BadQuantity
        A size written in inches, whose tables have other steps (over 1.20 up to 2.00 in, not over 50 up to
        80 mm; see `inch_fits`), or no length at all.

    Sources
    -------
    [1] R. G. Budynas, J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed., 2011, example 7-7
        (seen): 2 in by the inch tables is not 50.8 mm by the metric ones.

    Examples
    --------
    >>> nominal_of(Amount(508_000_000, "length", "50,8", "mm"))
    50.8
    """
    if size.quantity != "length":
        raise BadQuantity(f"{size.text or size.amount!r} is not a length", fix="give a diameter or a width in mm")
    if size.unit.strip().casefold() in INCH_WORDS:
        raise BadQuantity(
            f"{size.text} {size.unit} was drawn in inches, these are the metric tables",
            fix="use the inch tables, or the nominal size in mm if the part was drawn so",
        )
    return size.amount / MM


def _step(nominal: float, steps: tuple[int, ...]) -> int:
    if not 0 < nominal <= steps[-1]:  # also refuses NaN
        raise OutOfRange(f"{nominal!r} mm is not in the table", fix=f"give a size over 0 and up to {steps[-1]} mm")
    return bisect_left(steps, nominal)


def _shaft(nominal: float, letter: str, grade: int, width: int) -> tuple[int, int]:
    main, fine = _step(nominal, STEPS), _step(nominal, FINE_STEPS)
    if letter in UPPER:
        return UPPER[letter][main], UPPER[letter][main] - width
    if letter in FINE_UPPER:
        return FINE_UPPER[letter][fine], FINE_UPPER[letter][fine] - width
    lower = _lower(letter, main, fine)
    if letter == "k" and grade > 7:
        lower = 0
    return lower + width, lower


def _lower(letter: str, main: int, fine: int) -> int:
    if letter in LOWER:
        return LOWER[letter][main]
    if letter in FINE_LOWER:
        return FINE_LOWER[letter][fine]
    known = ", ".join(sorted({*UPPER, *LOWER, *FINE_UPPER, *FINE_LOWER}))
    raise OutOfRange(f"the letter {letter} is not in the tables", fix=f"use one of {known}")


def _hole(nominal: float, letter: str, grade: int, width: int) -> tuple[int, int]:
    shaft = letter.lower()
    main, fine = _step(nominal, STEPS), _step(nominal, FINE_STEPS)
    if shaft in UPPER or shaft in FINE_UPPER:
        lower = -(UPPER[shaft][main] if shaft in UPPER else FINE_UPPER[shaft][fine])
        return lower + width, lower
    upper = -_lower(shaft, main, fine)
    by_delta = grade <= (8 if shaft in "kmn" else 7)
    if by_delta and grade < 6:
        raise OutOfRange(f"{letter}{grade} is not in the tables", fix="use grade 6 or coarser for this letter")
    if by_delta and main > 0:
        upper += width - GRADES[grade - 1][main]
    elif shaft == "k" and main > 0:
        raise OutOfRange(f"{letter}{grade} is not in the tables", fix="use K6, K7 or K8")
    elif shaft == "n" and main > 0:
        upper = 0
    return upper, upper - width
