"""Compressible flow: real air with its changing specific heat, isentropic ratios, choking, the turbine's outlet."""

from collections.abc import Callable
from dataclasses import dataclass
from math import log, sqrt
from typing import Final

from graph.engineering._domain import between, positive

MOLAR_R: Final = 8.314_462_618  # molar gas constant. [J/(mol·K)]
# Mole fraction, molar mass [kg/mol], cp/R = a1/T² + a2/T + a3 + a4·T + a5·T² + a6·T³ + a7·T⁴ for 200 to 1000 K.
DRY_AIR: Final = (
    (0.78084, 0.0280134, (2.210371497e4, -3.818461820e2, 6.082738360, -8.530914410e-3, 1.384646189e-5,
                          -9.625793620e-9, 2.519705809e-12)),
    (0.20946, 0.0319988, (-3.425563420e4, 4.847000970e2, 1.119010961, 4.293889240e-3, -6.836300520e-7,
                          -2.023372700e-9, 1.039040018e-12)),
    (0.00970, 0.0399480, (0.0, 0.0, 2.5, 0.0, 0.0, 0.0, 0.0)),
)  # nitrogen, oxygen, argon with the rest  # fmt: skip
MOLAR_MASS: Final = sum(share * mass for share, mass, _ in DRY_AIR)  # [kg/mol]
COEFFICIENTS: Final = tuple(sum(share * a[n] for share, _, a in DRY_AIR) for n in range(7))
R_AIR: Final = MOLAR_R / MOLAR_MASS  # [J/(kg·K)]


@dataclass(frozen=True, slots=True)
class Compressed:
    """Air after a compressor: total temperature [K] and the work that went in [J/kg]."""

    temperature: float
    work: float


def real_air(temp_in: float, ratio: float, efficiency: float) -> Compressed:
    """Compression of dry air with the specific heat that it has at each temperature.

    Parameters
    ----------
    temp_in : float
        Total temperature before it, 220 to 400. [K]
    ratio : float
        Pressure ratio, 1 to 6. [-]
    efficiency : float
        Isentropic efficiency, 0.3 to 1. [-]

    Returns
    -------
    Compressed
        Temperature after it [K] and specific work [J/kg].

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] B. J. McBride, M. J. Zehe, S. Gordon, NASA/TP-2002-211556, coefficients of N2 and O2 for 200 to 1000 K (seen
        as carried by an open gas-dynamics library; text not seen).

    Examples
    --------
    A reference equation of state gives 415.04 K and 117.93 kJ/kg.

    >>> found = real_air(298.15, 2.5, 0.76)
    >>> round(found.temperature, 1), round(found.work / 1000, 1)
    (415.0, 117.9)
    """
    between(220, 400, temp_in=temp_in)
    between(1, 6, pressure_ratio=ratio)
    between(0.3, 1, efficiency=efficiency)
    ideal = _solve(_entropy, _entropy(temp_in) + R_AIR * log(ratio), temp_in)
    work = (_enthalpy(ideal) - _enthalpy(temp_in)) / efficiency
    return Compressed(_solve(_enthalpy, _enthalpy(temp_in) + work, temp_in), work)


@dataclass(frozen=True, slots=True)
class Isentropic:
    """Static over total pressure, density and temperature, and area over throat area. [-]"""

    pressure: float
    density: float
    temperature: float
    area: float


def isentropic(mach: float, gamma: float) -> Isentropic:
    """Isentropic ratios at a Mach number.

    Parameters
    ----------
    mach : float
        Mach number, over 0 up to 10. [-]
    gamma : float
        Ratio of specific heats. [-]

    Returns
    -------
    Isentropic
        p/pt, rho/rhot, T/Tt and A/A*. [-]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] NACA Report 1135 (1953), equations 43 to 45 and 80 (rows seen in two textbook appendices).

    Examples
    --------
    >>> found = isentropic(0.5, 1.4)
    >>> round(found.pressure, 4), round(found.area, 4)
    (0.843, 1.3398)
    """
    positive(mach=mach)
    between(0, 10, mach=mach)
    between(1.001, 1.7, gamma=gamma)
    temperature = 1 / (1 + (gamma - 1) / 2 * mach**2)
    area = (2 / ((gamma + 1) * temperature)) ** ((gamma + 1) / (2 * (gamma - 1))) / mach
    return Isentropic(temperature ** (gamma / (gamma - 1)), temperature ** (1 / (gamma - 1)), temperature, area)


