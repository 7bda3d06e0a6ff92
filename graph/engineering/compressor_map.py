"""A compressor's map with its own reference state, and how far an operating point is from surge, choke and speed.

Rule 1: a map without its reference temperature and pressure is refused.
Rule 2: nothing is read outside the measured lines; a point there is not on the map, and that is the answer.
"""

import csv
import io
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isclose, isfinite
from typing import Final

from graph.engineering._domain import positive
from graph.engineering.air import engine_demand, pressure_ratio
from graph.engineering.atmosphere import Height, standard_air
from graph.engineering.corrected import Corrected, Reference, corrected_flow
from graph.errors import BadFile, BadQuestion

COLUMNS: Final = ("speed", "flow", "ratio")
HEADER: Final = ("reference temperature [k]", "reference pressure [pa]")
LARGEST: Final = 20_000
"""Rows of a map; a measured one has some hundred."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One point of a speed line. `flow` and `speed` are corrected; `efficiency` None: not given."""

    flow: float  # [kg/s]
    ratio: float  # total to total. [-]
    efficiency: float | None = None  # isentropic. [-]


@dataclass(frozen=True, slots=True)
class SpeedLine:
    """One corrected speed [rev/min], its points from surge to choke."""

    speed: float
    points: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class CompressorMap:
    """Speed lines, slowest first, at one reference state."""

    reference: Reference
    lines: tuple[SpeedLine, ...]


def read_map(text: str) -> CompressorMap:
    """A map from CSV: two rows with the reference state, a header, then a row for each point.

    Parameters
    ----------
    text : str
        Rows `reference temperature [K],298` and `reference pressure [Pa],100000`, then a header with `speed
        [rev/min]`, `flow [kg/s]`, `ratio` and, if known, `efficiency`, in that order; points of a line from surge to
        choke or in any order. Decimal points. [-]

    Returns
    -------
    CompressorMap
        Lines by speed [rev/min], points by flow [kg/s].

    Raises
    ------
    BadFile
        No reference state, a missing column, a cell that is no number, a line of fewer than two points; all faults
        at once, each with its row.

    Sources
    -------
    [1] The project's own form; figures belong to the map's own reference state (SAE J1826, not seen, is one of
        several in use).

    Examples
    --------
    >>> head = "reference temperature [K],298\\nreference pressure [Pa],100000\\nspeed [rev/min],flow [kg/s],ratio\\n"
    >>> found = read_map(head + "60000,0.10,1.6\\n60000,0.25,1.4\\n90000,0.18,2.6\\n90000,0.40,2.1\\n")
    >>> found.reference, [line.speed for line in found.lines]
    (Reference(temperature=298.0, pressure=100000.0), [60000.0, 90000.0])
    """
    rows = [[cell.strip() for cell in row] for row in csv.reader(io.StringIO(text.lstrip("\ufeff")))]
    if len(rows) > LARGEST:
        raise BadFile(f"{len(rows)} rows", fix=f"a map has at most {LARGEST}")
    numbered = [(n, row) for n, row in enumerate(rows, 1) if any(row)]
    given = {
        row[0].casefold(): (n, row[1] if len(row) > 1 else "") for n, row in numbered if row[0].casefold() in HEADER
    }
    missing = [name for name in HEADER if name not in given]
    if missing:
        raise BadFile(
            f"the map does not say its {' and '.join(missing)}",
            fix="ask whoever measured it; flows of two reference states differ by some per cent",
        )
    faults: list[str] = []
    reference = Reference(*(_number(*given[name], faults) for name in HEADER))
    body = [(n, row) for n, row in numbered if row[0].casefold() not in HEADER]
    names = [cell.casefold().partition("[")[0].strip() for cell in body[0][1]] if body else []
    if tuple(names[:3]) != COLUMNS or names[3:] not in ([], ["efficiency"]):
        faults.append("the header must be speed [rev/min], flow [kg/s], ratio, and efficiency if it is known")
        body = []
    points: dict[float, list[Reading]] = {}
    for n, row in body[1:]:
        speed, flow, ratio = (_number(n, row[k] if k < len(row) else "", faults) for k in range(3))
        efficiency = _number(n, row[3], faults) if len(row) > 3 and row[3] else None
        if efficiency is not None and efficiency > 1:
            faults.append(f"row {n}: an efficiency of {efficiency:g}; write 0.78, not 78")
        if ratio < 1:
            faults.append(f"row {n}: a pressure ratio of {ratio:g} below 1")
        points.setdefault(speed, []).append(Reading(flow, ratio, efficiency))
    lines = tuple(
        SpeedLine(speed, tuple(sorted(found, key=lambda point: point.flow)))
        for speed, found in sorted(points.items())
    )
    if body and len(lines) < 2:
        faults.append("a map has at least two speed lines")
    for line in lines:
        if len({point.flow for point in line.points}) < max(2, len(line.points)):
            faults.append(f"the line {line.speed:g} needs two points or more, each at another flow")
    if faults:
        raise BadFile("; ".join(faults), fix="mend these rows and read the map again")
    return CompressorMap(reference, lines)


