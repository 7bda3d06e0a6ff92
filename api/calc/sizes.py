"""Calculations for sizes: fits, stacks, walls, contours, growth."""

import re
from dataclasses import fields
from math import inf

from api.calc.asking import length
from api.calc.form import SAID, Calculation, Figure, Given, Input, Result
from graph.engineering import fits, growth, housing, inch_fits, stacks
from graph.engineering.contour import Point, target_contour
from graph.errors import BadQuestion, SpoolwrightError
from graph.model.value import Amount
from graph.model.verdict import Caution, Verdict
from ontology.quantities import read_measure

KELVIN = ("temperature", "K")
INCH = 254_000_000  # quanta of length


def _fit(given: Given) -> Result:
    size = read_measure(given["size"], "length", "mm")
    if _in_inches(given["size"]):
        inch = inch_fits.inch_fit(size.amount / INCH, given["zones"])
        clearances = (inch.least_clearance, inch.greatest_clearance)
        return _fitted((*inch.hole, *inch.shaft, *clearances), "0.0001 in", Figure("tables", "tables", "inch"))
    found = fits.fit(fits.nominal_of(Amount(size.amount, "length", size.text, size.unit)), given["zones"])
    return _fitted(
        (*found.hole, *found.shaft, found.least_clearance, found.greatest_clearance),
        "µm",
        Figure("tables", "tables", "metric"),
        Figure("kind", "kind of fit", found.kind),
        Figure("basis", "basis", fits.basis(given["zones"])),
    )


def _in_inches(size: str) -> bool:
    return read_measure(size, "length", "mm").unit in ("in", "thou", "ft")


def _fitted(sizes: tuple[float, ...], unit: str, *more: Figure) -> Result:
    names = (
        ("ES", "hole, upper"), ("EI", "hole, lower"), ("es", "shaft, upper"), ("ei", "shaft, lower"),
        ("least", "least clearance"), ("most", "greatest clearance"),
    )  # fmt: skip
    figures = tuple(Figure(n, label, size, unit, 1) for (n, label), size in zip(names, sizes, strict=True))
    return Result((*figures, *more), assumes=("a negative clearance is an interference",))


FIT = Calculation(
    "fit",
    "limits and clearances of a hole and a shaft",
    (
        Input("size", "nominal size as drawn; inches go by the inch tables", "text", first=True),
        Input("zones", "hole and shaft zone", "text", first=True),
    ),
    _fit,
    (fits.fit, inch_fits.inch_fit),
    "fit 25 H7/g6",
    chosen=lambda given: (inch_fits.inch_fit,) if _in_inches(given["size"]) else (fits.fit,),
)

LINK = re.compile(
    r"(?P<name>[^=]+)=\s*(?P<sign>-?)(?P<size>[^±+]+)(?:±(?P<both>.+)|\+(?P<plus>[^/]+)/-(?P<minus>.+))"
)
LINK_FORM = "write name=8.40±0.01, or name=-8.40+0.02/-0.01 to close the gap"


def _link(text: str) -> stacks.Link:
    match = LINK.fullmatch(text.strip())
    if match is None:
        raise BadQuestion(f"{text!r} is no link with its tolerance", fix=LINK_FORM)
    plus, minus = length(match["both"] or match["plus"]), length(match["both"] or match["minus"])
    return stacks.Link(match["name"].strip(), length(match["size"]), plus, minus, -1 if match["sign"] else 1)


def _stack(given: Given) -> Result:
    links, faults = [], []
    for text in given["link"]:
        try:
            links.append(_link(text))
        except SpoolwrightError as error:
            faults.append(error.message)
    if faults:
        raise BadQuestion("; ".join(faults), fix=LINK_FORM)
    found = stacks.stack(links)
    labels = ("nominal", "worst case, least", "worst case, most", "root of squares, least", "root of squares, most")
    figures = tuple(
        Figure(field.name, label, getattr(found, field.name), "mm")
        for field, label in zip(fields(found), labels, strict=True)
    )
    if given["least"] is None and given["most"] is None:
        return Result(figures, assumes=(stacks.DECIDES,))
    least = -inf if given["least"] is None else given["least"]
    most = inf if given["most"] is None else given["most"]
    verdict = SAID[stacks.stack_verdict(found, least, most)]
    return Result(figures, verdict, ("the worst case against the limits given",), (stacks.DECIDES,))


STACK = Calculation(
    "stack",
    "what a stack of lengths leaves",
    (
        Input(
            "link", "name=length±tolerance; a minus before the length closes the gap", "text", many=True, first=True
        ),
        Input("least", "least that must be left", unit="mm", default=""),
        Input("most", "most that may be left", unit="mm", default=""),
    ),
    _stack,
    (stacks.stack, stacks.stack_verdict),
    "stack housing=61.50±0.05 wheel=-34.20±0.02 collar=-26.90+0.01/-0.02 --least 0.2 --most 0.6",
)


