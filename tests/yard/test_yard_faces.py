"""The yard at the counter: lists of jobs read, plans judged, promises written and seen, the same over HTTP."""

import json
import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
import typer
from fastapi import FastAPI
from fastapi.testclient import TestClient
from typer.testing import CliRunner
from writing_desk import caller, shop_app

from api import problems
from api.cli import yard as verbs
from api.current import Current
from api.http.crew import Inline
from api.routes import yard as routes
from api.work import answer
from demo_graph.data import workbook
from demo_graph.tours import DAY, publish_demo
from graph.desk import open_desk
from graph.desk.yard import Yard, release_rows, reservation_rows
from graph.errors import BadFile, BadQuestion, Conflict
from graph.index.store import Store
from graph.model.yard import ShelfQuestion
from graph.planning.saved import answer_of
from graph.publish import record

JOBS = workbook().parent / "jobs.csv"
SMALL = b"job,core,build,engine,due,customer\nA,HB-006,stock-101,BR5-A,,\nB,,stock-101,,2026-12-04,haulier\n"

app = typer.Typer(pretty_exceptions_enable=False)
app.add_typer(verbs.app, name="shelf")
app.command()(verbs.interchange)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store that is only read."""
    place = tmp_path_factory.mktemp("demo") / "store"
    publish_demo(place)
    return place


@pytest.fixture
def own(folder: Path, tmp_path: Path) -> Path:
    """A copy to write to."""
    shutil.copytree(folder, tmp_path / "store")
    return tmp_path / "store"


@pytest.fixture(scope="module")
def yard(folder: Path) -> Iterator[Yard]:
    desk = open_desk(folder)
    yield Yard(desk)
    desk.close()


def run(*words: str, code: int = 0) -> str:
    done = CliRunner().invoke(app, list(words))
    assert done.exit_code == code, done.output
    return done.stdout


@pytest.mark.slow
def test_the_demo_jobs_are_planned_and_each_plan_can_be_saved_and_judged(folder: Path, tmp_path: Path) -> None:
    said = run(
        "shelf",
        "plan",
        str(JOBS),
        "--as-of",
        DAY,
        "--store",
        str(folder),
        "--save",
        str(tmp_path / "plans"),
        "--json",
    )
    answer = json.loads(said)
    assert answer["proof"] == "proved cheapest" and len(answer["jobs"]) == 6 and not answer["left_out"]
    count, cost = answer["first_come"]
    assert (-len(answer["jobs"]), answer["cost"]) < (-count, cost)  # in turn, one job would take another's only core
    assert answer["cost"] >= sum(job["alone"] for job in answer["jobs"])
    assert all(job["answer"]["bundle"] is None for job in answer["jobs"])
    saved = sorted((tmp_path / "plans").iterdir())
    assert len(saved) == 6
    desk = open_desk(folder)
    for file, job in zip(saved, answer["jobs"], strict=True):
        assert desk.judge_here(file.read_bytes()).stands
        assert answer_of(file.read_bytes()).plans[0].cost == job["cost"]
    starts = [job["tag"] for job in answer["jobs"]]
    taken = [(p["tag"], p["seat"]) for job in answer["jobs"] for p in job["promises"] if p["seat"]]
    assert len(set(starts)) == 6 and len(set(taken)) == len(taken) and not set(starts) & {t for t, _ in taken}


@pytest.mark.slow
def test_promises_are_written_seen_held_and_released(own: Path, tmp_path: Path) -> None:
    jobs, other = tmp_path / "jobs.csv", tmp_path / "other.csv"
    jobs.write_bytes(SMALL)
    other.write_text("job,build\nC,stock-101\n")
    store = ("--store", str(own))
    at_first = json.loads(run("shelf", "promised", *store, "--json"))
    before = json.loads(run("shelf", "plan", str(other), "--as-of", DAY, *store, "--json"))
    run("shelf", "reserve", str(jobs), "--as-of", DAY, "--author", "tests", *store)
    promised = json.loads(run("shelf", "promised", *store, "--json"))
    tags = {p["tag"] for p in promised if p["tag"] and not p["seat"] and p["job"] in ("A", "B")}
    assert "HB-006" in tags and len(tags) == 2
    after = json.loads(run("shelf", "plan", str(other), "--as-of", DAY, *store, "--json"))
    assert after["jobs"][0]["tag"] not in tags
    assert before["jobs"][0]["tag"] in tags and before["cost"] <= after["cost"]
    again = run("shelf", "reserve", str(jobs), "--as-of", DAY, "--author", "tests", *store, "--json")
    assert json.loads(again)["promised"] == promised  # planned anew, the same things
    assert "HB-006" not in run("shelf", "release", "A", "--author", "tests", *store)
    run("shelf", "release", "B", "--author", "tests", *store)
    assert json.loads(run("shelf", "promised", *store, "--json")) == at_first
    assert json.loads(run("shelf", "plan", str(other), "--as-of", DAY, *store, "--json"))["cost"] == before["cost"]


def test_a_promise_that_rests_on_an_older_shelf_is_not_written(own: Path, yard: Yard) -> None:
    answer = yard.plan(ShelfQuestion(yard.jobs(SMALL), DAY))
    rows = reservation_rows(yard, answer, DAY)
    store = Store.open(own)
    since = yard.desk.snapshot.shelf
    record(store, rows[:1], author="tests", time="2026-11-20T09:00:00Z", unmoved_since=since)
    with pytest.raises(Conflict):
        record(store, rows[1:], author="tests", time="2026-11-20T09:00:01Z", unmoved_since=since)
    store.close()


def test_a_promise_says_who_and_until_and_lapses_on_the_day_after(own: Path, tmp_path: Path) -> None:
    store = ("--store", str(own))
    held = json.loads(
        run("shelf", "hold", "Z-1", "--core", "hb-022", "--until", "2099-11-30", "--author", "ina", *store, "--json")
    )
    (mine,) = [p for p in held if p["job"] == "Z-1"]
    assert (mine["tag"], mine["until"], mine["who"]) == ("HB-022", "2099-11-30", "ina")
    assert "core HB-022" in (told := run("shelf", "promised", *store)) and "by ina, until 2099-11-30" in told
    taken = CliRunner().invoke(app, ["shelf", "hold", "Z-2", "--core", "HB-022", *store])
    assert taken.exit_code == 2 and "promised to Z-1" in taken.output

    def jobs(day: str) -> set[str]:
        return {p["job"] for p in json.loads(run("shelf", "promised", "--as-of", day, *store, "--json"))}

    assert "Z-1" in jobs("2099-11-30") and "Z-1" not in jobs("2099-12-01")
    late = CliRunner().invoke(app, ["shelf", "hold", "Z-3", "--core", "HB-021", "--until", "2001-01-01", *store])
    assert late.exit_code == 2 and "is over" in late.output
    many = CliRunner().invoke(app, ["shelf", "hold", "Z-4", "--part", "46-20-262", "--quantity", "9", *store])
    assert many.exit_code == 2 and "not free" in many.output


def test_reservations_over_http_are_planned_promised_and_kept(own: Path) -> None:
    jobs = [{"job": "A", "core": "HB-006", "build": "stock-101", "engine": "BR5-A"}]
    asked = {"jobs": jobs, "as_of": DAY, "until": "2026-12-01", "author": "ina"}
    with caller(shop_app(own)) as client:
        done = client.post("/v1/shelf/reservations", json=asked)
        assert done.status_code == 201, done.text
        promised = done.json()["promised"]
        assert {(p["job"], p["until"], p["who"]) for p in promised} == {("A", "2026-12-01", "ina")}
        assert "HB-006" in {p["tag"] for p in promised}
        assert client.post("/v1/shelf/reservations", json={**asked, "until": "2026-01-01"}).status_code == 422
        again = client.post("/v1/shelf/reservations", json=asked)
        assert again.json()["promised"] == promised  # planned anew, the same things


def test_releasing_what_nobody_promised_is_a_clear_error(yard: Yard) -> None:
    with pytest.raises(BadQuestion, match="nothing is promised to Z"):
        release_rows(yard, ["Z"], DAY)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "column 'job' is missing"),
        (b"job,build,wheel\nA,stock-101,x\n", "column 'wheel' is not known"),
        (b"job,job,build\nA,A,stock-101\n", "twice"),
        (b"\xff\xfe\x00", "not UTF-8"),
        (b'job,build\n"A,stock-101\n', "no CSV"),
        (b"job,build\nA\0,stock-101\n", "NUL"),
        (b"job,build\n" + b"A,stock-101\n" * 61, "more than 60"),
    ],
)
def test_what_is_no_list_of_jobs_is_refused(yard: Yard, data: bytes, said: str) -> None:
    with pytest.raises(BadFile, match=said):
        yard.jobs(data)


def test_all_faults_of_a_list_are_named_with_row_and_column(yard: Yard) -> None:
    data = (
        b"job,core,build,engine,due,customer\n"
        b",HB-006,stock-101,BR5-A,,\n"
        b"B,HB-999,stock-101,BR5-A,,\n"
        b"\n"
        b"C,,no-such,BR5-A,tomorrow,\n"
        b"D,,stock-101,ZZ9,,x,y\n"
    )
    with pytest.raises(BadQuestion) as caught:
        yard.jobs(data, "jobs.csv")
    for said in (
        "row 2, job",
        "row 3, core",
        "row 5, build",
        "row 5, due",
        "row 6, engine",
        "row 6, after the last column",
    ):
        assert said in caught.value.message, said


@pytest.fixture
def client(folder: Path) -> Iterator[TestClient]:
    made = FastAPI()
    current = made.state.current = Current(folder)
    made.state.deep = Inline(partial(answer, current))
    problems.install(made)
    made.include_router(routes.router)
    with TestClient(made) as client:
        yield client


@pytest.mark.slow
def test_http_gives_the_same_shelf_and_the_same_interchange(client: TestClient, folder: Path, tmp_path: Path) -> None:
    jobs = [
        {"job": "A", "core": "HB-006", "build": "stock-101", "engine": "BR5-A"},
        {"job": "B", "build": "stock-101"},
    ]
    got = client.post("/v1/shelf/plans", json={"jobs": jobs, "as_of": DAY})
    assert got.status_code == 200, got.text
    (tmp_path / "jobs.csv").write_text("job,core,build,engine\nA,HB-006,stock-101,BR5-A\nB,,stock-101,\n")
    said = json.loads(
        run("shelf", "plan", str(tmp_path / "jobs.csv"), "--as-of", DAY, "--store", str(folder), "--json")
    )
    assert got.json()["cost"] == said["cost"] and got.json()["sentence"] == said["sentence"]
    rush = client.post("/v1/shelf/rush", json={"jobs": jobs, "as_of": DAY, "rush": "B"})
    assert rush.status_code == 200 and rush.json()["rush"] == "B"
    promised = json.loads(run("shelf", "promised", "--store", str(folder), "--json"))
    assert client.get("/v1/shelf/promises").json() == promised
    part = client.get("/v1/interchange", params={"part": "46-30-140"})
    assert part.json()["sentence"] in run("interchange", "46-30-140", "--store", str(folder)).replace("\n", " ")
    assert client.get("/v1/interchange/report").status_code == 200
    bad = client.post("/v1/shelf/plans", json={"jobs": [{"job": "A", "build": "none such"}]})
    assert bad.status_code == 404 and bad.json()["code"] == "not-found"


def test_a_report_with_a_refuted_assertion_ends_with_a_fault(folder: Path) -> None:
    said = run("interchange", "--report", "--store", str(folder), code=1)
    assert "Refuted" in said and "vane ring does not go" in said
    run("interchange", "--store", str(folder), code=2)


@pytest.mark.slow
def test_a_rush_job_says_what_it_displaces(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "jobs.csv").write_text("job,core,build\nA,,stock-101\nB,,stock-101\n")
    said = run("shelf", "plan", str(tmp_path / "jobs.csv"), "--rush", "B", "--as-of", DAY, "--store", str(folder))
    assert said.startswith("B can be done on core")
