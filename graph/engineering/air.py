"""Air from inlet to manifold: density, engine demand, pressure ratio, compression, power per unit of air."""

from dataclasses import dataclass
from typing import Final

from graph.engineering._domain import between, not_negative, positive
from graph.errors import OutOfRange

R: Final = 287.05  # gas constant of dry air. [J/(kg·K)]
GAMMA: Final = 1.4  # ratio of specific heats of cool air. [-]
CP: Final = 1005.0  # specific heat at constant pressure of cool air. [J/(kg·K)]


def density(pressure: float, temperature: float) -> float:
    """Density of dry air.

    Parameters
    ----------
    pressure : float
        Absolute pressure. [Pa]
    temperature : float
        Temperature. [K]

    Returns
    -------
    float
        Density. [kg/m³]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Notes
    -----
    Within 0.15 % of real dry air up to 4 bar; damp air is lighter (1.166 against 1.184 kg/m³ at 25 °C, 50 %).

    Sources
    -------
    [1] Ideal-gas law, R = 287.05 J/(kg·K).

    Examples
    --------
    >>> round(density(101_325.0, 288.15), 4)
    1.225
    """
    positive(pressure=pressure, temperature=temperature)
    return pressure / (R * temperature)


def engine_demand(
    displacement: float, speed: float, filling: float, pressure: float, temperature: float, r: float = R
) -> float:
    """Air that a four-stroke engine draws.

    Parameters
    ----------
    displacement : float
        Swept volume of all cylinders. [L]
    speed : float
        Engine speed. [rev/min]
    filling : float
        Volumetric efficiency by manifold density. [-]
    pressure : float
        Absolute manifold pressure. [Pa]
    temperature : float
        Manifold temperature. [K]
    r : float
        Gas constant of the charge. [J/(kg·K)]

    Returns
    -------
    float
        Mass flow. [kg/s]

    Raises
    ------
    OutOfRange
        A number that is not positive, a filling above 1.5.

    Sources
    -------
    [1] J. B. Heywood, Internal Combustion Engine Fundamentals, ch. 2, volumetric efficiency (from memory).

    Examples
    --------
    6.0 L at 2800 rev/min, 0.92, 310 kPa, 330 K: 0.42 kg/s, or 55.8 lb/min.

    >>> round(engine_demand(6.0, 2800.0, 0.92, 310e3, 330.0), 2)
    0.42
    """
    positive(displacement=displacement, speed=speed, filling=filling, pressure=pressure, temperature=temperature, r=r)
    between(0, 1.5, filling=filling)
    return filling * pressure / (r * temperature) * displacement / 1000 * speed / 120


def pressure_ratio(outlet: float, ambient: float, inlet_loss: float = 0.0, outlet_loss: float = 0.0) -> float:
    """Compressor pressure ratio from pressures at the manifold and outside.

    Parameters
    ----------
    outlet : float
        Absolute manifold pressure (gauge plus ambient). [Pa]
    ambient : float
        Absolute ambient pressure. [Pa]
    inlet_loss : float
        Loss of filter and pipe before the compressor. [Pa]
    outlet_loss : float
        Loss of charge cooler and pipe after it. [Pa]

    Returns
    -------
    float
        Absolute outlet over absolute inlet pressure. [-]

    Raises
    ------
    OutOfRange
        A pressure that is not positive, a negative loss, an inlet loss as large as the ambient pressure.

    Sources
    -------
    [1] Definition on absolute pressures.

    Examples
    --------
    The same 308 kPa in the manifold, at sea level and at 1600 m.

    >>> round(pressure_ratio(308e3, 101_325.0), 2), round(pressure_ratio(308e3, 83_524.0), 2)
    (3.04, 3.69)
    """
    positive(outlet=outlet, ambient=ambient)
    not_negative(inlet_loss=inlet_loss, outlet_loss=outlet_loss)
    if inlet_loss >= ambient:
        raise OutOfRange(f"the inlet loses {inlet_loss:g} of {ambient:g} Pa", fix="give both in the same unit")
    return (outlet + outlet_loss) / (ambient - inlet_loss)


def compression_temperature(temp_in: float, ratio: float, efficiency: float, gamma: float = GAMMA) -> float:
    """Temperature after the compressor, with a constant ratio of specific heats.

    Parameters
    ----------
    temp_in : float
        Total temperature before it. [K]
    ratio : float
        Pressure ratio, at least 1. [-]
    efficiency : float
        Isentropic efficiency, over 0 up to 1. [-]
    gamma : float
        Ratio of specific heats. [-]

    Returns
    -------
    float
        Total temperature after it. [K]

    Raises
    ------
    OutOfRange
        A number outside its range.

    Notes
    -----
    Real air is cooler: by 0.2 K at a ratio of 2, 0.5 K at 2.5, 1.3 K at 3.5, 2 K at 4; see `real_air`.

    Sources
    -------
    [1] S. L. Dixon, C. A. Hall, Fluid Mechanics and Thermodynamics of Turbomachinery, isentropic efficiency (from
        memory); held against the library fluids 1.3.1.

    Examples
    --------
    >>> round(compression_temperature(298.15, 2.5, 0.76), 2)
    415.55
    """
    positive(temp_in=temp_in)
    between(1, 20, pressure_ratio=ratio)
    between(1e-3, 1, efficiency=efficiency)
    between(1.001, 1.7, gamma=gamma)
    return float(temp_in * (1 + (ratio ** ((gamma - 1) / gamma) - 1) / efficiency))


