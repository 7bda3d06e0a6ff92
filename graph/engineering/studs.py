"""Studs by ISO 898-1: stress area, proof load and general torque, all behind the maker's own procedure."""

from dataclasses import dataclass
from math import pi
from typing import Final

from graph.engineering._domain import between, positive
from graph.engineering.threads import HEIGHT, metric
from graph.errors import NotFound
from graph.model.verdict import Caution

MAKER_FIRST: Final = Caution(
    "torque",
    "The maker's own procedure for this joint comes first: studs, nuts and sequences here are data, not an"
    " instruction. A figure from a general table is for choosing stock only.",
)


def stress_area(diameter: float, pitch: float) -> float:
    """Nominal stress area of a metric thread.

    Parameters
    ----------
    diameter : float
        Nominal diameter. [mm]
    pitch : float
        Pitch. [mm]

    Returns
    -------
    float
        Area. [mm²]

    Raises
    ------
    OutOfRange
        A number that is not positive, a pitch above half the diameter.

    Sources
    -------
    [1] ISO 898-1: As = π/4·((d2 + d3)/2)², d3 = d1 - H/6 (printed values seen).

    Examples
    --------
    >>> round(stress_area(10.0, 1.5), 1)
    58.0
    """
    basic = metric(diameter, pitch)
    core = basic.minor_diameter - HEIGHT * pitch / 6
    return pi / 4 * ((basic.pitch_diameter + core) / 2) ** 2


COARSE: Final = {5: 0.8, 6: 1.0, 7: 1.0, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2.0, 16: 2.0, 18: 2.5, 20: 2.5, 24: 3.0}
"""Coarse pitch by nominal diameter. [mm]"""

PROOF: Final = {"8.8": 580.0, "10.9": 830.0, "12.9": 970.0}
"""Stress under proof load by property class; 8.8 above M16 has 600. [MPa]"""


@dataclass(frozen=True, slots=True)
class Stud:
    """Proof load of a coarse-thread stud [N], with what comes before it."""

    proof_load: float
    caution: Caution


def stud(diameter: int, property_class: str) -> Stud:
    """Proof load of a coarse metric stud of a property class.

    Parameters
    ----------
    diameter : int
        Nominal diameter, M5 to M24. [mm]
    property_class : str
        `8.8`, `10.9` or `12.9`. [-]

    Returns
    -------
    Stud
        Proof load at room temperature [N]; hot studs (turbine side) are the maker's alone.

    Raises
    ------
    NotFound
        A diameter or class that the table does not have.

    Notes
    -----
    Within 0.6 % of the printed loads, which are rounded.

    Sources
    -------
    [1] ISO 898-1, proof loads (printed values seen for M6 to M14; stresses under proof load with them).

    Examples
    --------
    >>> round(stud(8, "10.9").proof_load, -2)
    30400.0
    """
    if diameter not in COARSE or property_class not in PROOF:
        raise NotFound(
            f"M{diameter} of class {property_class} is not in the table",
            fix="use M" + ", M".join(map(str, COARSE)) + " of class " + ", ".join(PROOF),
        )
    stress = 600.0 if property_class == "8.8" and diameter > 16 else PROOF[property_class]
    area = float(f"{stress_area(diameter, COARSE[diameter]):.3g}")  # the standard multiplies its printed area
    return Stud(area * stress, MAKER_FIRST)


def general_torque(diameter: float, load: float, nut_factor: float) -> tuple[float, Caution]:
    """Torque that general practice gives a load; never in place of the maker's procedure.

    Parameters
    ----------
    diameter : float
        Nominal diameter. [mm]
    load : float
        Load wanted in the stud. [N]
    nut_factor : float
        K, 0.1 (greased) to 0.3 (rusty). [-]

    Returns
    -------
    tuple
        Torque [N·m] and the caution that comes before it.

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] R. G. Budynas, J. K. Nisbett, Shigley's Mechanical Engineering Design, ch. 8: T = K·F·d (from memory).

    Examples
    --------
    >>> round(general_torque(8.0, 0.75 * 30_400, 0.2)[0], 2)
    36.48
    """
    positive(diameter=diameter, load=load)
    between(0.1, 0.3, nut_factor=nut_factor)
    return nut_factor * load * diameter / 1000, MAKER_FIRST
