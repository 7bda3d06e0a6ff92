"""Calculations at the bench: threads, tap drills, minutes in the cut."""

import re
from collections.abc import Callable
from typing import Any

from api.calc.form import Calculation, Figure, Given, Input, Result
from graph.engineering import cutting, studs, threads
from graph.errors import BadQuestion

METRIC = re.compile(r"M(?P<size>[0-9.]+)(?:\s*[x×]\s*(?P<pitch>[0-9.]+))?", re.IGNORECASE)


def _thread(given: Given) -> Result:
    text = given["thread"]
    match = METRIC.fullmatch(text.strip())
    if match:
        return _metric(
            float(match["size"]), float(match["pitch"]) if match["pitch"] else None, given["property_class"]
        )
    kind, _, size = text.strip().partition(" ")
    if kind.upper() == "NPT":
        taper = threads.npt(size)
        named = (
            ("outside", "outside diameter"), ("pitch", "pitch"), ("at_end", "pitch diameter at the end, E0"),
            ("at_gauge", "pitch diameter hand-tight, E1"), ("hand_tight", "hand-tight length, L1"),
            ("effective", "effective length, L2"),
        )  # fmt: skip
        return Result(tuple(Figure(n, label, getattr(taper, n), "mm") for n, label in named))
    if text.strip().upper().startswith("G"):
        basic = threads.bspp(text)
        return Result(
            (
                Figure("pitch_diameter", "pitch diameter", basic.pitch_diameter, "mm"),
                Figure("minor_diameter", "minor diameter", basic.minor_diameter, "mm"),
            )
        )
    raise BadQuestion(f"{text!r} is no thread known here", fix="write M10x1.5, NPT 1/8 or G1/8")


def _metric(size: float, pitch: float | None, property_class: str | None) -> Result:
    if pitch is None and size not in studs.COARSE:
        raise BadQuestion(f"M{size:g} without a pitch", fix=f"write the pitch: M{size:g}x1")
    each = studs.COARSE[int(size)] if pitch is None else pitch
    basic, drill = threads.metric(size, each), threads.tap_drill(size, each)
    figures = [
        Figure("pitch_diameter", "pitch diameter", basic.pitch_diameter, "mm"),
        Figure("minor_diameter", "minor diameter", basic.minor_diameter, "mm"),
        Figure("drill", "tap drill", drill.drill, "mm", 2),
        Figure("height", "height of thread", drill.height, "%", 1),
        Figure("stress_area", "stress area", studs.stress_area(size, each), "mm²", 1),
    ]
    if not property_class:
        return Result(tuple(figures))
    if pitch is not None and studs.COARSE.get(int(size)) != pitch:
        raise BadQuestion("proof loads here are of coarse threads", fix="ask the stud's maker for this pitch")
    stud = studs.stud(int(size), property_class)
    figures.append(Figure("proof_load", "proof load at room temperature", stud.proof_load, "N", 0))
    return Result(tuple(figures), cautions=(stud.caution,))


def _rests_on(thread: str, property_class: str | None) -> tuple[Callable[..., Any], ...]:
    if thread.startswith("M"):
        return (threads.metric, threads.tap_drill, studs.stress_area, *((studs.stud,) if property_class else ()))
    return (threads.npt if thread.startswith("NPT") else threads.bspp,)


THREAD = Calculation(
    "thread",
    "sizes of a thread, its tap drill, a stud's proof load",
    (
        Input("thread", "M10x1.5, NPT 1/8 or G1/8", "text", first=True),
        Input("property_class", "8.8, 10.9 or 12.9, for a stud's proof load", "text", default=""),
    ),
    _thread,
    (threads.metric, threads.tap_drill, threads.npt, threads.bspp, studs.stud),
    "thread M10x1.5",
    chosen=lambda given: _rests_on(given["thread"].strip().upper(), given["property_class"]),
)


def _cutting(given: Given) -> Result:
    own = None
    practice = cutting.PRACTICE.get(given["material"].casefold())
    if given["speed"] is not None:
        feed = given["feed"] or (practice.feed if practice else 0.15)
        depth = given["depth"] or (practice.depth if practice else 1.0)
        own = cutting.Practice((given["speed"], given["speed"]), feed, depth, "the shop's own figures")
    found = cutting.boring_minutes(given["material"], given["diameter"], given["length"], given["removal"], own)
    slow, fast = found.practice.cutting
    return Result(
        (
            Figure("passes", "passes", found.passes, "", 0),
            Figure("least", "minutes in the cut, least", found.low, "min", 2),
            Figure("most", "minutes in the cut, most", found.high, "min", 2),
            Figure(
                "spindle_least", "spindle speed, least", cutting.spindle_speed(given["diameter"], slow), "rev/min", 0
            ),
            Figure(
                "spindle_most", "spindle speed, most", cutting.spindle_speed(given["diameter"], fast), "rev/min", 0
            ),
        ),
        assumes=(
            f"{slow:g} to {fast:g} m/min, {found.practice.feed:g} mm/rev, {found.practice.depth:g} mm a pass"
            f" ({found.practice.source})",
            "setting up, indicating and measuring are not in it",
        ),
    )


CUTTING = Calculation(
    "cutting",
    "minutes of boring a diameter, from material and size",
    (
        Input("material", "material that is cut", "text", first=True),
        Input("diameter", "finished diameter", unit="mm"),
        Input("length", "length of a pass", unit="mm"),
        Input("removal", "radial depth to take off in all", unit="mm"),
        Input("speed", "the shop's own cutting speed, m/min", "number", default=""),
        Input("feed", "the shop's own feed a turn", unit="mm", default=""),
        Input("depth", "the shop's own depth of a pass", unit="mm", default=""),
    ),
    _cutting,
    (cutting.boring_minutes, cutting.spindle_speed, cutting.turning_time),
    'cutting "grey iron" --diameter 62.7 --length 20 --removal 1.5',
)