def isentropic_efficiency(temp_in: float, temp_out: float, ratio: float, gamma: float = GAMMA) -> float:
    """Isentropic efficiency of a compressor from temperatures.

    Parameters
    ----------
    temp_in, temp_out : float
        Total temperatures before and after it. [K]
    ratio : float
        Pressure ratio, over 1. [-]
    gamma : float
        Ratio of specific heats. [-]

    Returns
    -------
    float
        Efficiency; heat from the turbine side makes it read low. [-]

    Raises
    ------
    OutOfRange
        A number outside its range, an outlet no hotter than the inlet.

    Sources
    -------
    [1] Definition, the inverse of `compression_temperature`.

    Examples
    --------
    >>> round(isentropic_efficiency(298.15, 385.0, 2.0), 3)
    0.752
    """
    positive(temp_in=temp_in, rise=temp_out - temp_in)
    between(1, 20, pressure_ratio=ratio)
    between(1.001, 1.7, gamma=gamma)
    return float(temp_in * (ratio ** ((gamma - 1) / gamma) - 1) / (temp_out - temp_in))


def compressor_power(mass_flow: float, temp_in: float, temp_out: float, cp: float = CP) -> float:
    """Power that the compressor takes up.

    Parameters
    ----------
    mass_flow : float
        Mass flow. [kg/s]
    temp_in, temp_out : float
        Total temperatures before and after it. [K]
    cp : float
        Specific heat at constant pressure. [J/(kg·K)]

    Returns
    -------
    float
        Power, without bearing losses. [W]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] Steady-flow energy equation, P = m · cp · (T2 - T1).

    Examples
    --------
    >>> round(compressor_power(4.0, 298.15, 473.15))
    703500
    """
    positive(mass_flow=mass_flow, temp_in=temp_in, temp_out=temp_out, cp=cp)
    return mass_flow * cp * (temp_out - temp_in)


def cooled(temp_in: float, coolant: float, effectiveness: float) -> float:
    """Temperature after the charge-air cooler.

    Parameters
    ----------
    temp_in : float
        Charge temperature before it. [K]
    coolant : float
        Temperature of the coolant that comes in. [K]
    effectiveness : float
        0 to 1. [-]

    Returns
    -------
    float
        Charge temperature after it. [K]

    Raises
    ------
    OutOfRange
        A number outside its range, a coolant hotter than the charge.

    Sources
    -------
    [1] Definition of effectiveness.

    Examples
    --------
    >>> round(cooled(415.0, 303.15, 0.7), 3)
    336.705
    """
    positive(temp_in=temp_in, coolant=coolant)
    between(0, 1, effectiveness=effectiveness)
    between(0, temp_in, coolant=coolant)
    return temp_in - effectiveness * (temp_in - coolant)


@dataclass(frozen=True, slots=True)
class Range:
    """A figure that is honest only as a range, with what it assumes."""

    low: float
    high: float
    assumes: tuple[str, ...]


def power_per_air(air_fuel: tuple[float, float], specific_fuel: tuple[float, float]) -> Range:
    """Engine power for each kilogram of air a second, as a range.

    Parameters
    ----------
    air_fuel : tuple of float
        Least and greatest air-fuel ratio by mass. [-]
    specific_fuel : tuple of float
        Least and greatest brake specific fuel consumption. [g/(kW·h)]

    Returns
    -------
    Range
        Power per air flow [kW/(kg/s)], with its assumptions; an estimate, never a promise.

    Raises
    ------
    OutOfRange
        A number that is not positive, limits that are crossed.

    Sources
    -------
    [1] Definition: power = air / (air-fuel ratio × specific consumption).

    Examples
    --------
    AFR 20 and 0.36 lb/(hp·h), 219 g/(kW·h), are 8.3 hp for each lb/min, or 822 kW/(kg/s).

    >>> round(power_per_air((20.0, 20.0), (219.0, 219.0)).low)
    822
    """
    for name, (least, most) in (("air_fuel", air_fuel), ("specific_fuel", specific_fuel)):
        positive(**{name: least, f"greatest_{name}": most})
        if not least <= most:
            raise OutOfRange(f"{name.replace('_', ' ')} {least!r} to {most!r}", fix="give the smaller limit first")
    low, high = (3.6e6 / (air_fuel[end] * specific_fuel[end]) for end in (1, 0))
    assumes = (
        f"air-fuel ratio {air_fuel[0]:g} to {air_fuel[1]:g}; below about 17 a diesel smokes (common practice, no"
        " source)",
        f"specific fuel consumption {specific_fuel[0]:g} to {specific_fuel[1]:g} g/(kW·h)",
        "the engine can burn the fuel and stand the pressures: ask its maker",
    )
    return Range(low, high, assumes)