def choking_parameter(gamma: float, r: float) -> float:
    """Mass flow times root of total temperature over area and total pressure, at Mach 1.

    Parameters
    ----------
    gamma : float
        Ratio of specific heats. [-]
    r : float
        Gas constant. [J/(kg·K)]

    Returns
    -------
    float
        m·sqrt(T0)/(A·p0). [kg·K^0.5/(s·m²·Pa)]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] NASA Glenn Research Center, "Mass flow choking" (page seen); NACA Report 1135.

    Examples
    --------
    >>> round(choking_parameter(1.4, 287.05), 5)
    0.04041
    """
    between(1.001, 1.7, gamma=gamma)
    positive(r=r)
    return float(sqrt(gamma / r) * ((gamma + 1) / 2) ** (-(gamma + 1) / (2 * (gamma - 1))))


def choked_flow(area: float, pressure: float, temperature: float, gamma: float, r: float) -> float:
    """Mass flow through a choked throat.

    Parameters
    ----------
    area : float
        Throat area. [mm²]
    pressure : float
        Total pressure before it, absolute. [Pa]
    temperature : float
        Total temperature before it. [K]
    gamma : float
        Ratio of specific heats. [-]
    r : float
        Gas constant. [J/(kg·K)]

    Returns
    -------
    float
        Mass flow; what a real throat passes is a little less. [kg/s]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] NASA Glenn Research Center, "Mass flow choking" (page seen).

    Examples
    --------
    >>> round(choked_flow(1200.0, 250e3, 900.0, 1.33, 287.0), 3)
    0.397
    """
    positive(area=area, pressure=pressure, temperature=temperature)
    return choking_parameter(gamma, r) * area * 1e-6 * pressure / sqrt(temperature)


def critical_ratio(gamma: float) -> float:
    """Throat pressure over total pressure at which the throat chokes.

    Parameters
    ----------
    gamma : float
        Ratio of specific heats. [-]

    Returns
    -------
    float
        p*/p0. [-]

    Raises
    ------
    OutOfRange
        A gamma outside its range.

    Sources
    -------
    [1] NACA Report 1135 (1953), at Mach 1.

    Examples
    --------
    >>> round(critical_ratio(1.4), 4)
    0.5283
    """
    return isentropic(1.0, gamma).pressure


def turbine_temperature(temp_in: float, ratio: float, efficiency: float, gamma: float) -> float:
    """Temperature after the turbine.

    Parameters
    ----------
    temp_in : float
        Total temperature before it. [K]
    ratio : float
        Expansion ratio, total before over static after, at least 1. [-]
    efficiency : float
        Isentropic efficiency, over 0 up to 1. [-]
    gamma : float
        Ratio of specific heats of the exhaust, about 1.33. [-]

    Returns
    -------
    float
        Temperature after it. [K]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] Definition of a turbine's isentropic efficiency.

    Examples
    --------
    >>> round(turbine_temperature(900.0, 2.0, 0.72, 1.33), 1)
    797.6
    """
    positive(temp_in=temp_in)
    between(1, 20, expansion_ratio=ratio)
    between(1e-3, 1, efficiency=efficiency)
    between(1.001, 1.7, gamma=gamma)
    return float(temp_in * (1 - efficiency * (1 - ratio ** (-(gamma - 1) / gamma))))


def _enthalpy(t: float) -> float:
    a1, a2, a3, a4, a5, a6, a7 = COEFFICIENTS
    whole = -a1 / t + a2 * log(t) + t * (a3 + t * (a4 / 2 + t * (a5 / 3 + t * (a6 / 4 + t * a7 / 5))))
    return R_AIR * whole


def _entropy(t: float) -> float:
    a1, a2, a3, a4, a5, a6, a7 = COEFFICIENTS
    whole = -a1 / (2 * t**2) - a2 / t + a3 * log(t) + t * (a4 + t * (a5 / 2 + t * (a6 / 3 + t * a7 / 4)))
    return R_AIR * whole


def _solve(f: Callable[[float], float], wanted: float, start: float) -> float:
    """The temperature at which a rising function takes a value, by halving. [K]"""
    low, high = start, 1000.0
    while high - low > 1e-9:
        middle = (low + high) / 2
        low, high = (middle, high) if f(middle) < wanted else (low, middle)
    return low
