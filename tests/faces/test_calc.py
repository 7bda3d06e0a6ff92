"""Shop calculations on the command line and over HTTP: made from one registry, with units and sources."""

import json
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from openapi_spec_validator import validate
from starlette.testclient import TestClient
from typer.testing import CliRunner

from api import problems
from api.calc.asking import answer, source_lines
from api.calc.form import Calculation, Input
from api.calc.registry import CALCULATIONS
from api.calc.routes import router
from api.cli.calculating import app as command
from api.documented import document
from graph.errors import BadQuestion

# Invented; straight edges.
CHART = (
    "reference temperature [K],298\nreference pressure [Pa],100000\nspeed [rev/min],flow [kg/s],ratio\n"
    "60000,0.10,1.6\n60000,0.30,1.3\n80000,0.16,2.2\n80000,0.40,1.8\n100000,0.22,3.0\n100000,0.50,2.5\n"
)
EVERY = list(CALCULATIONS.values())


@pytest.fixture(name="client", scope="module")
def client_fixture() -> Iterator[TestClient]:
    app = FastAPI(title="calculations", version="1")
    problems.install(app)
    app.include_router(router)
    with TestClient(app) as opened:
        yield opened


@pytest.fixture(name="chart")
def chart_fixture(tmp_path: Path) -> Path:
    path = tmp_path / "chart.csv"
    path.write_text(CHART)
    return path


