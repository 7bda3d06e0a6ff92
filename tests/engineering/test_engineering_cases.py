"""Every outside value of tests/data/engineering_cases.json, met by the formula it belongs to."""

import json
from collections import Counter
from collections.abc import Callable
from dataclasses import astuple
from fractions import Fraction
from math import ceil, pi, sqrt
from pathlib import Path
from typing import Any

import pytest

from graph.engineering import (
    air,
    balance,
    corrected,
    cutting,
    gas,
    growth,
    inch_fits,
    pitch,
    rotor,
    studs,
    threads,
    wheel,
)
from graph.engineering.atmosphere import standard_air
from ontology.quantities import unit_of

EVERY = json.loads((Path(__file__).parents[1] / "data" / "engineering_cases.json").read_text())["cases"]
CASES = [case for case in EVERY if case["topic"] != "iso286"]  # those stand in test_fits_iso286.py
INCH = 25.4

Inputs = dict[str, Any]


def reference(i: Inputs) -> corrected.Reference:
    return corrected.Reference(i["T_ref_K"], i.get("p_ref_Pa", 101_325.0))


def isentropic(i: Inputs) -> dict[str, float]:
    return dict(
        zip(("p_pt", "rho_rhot", "T_Tt", "A_Astar"), astuple(gas.isentropic(i["mach"], i["gamma"])), strict=True)
    )


def wheel_example(i: Inputs) -> dict[str, float]:
    """Gorla and Khan, examples 1 and 2; the second takes its slip and outlet state as given."""
    if "beta2_deg" in i:
        whirl = wheel.whirl_ratio(i["U2_m_s"], i["Cr2_m_s"], i["beta2_deg"])
        work = wheel.wheel_work(i["U2_m_s"], whirl, i["power_input_factor"])
        power = i["mass_flow_kg_s"] * work / 1000
        ratio = wheel.ratio_of_work(work, i["T01_K"], i["isentropic_efficiency"], i["cp"], i["gamma"])
        return {"slip": whirl, "pressure_ratio": ratio, "power_kW": power, "shaft_kW": power / i["mech_eff"]}
    work = wheel.wheel_work(i["U2_m_s"], i["slip"])
    total = i["T01_K"] + work / i["cp"]
    out = sqrt((i["slip"] * i["U2_m_s"]) ** 2 + i["Cr2_m_s"] ** 2)
    static = total - out**2 / (2 * i["cp"])
    return {
        "mass_flow_kg_s": i["rho2"] * i["A2_m2"] * i["Cr2_m_s"],
        "T02_K": total,
        "T2_K": static,
        "M2": out / sqrt(i["gamma"] * i["R"] * static),
        "pressure_ratio": wheel.ratio_of_work(work, i["T01_K"], i["isentropic_efficiency"], i["cp"], i["gamma"]),
    }


def compressor_example(i: Inputs) -> dict[str, float]:
    if "p1_bar" not in i:
        return wheel_example(i)
    t1, t2 = i["T1_C"] + 273.15, i["T2_C"] + 273.15
    power = air.compressor_power(i["mass_flow_kg_s"], t1, t2, 1000 * i["cp_kJ_kgK"]) / 1000
    gamma = i["cp_kJ_kgK"] / i["cv_kJ_kgK"]
    return {"power_kW": power, "eta": air.isentropic_efficiency(t1, t2, i["p2_bar"] / i["p1_bar"], gamma)}


