"""The command line: exit codes, JSON, trouble in words, and a saved answer's way from plan to pick list."""

import json
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

DAY = "2026-11-20"
PLAN = ("plan", "--core", "HB-017", "--build", "larger-wheels", "--engine", "BR6-C", "--as-of", DAY)


def run(*words: str, cwd: Path, data: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "api.cli", *words], cwd=cwd, capture_output=True, check=False, input=data
    )


@pytest.fixture(scope="module")
def answer(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A saved answer of the demo's first question."""
    done = run(*PLAN, "--best", "2", "--json", "--store", str(demo_folder), cwd=tmp_path_factory.mktemp("plan"))
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_plan_tour_is_confirmed_by_verify(tmp_path: Path) -> None:
    planned = run("demo", "plan", "--json", cwd=tmp_path)
    assert planned.returncode == 0, planned.stderr
    judged = run("verify", "-", "--json", cwd=tmp_path, data=planned.stdout)
    assert judged.returncode == 0, judged.stdout
    # no store lies in this folder: the demo shop itself is the store it is held against
    assert json.loads(judged.stdout)["against"] == "store"


def test_verify_refuses_an_altered_price(answer: bytes, demo_folder: Path, tmp_path: Path) -> None:
    saved = json.loads(answer)
    saved["answer"]["plans"][0]["cost"] -= 100
    judged = run("verify", "-", "--store", str(demo_folder), cwd=tmp_path, data=json.dumps(saved).encode())
    assert judged.returncode == 1
    assert b"digest" in judged.stdout


def test_a_pick_list_is_written_in_every_form(answer: bytes, demo_folder: Path, tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_bytes(answer)
    store = ("--store", str(demo_folder), "--as-of", DAY)
    text = run("pick", "plan.json", *store, cwd=tmp_path)
    rows = run("pick", "plan.json:2", "--csv", *store, cwd=tmp_path)
    data = run("pick", "plan.json", "--json", *store, cwd=tmp_path)
    book = run("pick", "plan.json", "--xlsx", "pick.xlsx", *store, cwd=tmp_path)
    assert [done.returncode for done in (text, rows, data, book)] == [0, 0, 0, 0]
    assert b"Pick list: HB-017 into larger-wheels" in text.stdout
    assert rows.stdout.decode().splitlines()[0].startswith("section,side,maker,number")
    lines = json.loads(data.stdout)["lines"]
    sheet = openpyxl.load_workbook(tmp_path / "pick.xlsx")["pick list"]
    numbers = [row[3].value for row in sheet.iter_rows(min_row=2, max_row=1 + len(lines))]
    assert numbers == [line["number"] for line in lines]


def test_a_plan_that_there_is_not_is_an_error_with_a_way_out(
    answer: bytes, demo_folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "plan.json").write_bytes(answer)
    done = run("pick", "plan.json:7", "--store", str(demo_folder), "--json", cwd=tmp_path)
    assert done.returncode == 2
    assert json.loads(done.stdout)["error"]["code"] == "bad-question"


def test_without_a_store_the_next_step_is_said(tmp_path: Path) -> None:
    done = run("show", "HB-017", "--store", "shop", cwd=tmp_path)
    assert done.returncode == 2
    assert b"publish a workbook" in done.stderr


def test_a_faulty_folder_is_named_fault_by_fault_and_not_published(tmp_path: Path) -> None:
    from demo_graph.tours import FAULTY

    checked = run("check", str(FAULTY), "--json", cwd=tmp_path)
    published = run("publish", str(FAULTY), "--store", "shop", "--author", "x", cwd=tmp_path)
    errors = [f for f in json.loads(checked.stdout)["findings"] if f["severity"] == "error"]
    assert checked.returncode == published.returncode == 1
    assert len(errors) >= 10
    assert all(f["why"] and f["mend"] and f["origin"]["row"] for f in errors)
    assert b"Nothing was published" in published.stdout


def test_fits_tells_its_verdict_by_the_exit_code(demo_folder: Path, tmp_path: Path) -> None:
    store = ("--store", str(demo_folder), "--as-of", DAY)
    no = run("fits", "--unit", "OV46-220", "--engine", "BR6-C", *store, cwd=tmp_path)
    yes = run("fits", "--unit", "Ostrel OV46-140", "--engine", "brackmoor br6-c", *store, cwd=tmp_path)
    assert (no.returncode, yes.returncode) == (1, 0)
    assert b"does not fit" in no.stdout


def test_an_export_reads_back_to_the_same_rows(demo_folder: Path, tmp_path: Path) -> None:
    for name, form in (("all.ttl", "ttl"), ("all.xlsx", "xlsx")):
        written = run("export", name, "--as", form, "--store", str(demo_folder), cwd=tmp_path)
        assert written.returncode == 0, written.stderr
        done = run("publish", name, "--store", form, "--author", "x", "--json", cwd=tmp_path)
        assert done.returncode == 0, done.stdout[-2000:]
        ours = run("history", "--json", "--store", str(demo_folder), cwd=tmp_path)
        theirs = json.loads(done.stdout)
        assert theirs["change_set"]["state"] == json.loads(ours.stdout)[0]["state"]


def test_without_a_store_questions_go_to_the_demo_and_writes_never(tmp_path: Path) -> None:
    asked = run("show", "HB-017", cwd=tmp_path)
    assert asked.returncode == 0, asked.stderr
    assert b"this is the demo shop" in asked.stderr
    assert (tmp_path / "var" / "demo").is_dir()
    wrote = run("core", "add", "--tag", "X-1", "--received", "2026-11-20", cwd=tmp_path)
    assert wrote.returncode != 0
    assert not (tmp_path / "var" / "store").exists()
    sheet = tmp_path / "sources.csv"
    sheet.write_text("source,kind,title\nOwn notes,shop,What we found\n")
    published = run("publish", str(sheet), cwd=tmp_path)
    assert published.returncode == 0, published.stdout
    assert len((tmp_path / "var" / "store" / "head").read_text().split()) == 2
    demo = run("history", "--demo", "--json", cwd=tmp_path)
    assert len(json.loads(demo.stdout)) == 1