def _number(row: int, cell: str, faults: list[str]) -> float:
    try:
        number = float(cell)
    except ValueError:
        number = float("nan")
    if not (isfinite(number) and number > 0):
        faults.append(f"row {row}: {cell!r} is no number over zero")
        return 1.0
    return number


@dataclass(frozen=True, slots=True)
class Margins:
    """Where a point lies. What the map does not show is None, and `why` says so."""

    flow: Corrected  # [kg/s]
    ratio: float
    surge: float | None = None  # (flow - surge flow) / flow at this ratio. [-]
    choke: float | None = None  # (choke flow - flow) / flow at this ratio. [-]
    speed: Corrected | None = None  # [rev/min]
    why: str = ""


def margins(chart: CompressorMap, flow: Corrected, ratio: float) -> Margins:
    """Margins of an operating point to surge and choke at its pressure ratio, and its corrected speed.

    Parameters
    ----------
    chart : CompressorMap
        The map.
    flow : Corrected
        Corrected flow at the map's reference state. [kg/s]
    ratio : float
        Pressure ratio. [-]

    Returns
    -------
    Margins
        Margins [-] and corrected speed [rev/min], or why they are not known.

    Raises
    ------
    BadQuestion
        A flow of another reference state.
    OutOfRange
        A number that is not positive.

    Notes
    -----
    Surge and choke flows are straight between the lines' ends; between two lines, points at one fraction of the way
    from surge to choke belong together. The highest measured flow of a line is taken as choke: some maps stop before
    it. Above the fastest line's own end that line is the right edge. Where the surge line is crossed twice, the
    larger flow counts; below its lowest point there is no surge margin.

    Sources
    -------
    [1] The project's own rule; straight interpolation within measured lines only.

    Examples
    --------
    >>> low = SpeedLine(60000.0, (Reading(0.10, 1.6), Reading(0.25, 1.4)))
    >>> high = SpeedLine(90000.0, (Reading(0.18, 2.6), Reading(0.40, 2.1)))
    >>> chart = CompressorMap(Reference(298.0, 1e5), (low, high))
    >>> found = margins(chart, Corrected(0.20, Reference(298.0, 1e5)), 2.1)
    >>> round(found.surge, 3), round(found.choke, 3)
    (0.3, 1.0)
    """
    if flow.reference != chart.reference:
        raise BadQuestion(
            f"the flow is corrected to {flow.reference.temperature:g} K, {flow.reference.pressure:g} Pa, the map to"
            f" {chart.reference.temperature:g} K, {chart.reference.pressure:g} Pa",
            fix="restate the flow at the map's reference",
        )
    positive(flow=flow.value, pressure_ratio=ratio)
    surges = _flows_at(ratio, [line.points[0] for line in chart.lines])
    chokes = _flows_at(ratio, [*(line.points[-1] for line in chart.lines), *chart.lines[-1].points[-2::-1]])
    speed = _speed_at(chart, flow.value, ratio)
    surge = (flow.value - max(surges)) / flow.value if surges else None
    choke = (chokes[0] - flow.value) / flow.value if chokes else None
    why = ""
    if surge is not None and surge < 0:
        why = "left of the surge line: it would surge here"
    elif choke is not None and choke < 0:
        why = "right of the measured end: it does not pass this flow"
    elif speed is None:
        why = "outside the measured lines"
    elif surge is None:
        why = "below the lowest point of the surge line: no surge margin"
    return Margins(flow, ratio, surge, choke, None if speed is None else Corrected(speed, chart.reference), why)


def _flows_at(ratio: float, edge: Sequence[Reading]) -> list[float]:
    """The flows at which an edge of the map crosses a ratio, in the edge's order. [kg/s]"""
    return [
        low.flow + (high.flow - low.flow) * (ratio - low.ratio) / (high.ratio - low.ratio)
        for low, high in pairwise(edge)
        if low.ratio != high.ratio and min(low.ratio, high.ratio) <= ratio <= max(low.ratio, high.ratio)
    ]


def _speed_at(chart: CompressorMap, flow: float, ratio: float) -> float | None:
    """The speed of the line through a point, None off the lines. [rev/min]"""
    for slow, fast in pairwise(chart.lines):
        low, high = 0.0, 1.0
        if not _ratio_between(slow, fast, low, flow) <= ratio <= _ratio_between(slow, fast, high, flow):
            continue
        while high - low > 1e-12:
            middle = (low + high) / 2
            low, high = (middle, high) if _ratio_between(slow, fast, middle, flow) < ratio else (low, middle)
        if isclose(_ratio_between(slow, fast, low, flow), ratio, rel_tol=1e-6):
            return slow.speed + (fast.speed - slow.speed) * low
        if isclose(_ratio_between(slow, fast, high, flow), ratio, rel_tol=1e-6):
            return slow.speed + (fast.speed - slow.speed) * high
    return None


