"""Growth of wheel and housing by heat and by speed, with the spread of published coefficients."""

from dataclasses import dataclass
from math import pi
from typing import Final

from graph.engineering._domain import between, not_negative, positive
from graph.errors import NotFound


@dataclass(frozen=True, slots=True)
class Expansion:
    """Mean linear expansion as published: lowest and highest figure [1/K], from 20 °C up to `up_to` [K]."""

    low: float
    high: float
    up_to: float
    source: str


EXPANSION: Final = {
    "304 stainless steel": Expansion(
        17.2e-6, 17.3e-6, 373.15, "materials chart (seen: 9.6e-6/°F); 17.3 as handbooks print it, from memory"
    ),
    "austenitic cast steel": Expansion(16.0e-6, 18.7e-6, 873.15, "handbook range, from memory"),
    "356 cast aluminium": Expansion(
        21.4e-6, 21.5e-6, 373.15, "two casting data sheets (seen: 21.4); 21.5 from memory"
    ),
    "2618 aluminium": Expansion(
        22.0e-6, 22.3e-6, 373.15, "an online property page (seen: 22); ASM Metals Handbook vol. 2, from memory: 22.3"
    ),
    "ductile iron": Expansion(
        10.8e-6, 14.8e-6, 673.15, "a supplier (seen: 10.8), a property page (seen: 11), a gear handbook (seen: 14.8)"
    ),
    "grey iron": Expansion(10.0e-6, 12.0e-6, 473.15, "handbook range, from memory"),
    "ni-resist d-2": Expansion(17.6e-6, 18.7e-6, 473.15, "Nickel Institute publication 11018, from memory"),
    "310 stainless steel": Expansion(14.4e-6, 15.9e-6, 373.15, "handbook range, from memory"),
    "ni-resist d-5s": Expansion(12.9e-6, 12.9e-6, 473.15, "Nickel Institute publication 11018, from memory"),
    "alloy 713c": Expansion(13.5e-6, 13.5e-6, 811.15, "Nickel Institute alloy data, from memory"),
    "alloy 718": Expansion(13.9e-6, 14.4e-6, 700.15, "two data sheets (seen: 13.93 to 316 °C, 14.35 to 427 °C)"),
    "4140 steel": Expansion(11.2e-6, 12.3e-6, 473.15, "spread of the pages seen"),
}  # no coefficient without a range of temperature and a source


def expansion(material: str) -> Expansion:
    """The published mean expansion of a material, with its spread.

    Parameters
    ----------
    material : str
        A key of `EXPANSION`: `ductile iron`. [-]

    Returns
    -------
    Expansion
        Lowest and highest coefficient [1/K], highest temperature [K], source.

    Raises
    ------
    NotFound
        A material without a published figure here: ask for the alloy and its data.

    Sources
    -------
    [1] Those named in each entry's `source`.

    Examples
    --------
    >>> found = expansion("Ductile iron")
    >>> found.low, found.high
    (1.08e-05, 1.48e-05)
    """
    name = " ".join(material.split()).casefold()
    if name not in EXPANSION:
        raise NotFound(f"{material!r} has no expansion here", fix="use one of " + "; ".join(EXPANSION))
    return EXPANSION[name]


def per_kelvin(per_fahrenheit: float) -> float:
    """A coefficient that was printed for each degree Fahrenheit.

    Parameters
    ----------
    per_fahrenheit : float
        Mean coefficient. [1/°F]

    Returns
    -------
    float
        Mean coefficient. [1/K]

    Raises
    ------
    OutOfRange
        A coefficient that is not positive.

    Sources
    -------
    [1] NIST SP 811 (2008): a difference of 1 °F is 5/9 K.

    Examples
    --------
    >>> round(per_kelvin(7.31e-6) * 1e6, 3)
    13.158
    """
    positive(coefficient=per_fahrenheit)
    return per_fahrenheit * 9 / 5


def thermal_growth(length: float, coefficient: float, from_temp: float, to_temp: float) -> float:
    """Growth of a length by heat.

    Parameters
    ----------
    length : float
        Length or diameter when measured. [mm]
    coefficient : float
        Mean linear expansion between the two temperatures. [1/K]
    from_temp, to_temp : float
        Temperature when measured and when running. [K]

    Returns
    -------
    float
        Growth, negative when cooled. [mm]

    Raises
    ------
    OutOfRange
        A number that is not positive, a coefficient above 40e-6.

    Sources
    -------
    [1] Definition of the mean coefficient; held against ASME BPVC II-D (2001), table TE-1 (seen).

    Examples
    --------
    >>> round(thermal_growth(76.0, 22.3e-6, 293.15, 423.15), 4)
    0.2203
    """
    positive(length=length, coefficient=coefficient, from_temp=from_temp, to_temp=to_temp)
    between(0, 40e-6, coefficient=coefficient)
    return length * coefficient * (to_temp - from_temp)