def engine_example(i: Inputs) -> Any:
    """Textbook engines: the formulas here, the book's own bookkeeping of power around them."""
    if "bp_kW" in i:
        fuel = i["bp_kW"] / (i["bte"] * i["cv_kJ_kg"])
        volume = fuel * i["afr"] / i["air_density"]
        swept = pi / 4 * i["bore_m"] ** 2 * i["stroke_m"] * i["cylinders"] * 1000
        pressure = i["air_density"] * air.R * 300.0  # any state of that density
        full = air.engine_demand(swept, i["rpm"], 1.0, pressure, 300.0) / i["air_density"]
        return {"fuel_kg_s": fuel, "air_m3_s": volume, "eta_v_percent": 100 * volume / full}
    swept, ratio = i.get("swept_m3", i.get("swept_cc", 0) / 1e6), i["pressure_ratio"]
    ip, cp = i.get("ip_kW_per_m3_min", 14), 1000 * i["cp"]
    r = i["R"] if i["R"] > 1 else 1000 * i["R"]
    t1, p1 = i["T1_K"], i["p1_bar"] * 1e5
    t2 = air.compression_temperature(t1, ratio, i["eta_is"], i["gamma"])
    if "swept_cc" in i:  # this book rounds the isentropic temperature up before it goes on
        t2 = t1 + (ceil(air.compression_temperature(t1, ratio, 1.0, i["gamma"])) - t1) / i["eta_is"]
    minute = swept * i["rpm"] / 2  # swept, m³ a minute
    drawn = minute * ratio * t1 / t2  # at the state outside
    mass = air.density(p1 * ratio, t2) * air.R / r * minute / 60
    blower = air.compressor_power(mass, t1, t2, cp) / 1000
    gain = ip * (drawn - i["eta_v"] * minute) + minute / 60 * (ratio - 1) * p1 / 1000
    net = gain * i["eta_mech"] - blower / i["eta_mech"]
    if "swept_cc" in i:
        return net
    return {
        "T2_K": t2,
        "eta_v_supercharged_percent": 100 * drawn / minute,
        "air_kg_s": mass,
        "blower_kW": blower,
        "net_bp_gain_kW": net,
    }


def pressure_ratio(i: Inputs) -> float:
    outlet = i["manifold_gauge_psi"] + i["ambient_abs_psi"]
    return air.pressure_ratio(outlet, i["ambient_abs_psi"], i["inlet_loss_psi"], i["charge_cooler_loss_psi"])


def largest_flow(i: Inputs) -> float:
    """NASA's corrected weight flow per area, lbm/(s ft²): the choked flow of 1 m² at the reference, converted."""
    one = gas.choked_flow(1e6, 14.696 * 6894.757293, i["T_ref_R"] / 1.8, i["gamma"], 287.05)
    return one / 0.45359237 * 0.3048**2


def blade_pass(i: Inputs) -> float:
    return pitch.blade_pass(i["blades"], 0, i["speed_rpm"]).full


def two_planes(i: Inputs) -> dict[str, float]:
    found = balance.two_planes(i["U_per_g_mm"], i["com_to_left_mm"], i["com_to_right_mm"])
    return {"left_g_mm": found.left, "right_g_mm": found.right}


def balance_example(i: Inputs) -> dict[str, float]:
    whole = balance.permissible_unbalance(i["G_mm_s"], i["mass_kg"], i["speed_rpm"])
    left, right = balance.bearing_shares(whole, i["LA_mm"], i["LB_mm"])
    return {
        "e_per_um": balance.permissible_eccentricity(i["G_mm_s"], i["speed_rpm"]),
        "U_per_g_mm": whole,
        "U_perA_g_mm": left,
        "U_perB_g_mm": right,
    }


def metric(i: Inputs) -> dict[str, float]:
    found = threads.metric(i["d_mm"], i["pitch_mm"])
    return {"d2": found.pitch_diameter, "d1": found.minor_diameter}


def thread_limits(i: Inputs) -> dict[str, float]:
    found = threads.thread_limits(i["d_mm"], i["pitch_mm"])
    return {
        f"{name}_{end}": getattr(found, name)[end == "max"]
        for name in ("bolt_major", "bolt_pitch", "nut_pitch", "nut_minor")
        for end in ("min", "max")
    }


def npt(i: Inputs) -> dict[str, float]:
    found = threads.npt(i["nps"])
    assert (found.outside / INCH, found.hand_tight / INCH) == pytest.approx((i["D_in"], i["L1_in"]))
    return {"E0": found.at_end / INCH, "E1": found.at_gauge / INCH, "L2": found.effective / INCH}


def tap_drill(i: Inputs) -> dict[str, float]:
    found = threads.tap_drill(i["d_mm"], i["pitch_mm"])
    return {"drill_mm": found.drill, "height_percent": found.height}


def bspp(i: Inputs) -> dict[str, float]:
    found = threads.bspp(i["size"])
    return {"d2": found.pitch_diameter, "d1": found.minor_diameter}


def torque(i: Inputs) -> float:
    return studs.general_torque(i["d_mm"], i["fraction_of_proof"] * i["proof_load_N"], i["nut_factor"])[0]


