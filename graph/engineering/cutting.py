"""Cutting: spindle speeds, feeds, times and finish, so that a plan's minutes have a ground.

The shop's own figures override every figure of `PRACTICE`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, pi, radians, tan
from typing import Final

from graph.engineering._domain import between, not_negative, positive
from graph.errors import NotFound, OutOfRange


def cutting_speed(diameter: float, speed: float) -> float:
    """Speed of the work past the tool.

    Parameters
    ----------
    diameter : float
        Diameter that is cut. [mm]
    speed : float
        Spindle speed. [rev/min]

    Returns
    -------
    float
        Cutting speed. [m/min]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] Machinery's Handbook (from memory), v = π·D·n/1000.

    Examples
    --------
    >>> round(cutting_speed(50.0, 1200.0), 1)
    188.5
    """
    positive(diameter=diameter, speed=speed)
    return pi * diameter * speed / 1000


def spindle_speed(diameter: float, cutting: float) -> float:
    """Spindle speed for a cutting speed.

    Parameters
    ----------
    diameter : float
        Diameter that is cut. [mm]
    cutting : float
        Cutting speed. [m/min]

    Returns
    -------
    float
        Spindle speed; balance and clamping of the housing may allow less. [rev/min]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] Machinery's Handbook (from memory), the inverse of `cutting_speed`.

    Examples
    --------
    >>> round(spindle_speed(50.0, 120.0))
    764
    """
    positive(diameter=diameter, cutting_speed=cutting)
    return 1000 * cutting / (pi * diameter)


def turning_time(length: float, feed: float, speed: float, passes: int = 1) -> float:
    """Time of turning or boring passes.

    Parameters
    ----------
    length : float
        Length of a pass, run-in included. [mm]
    feed : float
        Feed. [mm/rev]
    speed : float
        Spindle speed. [rev/min]
    passes : int
        Passes. [-]

    Returns
    -------
    float
        Time in the cut. [min]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] M. P. Groover, Fundamentals of Modern Manufacturing, turning (statement seen), t = L/(f·n).

    Examples
    --------
    >>> round(turning_time(110.0, 0.25, 600.0, 3), 3)
    2.2
    """
    positive(length=length, feed=feed, speed=speed)
    between(1, 1000, passes=passes)
    return passes * length / (feed * speed)


@dataclass(frozen=True, slots=True)
class Drilling:
    """A drilled hole: run-in of the point [mm], time [min], metal removed [mm³/min]."""

    approach: float
    minutes: float
    removal: float


def drilling(diameter: float, depth: float, feed: float, speed: float, point: float = 118.0) -> Drilling:
    """Time of drilling a hole to full depth.

    Parameters
    ----------
    diameter : float
        Drill. [mm]
    depth : float
        Depth at full diameter. [mm]
    feed : float
        Feed. [mm/rev]
    speed : float
        Spindle speed. [rev/min]
    point : float
        Point angle. [°]

    Returns
    -------
    Drilling
        Run-in [mm], time [min], removal [mm³/min].

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] M. P. Groover, Fundamentals of Modern Manufacturing, drilling (statement seen; printed answer not seen).

    Examples
    --------
    >>> found = drilling(12.7, 60.0, 0.3, 626.6)
    >>> round(found.approach, 2), round(found.minutes, 2)
    (3.82, 0.34)
    """
    positive(diameter=diameter, depth=depth, feed=feed, speed=speed)
    between(60, 180, point=point)
    approach = diameter / 2 * tan(radians(90 - point / 2))
    return Drilling(approach, (depth + approach) / (feed * speed), pi / 4 * diameter**2 * feed * speed)


def metal_removal(diameter: float, depth: float, feed: float, speed: float) -> float:
    """Metal removed by turning or boring.

    Parameters
    ----------
    diameter : float
        Mean diameter of the cut. [mm]
    depth : float
        Depth of cut. [mm]
    feed : float
        Feed. [mm/rev]
    speed : float
        Spindle speed. [rev/min]

    Returns
    -------
    float
        Volume removed. [mm³/min]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] S. Kalpakjian, S. R. Schmid, Manufacturing Engineering and Technology, turning example (statement seen).

    Examples
    --------
    >>> round(metal_removal(12.25, 0.25, 0.5, 400.0))
    1924
    """
    positive(diameter=diameter, depth=depth, feed=feed, speed=speed)
    return pi * diameter * depth * feed * speed


@dataclass(frozen=True, slots=True)
class Finish:
    """Ideal turned finish: peak to valley and mean. [µm]"""

    total: float  # Rt
    mean: float  # Ra


def finish(feed: float, nose: float) -> Finish:
    """The best finish that a round nose can turn.

    Parameters
    ----------
    feed : float
        Feed. [mm/rev]
    nose : float
        Nose radius. [mm]

    Returns
    -------
    Finish
        Rt = f²/(8r) and Ra = f²/(32r); wear, chatter and built-up edge come on top. [µm]

    Raises
    ------
    OutOfRange
        A number that is not positive, a feed above the nose radius.

    Sources
    -------
    [1] M. P. Groover, Fundamentals of Modern Manufacturing, ideal roughness; Machinery's Handbook (from memory).

    Examples
    --------
    >>> round(finish(0.1, 0.4).total, 3), round(finish(0.1, 0.4).mean, 3)
    (3.125, 0.781)
    """
    positive(feed=feed, nose=nose)
    between(0, nose, feed=feed)
    return Finish(1000 * feed**2 / (8 * nose), 1000 * feed**2 / (32 * nose))


GRADES: Final = (0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.3, 12.5, 25.0, 50.0)
"""Ra of the roughness grades N1 to N12. [µm]"""


def roughness_grade(grade: str) -> float:
    """Ra of a roughness grade number on an older drawing.

    Parameters
    ----------
    grade : str
        N1 to N12. [-]

    Returns
    -------
    float
        Ra. [µm]

    Raises
    ------
    NotFound
        Another grade.

    Sources
    -------
    [1] ISO 1302 (from memory; gone from its successor ISO 21920, still on drawings).

    Examples
    --------
    >>> roughness_grade("N7")
    1.6
    """
    names = [f"N{n}" for n in range(1, len(GRADES) + 1)]
    if grade.strip().upper() not in names:
        raise NotFound(f"{grade!r} is no roughness grade", fix="use N1 to N12")
    return GRADES[names.index(grade.strip().upper())]


@dataclass(frozen=True, slots=True)
class Practice:
    """Carbide turning of a material: cutting speed [m/min], finishing feed [mm/rev], depth of a pass [mm]."""

    cutting: tuple[float, float]
    feed: float
    depth: float
    source: str = "common practice, no source"


PRACTICE: Final = {
    "grey iron": Practice((80.0, 140.0), 0.15, 1.0),
    "ductile iron": Practice((70.0, 120.0), 0.15, 1.0),
    "ni-resist": Practice((40.0, 70.0), 0.12, 0.8),
    "austenitic cast steel": Practice((40.0, 80.0), 0.12, 0.8),
    "cast aluminium": Practice((200.0, 500.0), 0.12, 1.5),
    "alloy steel": Practice((90.0, 160.0), 0.15, 1.0),
    "bronze": Practice((120.0, 250.0), 0.10, 1.0),
}


@dataclass(frozen=True, slots=True)
class Estimate:
    """Minutes in the cut as a range over the practice's speeds, and the figures used."""

    low: float  # [min]
    high: float  # [min]
    passes: int
    practice: Practice


