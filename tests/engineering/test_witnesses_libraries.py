"""Air, the atmosphere and choked flow against reference libraries: CoolProp, ambiance, fluids.

None of them shares code or coefficients with `graph.engineering`: CoolProp's air is an equation of state of Helmholtz
energy, ambiance and fluids carry the US 1976 / ICAO layers, fluids has the critical-flow relations.
"""

import math

import pytest
from ambiance import Atmosphere
from CoolProp.CoolProp import PropsSI
from fluids import compressible
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st

from graph.engineering import air, atmosphere, gas
from graph.engineering.corrected import Corrected, Reference, restated_flow


def coolprop_compression(temp_in: float, pressure: float, ratio: float, efficiency: float) -> tuple[float, float]:
    """Outlet temperature [K] and work [J/kg] of real air, from enthalpy and entropy."""
    before = PropsSI("H", "T", temp_in, "P", pressure, "Air")
    entropy = PropsSI("S", "T", temp_in, "P", pressure, "Air")
    ideal = PropsSI("H", "S", entropy, "P", pressure * ratio, "Air")
    work = (ideal - before) / efficiency
    return PropsSI("T", "H", before + work, "P", pressure * ratio, "Air"), work


@pytest.mark.parametrize("temp_in", [253.15, 288.15, 298.15, 318.15])
@pytest.mark.parametrize("ratio", [1.3, 2.0, 3.0, 4.0])
@pytest.mark.parametrize("efficiency", [0.65, 0.78, 1.0])
def test_real_air_heats_as_coolprop_says(temp_in: float, ratio: float, efficiency: float) -> None:
    # Ours is air as an ideal gas with cp(T); at 1 to 4 bar the rest is below 0.3 K and 0.3 % of the work.
    theirs, work = coolprop_compression(temp_in, 100e3, ratio, efficiency)
    found = gas.real_air(temp_in, ratio, efficiency)
    assert found.temperature == pytest.approx(theirs, abs=0.5)
    assert found.work == pytest.approx(work, rel=4e-3)


@pytest.mark.parametrize("ratio", [1.5, 2.5, 3.5])
def test_constant_gamma_is_the_colder_of_the_two_by_a_little(ratio: float) -> None:
    # cp rises with temperature, so that air of constant gamma comes out hotter; within 2 % of the rise up to 3.5.
    theirs, _ = coolprop_compression(298.15, 100e3, ratio, 0.76)
    plain = air.compression_temperature(298.15, ratio, 0.76)
    assert theirs < plain < theirs + 0.02 * (theirs - 298.15)


@given(st.floats(50e3, 400e3), st.floats(250, 400))
def test_density_is_coolprops(pressure: float, temperature: float) -> None:
    theirs = PropsSI("D", "P", pressure, "T", temperature, "Air")
    assert air.density(pressure, temperature) == pytest.approx(theirs, rel=5e-3)  # Z of air there is 0.996 to 1.001


@pytest.mark.parametrize("height", [-1000.0, 0.0, 500.0, 1600.0, 2500.0, 5000.0, 10_000.0])
def test_the_atmosphere_is_ambiances_and_fluids(height: float) -> None:
    ours = atmosphere.standard_air(height, "geometric")
    ambiance, fluids = Atmosphere(height), ATMOSPHERE_1976(height)
    for theirs in (
        (float(ambiance.temperature[0]), float(ambiance.pressure[0]), float(ambiance.density[0])),
        (fluids.T, fluids.P, fluids.rho),
    ):
        # They differ in the last digits of the Earth's radius and the gas constant.
        assert (ours.temperature, ours.pressure, ours.density) == pytest.approx(theirs, rel=2e-5)


def test_a_geometric_height_is_not_a_geopotential_one() -> None:
    # ambiance's conversion; at 10 km the pressures differ by 0.2 %, which the test would see either way.
    theirs = Atmosphere.geom2geop_height([10_000.0])
    assert atmosphere.geopotential(10_000.0) == pytest.approx(float(theirs[0]), rel=1e-6)
    geometric = atmosphere.standard_air(10_000.0, "geometric").pressure
    geopotential = atmosphere.standard_air(10_000.0, "geopotential").pressure
    assert abs(geometric / geopotential - 1) > 2e-3
    assert geometric == pytest.approx(float(Atmosphere(10_000.0).pressure[0]), rel=2e-5)
    assert geopotential != pytest.approx(float(Atmosphere(10_000.0).pressure[0]), rel=2e-4)


@given(st.floats(1.05, 1.66), st.floats(150e3, 500e3))
def test_flow_chokes_at_the_pressure_that_fluids_says(gamma: float, pressure: float) -> None:
    theirs = compressible.P_critical_flow(P=pressure, k=gamma)
    assert gas.critical_ratio(gamma) * pressure == pytest.approx(theirs, rel=1e-9)
    assert compressible.is_critical_flow(pressure, theirs * 0.999, gamma)
    assert not compressible.is_critical_flow(pressure, theirs * 1.001, gamma)
    assert gas.isentropic(1.0, gamma).temperature * 900 == pytest.approx(
        compressible.T_critical_flow(900.0, gamma), rel=1e-9
    )


@given(st.floats(1e-4, 3e-3), st.floats(150e3, 450e3), st.floats(600, 1100), st.floats(1.28, 1.4))
def test_choked_flow_is_density_times_the_speed_of_sound_at_the_throat(
    area: float, pressure: float, temperature: float, gamma: float
) -> None:
    # From fluids' state at the throat: rho·a·A (area in m²), not the choking parameter.
    r = 287.05
    throat_p = compressible.P_critical_flow(P=pressure, k=gamma)
    throat_t = compressible.T_critical_flow(temperature, gamma)
    theirs = throat_p / (r * throat_t) * math.sqrt(gamma * r * throat_t) * area
    assert gas.choked_flow(area * 1e6, pressure, temperature, gamma, r) == pytest.approx(theirs, rel=1e-9)


@given(st.floats(270, 320), st.floats(1.1, 4), st.floats(0.5, 1))
def test_compression_is_fluids_isentropic_rise(temp_in: float, ratio: float, efficiency: float) -> None:
    theirs = compressible.isentropic_T_rise_compression(temp_in, 100e3, 100e3 * ratio, air.GAMMA, efficiency)
    assert air.compression_temperature(temp_in, ratio, efficiency) == pytest.approx(theirs, rel=1e-9)


def test_corrected_flow_at_height_keeps_the_mach_number() -> None:
    # Two inlet states with one eye Mach number have one corrected flow: rho·a·M·A from ambiance, restated by ours.
    here, there = Atmosphere(0.0), Atmosphere(2500.0)

    def flow(state: Atmosphere) -> float:
        return float(state.density[0] * state.speed_of_sound[0]) * 0.4 * 2.4e-3

    low = Corrected(flow(here), Reference(float(here.temperature[0]), float(here.pressure[0])))
    high = Corrected(flow(there), Reference(float(there.temperature[0]), float(there.pressure[0])))
    assert low.value != pytest.approx(high.value, rel=0.05)
    assert restated_flow(high, low.reference).value == pytest.approx(low.value, rel=1e-5)
