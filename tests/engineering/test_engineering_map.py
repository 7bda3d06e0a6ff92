"""Compressor maps: the reference state, the margins, the table over height, the picture."""

import xml.etree.ElementTree as ET

import pytest

from graph.engineering.compressor_map import CompressorMap, Engine, margins, read_map, table
from graph.engineering.corrected import Corrected, Reference, restated_flow
from graph.engineering.map_picture import map_svg
from graph.errors import BadFile, BadQuestion, OutOfRange

HEAD = "reference temperature [K],298\nreference pressure [Pa],100000\nspeed [rev/min],flow [kg/s],ratio,efficiency\n"
# Invented, with straight edges, so that every margin can be read off by hand.
LINES = (
    "60000,0.10,1.6,0.70\n60000,0.20,1.5,0.74\n60000,0.30,1.3,0.66\n"
    "80000,0.16,2.2,0.72\n80000,0.28,2.1,0.77\n80000,0.40,1.8,0.68\n"
    "100000,0.22,3.0,0.70\n100000,0.36,2.9,0.76\n100000,0.50,2.5,0.68\n"
)
HERE = Reference(298.0, 100e3)


@pytest.fixture(name="chart")
def chart_fixture() -> CompressorMap:
    return read_map(HEAD + LINES)


def test_a_map_reads_with_its_reference_state(chart: CompressorMap) -> None:
    assert chart.reference == HERE
    assert [(line.speed, len(line.points)) for line in chart.lines] == [(60_000, 3), (80_000, 3), (100_000, 3)]
    assert chart.lines[1].points[1].efficiency == 0.77


@pytest.mark.parametrize("lost", ["reference temperature [K],298\n", "reference pressure [Pa],100000\n"])
def test_a_map_without_its_reference_state_is_refused(lost: str) -> None:
    with pytest.raises(BadFile, match="does not say its reference"):
        read_map(HEAD.replace(lost, "") + LINES)


def test_all_faults_of_a_map_are_told_at_once() -> None:
    bad = HEAD + "60000,0.10,1.6,0.70\n60000,x,1.5,0.74\n80000,0.2,0.9,78\n80000,nan,1.2,\n"
    with pytest.raises(BadFile) as told:
        read_map(bad)
    for part in ("row 5: 'x'", "row 6: an efficiency of 78", "row 6: a pressure ratio of 0.9", "row 7: 'nan'"):
        assert part in told.value.message


@pytest.mark.parametrize(
    "text", ["", "a,b\n1,2\n", HEAD, HEAD + "60000,0.1,1.6\n60000,0.2,1.5\n", HEAD.replace("ratio", "pr") + LINES]
)
def test_what_is_no_map_is_refused(text: str) -> None:
    with pytest.raises(BadFile):
        read_map(text)


def test_margins_are_read_at_the_points_own_ratio(chart: CompressorMap) -> None:
    # Ratio 2.0: surge at 0.10 + 0.06·(0.4/0.6) = 0.14, choke at 0.40 + 0.10·(0.2/0.7) = 0.42857 (by hand).
    found = margins(chart, Corrected(0.28, HERE), 2.0)
    assert found.surge == pytest.approx((0.28 - 0.14) / 0.28)
    assert found.choke == pytest.approx((0.40 + 0.1 * 0.2 / 0.7 - 0.28) / 0.28)


@pytest.mark.parametrize(
    ("flow", "ratio", "speed"),
    [
        (0.24, 1.80, 70_000),  # half way between two middles, (0.20, 1.5) and (0.28, 2.1)
        (0.35, 1.55, 70_000),  # half way between two ends, right of the slower line
        (0.13, 1.90, 70_000),  # half way along the surge line
        (0.28, 2.10, 80_000),
        (0.32, 2.50, 90_000),
        (0.50, 2.50, 100_000),
    ],
)
def test_speed_is_read_between_points_that_belong_together(
    chart: CompressorMap, flow: float, ratio: float, speed: float
) -> None:
    found = margins(chart, Corrected(flow, HERE), ratio)
    assert (found.surge is None) is (ratio < 1.6)  # the surge line starts at 1.6
    assert found.speed is not None
    assert found.speed.value == pytest.approx(speed, rel=1e-5)


