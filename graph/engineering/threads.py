"""Threads and ports: ISO metric, NPT and G (BSPP) sizes, tap drills and limits."""

from dataclasses import dataclass
from typing import Final

from graph.engineering._domain import between, positive
from graph.errors import NotFound, OutOfRange

HEIGHT: Final = 0.866_025_404  # height of the sharp triangle over pitch, 60° threads. [-]
WHITWORTH: Final = 0.640_327  # depth of thread over pitch, 55° threads. [-]
INCH: Final = 25.4  # [mm]


@dataclass(frozen=True, slots=True)
class Basic:
    """Basic pitch and minor diameter. [mm]"""

    pitch_diameter: float
    minor_diameter: float


def metric(diameter: float, pitch: float) -> Basic:
    """Basic diameters of an ISO metric thread.

    Parameters
    ----------
    diameter : float
        Nominal diameter. [mm]
    pitch : float
        Pitch. [mm]

    Returns
    -------
    Basic
        Pitch diameter d2 and minor diameter d1. [mm]

    Raises
    ------
    OutOfRange
        A number that is not positive, a pitch above half the diameter.

    Sources
    -------
    [1] ISO 724: d2 = d - 0.649519 P, d1 = d - 1.082532 P (values seen in a tap maker's table).

    Examples
    --------
    >>> found = metric(10.0, 1.25)
    >>> round(found.pitch_diameter, 3), round(found.minor_diameter, 3)
    (9.188, 8.647)
    """
    positive(diameter=diameter, pitch=pitch)
    between(0, diameter / 2, pitch=pitch)
    return Basic(diameter - 0.75 * HEIGHT * pitch, diameter - 1.25 * HEIGHT * pitch)


@dataclass(frozen=True, slots=True)
class TapDrill:
    """Drill for a tap [mm] and the height of thread that it leaves, of the basic height [%]."""

    drill: float
    height: float


def tap_drill(diameter: float, pitch: float) -> TapDrill:
    """Drill for an ISO metric tap.

    Parameters
    ----------
    diameter : float
        Nominal diameter. [mm]
    pitch : float
        Pitch. [mm]

    Returns
    -------
    TapDrill
        Drill d - P [mm] and height of thread [%].

    Raises
    ------
    OutOfRange
        A number that is not positive, a pitch above half the diameter.

    Sources
    -------
    [1] ISO 2306 practice, d - P (text not seen); height over the basic 1.082532 P / 2.

    Examples
    --------
    >>> found = tap_drill(8.0, 1.25)
    >>> found.drill, round(found.height, 1)
    (6.75, 92.4)
    """
    depth = diameter - metric(diameter, pitch).minor_diameter
    return TapDrill(diameter - pitch, 100 * pitch / depth)


@dataclass(frozen=True, slots=True)
class ThreadLimits:
    """Limits of a 6g bolt and a 6H nut. [mm]"""

    bolt_major: tuple[float, float]  # least, greatest
    bolt_pitch: tuple[float, float]
    nut_pitch: tuple[float, float]
    nut_minor: tuple[float, float]


# By pitch: fundamental deviation g, bolt major tolerance, nut minor tolerance of grade 6. [µm]
BY_PITCH: Final = {
    0.5: (20, 106, 140),
    0.7: (22, 140, 180),
    0.75: (22, 140, 190),
    0.8: (24, 150, 200),
    1.0: (26, 180, 236),
    1.25: (28, 212, 265),
    1.5: (32, 236, 300),
    1.75: (34, 265, 335),
    2.0: (38, 280, 375),
    2.5: (42, 335, 450),
    3.0: (48, 375, 500),
}
DIAMETERS: Final = (2.8, 5.6, 11.2, 22.4, 45.0)  # over the one bound, up to and including the next. [mm]
# By (diameter step, pitch): pitch diameter tolerance of grade 6, bolt and nut. [µm]
BY_STEP: Final = {
    (1, 0.5): (75, 100),
    (1, 0.7): (90, 118),
    (1, 0.75): (90, 118),
    (1, 0.8): (95, 125),
    (2, 0.75): (100, 132),
    (2, 1.0): (112, 150),
    (2, 1.25): (118, 160),
    (2, 1.5): (132, 180),
    (3, 1.0): (118, 160),
    (3, 1.25): (132, 180),
    (3, 1.5): (140, 190),
    (3, 1.75): (150, 200),
    (3, 2.0): (160, 212),
    (3, 2.5): (170, 224),
    (4, 1.0): (125, 170),
    (4, 1.5): (150, 200),
    (4, 2.0): (170, 224),
    (4, 3.0): (200, 265),
}