def machining_example(i: Inputs) -> Any:
    if "feed_mm_min" in i:
        return cutting.turning_time(i["length_mm"], i["feed_mm_min"], 1.0)
    if "drill_mm" in i:
        turns = cutting.spindle_speed(i["drill_mm"], i["cutting_speed_m_min"])
        hole = cutting.drilling(i["drill_mm"], i["depth_mm"], i["feed_mm_rev"], turns, i["point_angle_deg"])
        return {"rpm": turns, "approach_mm": hole.approach, "time_min": hole.minutes, "mrr_mm3_min": hole.removal}
    if "initial_mm" in i:
        feed = i["axial_feed_mm_min"] / i["rpm"]
        depth = (i["initial_mm"] - i["final_mm"]) / 2
        mean = (i["initial_mm"] + i["final_mm"]) / 2
        return {
            "cutting_speed_m_min": cutting.cutting_speed(i["initial_mm"], i["rpm"]),
            "feed_mm_rev": feed,
            "depth_mm": depth,
            "mrr_mm3_min": cutting.metal_removal(mean, depth, feed, i["rpm"]),
            "time_min": cutting.turning_time(i["length_mm"], feed, i["rpm"]),
        }
    turns = cutting.spindle_speed(i["diameter_mm"], 60 * i["cutting_speed_m_s"])
    return {
        "rpm": turns,
        "time_min": cutting.turning_time(i["length_mm"], i["feed_mm_rev"], turns),
        # The book takes the outer diameter for the mean one.
        "mrr_mm3_s": cutting.metal_removal(i["diameter_mm"], i["depth_mm"], i["feed_mm_rev"], turns) / 60,
    }


def roughness(i: Inputs) -> dict[str, float]:
    found = cutting.finish(i["feed_mm_rev"], i["nose_radius_mm"])
    return {"Rt_um": found.total, "Ra_um": found.mean}


def kelvin(celsius: float) -> float:
    return celsius + 273.15


def hot_clearance(i: Inputs) -> float:
    def body(size: float, coefficient: float, celsius: float) -> growth.Body:
        return growth.Body(size, kelvin(20), kelvin(celsius), coefficient, coefficient)

    found = growth.hot_gap(
        body(i["housing_bore_mm"], i["coef_housing_per_K"], i["T_housing_C"]),
        body(i["wheel_dia_mm"], i["coef_wheel_per_K"], i["T_wheel_C"]),
    )
    assert found.low == found.high
    return 2 * found.low


MATERIALS = {
    "304 stainless, annealed": "304 stainless steel",
    "356.0 aluminium casting": "356 cast aluminium",
    "ductile iron, ferritic": "ductile iron",
    "Inconel 713C": "alloy 713c",
}


def expansion(i: Inputs) -> float:
    """The middle of our spread; the case's own tolerance is as wide as its source is unsure."""
    found = growth.expansion(MATERIALS.get(str(i["material"]), str(i["material"])))
    return (found.low + found.high) / 2 * 1e6


def te_1(i: Inputs) -> float:
    coefficient = growth.per_kelvin(i["mean_coef_1e6_per_F"] * 1e-6)
    feet = i["length_ft"] * 304.8
    return growth.thermal_growth(feet, coefficient, kelvin(70 / 1.8 - 32 / 1.8), kelvin((i["T_F"] - 32) / 1.8)) / INCH


UNITS = {
    "inch": ("length", "in"), "mm": ("length", "mm"), "um": ("length", "µm"), "lb/min": ("flow", "lb/min"),
    "kg/s": ("flow", "kg/s"), "hp": ("power", "hp"), "kW": ("power", "kW"), "metric_horsepower": ("power", "PS"),
    "psi": ("pressure", "psi"), "kPa": ("pressure", "kPa"), "inHg": ("pressure", "inHg"), "Pa": ("pressure", "Pa"),
    "oz*inch": ("unbalance", "oz in"), "g*mm": ("unbalance", "g mm"), "lbf*ft": ("torque", "lbf ft"),
    "N*m": ("torque", "N m"), "inch**3": ("volume", "in³"), "liter": ("volume", "L"), "rpm": ("speed", "rpm"),
    "rad/s": ("speed", "rad/s"), "delta_degF": ("temperature", "°F"), "delta_degC": ("temperature", "°C"),
    "degF": ("temperature", "°F"), "degC": ("temperature", "°C"),
}  # fmt: skip


def conversion(i: Inputs) -> float:
    """Through the units' exact scales; a stored amount is rounded to its quantum, which other tests hold."""
    quantity, name = UNITS[i["from_unit"]]
    ours, other = unit_of(name, quantity), unit_of(UNITS[i["to_unit"]][1], quantity)
    zero = 0 if i["from_unit"].startswith("delta") else ours.offset - other.offset
    return float((Fraction(str(i["value"])) * ours.scale + zero) / other.scale)