def run(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(command, list(words))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


def figures(found: dict[str, Any]) -> dict[str, Any]:
    return {figure["name"]: figure["value"] for figure in found["result"]["figures"]}


def example(calculation: Calculation, chart: Path) -> list[str]:
    return shlex.split(calculation.example.replace("chart.csv", str(chart)))


def asked(calculation: Calculation, words: list[str]) -> dict[str, Any]:
    """The query of a command line, so that both faces get the same words."""
    by_flag = {"--" + one.name.replace("_", "-"): one for one in calculation.inputs}
    first = [one for one in calculation.inputs if one.first]
    query: dict[str, Any] = {}
    rest, words = words[1:], []
    while rest:
        word = rest.pop(0)
        if word in by_flag:
            one: Input = by_flag[word]
            value = rest.pop(0)
            query[one.name] = [*query.get(one.name, []), value] if one.many else value
        else:
            words.append(word)
    for one in first:
        if one.many:
            query[one.name], words = words, []
        else:
            query[one.name] = words.pop(0)
    return query


def test_all_the_calculations_are_there() -> None:
    assert list(CALCULATIONS) == [
        "fit", "stack", "wall", "contour", "growth", "trim", "tip-speed", "blade-pass", "balance", "air", "density",
        "compression", "corrected-flow", "atmosphere", "thread", "cutting", "map", "changes",
    ]  # fmt: skip


@pytest.mark.parametrize("calculation", EVERY, ids=lambda one: one.name)
def test_its_own_example_runs_and_names_its_sources(calculation: Calculation, chart: Path) -> None:
    code, text = run(*example(calculation, chart))
    assert code in (0, 1)
    assert "\n  source: " in text
    assert not re.search(r"\b(legal|safe|nan|inf)\b", text)


@pytest.mark.parametrize("calculation", EVERY, ids=lambda one: one.name)
def test_http_says_what_the_command_line_says(calculation: Calculation, chart: Path, client: TestClient) -> None:
    words = example(calculation, chart)
    query = asked(calculation, words)
    for one in calculation.inputs:
        if one.kind == "file":
            query[one.name] = CHART
    response = client.get(f"/v1/calc/{calculation.name}", params=query)
    assert response.status_code == 200, response.text
    ours = json.loads(run(*words, "--json")[1])
    theirs = response.json()
    for found in (ours, theirs):
        for entry in found["asked"]:
            entry["given"] = "" if entry["name"] == "chart" else entry["given"]
    assert ours == theirs


@pytest.mark.parametrize("calculation", EVERY, ids=lambda one: one.name)
def test_every_formula_behind_it_has_a_source_line(calculation: Calculation) -> None:
    assert all(source_lines(formula) for formula in calculation.formulas)


@pytest.mark.parametrize(
    ("words", "name", "value"),
    [
        # ISO 286, as in tests/data/engineering_cases.json: 25 H7/g6 leaves 7 to 41 µm.
        (["fit", "25 mm", "H7/g6"], "most", 41),
        # Shigley, example 7-7 (seen): 2 in H7/s6 by the inch tables.
        (["fit", "2 in", "H7/s6"], "es", 23),
        (["fit", "50.8 mm", "H7/s6"], "es", 72),
        # Definitions, by hand.
        (["trim", "2 1/2 in", "100 mm"], "trim", 40.3225),
        (["tip-speed", "100 mm", "100000 rpm"], "tip_speed", 523.5988),
        (["blade-pass", "7", "90000 rpm"], "full", 10_500),
        (["balance", "400 g", "100000 rpm"], "G6.3", 0.24064),
        (["density", "1013.25 mbar", "59 °F"], "density", 1.22501),
        (["atmosphere", "3000 m", "--kind", "geopotential"], "pressure", 70.10853),
        (["thread", "G1/8"], "minor_diameter", 8.566),
        (["thread", "NPT 3/8"], "effective", 0.4078 * 25.4),
        (shlex.split("cutting any --diameter 50 --length 60 --removal 0 --speed 188.49556 --feed 0.15"),
         "most", 60 / (0.15 * 1200)),
    ],
)  # fmt: skip
def test_inputs_are_taken_as_people_write_them(words: list[str], name: str, value: float) -> None:
    code, text = run(*words, "--json")
    assert code in (0, 1)
    assert figures(json.loads(text))[name] == pytest.approx(value, rel=1e-4)


def test_an_unread_position_makes_the_wall_not_known_and_the_exit_says_so() -> None:
    common = ["--removal", "2.0", "--uncertainty", "0.1", "--core-shift", "0.4"]
    assert run("wall", "0°=7.2", "--limit", "4", *common)[0] == 0
    for words in (["0°=7.2", "90°=?", "--limit", "4"], ["0°=7.2"], ["0°=6.0", "--limit", "4"]):
        assert run("wall", *words, *common)[0] == 1
    text = run("wall", "0°=6.0", "--limit", "4", *common)[1]
    assert "breaks a limit" in text and "lifted only by a new limit claim" in text


def test_a_wheel_without_its_own_limit_is_not_known() -> None:
    code, text = run("tip-speed", "96 mm", "100000 rpm")
    assert code == 1 and "verdict: not known" in text
    code, text = run("tip-speed", "96 mm", "120000 rpm", "--limit", "520 m/s")
    assert code == 1 and "nobody here lifts" in text


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["fit", "25 kg", "H7/g6"], "unit of mass, not of length"),
        (["fit", "25", "H7/q6"], "letter q"),
        (["trim", "0 mm", "96 mm"], "diameter is 0.0"),
        (["trim", "63", "-96"], "No such option"),
        (["tip-speed", "96 mm", "100000"], ""),
        (["tip-speed", "96 mm", "100,000 rpm"], "read in two ways"),
        (["stack", "a=8.4"], "no link with its tolerance"),
        (["wall", "0°", "--uncertainty", "0.1"], "no reading"),
        (["wall", "0°=7.2", "--uncertainty", "0.1"], "no removal"),
        (["corrected-flow", "0.3 kg/s", "--temperature", "298 K", "--pressure", "98 kPa"],
         "reference_temperature is missing"),
        (["growth", "--bore", "65"], "wheel is missing"),
        (["thread", "M10x1", "--property-class", "10.9"], "coarse"),
        (["atmosphere", "30 km"], "no unit"),
        (["map", "no-such-file.csv"], "cannot be read"),
    ],
)  # fmt: skip
def test_what_cannot_be_answered_is_refused_with_what_to_do(words: list[str], told: str) -> None:
    code, text = run(*words)
    if told:
        assert code == 2
        assert told in text, text
    else:  # a bare number takes the unit that the help names
        assert code == 1