def _wall(given: Given) -> Result:
    readings: dict[str, housing.WallReading | None] = {}
    for text in given["reading"]:
        place, equals, size = text.partition("=")
        if not equals or not place.strip() or place.strip() in readings:
            raise BadQuestion(
                f"{text!r} is no reading of a new position", fix="write 90°=7.2, or 90°=? where not read"
            )
        wall, _, removal = size.partition("/")
        taken = length(removal) if removal.strip() else given["removal"]
        if wall.strip() in ("?", ""):
            readings[place.strip()] = None
        elif taken is None:
            raise BadQuestion(f"no removal at {place.strip()}", fix="give --removal, or write 90°=7.2/2.0")
        else:
            readings[place.strip()] = housing.WallReading(length(wall), given["uncertainty"], taken)
    found = housing.wall_left(readings, given["core_shift"], given["limit"])
    figures = tuple(Figure(p.position, f"wall left at {p.position}", p.left, "mm", 2) for p in found.positions)
    lifted = tuple(f"{block.text}; lifted only by {block.lifted_by or 'nobody'}" for block in found.blocks)
    reasons = lifted + tuple(f"{p.position}: {p.reason}" for p in found.positions if p.verdict is Verdict.UNKNOWN)
    return Result(figures, SAID[found.verdict], reasons, cautions=found.cautions)


WALL = Calculation(
    "wall",
    "the wall that a cut leaves, position by position",
    (
        Input(
            "reading",
            "position=wall, position=wall/removal, or position=? where not read",
            "text",
            many=True,
            first=True,
        ),
        Input("removal", "removal normal to the surface, where a reading gives none", unit="mm", default=""),
        Input("uncertainty", "uncertainty of the gauge", unit="mm"),
        Input("core_shift", "core shift, as indicated; left out: not known", unit="mm", default=""),
        Input("limit", "least wall that a named person set; left out: not known", unit="mm", default=""),
    ),
    _wall,
    (housing.wall_left,),
    "wall 0°=7.2 90°=6.9 180°=? --removal 2.0 --uncertainty 0.1 --core-shift 0.4 --limit 4",
)


def _contour(given: Given) -> Result:
    points = []
    for text in given["point"]:
        axial, colon, radius = text.partition(":")
        if not colon:
            raise BadQuestion(f"{text!r} is no point", fix="write axial:radius, for instance 0:31.0")
        points.append(Point(length(axial), length(radius)))
    moved = target_contour(points, given["clearance"], given["shift"])
    figures = [
        figure
        for n, point in enumerate(moved, 1)
        for figure in (
            Figure(f"axial_{n}", f"point {n}, axial", point.axial, "mm"),
            Figure(f"radius_{n}", f"point {n}, radius", point.radius, "mm"),
        )
    ]
    assumes = ("straight between the points given", "measure the wall along the whole cut before it is made")
    return Result(tuple(figures), assumes=assumes, cautions=(housing.CONTAINMENT,))


CONTOUR = Calculation(
    "contour",
    "the housing's contour for a wheel's measured profile",
    (
        Input("point", "axial:radius of the wheel's shroud profile, inlet to tip", "text", many=True, first=True),
        Input("clearance", "clearance per side", unit="mm"),
        Input("shift", "axial position of the wheel in the housing", unit="mm", default="0"),
    ),
    _contour,
    (target_contour,),
    "contour 0:31.0 8:31.1 14:34.0 18:43.0 --clearance 0.35",
)


def _growth(given: Given) -> Result:
    bore, wheel = growth.expansion(given["housing"]), growth.expansion(given["metal"])
    body = growth.Body(given["bore"], given["cold"], given["housing_hot"], bore.low, bore.high)
    turning = growth.Body(given["wheel"], given["cold"], given["wheel_hot"], wheel.low, wheel.high, given["by_speed"])
    found = growth.hot_gap(body, turning)
    reached = [
        f"{name} reaches {hot - 273.15:.0f} °C, its coefficient ends at {limit.up_to - 273.15:.0f} °C"
        for name, hot, limit in (
            (given["housing"], given["housing_hot"], bore),
            (given["metal"], given["wheel_hot"], wheel),
        )
        if hot > limit.up_to
    ]
    assumes = (
        f"{given['housing']}: {bore.low * 1e6:g} to {bore.high * 1e6:g} e-6/K ({bore.source})",
        f"{given['metal']}: {wheel.low * 1e6:g} to {wheel.high * 1e6:g} e-6/K ({wheel.source})",
        "free growth of round bodies; shaft movement and bent housings come on top",
    )
    return Result(
        (
            Figure("cold", "cold clearance per side", found.cold, "mm"),
            Figure("hot_least", "hot clearance per side, least", found.low, "mm"),
            Figure("hot_most", "hot clearance per side, most", found.high, "mm"),
        ),
        assumes=assumes,
        cautions=tuple(Caution("expansion", f"{text}: ask for the alloy's data.") for text in reached),
    )


GROWTH = Calculation(
    "growth",
    "clearance per side when running, over the spread of published coefficients",
    (
        Input("bore", "housing bore, cold", unit="mm"),
        Input("housing", "housing material", "text"),
        Input("housing_hot", "housing temperature, running", "amount", *KELVIN),
        Input("wheel", "wheel diameter, cold", unit="mm"),
        Input("metal", "wheel material", "text"),
        Input("wheel_hot", "wheel temperature, running", "amount", *KELVIN),
        Input("cold", "temperature when measured", "amount", *KELVIN, default="20 °C"),
        Input("by_speed", "growth of the wheel's radius by speed", unit="mm", default="0"),
    ),
    _growth,
    (growth.hot_gap, growth.expansion),
    'growth --bore 65 --housing "ductile iron" --housing-hot "550 °C" --wheel 64 --metal "alloy 713c"'
    ' --wheel-hot "620 °C"',
)