ANSWERS: dict[tuple[str, str], Callable[[Inputs], Any]] = {
    ("flow", "corrected mass flow"): lambda i: (
        corrected.corrected_flow(i["mass_flow_kg_s"], i["T_inlet_K"], i["p_inlet_Pa"], reference(i)).value
    ),
    ("flow", "corrected speed"): lambda i: (
        corrected.corrected_speed(i["speed_rpm"], i["T_inlet_K"], reference(i)).value
    ),
    ("flow", "isentropic table"): isentropic,
    ("flow", "isentropic ratios, exhaust and supersonic"): isentropic,
    ("flow", "choked mass-flow parameter"): lambda i: gas.choking_parameter(i["gamma"], i["R_J_kgK"]),
    ("flow", "critical pressure ratio"): lambda i: gas.critical_ratio(i["gamma"]),
    ("flow", "choked mass flow"): lambda i: gas.choked_flow(
        i["area_m2"] * 1e6, i["p0_Pa"], i["T0_K"], i["gamma"], i["R_J_kgK"]
    ),
    ("flow", "NASA corrected airflow per area"): largest_flow,
    ("flow", "compressor outlet temperature, gamma 1.4"): lambda i: air.compression_temperature(
        i["T1_K"], i["pressure_ratio"], i["isentropic_efficiency"], i["gamma"]
    ),
    ("flow", "compressor outlet temperature, real air"): lambda i: (
        gas.real_air(i["T1_K"], i["pressure_ratio"], i["isentropic_efficiency"]).temperature
    ),
    ("flow", "specific compressor work, real air"): lambda i: (
        gas.real_air(i["T1_K"], i["pressure_ratio"], i["isentropic_efficiency"]).work / 1000
    ),
    ("flow", "isentropic efficiency from temperatures"): lambda i: air.isentropic_efficiency(
        i["T1_K"], i["T2_K"], i["pressure_ratio"], i["gamma"]
    ),
    ("flow", "published worked examples"): compressor_example,
    ("flow", "air density"): lambda i: air.density(i["p_Pa"], i["T_K"]),
    ("flow", "pressure ratio"): pressure_ratio,
    ("flow", "charge-air cooler"): lambda i: air.cooled(i["T_in_K"], i["T_coolant_K"], i["effectiveness"]),
    ("flow", "engine air demand (4-stroke)"): lambda i: air.engine_demand(
        i["displacement_m3"] * 1000,
        i["speed_rpm"],
        i["volumetric_efficiency"],
        i["manifold_p_Pa"],
        i["manifold_T_K"],
        i["R"],
    ),
    ("flow", "published worked examples (engine)"): engine_example,
    ("flow", "turbine outlet temperature"): lambda i: gas.turbine_temperature(
        i["T3_K"], i["expansion_ratio"], i["isentropic_efficiency"], i["gamma"]
    ),
    ("balance", "U_per"): lambda i: balance.permissible_unbalance(i["G_mm_s"], i["mass_kg"], i["speed_rpm"]),
    ("balance", "e_per"): lambda i: balance.permissible_eccentricity(i["G_mm_s"], i["speed_rpm"]),
    ("balance", "achieved grade"): lambda i: balance.achieved_grade(i["residual_g_mm"], i["mass_kg"], i["speed_rpm"]),
    ("balance", "published worked example"): balance_example,
    ("balance", "two-plane allocation"): two_planes,
    ("balance", "correction mass"): lambda i: balance.correction_mass(i["unbalance_g_mm"], i["radius_mm"]),
    ("balance", "centrifugal force"): lambda i: balance.unbalance_force(i["unbalance_g_mm"], i["speed_rpm"]),
    ("balance", "guidance grade"): lambda i: balance.guidance_grade(i["machinery"]),
    ("geometry", "wheel trim"): lambda i: rotor.trim(i["inducer_mm"], i["exducer_mm"]),
    ("geometry", "turbine trim"): lambda i: rotor.trim(i["inducer_mm"], i["exducer_mm"]),
    ("geometry", "tip speed"): lambda i: rotor.tip_speed(i["diameter_mm"], i["speed_rpm"]),
    ("geometry", "blade-pass frequency"): blade_pass,
    ("geometry", "tip Mach number"): lambda i: rotor.tip_mach(i["diameter_mm"], i["speed_rpm"], i["T_inlet_K"]),
    ("threads", "ISO metric basic diameters"): metric,
    ("threads", "ISO metric basic diameters, larger"): metric,
    ("threads", "tap drill"): tap_drill,
    ("threads", "6g/6H limits"): thread_limits,
    ("threads", "NPT"): npt,
    ("threads", "BSPP (G)"): bspp,
    ("threads", "stress area"): lambda i: studs.stress_area(i["d_mm"], i["pitch_mm"]),
    ("threads", "proof load"): lambda i: studs.stud(i["d_mm"], i["property_class"]).proof_load,
    ("threads", "tightening torque"): torque,
    ("machining", "published worked examples"): machining_example,
    ("machining", "cutting speed"): lambda i: cutting.cutting_speed(i["diameter_mm"], i["rpm"]),
    ("machining", "spindle speed"): lambda i: cutting.spindle_speed(i["diameter_mm"], i["cutting_speed_m_min"]),
    ("machining", "turning time"): lambda i: cutting.turning_time(
        i["length_mm"], i["feed_mm_rev"], i["rpm"], i["passes"]
    ),
    ("machining", "theoretical roughness"): roughness,
    ("machining", "roughness grade"): lambda i: cutting.roughness_grade(i["grade"]),
    ("units", "conversions"): conversion,
    ("units", "temperature F to C"): conversion,
    ("atmosphere", "standard atmosphere, geometric altitude"): lambda i: dict(
        zip(("T_K", "p_Pa", "rho_kg_m3"), astuple(standard_air(i["altitude_m"], i["altitude_kind"])), strict=True)
    ),
    ("expansion", "coefficient, alloy 718 (per C from per F)"): lambda i: growth.per_kelvin(i["value_per_F"]),
    ("expansion", "coefficient, handbook"): expansion,
    ("expansion", "growth from a mean coefficient (ASME TE-1)"): te_1,
    ("expansion", "thermal growth"): lambda i: (
        1000 * growth.thermal_growth(i["length_mm"], i["coef_per_K"], kelvin(i["T1_C"]), kelvin(i["T2_C"]))
    ),
    ("expansion", "hot running clearance"): hot_clearance,
    ("expansion", "shrink-fit heating"): lambda i: growth.heating_for_fit(
        i["diameter_mm"], i["interference_mm"], i["assembly_clearance_mm"], i["coef_per_K"]
    ),
}
ANSWERS[("atmosphere", "standard atmosphere, geopotential altitude")] = ANSWERS[
    ("atmosphere", "standard atmosphere, geometric altitude")
]


