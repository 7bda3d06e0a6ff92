"""`spoolwright check` on a workbook with every kind of fault in it: all named in one run, and nothing else."""

import json
from pathlib import Path

import pytest
from faults import Planted
from plant_faults import planted
from typer.testing import CliRunner

from api.cli.main import app


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@pytest.mark.parametrize("seed", [3, 11, 2026])
def test_check_names_every_planted_fault_and_nothing_else(kind: str, seed: int, tmp_path: Path) -> None:
    where, faults = planted(seed, tmp_path, kind)
    assert len({one.code for one in faults}) >= 40
    run = CliRunner().invoke(app, ["check", str(where), "--json", "--store", str(tmp_path / "none")])
    assert run.exit_code == 1
    told = [
        Planted(f["code"], f["origin"]["sheet"], f["origin"]["row"], f["origin"]["column"])
        for f in json.loads(run.stdout)["findings"]
    ]
    assert sorted(told) == sorted(faults)
    assert not (tmp_path / "none").exists()


def test_the_same_faults_stand_in_the_way_of_publishing(tmp_path: Path) -> None:
    where, faults = planted(5, tmp_path)
    run = CliRunner().invoke(app, ["publish", str(where), "--json", "--store", str(tmp_path / "store")])
    assert run.exit_code == 1
    report = json.loads(run.stdout)
    assert len(report["findings"]) == len(faults)
    history = CliRunner().invoke(app, ["history", "--json", "--store", str(tmp_path / "store")])
    assert json.loads(history.stdout) == []
