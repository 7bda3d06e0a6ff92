"""The bench on the command line and over HTTP: one-line and prompted, the same answers, faults with what to do."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
from starlette.testclient import TestClient
from typer.testing import CliRunner, Result

from api.app import create_app
from api.cli import bench as verbs

app = typer.Typer()
app.command()(verbs.identify)
app.command()(verbs.learn)
app.add_typer(verbs.app, name="core")


@pytest.fixture(name="folder")
def folder_fixture(demo_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_folder, tmp_path / "store"))


@pytest.fixture(name="client")
def client_fixture(folder: Path) -> Iterator[TestClient]:
    with TestClient(
        create_app(folder, demo=True),
        raise_server_exceptions=False,
        client=("127.0.0.1", 1),
        base_url="http://127.0.0.1",
    ) as client:
        yield client


def run(folder: Path, *words: str, typed: str = "") -> Result:
    return CliRunner().invoke(app, [*words, "--store", str(folder)], input=typed)


def test_identify_names_candidates_contradictions_and_the_next_look(demo_folder: Path) -> None:
    done = run(demo_folder, "identify", "--see", "boost control=vanes", "--see", "downpipe=angled")
    assert done.exit_code == 1  # not settled yet
    assert "most likely Ostrel OV46-220" in done.stdout
    assert "built with 0°" in done.stdout
    assert "Look next" in done.stdout


def test_the_arithmetic_is_shown_on_request(demo_folder: Path) -> None:
    words = ("identify", "--see", "boost control=vanes", "--see", "downpipe=angled", "--arithmetic")
    text = run(demo_folder, *words).stdout
    # 0.95 / 10 units; 0.97; angled leaves two of three values open: 0.95 + 0.05 / 2. The product by hand.
    assert "0.095 x 0.97 x 0.975 = 0.0898462" in text


def test_identify_asks_on_until_it_knows(demo_folder: Path) -> None:
    # Vanes; the plate cannot be made out; then whatever is asked of an OV46-220 is so.
    words = ("identify", "--see", "boost control=vanes", "--see", "downpipe=angled", "--ask")
    done = run(demo_folder, *words, typed="?\n" + "nonsense\n" + "y\n" * 6)
    assert done.exit_code == 0
    assert "This core is Ostrel OV46-220" in done.stdout
    assert "on record:" in done.stderr  # what there is, after the nonsense


def test_identify_may_be_left_at_any_time(demo_folder: Path) -> None:
    done = run(demo_folder, "identify", "--ask", typed="s\nq\n")
    assert done.exit_code == 1
    assert done.stderr.count("(y, n, what you see") == 2
    assert "Look next" not in done.stderr  # what was put off is not urged again


def test_what_nobody_knows_is_refused_with_what_there_is(demo_folder: Path) -> None:
    done = run(demo_folder, "identify", "--see", "colour=red")
    assert done.exit_code == 2
    assert "not-found" in done.stderr
    assert "boost_control" in done.stderr


def test_a_core_is_taken_in_measured_and_inspected_on_one_line(folder: Path) -> None:
    done = run(
        folder, "core", "add", "--tag", "HB-102", "--unit", "OV46-140", "--customer", "mill", "--author", "ina"
    )
    assert done.exit_code == 0, done.stderr
    assert "bearing bore worn oval" in done.stdout
    measured = run(
        folder, "core", "measure", "--tag", "HB-102", "--seat", "shaft-wheel", "--feature", "journal",
        "--value", "13.975", "--position", "turbine end", "--with", "micrometer 0-25", "--uncertainty", "0.004",
        "--author", "ina",
    )  # fmt: skip
    assert measured.exit_code == 0, measured.stderr
    text = run(folder, "core", "inspect", "--tag", "HB-102").stdout
    assert "too close to call" in " ".join(text.split())
    assert "lever micrometer" in " ".join(text.split())
    assert "micrometer 0-25" in run(folder, "core", "show", "--tag", "HB-102").stdout


def test_a_core_and_a_reading_are_asked_for_field_by_field(folder: Path) -> None:
    typed = "\n".join(["HB-103", "OT38-101", "", "boatyard", *[""] * 9]) + "\n"
    assert run(folder, "core", "add", "--author", "ina", typed=typed).exit_code == 0
    typed = "HB-103\nshaft-wheel\njournal\n10.984\nturbine end\nmicrometer 0-25\n\n"
    done = run(folder, "core", "measure", "--author", "ina", typed=typed)
    assert done.exit_code == 0, done.stderr
    shown = json.loads(run(folder, "core", "show", "--tag", "HB-103", "--json").stdout)
    assert shown["customer"] == "boatyard"
    assert [(r["value"], r["uncertainty"]) for r in shown["readings"]] == [("10.984 mm", "0.002 mm")]


def test_faults_of_a_reading_are_listed_and_end_with_their_exit_code(folder: Path) -> None:
    done = run(
        folder, "core", "measure", "--tag", "HB-010", "--seat", "shaft", "--feature", "journal", "--value", "x",
        "--author", "ina",
    )  # fmt: skip
    assert done.exit_code == 1
    assert "seat" in done.stdout
    assert "value" in done.stdout


def test_settle_says_what_each_outcome_means(demo_folder: Path) -> None:
    done = run(demo_folder, "core", "settle", "--unit", "QN48-25", "--engine", "BR6-F", "--as-of", "2026-11-20")
    assert done.exit_code == 1
    assert "61.9 mm" in done.stdout
    assert "settles it, whatever it shows" in " ".join(done.stdout.split())
    nothing = run(demo_folder, "core", "settle", "--tag", "HB-017")
    assert (nothing.exit_code, "bad-question" in nothing.stderr) == (2, True)


def test_learned_numbers_are_accepted_by_name(folder: Path) -> None:
    assert "feature:plate" in run(folder, "learn").stdout
    done = run(folder, "learn", "--accept", "feature:plate", "--author", "ina")
    assert done.exit_code == 0
    assert "feature:plate" not in done.stdout
    assert run(folder, "learn", "--accept", "feature:plate", "--author", "ina").exit_code == 2


# HTTP


def test_http_identifies_as_the_command_line_does(client: TestClient, folder: Path) -> None:
    seen = ["boost control=vanes", "downpipe=angled"]
    got = client.post("/v1/identify", json={"see": seen}).json()
    words = [w for text in seen for w in ("--see", text)]
    assert got == json.loads(run(folder, "identify", *words, "--json").stdout)


def test_http_takes_in_measures_and_inspects(client: TestClient) -> None:
    core = {"author": "ina", "tag": "HB-104", "unit": "OV46-140", "photos": ["a.jpg"]}
    assert client.post("/v1/cores", json=core).status_code == 201
    assert client.post("/v1/cores", json=core).json()["code"] == "conflict"
    reading = {"author": "ina", "seat": "shaft-wheel", "feature": "journal", "value": "13.99", "uncertainty": "0.002"}
    record = client.post("/v1/cores/HB-104/readings", json=reading).json()
    assert [r["value"] for r in record["readings"]] == ["13.99 mm"]
    found = {"author": "ina", "seat": "compressor-wheel", "state": "cracked"}
    assert client.post("/v1/cores/HB-104/found", json=found).status_code == 201
    decisions = {d["seat"]: d for d in client.get("/v1/cores/HB-104/inspection").json()["decisions"]}
    assert decisions["compressor-wheel"]["outcome"] == "scrap"
    assert decisions["compressor-wheel"]["final"] is True
    assert client.get("/v1/cores/HB-104").json()["photos"] == ["a.jpg"]


def test_http_refuses_a_faulty_reading_with_every_fault(client: TestClient) -> None:
    reading = {"author": "ina", "seat": "shaft", "feature": "journal", "value": "13.9 kg"}
    answer = client.post("/v1/cores/HB-010/readings", json=reading)
    assert (answer.status_code, answer.json()["code"]) == (422, "findings")
    assert "seat" in answer.json()["detail"]
    assert "value" in answer.json()["detail"]
    assert client.post("/v1/cores/HB-010/readings", json={**reading, "colour": "red"}).json()["code"] == "bad-request"
    assert client.get("/v1/cores/HB-999").status_code == 404


def test_http_settles_and_learns(client: TestClient) -> None:
    asked = {"unit": "QN48-25", "engine": "BR6-F", "as_of": "2026-11-20"}
    assert client.post("/v1/settle", json=asked).json()["always"] is True
    assert client.post("/v1/settle", json={"unit": "QN48-25"}).json()["code"] == "bad-question"
    names = [p["name"] for p in client.get("/v1/learn").json()["proposals"]]
    assert "feature:plate" in names
    after = client.post("/v1/learn/accepted", json={"author": "ina", "names": ["feature:plate"]}).json()
    assert "feature:plate" not in [p["name"] for p in after["proposals"]]
    assert client.post("/v1/learn/accepted", json={"author": "ina", "names": ["x"]}).status_code == 404
