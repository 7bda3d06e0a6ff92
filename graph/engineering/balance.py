"""Balance of rigid rotors by ISO 21940-11: permissible residual unbalance and its shares in two planes."""

from dataclasses import dataclass
from math import pi
from typing import Final

from graph.engineering._domain import between, not_negative, positive
from graph.errors import NotFound

GUIDANCE: Final = {
    "crankshaft drives, slow marine diesels, unbalanced by nature": 4000.0,
    "crankshaft drives, slow marine diesels, balanced by nature": 1600.0,
    "crankshaft drives, unbalanced by nature, elastic mounts": 630.0,
    "crankshaft drives, unbalanced by nature, rigid mounts": 250.0,
    "complete reciprocating engines": 100.0,
    "cars: wheels, rims, drive shafts": 40.0,
    "crankshaft drives, balanced by nature, elastic mounts": 40.0,
    "agricultural machinery": 16.0,
    "crankshaft drives, balanced by nature, rigid mounts": 16.0,
    "crushing machines": 16.0,
    "drive shafts (cardan)": 16.0,
    "aircraft gas turbines": 6.3,
    "centrifuges": 6.3,
    "electric motors, 80 mm and larger, up to 950 rpm": 6.3,
    "electric motors, below 80 mm": 6.3,
    "fans": 6.3,
    "gears": 6.3,
    "machine tools": 6.3,
    "machinery, general": 6.3,
    "paper machines": 6.3,
    "process plant machines": 6.3,
    "pumps": 6.3,
    "turbochargers": 6.3,
    "water turbines": 6.3,
    "compressors": 2.5,
    "computer drives": 2.5,
    "electric motors, 80 mm and larger, above 950 rpm": 2.5,
    "gas turbines": 2.5,
    "steam turbines": 2.5,
    "machine-tool drives": 2.5,
    "textile machines": 2.5,
    "audio and video drives": 1.0,
    "grinding machine drives": 1.0,
    "gyroscopes": 0.4,
    "spindles and drives of high-precision systems": 0.4,
}  # guidance grades G by kind of machine. [mm/s]


@dataclass(frozen=True, slots=True)
class Advice:
    """A grade and who says so. [mm/s]"""

    grade: float
    says: str


ADVICE: Final = (
    Advice(6.3, "ISO 21940-11:2016, table 1: turbochargers, as guidance for whole rotors"),
    Advice(1.0, "an older ISO 1940-1 table and balancing-machine makers' pages"),
)
"""Both grades that are published for turbochargers; the shop sets its own limit and says who set it."""


def guidance_grade(machine: str) -> float:
    """The standard's guidance grade for a kind of machine.

    Parameters
    ----------
    machine : str
        A key of `GUIDANCE`: `turbochargers`. [-]

    Returns
    -------
    float
        Balance quality grade G. [mm/s]

    Raises
    ------
    NotFound
        A kind of machine that the table does not have.

    Sources
    -------
    [1] ISO 21940-11:2016, table 1 (as reproduced on a balancing-equipment maker's page, seen; rows that the tests do
        not hold are from memory).

    Examples
    --------
    >>> guidance_grade("turbochargers")
    6.3
    """
    name = " ".join(machine.split()).casefold()
    if name not in GUIDANCE:
        raise NotFound(f"{machine!r} is not in the table", fix="use one of " + "; ".join(GUIDANCE))
    return GUIDANCE[name]


def permissible_eccentricity(grade: float, speed: float) -> float:
    """Permissible residual specific unbalance: how far the centre of mass may lie off the axis.

    Parameters
    ----------
    grade : float
        Balance quality grade G. [mm/s]
    speed : float
        Maximum service speed, not the balancing machine's. [rev/min]

    Returns
    -------
    float
        Permissible eccentricity, the same number in g·mm/kg. [µm]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] ISO 21940-11:2016 (was ISO 1940-1:2003): e_per · Ω = G (text not seen; formula as published by
        balancing-machine makers).

    Examples
    --------
    >>> round(permissible_eccentricity(6.3, 100_000.0), 3)
    0.602
    """
    positive(grade=grade, speed=speed)
    return 1000 * grade / _omega(speed)


def permissible_unbalance(grade: float, mass: float, speed: float) -> float:
    """Permissible residual unbalance of the whole rotor.

    Parameters
    ----------
    grade : float
        Balance quality grade G. [mm/s]
    mass : float
        Mass of the rotor. [kg]
    speed : float
        Maximum service speed, not the balancing machine's. [rev/min]

    Returns
    -------
    float
        Permissible residual unbalance U_per. [g·mm]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] ISO 21940-11:2016: U_per = 1000 · G · m / Ω (text not seen; formula as published by balancing-machine
        makers).

    Examples
    --------
    >>> round(permissible_unbalance(6.3, 0.4, 100_000.0), 2), round(permissible_unbalance(1.0, 0.4, 100_000.0), 2)
    (0.24, 0.04)
    """
    positive(mass=mass)
    return permissible_eccentricity(grade, speed) * mass