def test_all_faults_of_a_question_are_told_at_once() -> None:
    with pytest.raises(BadQuestion) as told:
        answer(CALCULATIONS["balance"], {"mass": "5 mm", "speed": "nan rpm", "colour": "red"})
    for part in ("mass: ", "speed: ", "colour: balance does not ask this"):
        assert part in told.value.message


def test_a_bad_question_over_http_is_a_problem(client: TestClient) -> None:
    response = client.get("/v1/calc/fit", params={"size": "25 kg", "zones": "H7/g6"})
    assert (response.status_code, response.json()["code"]) == (422, "bad-quantity")
    assert client.get("/v1/calc/fit").status_code == 422
    assert client.get("/v1/calc/torque").status_code == 404
    assert client.get("/v1/calc/map", params={"chart": "a,b\n1,2\n"}).json()["code"] == "bad-file"
    assert client.get("/v1/calc/map", params={"chart": CHART, "format": "pdf"}).status_code == 406


def test_a_map_may_be_posted_and_drawn(client: TestClient, chart: Path, tmp_path: Path) -> None:
    query = {"displacement": "6 L", "pressure": "250 kPa", "temperature": "330 K", "speed": ["1500 rpm", "2000 rpm"]}
    head = {"content-type": "text/csv"}
    posted = client.post("/v1/calc/map", params=query, content=CHART.encode(), headers=head)
    assert posted.status_code == 200, posted.text
    got = client.get("/v1/calc/map", params={**query, "chart": CHART}).json()
    assert posted.json()["result"] == got["result"]
    drawn = client.get("/v1/calc/map", params={**query, "chart": CHART, "format": "svg"})
    assert drawn.headers["content-type"].startswith("image/svg+xml")
    assert drawn.text == got["result"]["picture"]
    words = ["map", str(chart), "--displacement", "6 L", "--pressure", "250 kPa", "--temperature", "330 K"]
    assert run(*words, "--speed", "1500 rpm", "--speed", "2000 rpm", "--svg", str(tmp_path / "map.svg"))[0] == 0
    assert (tmp_path / "map.svg").read_text() == drawn.text


def test_a_map_without_its_reference_state_is_refused(client: TestClient) -> None:
    bare = "\n".join(CHART.splitlines()[2:])
    response = client.post("/v1/calc/map", content=bare.encode(), headers={"content-type": "text/csv"})
    assert (response.status_code, response.json()["code"]) == (422, "bad-file")
    assert "reference" in response.json()["detail"]


def test_the_description_of_the_routes_is_sound(client: TestClient) -> None:
    found = document(client.app)  # type: ignore[arg-type]
    validate(found)
    assert {f"/v1/calc/{name}" for name in CALCULATIONS} < set(found["paths"])
    assert set(client.get("/v1/calc").json()) == set(CALCULATIONS)


def test_what_else_changes_is_worked_out_by_hand() -> None:
    # Full and splitter blades 6 + 6 to 7 + 7: 12·log2(7/6) = 2.67 semitones (by hand, equal temperament);
    # energy at one tip speed with the cube of the diameter: (84/78)³ - 1 = 24.9 % (by hand);
    # eye areas (62/56)² = 1.2258, a tenth up and down: +10.3 % to +34.8 % (by hand).
    words = (
        "changes", "--was-inducer", "56 mm", "--inducer", "62 mm", "--was-exducer", "78 mm", "--exducer", "84 mm",
        "--was-blades", "6", "--blades", "7", "--was-splitters", "6", "--splitters", "7", "--json",
    )  # fmt: skip
    code, text = run(*words)
    assert code in (0, 1)
    found = {one["name"]: one["value"] for one in json.loads(text)["result"]["figures"]}
    assert found["pitch_of_the_full_blades_least"] == pytest.approx(2.67, abs=0.005)
    assert found["energy_of_a_burst_most"] == pytest.approx(24.9, abs=0.05)
    assert (found["flow_range_least"], found["flow_range_most"]) == pytest.approx((10.3, 34.8), abs=0.05)
    assert found["inertia_of_the_turbine_wheel_least"] is None  # nobody measured the turbine wheels
    assert found["pressure_ratio_left_at_height_least"] is None  # nor said where it works
