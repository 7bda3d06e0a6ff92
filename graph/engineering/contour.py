"""The cut for a chosen wheel: contour, inlet, recess and shield from the wheel and the clearance per side."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, radians

from graph.engineering._domain import between, not_negative, positive
from graph.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class Point:
    """A point of a profile in the shaft's plane. [mm]"""

    axial: float
    radius: float


def target_contour(wheel: Sequence[Point], clearance: float, shift: float = 0.0) -> tuple[Point, ...]:
    """The housing's contour for a wheel: its shroud profile moved out by the clearance, normal to itself.

    Parameters
    ----------
    wheel : sequence of Point
        The new wheel's shroud profile from inlet to tip, as measured; two points at least. [mm]
    clearance : float
        Clearance per side, normal to the surface. [mm]
    shift : float
        Axial position of the wheel in the housing: what is added to the profile's axial figures. [mm]

    Returns
    -------
    tuple of Point
        Contour points, one for each point given. [mm]

    Raises
    ------
    OutOfRange
        Fewer than two points, points that repeat, radii that are not positive, a negative clearance, a bend that is
        tighter than the clearance.

    Notes
    -----
    Between two points the profile is straight; corners are mitred, so that every side keeps the clearance. A bore of
    the inducer's size alone is not a contour.

    Sources
    -------
    [1] Plane geometry of a parallel curve.

    Examples
    --------
    A straight bore and a 45° cone: the corner moves out and along.

    >>> contour = target_contour([Point(0, 30), Point(10, 30), Point(20, 40)], 0.5)
    >>> [(round(p.axial, 3), round(p.radius, 3)) for p in contour]
    [(0.0, 30.5), (9.793, 30.5), (19.646, 40.354)]
    """
    if len(wheel) < 2:
        raise OutOfRange("a profile of fewer than two points", fix="measure inlet, bends and tip")
    not_negative(clearance=clearance)
    positive(**{f"radius_{n}": point.radius for n, point in enumerate(wheel, 1)})
    normals = []
    for here, there in pairwise(wheel):
        along, out = there.axial - here.axial, there.radius - here.radius
        length = hypot(along, out)
        if length == 0:
            raise OutOfRange(f"the point {here} stands twice in the profile", fix="leave one out")
        normals.append((-out / length, along / length))
    corners = [normals[0], *(_mitre(a, b) for a, b in pairwise(normals)), normals[-1]]
    moved = tuple(
        Point(point.axial + shift + clearance * x, point.radius + clearance * r)
        for point, (x, r) in zip(wheel, corners, strict=True)
    )
    for (here, there), (new, next_new) in zip(pairwise(wheel), pairwise(moved), strict=True):
        along = (there.axial - here.axial) * (next_new.axial - new.axial)
        if along + (there.radius - here.radius) * (next_new.radius - new.radius) <= 0:
            raise OutOfRange(
                f"near {here} the profile bends more tightly than the clearance", fix="give fewer points there"
            )
    return moved


def _mitre(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    lean = 1 + a[0] * b[0] + a[1] * b[1]
    if lean < 0.1:
        raise OutOfRange("the profile turns back on itself", fix="give the points in order from inlet to tip")
    return (a[0] + b[0]) / lean, (a[1] + b[1]) / lean


def bore_for(diameter: float, clearance: float) -> float:
    """Diameter to bore (inlet, turbine outlet, backplate recess, heat shield) round a wheel's diameter.

    Parameters
    ----------
    diameter : float
        The wheel's diameter there, as measured. [mm]
    clearance : float
        Clearance per side. [mm]

    Returns
    -------
    float
        Bore diameter. [mm]

    Raises
    ------
    OutOfRange
        A diameter that is not positive, a negative clearance.

    Sources
    -------
    [1] Plain sum. Cold gaps of common practice (no source): compressor 0.2 to 0.5, turbine 0.3 to 0.6 mm per side.

    Examples
    --------
    >>> bore_for(62.0, 0.35)
    62.7
    """
    positive(diameter=diameter)
    not_negative(clearance=clearance)
    return diameter + 2 * clearance


def normal_removal(radial: float, slope: float) -> float:
    """Depth of a cut normal to the surface, of a radial change on a sloping contour.

    Parameters
    ----------
    radial : float
        Change of radius there. [mm]
    slope : float
        Slope of the contour against the axis, 0 to 90. [°]

    Returns
    -------
    float
        Removal normal to the surface. [mm]

    Raises
    ------
    OutOfRange
        A negative change, a slope outside 0 to 90.

    Sources
    -------
    [1] Plane geometry.

    Examples
    --------
    >>> round(normal_removal(1.0, 60.0), 3), normal_removal(1.0, 0.0)
    (0.5, 1.0)
    """
    not_negative(radial=radial)
    between(0, 90, slope=slope)
    return radial * cos(radians(slope))
