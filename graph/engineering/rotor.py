"""The rotor and its volute in figures: trim, A/R, tip speed against the wheel's own limit, stack height."""

from dataclasses import dataclass
from math import pi, sqrt
from typing import Final

from graph.engineering._domain import positive
from graph.errors import BadQuestion, OutOfRange
from graph.model.verdict import Caution, Verdict

R_AIR: Final = 287.05  # gas constant of dry air. [J/(kg·K)]
GAMMA_AIR: Final = 1.4  # ratio of specific heats of cool air. [-]

OVER_SPEED: Final = Caution(
    "speed-limit",
    "Above the wheel's own speed limit: blocked, and nobody here lifts that. Ask the wheel's maker.",
)
NO_LIMIT: Final = Caution(
    "speed-limit",
    "This wheel's own speed limit is not known: ask its maker. Figures for wheels in general approve nothing.",
)


def trim(one_diameter: float, other_diameter: float) -> float:
    """Trim of a wheel, compressor and turbine alike: the smaller diameter over the larger, squared, times 100.

    Parameters
    ----------
    one_diameter, other_diameter : float
        Inducer and exducer diameters, in either order. [mm]

    Returns
    -------
    float
        Trim; it is not a size. [-]

    Raises
    ------
    OutOfRange
        A diameter that is not positive.

    Sources
    -------
    [1] SAE J922, term "trim" (definition seen on a standards-summary page).

    Examples
    --------
    >>> round(trim(53.1, 71.0), 1), round(trim(82.0, 75.0), 1)
    (55.9, 83.7)
    """
    positive(one_diameter=one_diameter, other_diameter=other_diameter)
    small, large = sorted((one_diameter, other_diameter))
    return (small / large) ** 2 * 100


@dataclass(frozen=True, slots=True)
class AreaRadius:
    """A volute's A/R with the convention it was measured in, without which it is only a number. [mm]"""

    value: float
    convention: str  # "throat area to its centroid", "cast mark, maker's own", …


def area_radius(area: float, radius: float, convention: str) -> AreaRadius:
    """A/R of a volute: the area of its throat over the radius from the shaft's axis to that area's centroid.

    Parameters
    ----------
    area : float
        Throat area. [mm²]
    radius : float
        Radius to the centroid. [mm]
    convention : str
        Where and how both were taken, in the words of who took them. [-]

    Returns
    -------
    AreaRadius
        A/R with its convention. [mm]

    Raises
    ------
    OutOfRange
        An area or radius that is not positive.
    BadQuestion
        No convention.

    Sources
    -------
    [1] Common practice of volute makers, no source; a length, so a mark in inches is 25.4 times smaller.

    Examples
    --------
    A throat of 1200 mm² at 60 mm: 20 mm, or 0.79 in.

    >>> area_radius(1200.0, 60.0, "throat section, centroid").value
    20.0
    """
    positive(area=area, radius=radius)
    if not convention.strip():
        raise BadQuestion("an A/R without its convention", fix="say where the throat was cut and to which point")
    return AreaRadius(area / radius, convention.strip())


def area_radius_ratio(new: AreaRadius, old: AreaRadius) -> float:
    """How much larger one A/R is than another of the same convention; larger comes in later and flows more freely.

    Parameters
    ----------
    new, old : AreaRadius
        Two values of one convention. [mm]

    Returns
    -------
    float
        new / old. [-]

    Raises
    ------
    BadQuestion
        Two conventions; their values are not comparable.

    Sources
    -------
    [1] Common practice, no source.

    Examples
    --------
    >>> area_radius_ratio(AreaRadius(22.0, "cast mark"), AreaRadius(20.0, "cast mark"))
    1.1
    """
    if new.convention.casefold() != old.convention.casefold():
        raise BadQuestion(
            f"A/R by {new.convention!r} is not comparable with A/R by {old.convention!r}",
            fix="measure both throats alike",
        )
    positive(old=old.value, new=new.value)
    return new.value / old.value


def tip_speed(diameter: float, speed: float) -> float:
    """Speed of a wheel's largest diameter.

    Parameters
    ----------
    diameter : float
        Largest diameter of the wheel. [mm]
    speed : float
        Shaft speed. [rev/min]

    Returns
    -------
    float
        Tip speed. [m/s]

    Raises
    ------
    OutOfRange
        A diameter or speed that is not positive.

    Sources
    -------
    [1] Definition, U = πDN/60.

    Examples
    --------
    >>> round(tip_speed(100.0, 100_000.0), 1)
    523.6
    """
    positive(diameter=diameter, speed=speed)
    return pi * diameter / 1000 * speed / 60


