"""What a compressor wheel alone lets one expect: estimates with a range, never a substitute for its map."""

from math import pi, radians, sqrt, tan
from typing import Final

from graph.engineering._domain import between, positive
from graph.engineering.air import CP, GAMMA, Range

# Common practice, no source: backswept turbocharger wheels near their best point.
WORK_FACTORS: Final = (0.62, 0.75)  # work over tip speed squared. [-]
EFFICIENCIES: Final = (0.68, 0.78)  # isentropic. [-]
EYE_MACH: Final = (0.40, 0.60)  # axial Mach number at the eye near the highest flow. [-]
EYE_HUB: Final = 0.30  # hub over inducer diameter. [-]


def whirl_ratio(tip: float, radial: float, backsweep: float) -> float:
    """Whirl over tip speed at the outlet of backswept blades, before slip.

    Parameters
    ----------
    tip : float
        Tip speed. [m/s]
    radial : float
        Radial speed at the tip. [m/s]
    backsweep : float
        Blade angle from the radial, backwards. [°]

    Returns
    -------
    float
        Whirl over tip speed. [-]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] R. S. R. Gorla, A. A. Khan, Turbomachinery: Design and Theory, ch. 4, example 1 (inputs and method seen).

    Examples
    --------
    >>> round(whirl_ratio(475.0, 110.0, 25.5), 4)
    0.8895
    """
    positive(tip=tip, radial=radial)
    between(0, 60, backsweep=backsweep)
    return 1 - radial / tip * tan(radians(backsweep))


def wheel_work(tip: float, whirl: float, input_factor: float = 1.0) -> float:
    """Specific work that a wheel puts into air which comes in without whirl.

    Parameters
    ----------
    tip : float
        Tip speed. [m/s]
    whirl : float
        Whirl over tip speed at the outlet, slip included. [-]
    input_factor : float
        Power input factor for windage. [-]

    Returns
    -------
    float
        Specific work. [J/kg]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] Euler's turbomachine equation, as in Gorla, Khan, ch. 4 (method seen).

    Examples
    --------
    >>> round(wheel_work(370.0, 0.9))
    123210
    """
    positive(tip=tip)
    between(0.1, 1, whirl=whirl)
    between(1, 1.1, input_factor=input_factor)
    return input_factor * whirl * tip**2


def ratio_of_work(work: float, temp_in: float, efficiency: float, cp: float = CP, gamma: float = GAMMA) -> float:
    """Pressure ratio that a specific work reaches.

    Parameters
    ----------
    work : float
        Specific work. [J/kg]
    temp_in : float
        Total temperature at the inlet. [K]
    efficiency : float
        Isentropic efficiency. [-]
    cp : float
        Specific heat at constant pressure. [J/(kg·K)]
    gamma : float
        Ratio of specific heats. [-]

    Returns
    -------
    float
        Total pressure ratio. [-]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Sources
    -------
    [1] Gorla, Khan, ch. 4, examples 1 and 2 (inputs and method seen; printed answers not seen).

    Examples
    --------
    >>> round(ratio_of_work(0.9 * 370.0**2, 290.0, 0.88), 3)
    3.025
    """
    positive(work=work, temp_in=temp_in, cp=cp)
    between(1e-3, 1, efficiency=efficiency)
    between(1.001, 1.7, gamma=gamma)
    return float((1 + efficiency * work / (cp * temp_in)) ** (gamma / (gamma - 1)))


def expected_ratio(tip: float, temp_in: float) -> Range:
    """Pressure ratio to expect of a wheel at a tip speed; an estimate.

    Parameters
    ----------
    tip : float
        Tip speed. [m/s]
    temp_in : float
        Total temperature at the inlet. [K]

    Returns
    -------
    Range
        Pressure ratio [-] and what is assumed.

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] Euler's equation with work factors and efficiencies of common practice (no source).

    Examples
    --------
    >>> found = expected_ratio(450.0, 298.15)
    >>> round(found.low, 1), round(found.high, 1)
    (2.4, 3.2)
    """
    positive(tip=tip, temp_in=temp_in)
    low, high = (
        ratio_of_work(factor * tip**2, temp_in, efficiency)
        for factor, efficiency in zip(WORK_FACTORS, EFFICIENCIES, strict=True)
    )
    return Range(
        low,
        high,
        (
            "an estimate from the wheel alone, without its map",
            f"work factor {WORK_FACTORS[0]:g} to {WORK_FACTORS[1]:g} and efficiency {EFFICIENCIES[0]:g} to"
            f" {EFFICIENCIES[1]:g} (common practice, no source)",
        ),
    )


def expected_flow(inducer: float, temp_in: float, pressure_in: float) -> Range:
    """Highest air flow to expect of a wheel's eye; an estimate.

    Parameters
    ----------
    inducer : float
        Inducer diameter. [mm]
    temp_in : float
        Total temperature at the inlet. [K]
    pressure_in : float
        Total pressure at the inlet, absolute. [Pa]

    Returns
    -------
    Range
        Mass flow [kg/s] and what is assumed.

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] Isentropic mass-flow parameter (NASA Glenn, "Mass flow choking", page seen) with eye Mach numbers and hub
        ratio of common practice (no source).

    Examples
    --------
    >>> found = expected_flow(63.0, 298.15, 100_000.0)
    >>> round(found.low, 2), round(found.high, 2)
    (0.42, 0.56)
    """
    positive(inducer=inducer, temp_in=temp_in, pressure_in=pressure_in)
    area = pi / 4 * (inducer / 1000) ** 2 * (1 - EYE_HUB**2)
    low, high = (
        area
        * pressure_in
        / sqrt(temp_in)
        * sqrt(GAMMA / 287.05)
        * mach
        * (1 + (GAMMA - 1) / 2 * mach**2) ** (-(GAMMA + 1) / (2 * (GAMMA - 1)))
        for mach in EYE_MACH
    )
    return Range(
        low,
        high,
        (
            "an estimate from the wheel's eye alone, without its map",
            f"Mach number {EYE_MACH[0]:g} to {EYE_MACH[1]:g} at the eye, a hub of {EYE_HUB:g} of it"
            " (common practice, no source)",
        ),
    )
