"""What else changes between two units, by their wheels."""

from collections.abc import Mapping
from typing import Any

from api.calc.form import Calculation, Figure, Given, Input, Result
from graph.engineering import changes, housing, wheel
from graph.engineering.atmosphere import standard_air
from graph.engineering.changes import Change, Duty

_WHEELS = (
    ("inducer", "inducer of the compressor wheel", "length", "mm"),
    ("exducer", "exducer of the compressor wheel", "length", "mm"),
    ("turbine", "largest diameter of the turbine wheel", "length", "mm"),
    ("blades", "full blades", "", ""),
    ("splitters", "splitter blades, 0 for none", "", ""),
)
_TIP_LIMIT = ("tip_limit", "tip speed that the wheel's maker permits", "velocity", "m/s")


def _inputs(prefix: str, of: str) -> tuple[Input, ...]:
    asked = _WHEELS if prefix else (*_WHEELS, _TIP_LIMIT)
    return tuple(
        Input(f"{prefix}{name}", f"{label}, {of}", "amount" if unit else "number", quantity, unit, "")
        for name, label, quantity, unit in asked
    )


def _duty(given: Mapping[str, Any], prefix: str) -> Duty:
    def count(name: str) -> int | None:
        value = given[f"{prefix}{name}"]
        return None if value is None else int(value)

    return Duty(
        inducer=given[f"{prefix}inducer"],
        exducer=given[f"{prefix}exducer"],
        turbine=given[f"{prefix}turbine"],
        full_blades=count("blades"),
        splitters=count("splitters"),
        tip_limit=given.get(f"{prefix}tip_limit"),
    )


def _height(after: Duty, given: Given) -> Change:
    if given["manifold"] is None or given["height"] is None:
        says = "not known: say the manifold pressure and the height where it works"
        return Change("pressure ratio left at height", "-", None, None, says)
    return changes.ratio_margin(after, given["manifold"] * 1000, given["height"], "geometric")


def _changes(given: Given) -> Result:
    before, after = _duty(given, "was_"), _duty(given, "")
    found = (
        changes.flow_change(before, after),
        *changes.spool_change(before, after),
        _height(after, given),
        *changes.sound_change(before, after),
        changes.burst_energy(before, after),
    )
    figures: list[Figure] = []
    for one in found:
        name = one.what.replace(" ", "_").replace("/", "_").casefold()
        unit = "" if one.unit == "-" else one.unit
        figures += [
            Figure(f"{name}_least", f"{one.what}, least", one.low, unit, 2),
            Figure(f"{name}_most", f"{one.what}, most", one.high, unit, 2),
        ]
    assumed = dict.fromkeys(text for one in found for text in one.assumes)
    return Result(
        tuple(figures),
        reasons=tuple(f"{one.what}: {one.says}" for one in found if one.says),
        assumes=tuple(assumed),
        cautions=(changes.EMISSIONS, housing.CONTAINMENT),
    )


CHANGES = Calculation(
    "changes",
    "what else changes with other wheels: flow, spool, height, sound, burst; each a range, or not known",
    (
        *_inputs("was_", "before"),
        *_inputs("", "now"),
        Input("manifold", "absolute pressure that the compressor must deliver", "amount", "pressure", "kPa", ""),
        Input("height", "height where it works", "amount", "length", "m", ""),
    ),
    _changes,
    (
        changes.flow_change,
        changes.spool_change,
        wheel.expected_ratio,
        standard_air,
        changes.sound_change,
        changes.burst_energy,
    ),
    'changes --was-inducer "56 mm" --inducer "62 mm" --was-exducer "78 mm" --exducer "84 mm" --was-blades 6'
    ' --blades 7 --was-splitters 6 --splitters 7 --tip-limit "490 m/s" --manifold "270 kPa" --height "1600 m"',
)
