"""Each wish of a customer at the command line: what the answer then does, read off the shop's own sheets."""

import csv
import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from api.cli.main import app
from demo_graph.data import workbook
from demo_graph.tours import DAY
from graph.model.statement import name_in

CORE, BUILD = "HB-017", "larger-wheels"


def sheet(name: str) -> list[dict[str, str]]:
    with (workbook() / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def bare(number: str) -> str:
    """A number without the dots, spaces and dashes in which sheets differ."""
    return "".join(c for c in number.casefold() if c.isalnum())


@cache
def asked(folder: Path, *wishes: str) -> dict[str, Any]:
    """The answer of `spoolwright plan` with these wishes; the checker has let it out."""
    words = ["plan", "--core", CORE, "--build", BUILD, "--as-of", DAY, "--store", str(folder), "--json"]
    done = CliRunner().invoke(app, [*words, *(w for wish in wishes for w in ("--wish", wish))])
    assert done.exit_code in (0, 1), done.output
    answer: dict[str, Any] = json.loads(done.stdout)["answer"]
    return answer


def seats(answer: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {c["seat"]: c for c in answer["plans"][0]["seats"]}


def dearer(answer: dict[str, Any], folder: Path) -> None:
    """A wish never makes it cheaper, and an answer names what was wished."""
    assert answer["plans"][0]["cost"] >= asked(folder)["plans"][0]["cost"]
    assert answer["question"]["wishes"]


@pytest.mark.slow
def test_only_stock_on_hand_takes_no_new_part_that_is_not_there(demo_folder: Path) -> None:
    """Witness: the stock sheet, added up by hand; `--wish "only stock"` is read as people type it."""
    there: dict[str, int] = {}
    for row in sheet("stock"):
        number = bare(f"{row['maker']} {row['number']}")
        there[number] = there.get(number, 0) + int(row["quantity"])
    answer = asked(demo_folder, "only stock")
    if not answer["plans"]:
        assert answer["verdict"] == "does not fit"
        return
    new = [c for c in answer["plans"][0]["seats"] if c["source"] == "new"]
    assert new
    assert all(there.get(bare(name_in(c["part"])), 0) >= c["quantity"] for c in new)
    dearer(answer, demo_folder)


@pytest.mark.slow
def test_no_used_wheels_are_all_new(demo_folder: Path) -> None:
    plain = seats(asked(demo_folder))
    wheels = ("compressor-wheel", "shaft-wheel")
    assert any(plain[seat]["source"] != "new" for seat in wheels)  # without the wish one is used
    answer = asked(demo_folder, *(f"no-used:{seat}" for seat in wheels))
    assert {seats(answer)[seat]["source"] for seat in wheels} == {"new"}
    dearer(answer, demo_folder)


@pytest.mark.slow
def test_keep_my_housing_keeps_the_very_part(demo_folder: Path) -> None:
    answer = asked(demo_folder, "Keep: turbine housing")
    assert seats(answer)["turbine-housing"]["source"] == "kept"
    dearer(answer, demo_folder)


@pytest.mark.slow
def test_work_that_is_not_wanted_is_not_done(demo_folder: Path) -> None:
    """As "no welding" is said: the operation by its name. The plain plan has it, so that the wish does something."""
    unwanted = "bore-turbine-contour"
    plain = asked(demo_folder)
    assert unwanted in {s["operation"] for s in plain["plans"][0]["steps"]}
    answer = asked(demo_folder, f"no-operation:{unwanted}")
    if not answer["plans"]:
        assert answer["verdict"] == "does not fit"
        return
    assert unwanted not in {s["operation"] for s in answer["plans"][0]["steps"]}
    dearer(answer, demo_folder)


@pytest.mark.slow
def test_no_welding_takes_another_housing(demo_folder: Path) -> None:
    """The plain plan welds a flange onto the core's own; with the wish it costs more, and nothing is welded."""
    words = ["plan", "--core", "HB-002", "--build", "stock-101", "--as-of", DAY, "--json"]
    answers = []
    for wish in ([], ["--wish", "no-operation:weld-outlet-flange-76"]):
        done = CliRunner().invoke(app, [*words, *wish, "--store", str(demo_folder)])
        assert done.exit_code == 0, done.output
        answers.append(json.loads(done.stdout)["answer"])
    plain, wished = (answer["plans"][0] for answer in answers)
    assert [s["operation"] for s in plain["steps"] if "weld" in s["operation"]] == ["weld-outlet-flange-76"]
    assert not [s for s in wished["steps"] if "weld" in s["operation"]]
    assert wished["cost"] > plain["cost"]


@pytest.mark.slow
def test_no_machining_at_all_leaves_no_cut(demo_folder: Path) -> None:
    answer = asked(demo_folder, "no-machining")
    for plan in answer["plans"]:
        assert not [s for s in plan["steps"] if s["seat"] and s["feature"]]
