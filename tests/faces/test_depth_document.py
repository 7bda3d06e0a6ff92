"""Every command in docs/depth.md gives an answer."""

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from api.cli.main import app

TEXT = (Path(__file__).parents[2] / "docs" / "depth.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"`spoolwright ([^`…]+)`", TEXT)


def test_there_is_a_command_for_each_verb() -> None:
    assert {c.split()[0] for c in COMMANDS} == {"why", "unknown", "rank", "reach", "least", "weigh"}


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_answers(command: str, demo_folder: Path) -> None:
    words = command.replace("--demo", f"--store {demo_folder}").split()
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    assert "Read from catalogue" in done.stdout


def test_what_the_page_names_is_there() -> None:
    for name in re.findall(r"`(tests/[a-z_/]+\.py)`", TEXT):
        assert (Path(__file__).parents[2] / name).is_file(), name
