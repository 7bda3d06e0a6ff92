"""The housing round a chosen wheel: the wall that a cut leaves, vanes, diffuser, and what blocks the work.

Rule 1: a position without a reading is not known, and so is a wall without a limit; nothing is assumed for it.
Rule 2: a block says who may lift it, and a cracked rotating part's block is lifted by nobody.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi
from typing import Final, Literal

from graph.engineering._domain import between, not_negative, positive
from graph.errors import OutOfRange
from graph.model.verdict import Caution, Verdict, worst

CONTAINMENT: Final = Caution(
    "containment",
    "Boring takes wall that would hold a burst wheel, and the maker's containment test no longer covers this part:"
    " ask the maker.",
)


@dataclass(frozen=True, slots=True)
class Block:
    """Why work must not go on; `lifted_by` says what would lift it, empty when nobody may."""

    code: str
    text: str
    lifted_by: str = ""


CRACKED: Final = Block("cracked-rotating-part", "A rotating part is cracked: it is scrap, nobody lifts this.")
OVER_LIMIT: Final = Block("over-speed", "The wheel would run above its own speed limit: nobody lifts this.")


@dataclass(frozen=True, slots=True)
class WallReading:
    """One ultrasonic reading along the cut, and what the cut takes there. [mm]"""

    wall: float
    uncertainty: float  # of the gauge
    removal: float  # normal to the surface


@dataclass(frozen=True, slots=True)
class WallLeft:
    """One position after the cut. [mm]; `left` None: not read. `limit` None: nobody has set one."""

    position: str
    left: float | None
    limit: float | None
    verdict: Verdict
    reason: str


@dataclass(frozen=True, slots=True)
class Wall:
    """All positions in the order asked, the worst verdict, blocks and cautions."""

    positions: tuple[WallLeft, ...]
    verdict: Verdict
    blocks: tuple[Block, ...]
    cautions: tuple[Caution, ...]

    @property
    def thinnest(self) -> float | None:
        """Least wall left; None while any position is not known. [mm]"""
        left = [position.left for position in self.positions]
        return None if None in left else min((value for value in left if value is not None), default=None)


def wall_left(readings: Mapping[str, WallReading | None], core_shift: float | None, limit: float | None) -> Wall:
    """The wall that a cut leaves, position by position.

    Parameters
    ----------
    readings : mapping of str to WallReading or None
        Every position along the cut; None where it was not read. [mm]
    core_shift : float or None
        How far the cut's axis may lie off the casting's; None when it was not measured. [mm]
    limit : float or None
        The least wall that a named person set for this part; None when nobody did. [mm]

    Returns
    -------
    Wall
        Wall left at each position [mm], verdict, blocks and cautions.

    Raises
    ------
    OutOfRange
        No position, a negative number.

    Notes
    -----
    Left = reading - removal normal to the surface - gauge uncertainty - core shift. Only a new limit claim with
    author and evidence changes a limit.

    Sources
    -------
    [1] The project's own rule; limits from the named person who set them. Shops quote 4 to 5 mm for turbine housings
        and 3 to 4 mm for aluminium covers (common practice, no source): these are never used as defaults.

    Examples
    --------
    >>> found = wall_left({"0°": WallReading(7.2, 0.1, 2.0), "90°": None}, 0.4, 4.0)
    >>> round(found.positions[0].left, 2), found.positions[1].left, found.verdict.value
    (4.7, None, 'not known')
    """
    if not readings:
        raise OutOfRange("a cut without a position", fix="name the positions along the cut")
    if core_shift is not None:
        not_negative(core_shift=core_shift)
    if limit is not None:
        positive(limit=limit)
    positions = tuple(_position(name, reading, core_shift, limit) for name, reading in readings.items())
    blocks = tuple(
        Block("wall", f"{p.position}: {p.reason}", "a new limit claim with author and evidence")
        for p in positions
        if p.verdict is Verdict.NO
    )
    return Wall(positions, worst([p.verdict for p in positions]), blocks, (CONTAINMENT,))


def _position(name: str, reading: WallReading | None, core_shift: float | None, limit: float | None) -> WallLeft:
    if reading is None:
        return WallLeft(name, None, limit, Verdict.UNKNOWN, "not read: measure the wall here")
    not_negative(wall=reading.wall, uncertainty=reading.uncertainty, removal=reading.removal)
    before_shift = round(reading.wall - reading.removal - reading.uncertainty, 9)
    if core_shift is None:
        if before_shift <= 0 or (limit is not None and before_shift < limit):
            return WallLeft(
                name, None, limit, Verdict.NO, f"{before_shift:.2f} mm would be left even without core shift"
            )
        return WallLeft(
            name, None, limit, Verdict.UNKNOWN, "core shift not measured: indicate the casting to the pilot"
        )
    left = round(before_shift - core_shift, 9)
    if left <= 0:
        return WallLeft(name, left, limit, Verdict.NO, f"{left:.2f} mm would be left: the cut may come through")
    if limit is None:
        return WallLeft(name, left, None, Verdict.UNKNOWN, "no limit: a named person must set one for this part")
    if left < limit:
        return WallLeft(name, left, limit, Verdict.NO, f"{left:.2f} mm would be left, {limit:g} mm asked")
    return WallLeft(name, left, limit, Verdict.YES, f"{left:.2f} mm would be left, {limit:g} mm asked")


@dataclass(frozen=True, slots=True)
class Check:
    """One demand held against one measured figure. `figure` None: not measured."""

    name: str
    figure: float | None
    verdict: Verdict
    reason: str


def vane_check(wheel_inlet: float, inside: Mapping[str, float | None], gap: float) -> tuple[Check, ...]:
    """The turbine wheel's inlet against the vanes at every vane position.

    Parameters
    ----------
    wheel_inlet : float
        Inlet (largest) diameter of the turbine wheel, as measured. [mm]
    inside : mapping of str to float or None
        Diameter inside the vanes at each position, open, closed and between; None where it was not measured. [mm]
    gap : float
        Least gap per side. [mm]

    Returns
    -------
    tuple of Check
        One a position: gap per side [mm] and verdict; an unmeasured position is not known.

    Raises
    ------
    OutOfRange
        No position, a size that is not positive, a negative gap.

    Sources
    -------
    [1] Common practice, no source: the wheel's inlet must clear the vanes at every position, by measurement.

    Examples
    --------
    >>> found = vane_check(64.0, {"open": 66.0, "closed": None}, 0.5)
    >>> [(check.figure, check.verdict.value) for check in found]
    [(1.0, 'fits'), (None, 'not known')]
    """
    positive(wheel_inlet=wheel_inlet)
    not_negative(gap=gap)
    if not inside:
        raise OutOfRange("no vane position", fix="measure inside the vanes open, closed and between")
    positive(**{f"inside_{name}": size for name, size in inside.items() if size is not None})
    return tuple(
        window(f"vanes {name}", None if size is None else round((size - wheel_inlet) / 2, 9), gap, None)
        for name, size in inside.items()
    )


def window(name: str, figure: float | None, least: float | None, most: float | None) -> Check:
    """A measured figure (diffuser gap, throat, shield gap) against the limits of this unit.

    Parameters
    ----------
    name : str
        What was measured. [-]
    figure : float or None
        The measured figure. [mm], or [mm²] for a throat
    least, most : float or None
        This unit's limits, in the figure's unit; None where there is none. [mm]

    Returns
    -------
    Check
        Not known without a figure or without any limit. [-]

    Raises
    ------
    OutOfRange
        A figure that is not finite, limits that are crossed.

    Sources
    -------
    [1] The project's own rule: a missing limit is not known, never a pass.

    Examples
    --------
    >>> window("diffuser gap", 4.1, None, None).verdict.value, window("diffuser gap", 4.1, 3.9, 4.3).verdict.value
    ('not known', 'fits')
    """
    limits = {"least": least, "most": most}
    between(-1e9, 1e9, **{f"{name} {end}": limit for end, limit in limits.items() if limit is not None})
    if least is not None and most is not None and not least <= most:
        raise OutOfRange(f"{name}: at least {least!r} and at most {most!r}", fix="give the smaller limit first")
    if figure is None:
        return Check(name, None, Verdict.UNKNOWN, "not measured")
    between(-1e9, 1e9, **{name: figure})
    if least is None and most is None:
        return Check(name, figure, Verdict.UNKNOWN, "no limit is known for this unit")
    if least is not None and figure < least:
        return Check(name, figure, Verdict.NO, f"{figure:g} is below {least:g}")
    if most is not None and figure > most:
        return Check(name, figure, Verdict.NO, f"{figure:g} is above {most:g}")
    return Check(name, figure, Verdict.YES, f"{figure:g} is within its limits")


@dataclass(frozen=True, slots=True)
class Diffuser:
    """A vaneless diffuser against the wheel that feeds it."""

    tip_area: float  # outlet area of the wheel. [mm²]
    entry_area: float  # at the same diameter in the diffuser. [mm²]
    width_ratio: float  # diffuser gap over tip width. [-]


def diffuser(exducer: float, tip_width: float, gap: float) -> Diffuser:
    """The diffuser's gap against the width of the wheel's tip.

    Parameters
    ----------
    exducer : float
        Exducer diameter. [mm]
    tip_width : float
        Width of the blades at the tip. [mm]
    gap : float
        Axial gap of the diffuser at its entry. [mm]

    Returns
    -------
    Diffuser
        Areas [mm²] and gap over tip width [-]; hold it against the original pair, there is no general figure.

    Raises
    ------
    OutOfRange
        A size that is not positive.

    Sources
    -------
    [1] Plane geometry, A = π·D·b.

    Examples
    --------
    >>> found = diffuser(88.0, 5.0, 4.5)
    >>> round(found.tip_area), found.width_ratio
    (1382, 0.9)
    """
    positive(exducer=exducer, tip_width=tip_width, gap=gap)
    around = pi * exducer
    return Diffuser(around * tip_width, around * gap, gap / tip_width)


@dataclass(frozen=True, slots=True)
class Demand:
    """A demand of form or finish on machined faces."""

    what: str
    most: float
    unit: Literal["mm", "µm"]
    source: str


DEMANDS: Final = (
    Demand("runout of a finish bore to the pilot", 0.03, "mm", "common practice, no source"),
    Demand("finish of the contour, Ra", 1.6, "µm", "common practice, no source"),
    Demand("finish of journals, Ra", 0.4, "µm", "common practice, no source"),
)
"""Shown on the sheet where the unit's own data say nothing stricter."""