def achieved_grade(residual: float, mass: float, speed: float) -> float:
    """The balance quality grade that a measured residual unbalance amounts to.

    Parameters
    ----------
    residual : float
        Measured residual unbalance of the whole rotor. [g·mm]
    mass : float
        Mass of the rotor. [kg]
    speed : float
        Maximum service speed. [rev/min]

    Returns
    -------
    float
        Balance quality grade G. [mm/s]

    Raises
    ------
    OutOfRange
        A mass or speed that is not positive, a negative residual.

    Sources
    -------
    [1] ISO 21940-11:2016, the inverse of U_per.

    Examples
    --------
    >>> round(achieved_grade(0.15, 0.35, 90_000.0), 2)
    4.04
    """
    not_negative(residual=residual)
    positive(mass=mass, speed=speed)
    return residual * _omega(speed) / (1000 * mass)


@dataclass(frozen=True, slots=True)
class Planes:
    """What two correction planes may each keep. [g·mm]; `bound` says that 0.3 and 0.7 took hold."""

    left: float
    right: float
    bound: bool


def two_planes(unbalance: float, to_left: float, to_right: float) -> Planes:
    """The permissible unbalance shared between two planes with the centre of mass between them.

    Parameters
    ----------
    unbalance : float
        Permissible residual unbalance of the whole rotor. [g·mm]
    to_left, to_right : float
        Distance of the centre of mass to the left and the right plane. [mm]

    Returns
    -------
    Planes
        Shares, each kept in 0.3 to 0.7 of the whole. [g·mm]

    Raises
    ------
    OutOfRange
        A number that is not positive: a centre of mass outside the planes (overhung) needs another rule.

    Sources
    -------
    [1] A balancing-machine handbook's page on plane allocation (seen); ISO 1940-1 clause 7 (from memory).

    Examples
    --------
    >>> two_planes(1.0, 60.0, 40.0), two_planes(0.5, 45.0, 15.0)
    (Planes(left=0.4, right=0.6, bound=False), Planes(left=0.15, right=0.35, bound=True))
    """
    positive(unbalance=unbalance, to_left=to_left, to_right=to_right)
    share = to_right / (to_left + to_right)
    kept = min(max(share, 0.3), 0.7)
    return Planes(unbalance * kept, unbalance * (1 - kept), kept != share)


def bearing_shares(unbalance: float, to_left: float, to_right: float) -> tuple[float, float]:
    """The permissible unbalance at each bearing plane of a rotor between bearings, without bounds.

    Parameters
    ----------
    unbalance : float
        Permissible residual unbalance of the whole rotor. [g·mm]
    to_left, to_right : float
        Distance of the centre of mass to the left and the right bearing. [mm]

    Returns
    -------
    tuple of float
        (left, right). [g·mm]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] ISO 1940-1:2003 / ISO 21940-11:2016: U_A = U_per · L_B / L (its example's inputs from memory).

    Examples
    --------
    >>> left, right = bearing_shares(28_648.0, 1500.0, 900.0)
    >>> round(left), round(right)
    (10743, 17905)
    """
    positive(unbalance=unbalance, to_left=to_left, to_right=to_right)
    whole = to_left + to_right
    return unbalance * to_right / whole, unbalance * to_left / whole


def correction_mass(unbalance: float, radius: float) -> float:
    """Mass to take off at a radius to remove an unbalance.

    Parameters
    ----------
    unbalance : float
        Unbalance in that plane. [g·mm]
    radius : float
        Radius of the cut's centre of mass. [mm]

    Returns
    -------
    float
        Mass. [mg]

    Raises
    ------
    OutOfRange
        A radius that is not positive, a negative unbalance.

    Sources
    -------
    [1] ISO 21940-2, definition U = m · r (text not seen).

    Examples
    --------
    >>> round(correction_mass(0.5, 22.0), 2)
    22.73
    """
    not_negative(unbalance=unbalance)
    positive(radius=radius)
    return 1000 * unbalance / radius


def unbalance_force(unbalance: float, speed: float) -> float:
    """The rotating force of an unbalance.

    Parameters
    ----------
    unbalance : float
        Unbalance. [g·mm]
    speed : float
        Shaft speed. [rev/min]

    Returns
    -------
    float
        Force. [N]

    Raises
    ------
    OutOfRange
        A speed that is not positive, a negative unbalance.

    Sources
    -------
    [1] Definition, F = U · Ω².

    Examples
    --------
    >>> round(unbalance_force(0.5, 100_000.0), 1)
    54.8
    """
    not_negative(unbalance=unbalance)
    positive(speed=speed)
    return unbalance * 1e-6 * _omega(speed) ** 2


def _omega(speed: float) -> float:
    """Angular speed. [rad/s]"""
    between(0, 1e7, speed=speed)
    return 2 * pi * speed / 60
