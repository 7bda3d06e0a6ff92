"""Flows and speeds corrected to a reference state, which they carry; two states are never compared."""

from dataclasses import dataclass
from math import sqrt
from typing import Final

from graph.engineering._domain import positive
from graph.errors import BadQuestion


@dataclass(frozen=True, slots=True)
class Reference:
    """The inlet state to which a map's flows and speeds are corrected."""

    temperature: float  # [K]
    pressure: float  # [Pa]


STANDARD_DAY: Final = Reference(288.15, 101_325.0)
"""Gas-turbine practice and NASA Glenn (seen). Others are written on their maps, and must be."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """A flow [kg/s] or a speed [rev/min] corrected to a reference state, which it carries."""

    value: float
    reference: Reference


def corrected_flow(mass_flow: float, temp_in: float, pressure_in: float, reference: Reference) -> Corrected:
    """Compressor mass flow as it would be at a map's reference inlet.

    Parameters
    ----------
    mass_flow : float
        Flow at the inlet. [kg/s]
    temp_in : float
        Total temperature at the inlet. [K]
    pressure_in : float
        Total pressure at the inlet, absolute. [Pa]
    reference : Reference
        The map's own reference state. [K], [Pa]

    Returns
    -------
    Corrected
        Corrected mass flow with its reference. [kg/s]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] NASA Glenn Research Center, "Corrected airflow" (page seen); SAE J1826 uses the same form (not seen).

    Examples
    --------
    >>> round(corrected_flow(0.25, 293.15, 98_000.0, STANDARD_DAY).value, 5)
    0.26072
    """
    positive(mass_flow=mass_flow, temp_in=temp_in, pressure_in=pressure_in)
    positive(reference_temperature=reference.temperature, reference_pressure=reference.pressure)
    flow = mass_flow * sqrt(temp_in / reference.temperature) / (pressure_in / reference.pressure)
    return Corrected(flow, reference)


def corrected_speed(speed: float, temp_in: float, reference: Reference) -> Corrected:
    """Shaft speed as it would be at a map's reference inlet.

    Parameters
    ----------
    speed : float
        Shaft speed. [rev/min]
    temp_in : float
        Total temperature at the inlet. [K]
    reference : Reference
        The map's own reference state. [K], [Pa]

    Returns
    -------
    Corrected
        Corrected speed with its reference. [rev/min]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] Corrected speed N/sqrt(T/Tref): equal tip Mach number at both states.

    Examples
    --------
    >>> round(corrected_speed(110_000.0, 303.15, STANDARD_DAY).value)
    107244
    """
    positive(speed=speed, temp_in=temp_in, reference_temperature=reference.temperature)
    return Corrected(speed / sqrt(temp_in / reference.temperature), reference)


def restated_flow(flow: Corrected, reference: Reference) -> Corrected:
    """The same physical flow, corrected to another reference state.

    Parameters
    ----------
    flow : Corrected
        Corrected mass flow. [kg/s]
    reference : Reference
        The other reference state. [K], [Pa]

    Returns
    -------
    Corrected
        Corrected mass flow at the other state. [kg/s]

    Raises
    ------
    OutOfRange
        A number that is not positive.

    Sources
    -------
    [1] The flow of [NASA Glenn, "Corrected airflow"] written for two reference states.

    Examples
    --------
    50 lb/min at 25 °C and 101.3 kPa are 50.9 lb/min at 15 °C (the unit cancels).

    >>> round(restated_flow(Corrected(50.0, Reference(298.15, 101_325.0)), STANDARD_DAY).value, 1)
    50.9
    """
    return corrected_flow(flow.value, flow.reference.temperature, flow.reference.pressure, reference)


def flow_difference(one: Corrected, other: Corrected) -> float:
    """How much one corrected flow exceeds another of the same reference state.

    Parameters
    ----------
    one, other : Corrected
        Corrected mass flows. [kg/s]

    Returns
    -------
    float
        one - other. [kg/s]

    Raises
    ------
    BadQuestion
        Two reference states: between 288.15 K, 101.325 kPa and 298 K, 100 kPa the same flow differs by 3 %.

    Sources
    -------
    [1] The project's own rule: values of two reference states are not compared.

    Examples
    --------
    >>> round(flow_difference(Corrected(0.38, STANDARD_DAY), Corrected(0.36, STANDARD_DAY)), 2)
    0.02
    """
    if one.reference != other.reference:
        raise BadQuestion(
            f"one flow is corrected to {one.reference.temperature:g} K, {one.reference.pressure:g} Pa, the other to"
            f" {other.reference.temperature:g} K, {other.reference.pressure:g} Pa",
            fix="restate one of them first",
        )
    return one.value - other.value