def test_above_the_fastest_lines_end_that_line_is_the_edge(chart: CompressorMap) -> None:
    # Ratio 2.7 on the last line between (0.36, 2.9) and (0.50, 2.5): 0.43 (by hand).
    assert margins(chart, Corrected(0.40, HERE), 2.7).choke == pytest.approx((0.43 - 0.40) / 0.40)


@pytest.mark.parametrize(
    ("flow", "ratio", "why"),
    [(0.10, 2.2, "surge"), (0.45, 1.8, "does not pass"), (0.3, 3.4, "outside"), (0.2, 1.1, "outside")],
)
def test_a_point_off_the_map_is_told_so_and_never_extrapolated(
    chart: CompressorMap, flow: float, ratio: float, why: str
) -> None:
    found = margins(chart, Corrected(flow, HERE), ratio)
    assert why in found.why
    assert found.speed is None


def test_a_flow_of_another_reference_is_refused_until_restated(chart: CompressorMap) -> None:
    foreign = Corrected(0.28, Reference(288.15, 101_325.0))
    with pytest.raises(BadQuestion, match="the map to 298 K"):
        margins(chart, foreign, 2.0)
    assert margins(chart, restated_flow(foreign, HERE), 2.0).surge is not None


ENGINE = Engine(6.0, 0.90, 190e3, 320.0, inlet_loss=2e3, outlet_loss=6e3)


def test_height_raises_ratio_and_shaft_speed(chart: CompressorMap) -> None:
    rows = table(chart, ENGINE, [1600, 2000], [0, 1500, 2500], limit=110_000)
    assert [(row.height, row.engine_speed) for row in rows] == [(h, n) for h in (0, 1500, 2500) for n in (1600, 2000)]
    # 196 kPa over (101.325 - 2) kPa; the standard day's 84.556 kPa at 1500 m is geopotential, near enough here.
    assert rows[0].margins.ratio == pytest.approx(196 / 99.325)
    assert rows[2].margins.ratio == pytest.approx(196 / 82.556, rel=1e-3)
    speeds = [row.shaft_speed for row in rows if row.engine_speed == 2000]
    assert None not in speeds
    assert speeds == sorted(speeds)  # type: ignore[type-var]
    left = [row.speed_margin for row in rows if row.engine_speed == 2000]
    assert left == pytest.approx([1 - (speed or 0) / 110_000 for speed in speeds])


def test_without_a_limit_the_speed_margin_is_not_known(chart: CompressorMap) -> None:
    assert {row.speed_margin for row in table(chart, ENGINE, [2000], [0])} == {None}


def test_a_limit_of_nothing_is_refused(chart: CompressorMap) -> None:
    with pytest.raises(OutOfRange):
        table(chart, ENGINE, [2000], [0], limit=0)


def test_the_picture_is_one_harmless_svg_with_every_line_and_point(chart: CompressorMap) -> None:
    rows = table(chart, ENGINE, [1600, 2000, 6000], [0])
    picture = map_svg(chart, rows, "A <map> & more")
    tree = ET.fromstring(picture)
    space = "{http://www.w3.org/2000/svg}"
    assert len(tree.findall(f"{space}polyline")) == len(chart.lines) + 1
    assert [c.get("class") for c in tree.findall(f"{space}circle")] == ["point", "point", "off"]
    assert "script" not in picture and "href" not in picture
    assert tree.findtext(f"{space}title") == "A <map> & more"
    texts = [t.text or "" for t in tree.findall(f"{space}text")]
    assert any("298 K and 100 kPa" in text for text in texts)
    places = [float(c.get("cx", "0")) for c in tree.findall(f"{space}circle")]
    assert places == sorted(places)
    assert all(0 <= place <= 720 for place in places)
