"""Calculations for air: demand, density, compression, corrected flow, the atmosphere, a compressor's map."""

from typing import cast

from api.calc.form import Calculation, Figure, Given, Input, Result
from graph.engineering import air, atmosphere, compressor_map, corrected, gas
from graph.engineering.map_picture import map_svg
from graph.errors import BadQuestion

TEMPERATURE = ("temperature", "K")
PRESSURE = ("pressure", "Pa")
LB_MIN = 0.45359237 / 60  # [kg/s]
CELSIUS = 273.15


def _kelvin(name: str, label: str, default: str | None = None, *, first: bool = False) -> Input:
    return Input(name, label, "amount", *TEMPERATURE, default, first=first)


def _pascal(name: str, label: str, default: str | None = None, *, first: bool = False) -> Input:
    return Input(name, label, "amount", *PRESSURE, default, first=first)


def _air(given: Given) -> Result:
    found = air.engine_demand(
        given["displacement"], given["speed"], given["filling"], given["pressure"], given["temperature"]
    )
    power = air.power_per_air((given["afr_least"], given["afr_most"]), (given["fuel_least"], given["fuel_most"]))
    return Result(
        (
            Figure("demand", "air that the engine draws", found, "kg/s"),
            Figure("demand_lb", "the same", found / LB_MIN, "lb/min", 1),
            Figure("power_least", "power that this air may burn, least", found * power.low, "kW", 0),
            Figure("power_most", "power that this air may burn, most", found * power.high, "kW", 0),
        ),
        assumes=("a four-stroke engine", *power.assumes),
    )


AIR = Calculation(
    "air",
    "air that an engine draws, and the power it may burn as a range",
    (
        Input("displacement", "swept volume", "amount", "volume", "L", first=True),
        Input("speed", "engine speed", "amount", "speed", "rpm", first=True),
        _pascal("pressure", "manifold pressure, absolute"),
        _kelvin("temperature", "manifold temperature"),
        Input("filling", "volumetric efficiency", "amount", "ratio", "", "0.92"),
        Input("afr_least", "least air-fuel ratio", "number", default="18"),
        Input("afr_most", "greatest air-fuel ratio", "number", default="24"),
        Input("fuel_least", "least specific consumption, g/(kW·h)", "number", default="200"),
        Input("fuel_most", "greatest specific consumption, g/(kW·h)", "number", default="230"),
    ),
    _air,
    (air.engine_demand, air.power_per_air),
    'air "6 L" "2800 rpm" --pressure "310 kPa" --temperature "330 K"',
)


def _density(given: Given) -> Result:
    return Result((Figure("density", "density", air.density(given["pressure"], given["temperature"]), "kg/m³", 4),))


DENSITY = Calculation(
    "density",
    "density of dry air",
    (
        _pascal("pressure", "absolute pressure", first=True),
        _kelvin("temperature", "temperature", first=True),
    ),
    _density,
    (air.density,),
    'density "101.325 kPa" "15 °C"',
)


def _compression(given: Given) -> Result:
    inlet, ratio, efficiency = given["temperature"], given["ratio"], given["efficiency"]
    plain, real = air.compression_temperature(inlet, ratio, efficiency), gas.real_air(inlet, ratio, efficiency)
    figures = [
        Figure("outlet", "after the compressor, real air", real.temperature - CELSIUS, "°C", 1),
        Figure("outlet_plain", "the same with constant gamma 1.4", plain - CELSIUS, "°C", 1),
        Figure("work", "work for each kilogram", real.work / 1000, "kJ/kg", 1),
    ]
    if given["coolant"] is not None:
        cooled = air.cooled(real.temperature, given["coolant"], given["effectiveness"])
        figures.append(Figure("cooled", "after the charge-air cooler", cooled - CELSIUS, "°C", 1))
    return Result(tuple(figures))


COMPRESSION = Calculation(
    "compression",
    "temperature after the compressor",
    (
        Input("ratio", "pressure ratio", "number", first=True),
        Input("efficiency", "isentropic efficiency", "amount", "ratio", "", first=True),
        _kelvin("temperature", "inlet temperature", "25 °C"),
        _kelvin("coolant", "coolant of a charge-air cooler", ""),
        Input("effectiveness", "effectiveness of that cooler", "amount", "ratio", "", "0.7"),
    ),
    _compression,
    (gas.real_air, air.compression_temperature, air.cooled),
    'compression 2.5 0.76 --temperature "25 °C"',
)


def _corrected(given: Given) -> Result:
    reference = corrected.Reference(given["reference_temperature"], given["reference_pressure"])
    flow = corrected.corrected_flow(given["flow"], given["temperature"], given["pressure"], reference)
    said = f"at {reference.temperature:g} K and {reference.pressure / 1000:g} kPa"
    figures = [
        Figure("flow", f"corrected flow {said}", flow.value, "kg/s", 4),
        Figure("flow_lb", f"the same {said}", flow.value / LB_MIN, "lb/min", 1),
    ]
    if given["speed"] is not None:
        speed = corrected.corrected_speed(given["speed"], given["temperature"], reference)
        figures.append(Figure("speed", f"corrected speed {said}", speed.value, "rev/min", 0))
    return Result(tuple(figures), assumes=("compare with a map of the same reference state only",))