def _ratio_between(slow: SpeedLine, fast: SpeedLine, share: float, flow: float) -> float:
    """The ratio at a flow on the line that lies a share of the way from one line to the next. [-]

    Points at one fraction of the way from surge to choke belong together. Right of its end the line is too slow for
    any ratio (minus infinity), left of its start too fast (infinity).
    """
    first = slow.points[0].flow + share * (fast.points[0].flow - slow.points[0].flow)
    last = slow.points[-1].flow + share * (fast.points[-1].flow - slow.points[-1].flow)
    if not first <= flow <= last:
        return inf if flow < first else -inf
    along = (flow - first) / (last - first)
    low, high = _ratio_along(slow, along), _ratio_along(fast, along)
    return low + share * (high - low)


def _ratio_along(line: SpeedLine, along: float) -> float:
    first, last = line.points[0].flow, line.points[-1].flow
    flow = first + along * (last - first)
    n = min(max(1, bisect_left([point.flow for point in line.points], flow)), len(line.points) - 1)
    low, high = line.points[n - 1], line.points[n]
    return low.ratio + (high.ratio - low.ratio) * (flow - low.flow) / (high.flow - low.flow)


@dataclass(frozen=True, slots=True)
class Engine:
    """The engine as the compressor sees it. Manifold pressure is absolute; losses as in `air.pressure_ratio`."""

    displacement: float  # [L]
    filling: float  # volumetric efficiency. [-]
    manifold_pressure: float  # [Pa]
    manifold_temperature: float  # [K]
    inlet_loss: float = 0.0  # [Pa]
    outlet_loss: float = 0.0  # [Pa]
    inlet_temperature: float | None = None  # at the compressor; None: the standard day's at that height. [K]


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: engine speed [rev/min], height [m], where it lies, and the margin to the speed limit."""

    engine_speed: float
    height: float
    margins: Margins
    shaft_speed: float | None  # physical. [rev/min]
    speed_margin: float | None  # 1 - shaft speed / limit. [-]


def table(
    chart: CompressorMap,
    engine: Engine,
    speeds: Sequence[float],
    heights: Sequence[float],
    kind: Height = "geometric",
    limit: float | None = None,
) -> tuple[Row, ...]:
    """Margins over engine speed and height, at the same manifold pressure everywhere.

    Parameters
    ----------
    chart : CompressorMap
        The map.
    engine : Engine
        The engine. [L], [Pa], [K]
    speeds : sequence of float
        Engine speeds. [rev/min]
    heights : sequence of float
        Heights over sea level. [m]
    kind : str
        `geometric` or `geopotential`. [-]
    limit : float or None
        Limit of shaft speed of this very wheel; None when it is not known. [rev/min]

    Returns
    -------
    tuple of Row
        By height, then engine speed; margins [-], speeds [rev/min].

    Raises
    ------
    OutOfRange
        A number outside its range.
    BadQuestion
        Another kind of height.

    Notes
    -----
    One unit takes all the air. Keeping the manifold pressure as the air thins raises ratio and speed: the row for the
    highest place counts.

    Sources
    -------
    [1] `air.engine_demand`, `air.pressure_ratio`, `atmosphere.standard_air`, `corrected.corrected_flow` and theirs.

    Examples
    --------
    >>> low = SpeedLine(60000.0, (Reading(0.10, 1.6), Reading(0.25, 1.4)))
    >>> high = SpeedLine(90000.0, (Reading(0.18, 2.6), Reading(0.40, 2.1)))
    >>> chart = CompressorMap(Reference(298.0, 1e5), (low, high))
    >>> rows = table(chart, Engine(6.0, 0.9, 200e3, 320.0), [1800.0], [0.0, 1600.0])
    >>> [round(row.margins.ratio, 2) for row in rows]
    [1.97, 2.39]
    """
    if limit is not None:
        positive(limit=limit)
    out = []
    for height in heights:
        air = standard_air(height, kind)
        temp_in = engine.inlet_temperature or air.temperature
        ratio = pressure_ratio(engine.manifold_pressure, air.pressure, engine.inlet_loss, engine.outlet_loss)
        for speed in speeds:
            demand = engine_demand(
                engine.displacement, speed, engine.filling, engine.manifold_pressure, engine.manifold_temperature
            )
            flow = corrected_flow(demand, temp_in, air.pressure - engine.inlet_loss, chart.reference)
            found = margins(chart, flow, ratio)
            shaft = None
            if found.speed is not None:
                shaft = float(found.speed.value * (temp_in / chart.reference.temperature) ** 0.5)
            left = None if shaft is None or limit is None else 1 - shaft / limit
            out.append(Row(speed, height, found, shaft, left))
    return tuple(out)
