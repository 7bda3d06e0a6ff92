"""The formulas against libraries and methods that share no code with them."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants, integrate, optimize

from graph.engineering import air, atmosphere, balance, cutting, gas, growth, pitch, rotor, threads
from graph.engineering.contour import Point, target_contour
from graph.engineering.stacks import Link, stack

UNIT: pint.UnitRegistry[float] = pint.UnitRegistry()
SPEEDS = st.floats(1_000, 300_000)
SIZES = st.floats(5, 300)


@given(SIZES, SPEEDS)
def test_tip_speed_agrees_with_a_units_library(size: float, speed: float) -> None:
    theirs = (UNIT.Quantity(size, "mm") / 2 * UNIT.Quantity(speed, "rpm").to("rad/s")).to("m/s").magnitude
    assert rotor.tip_speed(size, speed) == pytest.approx(theirs, rel=1e-12)
    assert rotor.shaft_speed(size, theirs) == pytest.approx(speed, rel=1e-12)


@given(st.integers(1, 30), SPEEDS)
def test_blade_pass_agrees_with_a_units_library_that_counts_turns(blades: int, speed: float) -> None:
    theirs = blades * UNIT.Quantity(speed, "rpm").to("turn/s").magnitude
    assert pitch.blade_pass(blades, 0, speed).full == pytest.approx(theirs, rel=1e-12)


@given(st.floats(0.1, 20), st.floats(0.01, 50), SPEEDS)
def test_unbalance_agrees_with_a_units_library(grade: float, mass: float, speed: float) -> None:
    omega = UNIT.Quantity(speed, "rpm").to("rad/s")
    theirs = (UNIT.Quantity(grade, "mm/s") * UNIT.Quantity(mass, "kg") / omega).to("g*mm").magnitude
    assert balance.permissible_unbalance(grade, mass, speed) == pytest.approx(theirs, rel=1e-12)
    assert balance.achieved_grade(theirs, mass, speed) == pytest.approx(grade, rel=1e-12)
    force = (UNIT.Quantity(theirs, "g*mm") * omega**2).to("N").magnitude
    assert balance.unbalance_force(theirs, speed) == pytest.approx(force, rel=1e-9)


@given(st.floats(0.01, 100), st.floats(1, 500), st.floats(1, 500))
def test_two_planes_share_all_and_balance_moments_unless_bound(whole: float, left: float, right: float) -> None:
    found = balance.two_planes(whole, left, right)
    assert found.left + found.right == pytest.approx(whole)
    assert 0.3 * whole <= found.left * (1 + 1e-12) and found.left <= 0.7 * whole * (1 + 1e-12)
    if not found.bound:
        assert found.left * left == pytest.approx(found.right * right)


@pytest.mark.parametrize("height", [-500.0, 0.0, 800.0, 1609.344, 2500.0, 4200.0, 8000.0, 10_900.0])
def test_the_atmosphere_is_what_hydrostatics_gives(height: float) -> None:
    # scipy integrates dp/dz = -rho g(z) with gravity falling as the square: no closed form in common.
    def down(z: float, p: list[float]) -> list[float]:
        h = 6_356_766 * z / (6_356_766 + z)
        gravity = constants.g * (6_356_766 / (6_356_766 + z)) ** 2
        return [-p[0] * gravity / (287.05287 * (288.15 - 0.0065 * h))]

    theirs = integrate.solve_ivp(down, (0, height), [101_325.0], rtol=1e-10, atol=1e-6).y[0, -1]
    assert atmosphere.standard_air(height, "geometric").pressure == pytest.approx(theirs, rel=1e-7)


@pytest.mark.parametrize(
    ("temp_in", "ratio", "efficiency"), [(298.15, 2.5, 0.76), (278.15, 1.5, 0.65), (310, 3.5, 0.73)]
)
def test_real_air_conserves_energy_and_entropy(temp_in: float, ratio: float, efficiency: float) -> None:
    # scipy integrates cp(T) of the same published polynomials: the antiderivatives and the root are checked.
    def cp(t: float) -> float:
        return gas.R_AIR * sum(a * t ** (n - 2) for n, a in enumerate(gas.COEFFICIENTS))

    def entropy(t: float) -> float:
        return float(integrate.quad(lambda x: cp(x) / x, temp_in, t)[0]) - gas.R_AIR * math.log(ratio)

    ideal = optimize.brentq(entropy, temp_in, 900)
    work = float(integrate.quad(cp, temp_in, ideal)[0]) / efficiency
    found = gas.real_air(temp_in, ratio, efficiency)
    assert found.work == pytest.approx(work, rel=1e-9)
    assert float(integrate.quad(cp, temp_in, found.temperature)[0]) == pytest.approx(work, rel=1e-9)
    assert 1003 < cp(300) < 1008  # J/(kg K), any table of air


@given(st.floats(0.05, 3), st.floats(1.1, 1.66))
def test_the_area_ratio_conserves_mass(mach: float, gamma: float) -> None:
    # rho·V·A is the same at the throat: from density and temperature, not from the area formula.
    here, throat = gas.isentropic(mach, gamma), gas.isentropic(1.0, gamma)
    flux = here.density * mach * math.sqrt(here.temperature)
    assert throat.density * math.sqrt(throat.temperature) / flux == pytest.approx(here.area, rel=1e-9)


@given(st.floats(250, 330), st.floats(1.05, 5), st.floats(0.4, 1))
def test_efficiency_is_the_inverse_of_compression(temp_in: float, ratio: float, efficiency: float) -> None:
    out = air.compression_temperature(temp_in, ratio, efficiency)
    assert air.isentropic_efficiency(temp_in, out, ratio) == pytest.approx(efficiency, rel=1e-9)


@given(st.floats(50, 300), st.floats(20, 200))
def test_the_disc_grows_as_elasticity_says(tip: float, size: float) -> None:
    # Timoshenko's rotating disc: u(R) = R·(s_t - nu·s_r)/E at the free rim, where s_r = 0; its hoop stress is checked
    # by the balance of half a disc: the mean over the radius is rho·w²·R²/3.
    rho, stiffness, nu = 2770.0, 71e9, 0.33
    speed, radius = rotor.shaft_speed(size, tip), size / 2000
    omega = 2 * math.pi * speed / 60

    def hoop(r: float) -> float:
        return rho * omega**2 / 8 * ((3 + nu) * radius**2 - (1 + 3 * nu) * r**2)

    mean = integrate.quad(hoop, 0, radius)[0] / radius
    assert mean == pytest.approx(rho * omega**2 * radius**2 / 3, rel=1e-9)  # force balance of half a disc
    assert growth.centrifugal_growth(size, speed, stiffness, rho, nu) == pytest.approx(
        1000 * radius * hoop(radius) / stiffness, rel=1e-9
    )


@given(st.lists(st.tuples(st.integers(1, 100), st.integers(0, 3), st.integers(0, 3), st.sampled_from([1, -1])),
                min_size=1, max_size=6))  # fmt: skip
def test_the_worst_case_is_the_worst_of_all_corners(rows: list[tuple[int, int, int, int]]) -> None:
    found = stack([Link(str(n), a, p, m, s) for n, (a, p, m, s) in enumerate(rows)])  # type: ignore[arg-type]
    corners = {0}
    for a, plus, minus, sign in rows:
        corners = {so_far + sign * size for so_far in corners for size in (a + plus, a - minus)}
    assert (found.low, found.high) == (min(corners), max(corners))
    assert found.low - 1e-9 <= found.rss_low <= found.rss_high <= found.high + 1e-9


@given(st.floats(10, 60), st.floats(0.1, 0.9))
def test_a_round_shroud_gets_a_concentric_contour(radius: float, clearance: float) -> None:
    # The parallel of a circle's arc is a circle of the radius less the clearance about the same centre.
    centre = Point(0.0, 30.0 + radius)
    arc = [
        Point(centre.axial + radius * math.sin(a), centre.radius - radius * math.cos(a))
        for a in (n * math.pi / 2 / 200 for n in range(201))
    ]
    moved = target_contour(arc, clearance)
    distances = [math.hypot(p.axial - centre.axial, p.radius - centre.radius) for p in moved]
    assert distances == pytest.approx([radius - clearance] * len(moved), abs=1e-3)


@given(st.floats(3, 40), st.sampled_from([0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0]))
def test_threads_follow_from_the_sharp_triangle(size: float, each: float) -> None:
    if each > size / 2:
        return
    sharp = each * math.sqrt(3) / 2  # a 60° triangle on one pitch
    found = threads.metric(size, each)
    assert found.pitch_diameter == pytest.approx(size - 2 * 3 / 8 * sharp, rel=1e-8)
    assert found.minor_diameter == pytest.approx(size - 2 * 5 / 8 * sharp, rel=1e-8)


@given(st.floats(0.02, 0.3), st.floats(0.4, 1.6))
def test_the_finish_is_the_height_of_the_circles_cusp(feed: float, nose: float) -> None:
    exact = 1000 * (nose - math.sqrt(nose**2 - feed**2 / 4))
    assert cutting.finish(feed, nose).total == pytest.approx(exact, rel=0.04)