CORRECTED_FLOW = Calculation(
    "corrected-flow",
    "flow and speed as they would be at a map's reference state",
    (
        Input("flow", "mass flow", "amount", "flow", "kg/s", first=True),
        _kelvin("temperature", "inlet temperature, total"),
        _pascal("pressure", "inlet pressure, absolute, total"),
        _kelvin("reference_temperature", "the map's reference temperature; there is no default"),
        _pascal("reference_pressure", "the map's reference pressure; there is no default"),
        Input("speed", "shaft speed", "amount", "speed", "rpm", ""),
    ),
    _corrected,
    (corrected.corrected_flow, corrected.corrected_speed),
    'corrected-flow "50 lb/min" --temperature "25 °C" --pressure "98 kPa" --reference-temperature "298 K"'
    ' --reference-pressure "100 kPa"',
)


def _atmosphere(given: Given) -> Result:
    found = atmosphere.standard_air(given["height"], cast(atmosphere.Height, given["kind"]))
    return Result(
        (
            Figure("temperature", "temperature", found.temperature - CELSIUS, "°C", 2),
            Figure("pressure", "pressure", found.pressure / 1000, "kPa", 3),
            Figure("density", "density", found.density, "kg/m³", 4),
        ),
        assumes=(f"the standard day; a {given['kind']} height",),
    )


ATMOSPHERE = Calculation(
    "atmosphere",
    "the standard atmosphere at a height",
    (
        Input("height", "height over sea level", unit="m", first=True),
        Input("kind", "geometric (a map's) or geopotential (the tables')", "text", default="geometric"),
    ),
    _atmosphere,
    (atmosphere.standard_air,),
    'atmosphere "1600 m"',
)


def _map(given: Given) -> Result:
    chart = compressor_map.read_map(given["chart"])
    wanted = ("displacement", "pressure", "temperature")
    told = [name for name in wanted if given[name] is not None]
    if told and (len(told) < len(wanted) or not given["speed"]):
        raise BadQuestion("an engine needs all of it", fix="give displacement, pressure, temperature and speed")
    rows: tuple[compressor_map.Row, ...] = ()
    if told:
        engine = compressor_map.Engine(
            given["displacement"],
            given["filling"],
            given["pressure"],
            given["temperature"],
            given["inlet_loss"],
            given["outlet_loss"],
            given["inlet"],
        )
        heights = given["height"] or (0.0,)
        rows = compressor_map.table(chart, engine, given["speed"], heights, limit=given["limit"])
    return Result(
        tuple(figure for row in rows for figure in _row(row)),
        reasons=tuple(
            f"{row.engine_speed:g} rev/min, {row.height:g} m: {row.margins.why}" for row in rows if row.margins.why
        ),
        assumes=(
            f"the map's reference: {chart.reference.temperature:g} K, {chart.reference.pressure:g} Pa",
            "one unit takes all the air, and the manifold pressure is kept at height; geometric heights",
        ),
        picture=map_svg(chart, rows),
    )


def _row(row: compressor_map.Row) -> tuple[Figure, ...]:
    place, name = f"{row.engine_speed:g} rev/min, {row.height:g} m", f"{row.engine_speed:g}_{row.height:g}"

    def percent(share: float | None) -> float | None:
        return None if share is None else 100 * share

    return (
        Figure(f"{name}_flow", f"{place}: corrected flow", row.margins.flow.value, "kg/s"),
        Figure(f"{name}_ratio", f"{place}: pressure ratio", row.margins.ratio, "", 2),
        Figure(f"{name}_surge", f"{place}: surge margin", percent(row.margins.surge), "%", 1),
        Figure(f"{name}_choke", f"{place}: choke margin", percent(row.margins.choke), "%", 1),
        Figure(f"{name}_speed", f"{place}: shaft speed", row.shaft_speed, "rev/min", 0),
        Figure(f"{name}_left", f"{place}: left of the speed limit", percent(row.speed_margin), "%", 1),
    )


MAP = Calculation(
    "map",
    "surge, choke and speed margins on a compressor's own map, over engine speed and height",
    (
        Input("chart", "the map as CSV, with its own reference state", "file", first=True),
        Input("displacement", "swept volume", "amount", "volume", "L", ""),
        _pascal("pressure", "manifold pressure, absolute", ""),
        _kelvin("temperature", "manifold temperature", ""),
        Input("speed", "engine speeds", "amount", "speed", "rpm", "", many=True),
        Input("height", "heights over sea level", "amount", "length", "m", "", many=True),
        Input("filling", "volumetric efficiency", "amount", "ratio", "", "0.92"),
        _pascal("inlet_loss", "loss before the compressor", "0 Pa"),
        _pascal("outlet_loss", "loss after it", "0 Pa"),
        _kelvin("inlet", "inlet temperature; left out: the standard day's", ""),
        Input("limit", "limit of shaft speed of this wheel; left out: not known", "amount", "speed", "rpm", ""),
    ),
    _map,
    (
        compressor_map.margins,
        compressor_map.read_map,
        air.engine_demand,
        air.pressure_ratio,
        atmosphere.standard_air,
        corrected.corrected_flow,
    ),
    'map chart.csv --displacement "6 L" --pressure "300 kPa" --temperature "330 K" --speed "1800 rpm" --height "0 m"'
    ' --height "1600 m"',
    pictured=True,
)
