"""Every tour runs, in words and as JSON, on the demo shop; the answers it shows are those that are told of it."""

import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from api.cli.demo import STORELESS
from api.cli.main import app
from demo_graph.tours import TOURS

COUNTER = ("why", "unknown", "rank", "reach", "shelf", "interchange")
KEY = re.compile(r"\b(?:part|core|unit|engine|build)/\S+")
"""A key as the records hold it; nobody at the counter is to read one."""


def walk(tour: str, folder: Path, *more: str) -> list[Result]:
    """The tour's commands, one after the other, on the demo shop that all tests share."""
    done = []
    for command in TOURS[tour].commands:
        store = () if command[0] in STORELESS else ("--store", str(folder))
        done.append(CliRunner().invoke(app, [*command, *store, *more]))
    return done


@pytest.mark.slow
@pytest.mark.parametrize("tour", TOURS)
def test_every_tour_runs_in_words_and_as_json(
    tour: str, demo_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for words, data in zip(walk(tour, demo_folder), walk(tour, demo_folder, "--json"), strict=True):
        assert words.exit_code == data.exit_code < 2, words.output + data.output
        assert words.stdout.strip()
        json.loads(data.stdout)
        if tour in COUNTER:
            assert not KEY.search(words.stdout), KEY.search(words.stdout)


@pytest.mark.slow
def test_the_tour_of_why_names_the_clash_and_priced_ways_and_verify_confirms_it(
    demo_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand, HB-031: no further than 65.57 mm by the wall at 6 o'clock; the 67 wheel needs 67.76 mm."""
    monkeypatch.chdir(tmp_path)
    asked, judged = walk("why", demo_folder, "--json")
    answer = json.loads(asked.stdout)["answer"]
    members = answer["clash"]["members"]
    assert [m["kind"] for m in members] == ["demand", "demand", "rule"]
    assert all(m["without"] for m in members)
    assert "65.57 mm" in asked.stdout and "5.4 mm" in asked.stdout
    costs = [way["answer"]["plans"][0]["cost"] for way in answer["ways"]]
    assert len(costs) >= 2 and costs == sorted(costs)
    verdict = json.loads(judged.stdout)
    assert not verdict["refusals"] and "a minimal clash of 3" in verdict["sentence"]
