"""A compressor map as an SVG picture, with operating points on it."""

from collections.abc import Sequence
from typing import Final
from xml.sax.saxutils import escape

from graph.engineering.compressor_map import CompressorMap, Row

WIDE, HIGH = 720, 520  # whole picture. [px]
LEFT, RIGHT, TOP, BOTTOM = 64, 24, 28, 56  # margins. [px]
STYLE: Final = (
    "text{font:12px sans-serif;fill:#222}.line{fill:none;stroke:#456;stroke-width:1.2}"
    ".surge{fill:none;stroke:#a22;stroke-width:2}.axis{stroke:#222}.grid{stroke:#ddd}.point{fill:#06c}"
    ".off{fill:none;stroke:#a22;stroke-width:2}"
)


def map_svg(chart: CompressorMap, rows: Sequence[Row] = (), title: str = "Compressor map") -> str:
    """The map's speed lines and surge line, and each row of `compressor_map.table` as a point.

    Parameters
    ----------
    chart : CompressorMap
        The map. [kg/s], [-], [rev/min]
    rows : sequence of Row
        Operating points; those off the map or beyond a margin are drawn as rings. [kg/s], [-]
    title : str
        Words over the picture. [-]

    Returns
    -------
    str
        An SVG document without scripts or outside references; 720 by 520. [px]

    Sources
    -------
    [1] SVG 1.1, W3C Recommendation (from memory).

    Examples
    --------
    >>> from graph.engineering.compressor_map import CompressorMap, Reading, SpeedLine
    >>> from graph.engineering.corrected import Reference
    >>> line = SpeedLine(60000.0, (Reading(0.10, 1.6), Reading(0.25, 1.4)))
    >>> map_svg(CompressorMap(Reference(298.0, 1e5), (line,)))[:4]
    '<svg'
    """
    points = [point for line in chart.lines for point in line.points]
    flows = [*(p.flow for p in points), *(row.margins.flow.value for row in rows)]
    ratios = [*(p.ratio for p in points), *(row.margins.ratio for row in rows)]
    across, up = _ticks(0.0, max(flows)), _ticks(1.0, max(ratios))

    def x(flow: float) -> float:
        return LEFT + (WIDE - LEFT - RIGHT) * flow / across[-1]

    def y(ratio: float) -> float:
        return HIGH - BOTTOM - (HIGH - TOP - BOTTOM) * (ratio - up[0]) / (up[-1] - up[0])

    def path(places: Sequence[tuple[float, float]], kind: str) -> str:
        listed = " ".join(f"{x(flow):.1f},{y(ratio):.1f}" for flow, ratio in places)
        return f'<polyline class="{kind}" points="{listed}"/>'

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {HIGH}" width="{WIDE}" height="{HIGH}">',
        f"<title>{escape(title)}</title><style>{STYLE}</style>",
        f'<text x="{LEFT}" y="18">{escape(title)}</text>',
    ]
    for flow in across:
        out.append(f'<line class="grid" x1="{x(flow):.1f}" x2="{x(flow):.1f}" y1="{TOP}" y2="{HIGH - BOTTOM}"/>')
        out.append(f'<text x="{x(flow):.1f}" y="{HIGH - BOTTOM + 18}" text-anchor="middle">{flow:g}</text>')
    for ratio in up:
        out.append(f'<line class="grid" x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{y(ratio):.1f}" y2="{y(ratio):.1f}"/>')
        out.append(f'<text x="{LEFT - 8}" y="{y(ratio) + 4:.1f}" text-anchor="end">{ratio:g}</text>')
    out.append(
        f'<text x="{(LEFT + WIDE - RIGHT) / 2:.0f}" y="{HIGH - 12}" text-anchor="middle">corrected flow, kg/s, at'
        f" {chart.reference.temperature:g} K and {chart.reference.pressure / 1000:g} kPa</text>"
    )
    out.append(f'<text x="16" y="{HIGH / 2:.0f}" transform="rotate(-90 16 {HIGH / 2:.0f})">pressure ratio</text>')
    for line in chart.lines:
        out.append(path([(p.flow, p.ratio) for p in line.points], "line"))
        last = line.points[-1]
        out.append(f'<text x="{x(last.flow) + 4:.1f}" y="{y(last.ratio):.1f}">{line.speed:g}</text>')
    out.append(path([(line.points[0].flow, line.points[0].ratio) for line in chart.lines], "surge"))
    for row in rows:
        kind = "off" if row.margins.why else "point"
        place = f"{row.engine_speed:g} rev/min, {row.height:g} m" + (
            f": {row.margins.why}" if row.margins.why else ""
        )
        out.append(
            f'<circle class="{kind}" cx="{x(row.margins.flow.value):.1f}" cy="{y(row.margins.ratio):.1f}" r="5">'
            f"<title>{escape(place)}</title></circle>"
        )
    return "\n".join([*out, "</svg>"]) + "\n"


def _ticks(low: float, high: float) -> tuple[float, ...]:
    """About five round figures from `low` to past `high`."""
    step = next(
        size * scale
        for scale in (0.001, 0.01, 0.1, 1, 10, 100)
        for size in (1, 2, 5)
        if (high - low) / (size * scale) < 8
    )
    return tuple(round(low + n * step, 6) for n in range(int((high - low) / step) + 2))
