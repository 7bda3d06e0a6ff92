"""Why, unknown, rank, reach, least and weigh on the command line and over HTTP: the desk's answers, judged again."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from openapi_spec_validator import validate
from starlette.testclient import TestClient
from typer.testing import CliRunner, Result

from api.app import create_app
from api.cli.main import app
from graph.desk import Desk, depth
from graph.model.statement import digest
from graph.model.verdict import Verdict

DAY = "2026-11-20"
IMPOSSIBLE = {"core": "HB-008", "build": "largest-own-cover", "engine": "BR6-C", "as_of": DAY}


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def run(demo_folder: Path, *words: str) -> Result:
    return CliRunner().invoke(app, [*words, "--store", str(demo_folder)])


@pytest.mark.slow
def test_why_names_the_clash_that_the_demo_was_written_for_and_verify_confirms_it(
    demo_folder: Path, tmp_path: Path
) -> None:
    """demo_graph/README.md: the 66 wheel wants the cover at 66.45 mm, the casting permits 64.0 mm."""
    kept = tmp_path / "why.json"
    asked = ("--core", "HB-008", "--build", "largest-own-cover", "--engine", "BR6-C", "--as-of", DAY)
    said = run(demo_folder, "why", *asked, "--save", str(kept))
    assert said.exit_code == 0, said.output
    flat = " ".join(said.output.split())
    assert "the build keeps the core's own compressor cover" in flat
    assert "inducer diameter at least 65.9 mm" in flat
    assert "the core holds compressor cover OV46" in flat
    assert "as built by the plate of core HB-008" in flat or "as found in core HB-008" in flat
    assert "64 mm at most" in flat
    assert "62.5 mm instead of at least 65.9 mm" in flat
    verified = run(demo_folder, "verify", str(kept))
    assert verified.exit_code == 0, verified.output
    assert "a minimal clash of 3" in verified.output
    content = json.loads(kept.read_text())
    content["answer"]["clash"]["members"].pop()
    (tmp_path / "altered.json").write_text(json.dumps(content))
    assert run(demo_folder, "verify", str(tmp_path / "altered.json")).exit_code == 1


@pytest.mark.slow
def test_why_over_http_is_judged_by_the_store(client: TestClient) -> None:
    response = client.post("/v1/why", json=IMPOSSIBLE)
    assert response.status_code == 200
    assert response.json()["kind"] == "why"
    judged = client.post("/v1/verify", content=response.content)
    assert judged.json()["refusals"] == []
    assert judged.json()["against"] == "store"


@pytest.mark.slow
def test_plans_that_nothing_beats_are_saved_and_judged_on_both_faces(
    demo_folder: Path, client: TestClient, tmp_path: Path
) -> None:
    """One of the plans taken out of the file, digest and all: the checker finds one by itself."""
    kept = tmp_path / "weigh.json"
    asked = ("--core", "HB-022", "--build", "larger-wheels", "--as-of", DAY)
    said = run(demo_folder, "weigh", *asked, "--save", str(kept), "--json")
    assert said.exit_code == 0, said.output
    ours = json.loads(kept.read_bytes())
    assert json.loads(said.stdout) == ours
    over = client.post("/v1/weigh", json={"core": "HB-022", "build": "larger-wheels", "as_of": DAY})
    assert over.json() == ours
    judged = client.post("/v1/verify", content=over.content).json()
    assert (judged["refusals"], judged["against"]) == ([], "store")
    verified = run(demo_folder, "verify", str(kept))
    assert verified.exit_code == 0, verified.output
    assert "nothing beats in both money and time, and no other is missing" in " ".join(verified.output.split())
    assert len(ours["answer"]["plans"]) > 1
    for place in range(len(ours["answer"]["plans"])):
        fewer = json.loads(kept.read_bytes())
        fewer["answer"]["plans"].pop(place)
        fewer["digest"] = digest(fewer["answer"])
        refused = client.post("/v1/verify", json=fewer).json()["refusals"]
        assert [r["code"] for r in refused] == ["optimality"]


@pytest.mark.slow
def test_a_wall_that_was_not_read_is_the_measurement_that_decides(demo_desk: Desk) -> None:
    """(67.76 - 65.0) / 2 of change, 0.5 core shift, 4.5 least wall: about 6.4 mm are needed at 6 o'clock."""
    answer = depth.unknown(demo_desk, "HB-023", "own-castings-angled", "BR6-D", day=DAY)
    assert [[m.feature for m in wanted] for wanted in answer.decide] == [["wall"]]
    able, never, left = answer.cases  # in this order: what can be done comes first
    assert [c.verdict for c in answer.cases] == [Verdict.WITH_WORK, Verdict.NO, Verdict.UNKNOWN]
    assert never.conditions[0].high is not None and able.conditions[0].low is not None
    assert 6.2e7 < never.conditions[0].high < able.conditions[0].low < 6.6e7
    assert (left.conditions[0].low, left.conditions[0].high) == (
        never.conditions[0].high + 1,
        able.conditions[0].low - 1,
    )