def thread_limits(diameter: float, pitch: float) -> ThreadLimits:
    """Limits of an ISO metric thread, bolt 6g and nut 6H, from the table.

    Parameters
    ----------
    diameter : float
        Nominal diameter, over 2.8 up to 45. [mm]
    pitch : float
        Pitch that the table has for it. [mm]

    Returns
    -------
    ThreadLimits
        Least and greatest diameters. [mm]

    Raises
    ------
    OutOfRange
        A diameter and pitch that the table does not have.

    Notes
    -----
    The table is used, not the formulae of ISO 965-1: with plain rounding these miss the 6H pitch diameter of
    M10x1.5 by 10 µm.

    Sources
    -------
    [1] ISO 965-1, tables of grade 6 and position g (from memory); they give the limits of ISO 965-2 (a chart of 6g
        seen).

    Examples
    --------
    >>> found = thread_limits(10.0, 1.5)
    >>> round(found.nut_pitch[1], 3), round(found.bolt_pitch[0], 3)
    (9.206, 8.862)
    """
    basic = metric(diameter, pitch)
    step = sum(diameter > bound for bound in DIAMETERS)
    if (step, pitch) not in BY_STEP:
        raise OutOfRange(f"M{diameter:g}x{pitch:g} is not in the table", fix="use a standard diameter and pitch")
    below, major, minor = (value / 1000 for value in BY_PITCH[pitch])
    bolt, nut = (value / 1000 for value in BY_STEP[step, pitch])
    top, middle = diameter - below, basic.pitch_diameter - below
    return ThreadLimits(
        (top - major, top),
        (middle - bolt, middle),
        (basic.pitch_diameter, basic.pitch_diameter + nut),
        (basic.minor_diameter, basic.minor_diameter + minor),
    )


@dataclass(frozen=True, slots=True)
class PipeTaper:
    """An NPT thread. [mm], pitch too"""

    outside: float  # of the pipe, D
    pitch: float
    at_end: float  # pitch diameter at the small end, E0
    at_gauge: float  # pitch diameter at hand-tight engagement, E1
    hand_tight: float  # L1
    effective: float  # L2


# Pipe size: outside diameter [in], threads an inch, hand-tight engagement L1 [in].
NPT: Final = {
    "1/16": (0.3125, 27, 0.160),
    "1/8": (0.405, 27, 0.1615),
    "1/4": (0.540, 18, 0.2278),
    "3/8": (0.675, 18, 0.240),
    "1/2": (0.840, 14, 0.320),
    "3/4": (1.050, 14, 0.339),
    "1": (1.315, 11.5, 0.400),
}


def npt(size: str) -> PipeTaper:
    """Basic dimensions of an NPT thread (taper 1 in 16).

    Parameters
    ----------
    size : str
        Pipe size: `1/8`. [-]

    Returns
    -------
    PipeTaper
        Diameters and lengths. [mm]

    Raises
    ------
    NotFound
        A size that the table does not have.

    Sources
    -------
    [1] ASME B1.20.1, table 2: E0 = D - (0.05 D + 1.1) p, E1 = E0 + L1/16, L2 = (0.8 D + 6.8) p (a supplier's table
        seen; one web table prints L2 of 3/8 as 0.0478 for 0.4078 in; 1/16 and 1 in from memory).

    Examples
    --------
    >>> found = npt("3/8")
    >>> round(found.at_gauge / 25.4, 5), round(found.effective / 25.4, 4)
    (0.62701, 0.4078)
    """
    if size.strip() not in NPT:
        raise NotFound(f"NPT {size!r} is not in the table", fix="use one of " + ", ".join(NPT))
    outside, per_inch, hand_tight = NPT[size.strip()]
    pitch = 1 / per_inch
    at_end = outside - (0.05 * outside + 1.1) * pitch
    figures = (outside, pitch, at_end, at_end + hand_tight / 16, hand_tight, (0.8 * outside + 6.8) * pitch)
    return PipeTaper(*(figure * INCH for figure in figures))


# G size: major diameter [mm], threads an inch.
BSPP: Final = {
    "1/16": (7.723, 28),
    "1/8": (9.728, 28),
    "1/4": (13.157, 19),
    "3/8": (16.662, 19),
    "1/2": (20.955, 14),
    "5/8": (22.911, 14),
    "3/4": (26.441, 14),
    "1": (33.249, 11),
}


def bspp(size: str) -> Basic:
    """Basic diameters of a parallel pipe thread G; it seals on a face or ring, not in the thread.

    Parameters
    ----------
    size : str
        Size with or without its letter: `G1/8`. [-]

    Returns
    -------
    Basic
        Pitch and minor diameter. [mm]

    Raises
    ------
    NotFound
        A size that the table does not have.

    Sources
    -------
    [1] ISO 228-1:2000, table 1 (1/8, 1/4, 3/8 seen in a pocket book, minor diameters of others in a chart; the rest
        from memory).

    Examples
    --------
    >>> found = bspp("G1/8")
    >>> round(found.pitch_diameter, 3), round(found.minor_diameter, 3)
    (9.147, 8.566)
    """
    name = size.strip().upper().removeprefix("G").strip()
    if name not in BSPP:
        raise NotFound(f"G {size!r} is not in the table", fix="use one of " + ", ".join(BSPP))
    major, per_inch = BSPP[name]
    depth = WHITWORTH * INCH / per_inch
    return Basic(major - depth, major - 2 * depth)