def numbers(expected: Any) -> int:
    return len(expected) if isinstance(expected, dict) else 1


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_the_outside_value_is_met(case: dict[str, Any]) -> None:
    got, expected, tol = ANSWERS[case["topic"], case["kind"]](case["inputs"]), case["expected"], case["tol"]
    if isinstance(expected, dict):
        got = {name: got[name] for name in expected}
    # As the file says: within the larger of the two tolerances; a hair for binary fractions where both are zero.
    assert got == pytest.approx(expected, rel=tol.get("rel", 0), abs=max(tol.get("abs", 0), 1e-12)), case["source"]


def test_the_inch_example_is_met_by_the_inch_tables() -> None:
    # Shigley, 9th ed., example 7-7 (page seen): 2 in H7/s6.
    (case,) = [c for c in EVERY if "nominal_in" in c["inputs"]]
    found = inch_fits.inch_fit(case["inputs"]["nominal_in"], "H7/s6")
    sizes = {"Dmax": found.hole[0], "Dmin": found.hole[1], "dmin": found.shaft[1], "dmax": found.shaft[0]}
    assert {name: 2 + size / 10_000 for name, size in sizes.items()} == pytest.approx(case["expected"], abs=1e-9)


def test_no_topic_has_lost_values() -> None:
    cases, values = Counter(c["topic"] for c in EVERY), Counter[str]()
    for case in EVERY:
        values[case["topic"]] += numbers(case["expected"])
    assert dict(cases) == {
        "iso286": 109, "flow": 88, "threads": 46, "balance": 38, "machining": 36, "expansion": 28, "geometry": 24,
        "units": 21, "atmosphere": 12,
    }  # fmt: skip
    assert cases.total() == 402
    assert values.total() >= 900, dict(values)


def test_every_value_names_its_source() -> None:
    assert [c["id"] for c in EVERY if not (c["source"] and c["verified_by"] and "from_memory" in c)] == []