@pytest.mark.slow
def test_cores_are_ranked_on_both_faces(demo_folder: Path, client: TestClient, demo_desk: Desk) -> None:
    said = run(demo_folder, "rank", "--build", "larger-wheels", "--best", "2", "--as-of", DAY, "--json")
    assert said.exit_code == 0, said.output
    ranked = json.loads(said.stdout)
    asked = client.post("/v1/rank", json={"build": "larger-wheels", "best": 2, "as_of": DAY}).json()
    assert ranked["ranked"] == asked["ranked"]
    assert ranked["exact"] == 2
    costs = [row["cost"] for row in ranked["ranked"][:2]]
    assert costs == sorted(costs)
    for row in ranked["ranked"][:2]:
        own = demo_desk.plan(row["name"], "larger-wheels", day=DAY)
        assert own.plans[0].cost == row["cost"]
    assert all(row["cost"] is None for row in ranked["ranked"][2:])
    names = {row["name"] for row in ranked["ranked"]}
    assert "HB-008" not in names  # the customer's own


@pytest.mark.slow
def test_the_least_change_turns_the_outlet(client: TestClient) -> None:
    """demo_graph/README.md: the 220 differs from the 140's engine in its 25 degree outlet face alone."""
    asked = {"unit": "OV46-220", "engine": "BR6-C", "as_of": DAY}
    answer = client.get("/v1/least", params=asked).json()
    assert answer["changes"] == 1
    seats = {s["seat"]: s["source"] for s in answer["answer"]["plans"][0]["seats"]}
    assert seats["turbine-housing"] == "new"


def test_a_measure_that_there_is_not_is_a_422(client: TestClient) -> None:
    wrong = {**IMPOSSIBLE, "by": ["beauty"]}
    assert client.post("/v1/weigh", json=wrong).status_code == 422


def test_the_routes_are_described(client: TestClient) -> None:
    described = client.get("/v1/openapi.json").json()
    validate(described)
    paths = ("why", "unknown", "weigh", "rank", "reach", "least", "keep-in-stock")
    assert {f"/v1/{p}" for p in paths} <= set(described["paths"])


@pytest.mark.slow
def test_rankings_say_the_wishes_they_were_made_under(demo_folder: Path, client: TestClient) -> None:
    """The words of a wish are those of a plan's; without wishes nothing is said of them."""
    wished = ("no-new", "no-machining", "no-donor")
    words = [part for wish in wished for part in ("--wish", wish)]
    asked = {"core": "HB-017", "wish": list(wished), "as_of": DAY}
    told = run(demo_folder, "reach", "--core", "HB-017", *words, "--as-of", DAY)
    assert "Wished: " in told.output and "nothing from donor cores" in told.output
    assert DAY in told.output
    data = client.get("/v1/reach", params=asked).json()
    assert (data["wishes"], data["day"]) == (sorted(wished), DAY)
    table = client.get("/v1/reach", params={**asked, "format": "csv"}).text
    assert "wished: " in table.splitlines()[-1]
    html = client.get("/reach", params=asked).text
    assert "Wished: " in html
    assert "/plan?core=HB-017" in html and "wish=no-donor" in html
    ranked = client.get(
        "/v1/rank", params={"build": "stock-101", "best": 1, "wish": ["no-donor"], "as_of": DAY}
    ).json()
    assert ranked["wishes"] == ["no-donor"]
    plain = client.get("/v1/rank", params={"build": "stock-101", "best": 1, "as_of": DAY}).json()
    assert plain["wishes"] == []
    page = client.get("/rank", params={"build": "stock-101", "best": 1, "as_of": DAY}).text
    assert "Wished" not in page and "/plan?" in page