def centrifugal_growth(diameter: float, speed: float, stiffness: float, density: float, poisson: float) -> float:
    """Growth of a wheel's radius by speed, taken as a solid disc of even thickness.

    Parameters
    ----------
    diameter : float
        Wheel diameter. [mm]
    speed : float
        Shaft speed. [rev/min]
    stiffness : float
        Modulus of elasticity at temperature. [Pa]
    density : float
        Density. [kg/m³]
    poisson : float
        Poisson's ratio. [-]

    Returns
    -------
    float
        Growth of the radius. [mm]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Notes
    -----
    A real wheel with back disc and blades is stiffer in one place and softer in another: the order is right, the
    third figure is not.

    Sources
    -------
    [1] W. C. Young, Roark's Formulas for Stress and Strain, rotating solid disc (from memory):
        u = (1 - ν)·ρ·ω²·R³/(4E).

    Examples
    --------
    A 100 mm aluminium wheel at 500 m/s, 95 493 rev/min: about 0.08 mm.

    >>> round(centrifugal_growth(100.0, 95_493.0, 71e9, 2770.0, 0.33), 3)
    0.082
    """
    positive(diameter=diameter, stiffness=stiffness, density=density)
    not_negative(speed=speed)
    between(0, 0.5, poisson=poisson)
    omega, radius = 2 * pi * speed / 60, diameter / 2000
    return (1 - poisson) * density * omega**2 * radius**3 / (4 * stiffness) * 1000


@dataclass(frozen=True, slots=True)
class Body:
    """A wheel or a bore: its size when measured, at `cold`, and its running temperature and expansion."""

    diameter: float  # [mm]
    cold: float  # [K]
    hot: float  # [K]
    low: float  # lowest published mean expansion. [1/K]
    high: float  # highest published mean expansion. [1/K]
    growth: float = 0.0  # of the radius by speed. [mm]


@dataclass(frozen=True, slots=True)
class HotGap:
    """Clearance per side, cold and hot. [mm]; hot as a range over the spread of the coefficients."""

    cold: float
    low: float
    high: float


def hot_gap(bore: Body, wheel: Body) -> HotGap:
    """Clearance per side between wheel and contour when running, over the spread of the coefficients.

    Parameters
    ----------
    bore : Body
        The housing's bore; its `growth` is zero. [mm], [K], [1/K]
    wheel : Body
        The wheel, with its growth by speed. [mm], [K], [1/K]

    Returns
    -------
    HotGap
        Cold clearance per side and the range of the hot one. [mm]

    Raises
    ------
    OutOfRange
        A size or temperature that is not positive, coefficients that are crossed.

    Notes
    -----
    Free growth of round bodies on one axis: shaft movement in the bearings, bent housings and uneven heat come on
    top.

    Sources
    -------
    [1] Difference of two free expansions; coefficients as their source prints them.

    Examples
    --------
    >>> iron = Body(64.5, 293.15, 823.15, 11.5e-6, 11.5e-6)
    >>> round(2 * hot_gap(iron, Body(64.0, 293.15, 893.15, 14.5e-6, 14.5e-6)).low, 4)
    0.3363
    """
    for body in (bore, wheel):
        positive(coefficient=body.low)
        between(body.low, 40e-6, coefficient=body.high)
        not_negative(growth=body.growth)
    hot = [
        bore.diameter
        + thermal_growth(bore.diameter, outer, bore.cold, bore.hot)
        - wheel.diameter
        - thermal_growth(wheel.diameter, inner, wheel.cold, wheel.hot)
        - 2 * wheel.growth
        for outer in (bore.low, bore.high)
        for inner in (wheel.low, wheel.high)
    ]
    return HotGap((bore.diameter - wheel.diameter) / 2, min(hot) / 2, max(hot) / 2)


def heating_for_fit(diameter: float, interference: float, clearance: float, coefficient: float) -> float:
    """Rise of temperature that opens an interference and leaves a clearance to assemble.

    Parameters
    ----------
    diameter : float
        Joint diameter. [mm]
    interference : float
        Greatest interference on diameter. [mm]
    clearance : float
        Clearance wanted while assembling. [mm]
    coefficient : float
        Mean linear expansion of the outer part. [1/K]

    Returns
    -------
    float
        Rise of temperature; the maker's limit for the part and for its temper comes first. [K]

    Raises
    ------
    OutOfRange
        A number that is not positive, a negative clearance, a coefficient above 40e-6.

    Sources
    -------
    [1] Definition of the mean coefficient, dT = (interference + clearance)/(a·d).

    Examples
    --------
    >>> round(heating_for_fit(50.0, 0.05, 0.03, 12.3e-6), 1)
    130.1
    """
    positive(diameter=diameter, interference=interference, coefficient=coefficient)
    between(0, 40e-6, coefficient=coefficient)
    not_negative(clearance=clearance)
    return (interference + clearance) / (coefficient * diameter)