def shaft_speed(diameter: float, tip: float) -> float:
    """Shaft speed at which a wheel's largest diameter reaches a tip speed.

    Parameters
    ----------
    diameter : float
        Largest diameter of the wheel. [mm]
    tip : float
        Tip speed. [m/s]

    Returns
    -------
    float
        Shaft speed. [rev/min]

    Raises
    ------
    OutOfRange
        A diameter or speed that is not positive.

    Sources
    -------
    [1] Definition, N = 60U/(πD).

    Examples
    --------
    >>> round(shaft_speed(90.0, 500.0), -2), round(shaft_speed(100.0, 500.0), -2)
    (106100.0, 95500.0)
    """
    positive(diameter=diameter, tip_speed=tip)
    return 60 * tip / (pi * diameter / 1000)


@dataclass(frozen=True, slots=True)
class SpeedCheck:
    """A wheel's speed against its own limit; `margin` is what is left of the limit, None when it is not known. [-]"""

    verdict: Verdict
    tip_speed: float  # [m/s]
    margin: float | None
    cautions: tuple[Caution, ...]


def speed_check(diameter: float, speed: float, limit: float | None) -> SpeedCheck:
    """The wheel's speed against the limit of this very wheel.

    Parameters
    ----------
    diameter : float
        Largest diameter of the wheel. [mm]
    speed : float
        Highest shaft speed, altitude included. [rev/min]
    limit : float or None
        The wheel maker's limit of tip speed; None when it is not known. [m/s]

    Returns
    -------
    SpeedCheck
        Not known without a limit; does not fit above it, which nobody lifts; else fits, with the margin. [-]

    Raises
    ------
    OutOfRange
        A diameter, speed or limit that is not positive.

    Sources
    -------
    [1] The project's own rule: a wheel above its limit is blocked. Limits come from the wheel's maker alone.

    Examples
    --------
    >>> found = speed_check(100.0, 100_000.0, 500.0)
    >>> found.verdict.value, round(found.margin, 3)
    ('does not fit', -0.047)
    """
    tip = tip_speed(diameter, speed)
    if limit is None:
        return SpeedCheck(Verdict.UNKNOWN, tip, None, (NO_LIMIT,))
    positive(limit=limit)
    margin = 1 - tip / limit
    if margin < 0:
        return SpeedCheck(Verdict.NO, tip, margin, (OVER_SPEED,))
    return SpeedCheck(Verdict.YES, tip, margin, ())


def tip_mach(diameter: float, speed: float, temp_in: float) -> float:
    """Tip speed over the speed of sound at the inlet.

    Parameters
    ----------
    diameter : float
        Exducer diameter. [mm]
    speed : float
        Shaft speed. [rev/min]
    temp_in : float
        Total temperature at the inlet. [K]

    Returns
    -------
    float
        Tip Mach number. [-]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] Definition, a = sqrt(1.4 · 287.05 · T).

    Examples
    --------
    >>> round(tip_mach(76.0, 120_000.0, 298.15), 3)
    1.38
    """
    positive(temp_in=temp_in)
    return tip_speed(diameter, speed) / sqrt(GAMMA_AIR * R_AIR * temp_in)


def collar_height(wanted: float, others: tuple[float, ...]) -> float:
    """Height of the collar or spacer that brings the stack on the shaft to a wanted length.

    Parameters
    ----------
    wanted : float
        Length of the whole stack. [mm]
    others : tuple of float
        Heights of all other parts on the shaft, as measured. [mm]

    Returns
    -------
    float
        Height that is left for the collar. [mm]

    Raises
    ------
    OutOfRange
        A height that is not positive, or others that already fill the stack.

    Notes
    -----
    A change of this height moves the wheel along the contour: check the gap along the whole contour again.

    Sources
    -------
    [1] Plain sum; use `stacks.stack` where the parts' tolerances are at stake.

    Examples
    --------
    >>> round(collar_height(61.50, (8.40, 12.05, 34.20)), 2)
    6.85
    """
    positive(wanted=wanted, **{f"height_{n}": height for n, height in enumerate(others, 1)})
    left = wanted - sum(others)
    if left <= 0:
        raise OutOfRange(f"the other parts are {sum(others):g} mm of {wanted:g} mm", fix="measure the stack again")
    return left
