"""The README's commands run as they stand, in the README's order, in an empty folder."""

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from demo_graph.data import workbook
from demo_graph.tours import publish_demo

README = Path(__file__).parents[2] / "README.md"


def commands(text: str) -> list[str]:
    """The lines of console blocks that start with `$ spoolwright`."""
    blocks = re.findall(r"```console\n(.*?)```", text, flags=re.S)
    return [line[2:] for block in blocks for line in block.splitlines() if line.startswith("$ spoolwright ")]


def run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    words = shlex.split(command)
    assert words[0] == "spoolwright"
    return subprocess.run(
        [sys.executable, "-m", "api.cli", *words[1:]],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "COLUMNS": "100"},
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty folder with the demo workbook where the README says it is, and the demo shop published."""
    made = tmp_path_factory.mktemp("readme")
    (made / "demo_graph").mkdir()
    (made / "demo_graph" / "workbook").symlink_to(workbook())
    publish_demo(made / "var" / "demo")
    return made


@pytest.mark.slow
def test_every_command_of_the_readme_runs_and_the_first_answers_as_printed(folder: Path) -> None:
    text = README.read_text()
    listed = commands(text)
    assert len(listed) >= 12
    for number, command in enumerate(listed):
        done = run(command, folder)
        # a unit that does not fit, or is not known yet, is an answer too, told by exit code 1
        expected = (0, 1) if re.search(r" (fits|identify) ", command) else (0,)
        assert done.returncode in expected, f"{command}\n{done.stdout}\n{done.stderr}"
        if number == 0:
            shown = re.search(r"```console\n\$ spoolwright plan --demo.*?\n(.*?)```", text, flags=re.S)
            assert shown is not None
            printed = [line for line in shown.group(1).splitlines() if line.strip() and line.strip() != "…"]
            assert len(printed) > 10
            answered = iter(done.stdout.splitlines())
            for line in printed:
                assert line in answered, f"the README prints a line that the program does not: {line!r}"


def test_the_readme_opens_with_the_job_and_names_both_commands() -> None:
    text = README.read_text()
    assert text.index("worn diesel turbochargers") < text.index("make serve") < text.index("make test")
    assert "make serve" in text
    assert "make test" in text


def test_every_document_that_is_pointed_to_is_there() -> None:
    top = README.parent
    missing = []
    for document in [README, top / "DEVELOPERS.md", *sorted((top / "docs").glob("*.md"))]:
        for name in re.findall(
            r"`((?:docs|benchmarks|demo_graph|graph|tests|ontology)/[\w./-]+\.\w+)`", document.read_text()
        ):
            if not (top / name).exists():
                missing.append(f"{document.name}: {name}")
    if not (top / "graph").exists():  # the wheel is under test, without the sources beside it
        missing = [m for m in missing if not re.search(r": (graph|ontology|demo_graph|benchmarks)/", m)]
    assert missing == []
