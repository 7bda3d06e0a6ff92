"""Every command in docs/shop.md runs as it stands."""

import json
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
from sheet_cases import filled
from typer.testing import CliRunner

from api.cli.asking import plan
from api.cli.calculating import app as calculating
from api.cli.sheeting import sheet
from demo_graph.data import workbook
from graph.planning.saved import answer_of
from graph.routesheet import route_sheet

DEMO = workbook().parent
TEXT = (Path(__file__).parents[2] / "docs" / "shop.md").read_text(encoding="utf-8")
COMMANDS = [
    line
    for block in re.findall(r"```sh\n(.*?)```", TEXT, re.DOTALL)
    for line in block.splitlines()
    if line.startswith("spoolwright ")
]


@pytest.fixture(name="here")
def here_fixture(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    (tmp_path / "demo_graph").symlink_to(DEMO, target_is_directory=True)
    monkeypatch.chdir(tmp_path)
    yield tmp_path


def run(line: str, folder: Path) -> tuple[int, str]:
    _, verb, *words = shlex.split(line)
    if verb == "calc":
        app = calculating
    else:
        app = typer.Typer()
        app.command()({"plan": plan, "sheet": sheet}[verb])
        assert "--demo" in words
        words = [*(word for word in words if word != "--demo"), "--store", str(folder)]
    result = CliRunner().invoke(app, words)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


@pytest.mark.slow
def test_every_command_runs(here: Path, demo_folder: Path) -> None:
    assert len(COMMANDS) == 13
    for line in COMMANDS:
        if "--record" in line:
            made = route_sheet(answer_of((here / "plan.json").read_bytes()))
            (here / "record.json").write_text(json.dumps(filled(made)), encoding="utf-8")
        code, text = run(line, demo_folder)
        assert code == 0, f"{line}\n{text}"
    assert (here / "out.pdf").read_bytes().startswith(b"%PDF-")
    assert (here / "map.svg").stat().st_size > 1000


def test_the_demo_map_shows_a_point_that_surges() -> None:
    line = next(line for line in COMMANDS if " map " in line).replace(" --svg map.svg", "")
    _, _, *words = shlex.split(line.replace("demo_graph/", f"{DEMO}/"))
    text = CliRunner().invoke(calculating, words).output
    assert "1400 rev/min, 0 m: left of the surge line" in text
    assert re.search(r"2200 rev/min, 1600 m: surge margin +\d", text)
