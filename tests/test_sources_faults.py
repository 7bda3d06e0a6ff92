"""Planted faults: reading names every one of them, at its place, and nothing else."""

import re
from pathlib import Path
from random import Random

import pytest
from faults import FAULTS, Planted, plant
from small_workbook import Workbook, small_workbook, write_csv, write_xlsx

import graph.sources
from graph.model.finding import Finding
from graph.model.statement import Statement
from graph.sources import read
from graph.sources.codes import CELL_FAULTS, GRAPH_FAULTS, ROW_FAULTS, TABLE

ROOT = Path(__file__).parent.parent


def found_in(book: Workbook, where: Path, kind: str) -> tuple[list[Planted], list[Statement]]:
    path = write_csv(book, where / "book") if kind == "csv" else write_xlsx(book, where / "book.xlsx")
    items = list(read(path))
    found = [Planted(f.code, f.origin.sheet, f.origin.row, f.origin.column) for f in items if isinstance(f, Finding)]
    return sorted(found), [s for s in items if isinstance(s, Statement)]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_clean_workbook_has_no_fault(tmp_path: Path, kind: str) -> None:
    book = small_workbook()
    found, statements = found_in(book, tmp_path, kind)
    assert found == []
    rows = sum(len(rows) - 1 for rows in book.values())
    # Two bores in two parts and two inlet codes stand in wide columns; the bore in mm and inch is one claim.
    assert len(statements) == rows + 4


@pytest.mark.parametrize("name", sorted(FAULTS))
def test_every_kind_of_fault_is_named_alone(name: str, tmp_path: Path) -> None:
    book, planted = plant(small_workbook(), [name], Random(7))
    found, _ = found_in(book, tmp_path, FAULTS[name].only or "csv")
    assert found == planted


@pytest.mark.parametrize("seed", range(60))
def test_any_mix_of_faults_is_named_in_one_run(seed: int, tmp_path: Path) -> None:
    random = Random(seed)
    kind = "xlsx" if seed % 20 == 0 else "csv"
    possible = sorted(name for name, fault in FAULTS.items() if fault.only in ("", kind))
    names = random.sample(possible, random.randint(2, len(possible)))
    book, planted = plant(small_workbook(), names, random)
    found, _ = found_in(book, tmp_path, kind)
    assert found == planted


def test_all_faults_at_once_are_named_and_no_faulty_row_becomes_a_statement(tmp_path: Path) -> None:
    names = [name for name, fault in FAULTS.items() if fault.only in ("", "csv")]
    book, planted = plant(small_workbook(), names, Random(1))
    found, statements = found_in(book, tmp_path, "csv")
    assert found == planted
    only_the_whole_shows = {"kind-cycle", "supersession-cycle", "kit-cycle", "operation-needs-cycle",
                            "operation-order-cycle",
                            "operation-excludes-needed", "unit-lacks-seat"}  # fmt: skip
    faulty = {(p.sheet, p.row) for p in planted if TABLE[p.code].severity == "error" and p.row > 1
              and p.code not in only_the_whole_shows | {"inch-disagrees", "negative-size"}}  # fmt: skip
    assert not {(s.origin.sheet, s.origin.row) for s in statements if s.origin} & faulty


def test_at_least_forty_five_kinds_can_be_planted_and_every_kind_of_row_fault_is() -> None:
    planted = {p.code for name in FAULTS for p in plant(small_workbook(), [name], Random(3))[1]}
    assert len(planted) >= 45
    assert {kind.code for kind in (*CELL_FAULTS, *ROW_FAULTS, *GRAPH_FAULTS)} <= planted


def test_every_code_in_the_program_stands_in_the_table() -> None:
    source = "\n".join(p.read_text() for p in Path(graph.sources.__file__).parent.glob("*.py"))
    used = set(re.findall(r'(?:finding|Fault|report|Stopped)\(\s*"([a-z-]+)"', source))
    assert used <= set(TABLE)


def test_the_document_lists_every_code_with_its_severity() -> None:
    text = (ROOT / "docs" / "findings.md").read_text()
    listed = re.findall(r"^\| `([a-z-]+)` \| (error|warning|notice) \| (.+?) \| (.+?) \|$", text, re.MULTILINE)
    assert {(code, severity) for code, severity, _, _ in listed} == {(k.code, k.severity) for k in TABLE.values()}
    assert len(listed) == len(TABLE)


def test_every_finding_says_what_why_and_how_to_mend(tmp_path: Path) -> None:
    names = [name for name, fault in FAULTS.items() if fault.only in ("", "csv")]
    book, _ = plant(small_workbook(), names, Random(2))
    for item in read(write_csv(book, tmp_path / "book")):
        if isinstance(item, Finding):
            assert item.why and item.mend and "{" not in item.why + item.mend, item