def boring_minutes(
    material: str, diameter: float, length: float, radial: float, own: Practice | None = None
) -> Estimate:
    """Minutes in the cut for boring a diameter out; setting up and measuring are the shop's own figures.

    Parameters
    ----------
    material : str
        A key of `PRACTICE`, read only when the shop gives no figures of its own. [-]
    diameter : float
        Finished diameter. [mm]
    length : float
        Length of a pass. [mm]
    radial : float
        Radial depth to take off in all. [mm]
    own : Practice or None
        The shop's own figures, which override.

    Returns
    -------
    Estimate
        Least and most minutes [min] and passes: roughing at the practice's depth, and one pass to finish.

    Raises
    ------
    NotFound
        A material without figures, when the shop gives none.
    OutOfRange
        A number that is not positive, figures that are crossed.

    Sources
    -------
    [1] t = L/(f·n) (Groover); speeds, feeds and depths: common practice, no source.

    Examples
    --------
    60 mm of grey iron, 20 mm long, 1.5 mm deep: two passes and one to finish.

    >>> found = boring_minutes("grey iron", 60.0, 20.0, 1.5)
    >>> found.passes, round(found.low, 2), round(found.high, 2)
    (3, 0.54, 0.94)
    """
    practice = own or PRACTICE.get(" ".join(material.split()).casefold())
    if practice is None:
        raise NotFound(
            f"{material!r} has no figures", fix="use one of " + ", ".join(PRACTICE) + ", or the shop's own"
        )
    not_negative(radial=radial)
    slow, fast = practice.cutting
    if not 0 < slow <= fast:
        raise OutOfRange(f"cutting speeds {slow!r} to {fast!r}", fix="give the lower one first")
    positive(depth=practice.depth)
    passes = ceil(round(radial / practice.depth, 9)) + 1
    minutes = [turning_time(length, practice.feed, spindle_speed(diameter, speed), passes) for speed in (fast, slow)]
    return Estimate(minutes[0], minutes[1], passes, practice)


def total_minutes(minutes: Sequence[float], setup: float) -> float:
    """Minutes of an operation: setting up once and every cut.

    Parameters
    ----------
    minutes : sequence of float
        Time of each cut. [min]
    setup : float
        Setting up, indicating and measuring, by the shop's own figure. [min]

    Returns
    -------
    float
        Sum. [min]

    Raises
    ------
    OutOfRange
        A negative time.

    Sources
    -------
    [1] Plain sum.

    Examples
    --------
    >>> total_minutes([0.9, 2.2], 40.0)
    43.1
    """
    not_negative(setup=setup, **{f"cut_{n}": time for n, time in enumerate(minutes, 1)})
    return setup + sum(minutes)
