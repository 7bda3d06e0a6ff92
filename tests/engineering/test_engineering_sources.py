"""docs/sources.md lists what the formulas cite."""

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import graph.engineering

PAGE = (Path(__file__).parents[2] / "docs" / "sources.md").read_text()
MODULES = [
    importlib.import_module(f"graph.engineering.{found.name}")
    for found in pkgutil.iter_modules(graph.engineering.__path__)
    if not found.name.startswith("_")
]
CITED = re.compile(
    r"\b(?:ISO \d+(?:-\d+)?|SAE J\d+|ASME B[\d.]+\d|ASME BPVC|NACA Report \d+|NASA/TP-\d+-\d+|NASA Glenn|ICAO Doc \d+"
    r"|NIST SP \d+|Shigley|Heywood|Dixon|Groover|Kalpakjian|Machinery's Handbook|Gorla|Roark|Nguyen-Schäfer|Narayana"
    r"|Nickel Institute|ASM Metals Handbook|US Standard Atmosphere 1976|SVG 1.1)"
)


def test_every_cited_work_is_on_the_page() -> None:
    cited = {found for module in MODULES for found in CITED.findall(inspect.getsource(module))}
    assert len(cited) >= 25
    assert sorted(work for work in cited if work not in PAGE) == []


def test_every_module_is_on_the_page() -> None:
    names = [module.__name__.rpartition(".")[2] for module in MODULES]
    assert [name for name in names if f"`{name}" not in PAGE] == []


def test_the_pages_table_says_seen_or_from_memory_for_each_source() -> None:
    rows = [line.split("|") for line in PAGE.splitlines() if line.startswith("| ")][2:]
    assert len(rows) >= 28
    for row in rows:
        seen, memory = row[2].strip(), row[3].strip()
        assert seen and memory and (seen, memory) != ("–", "–"), row[1]
