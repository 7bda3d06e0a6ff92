"""Written workbooks and CSV folders read back as the same statements, whatever text stands in them."""

import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from small_workbook import small_workbook, write_csv

from graph.model.finding import Finding
from graph.model.sheet import RANK_CHOICE
from graph.model.statement import Evidence, Statement
from graph.model.value import spelled_code
from graph.sources import KnownStatements, read, write_folder, write_workbook
from graph.sources.gaps import says_nothing
from ontology.quantities import read_measure


def stored() -> list[Statement]:
    with tempfile.TemporaryDirectory() as folder:
        return [s for s in read(write_csv(small_workbook(), Path(folder))) if isinstance(s, Statement)]


STORED = stored()
AWKWARD = [
    "=1+1", "+cmd", "-5", "@x", "'=1", "''", "'", "a\nb", "a|b", 'say "so"', "#ref", "_x000D_", "1E5", "1/16", "; ,",
]  # fmt: skip
PRINTABLE = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=12)
PROSE = PRINTABLE | st.sampled_from(AWKWARD)
NUMBERS = st.sampled_from(["52.4", "52,4", "2 1/16", "-3", ".5", "0", "7/8", "1e2"])
UNITS = st.sampled_from(["mm", "in", "µm"])


@st.composite
def values(draw: st.DrawFn) -> Statement:
    text = draw(NUMBERS.filter(lambda t: not t.startswith("-")))
    column, own = draw(UNITS), draw(UNITS)
    fields: dict[str, Any] = {"maker": "Ostrel", "number": "OS-100-2", "feature": "bore"}
    if draw(st.booleans()):
        fields["unit"] = column
        own = draw(st.sampled_from([column, own]))
    reading = read_measure(text, "length", own)
    fields["value"] = {"amount": reading.amount, "quantity": "length", "text": text, "unit": own}
    return Statement("values", fields, draw(evidence()))


@st.composite
def codes(draw: st.DrawFn) -> Statement:
    plain = PROSE.filter(lambda t: spelled_code(t) and not {"\n", "|"} & set(t))
    text = draw(plain.filter(lambda t: not says_nothing(spelled_code(t))))
    fields = {"maker": "Brackmoor", "engine": "B5", "feature": "inlet"}
    return Statement(
        "engine_values", {**fields, "value": {"code": spelled_code(text), "text": text}}, draw(evidence())
    )


@st.composite
def evidence(draw: st.DrawFn) -> Evidence:
    return Evidence(
        draw(st.sampled_from(["", "cover drawing", "bench book"])),
        draw(st.sampled_from(["", *RANK_CHOICE])),
        draw(st.sampled_from(["", "2026", "2026-02", "2026-02-28"])),
        draw(st.just("") | PROSE),
    )


@st.composite
def weaknesses(draw: st.DrawFn) -> Statement:
    fields: dict[str, Any] = {"maker": "Ostrel", "unit_or_part": "OT-1", "text": draw(PROSE)}
    if draw(st.booleans()):
        fields["seen"] = draw(st.integers(0, 99))
    return Statement("weaknesses", fields, draw(evidence()))


@st.composite
def rows(draw: st.DrawFn) -> Statement:
    name = draw(st.from_regex(r"[A-Z][a-z]{1,8} [0-9]{1,3}", fullmatch=True))
    minor = draw(st.integers(0, 10**7))
    money = {"minor": minor, "text": f"{minor // 100}.{minor % 100:02d}"}
    pair = {"maker": "Ostrel", "old": "OS-100-1", "new": "OS-100-3"}
    return draw(
        st.sampled_from(
            [
                Statement("rates", {"name": name, "per_hour": money, "currency": "EUR"}),
                Statement("kinds", {"kind": name, "label": draw(PROSE), "one_time": draw(st.booleans())}),
                Statement("joints", {"layout": "plain", "joint": name, "seats": ["wheel_seat", "seal_seat"]}),
                Statement("supersession", {**pair, "condition": draw(PROSE)}),
            ]
        )
    )


def visible(text: str) -> bool:
    """Mixed alphabets and hidden characters are refused in names and codes, which is another test's matter."""
    return all(c.isascii() or not c.isalpha() for c in text)


def once(statements: list[Statement]) -> list[Statement]:
    """Two rows of one key in one file are a finding, so each key (of claims each content) is written once."""
    ranked = ("values", "engine_values", "weaknesses")
    kept = {(s.sheet, s.id if s.sheet in ranked else s.key): s for s in statements}.values()
    return [s for s in kept if s.sheet != "engine_values" or visible(s.fields["value"]["text"])]


def assert_reads_back(path: Path, statements: list[Statement]) -> None:
    items = list(read(path, KnownStatements(STORED)))
    assert [i for i in items if isinstance(i, Finding) and i.severity == "error"] == []
    assert {s.id: s for s in items if isinstance(s, Statement)} == {s.id: s for s in statements}


ROWS = values() | codes() | weaknesses() | rows()
SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]


@settings(max_examples=60, deadline=None, suppress_health_check=SLOW)
@given(st.lists(ROWS, min_size=1, max_size=12).map(once).filter(bool))
def test_a_written_csv_folder_reads_back_the_same(statements: list[Statement]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        write_folder(statements, Path(folder))
        assert_reads_back(Path(folder), statements)


# Each reading starts a child process, so there are few examples of many rows, and none is shrunk.
@pytest.mark.slow
@settings(max_examples=4, deadline=None, suppress_health_check=SLOW, phases=[Phase.generate])
@given(st.lists(ROWS, min_size=40, max_size=60).map(once).filter(bool))
def test_a_written_workbook_reads_back_the_same(statements: list[Statement]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        write_workbook(statements, Path(folder) / "book.xlsx")
        assert_reads_back(Path(folder) / "book.xlsx", statements)


def test_text_that_looks_like_an_escape_of_the_file_format_survives(tmp_path: Path) -> None:
    row = Statement("weaknesses", {"maker": "Ostrel", "unit_or_part": "OT-1", "text": "_x000D_ and _x005F_"})
    write_workbook([row], tmp_path / "book.xlsx")
    assert_reads_back(tmp_path / "book.xlsx", [row])


def test_the_whole_small_workbook_comes_back_from_xlsx(tmp_path: Path) -> None:
    write_workbook(STORED, tmp_path / "book.xlsx")
    items = list(read(tmp_path / "book.xlsx"))
    assert sorted(i.id for i in items if isinstance(i, Statement)) == sorted(s.id for s in STORED)


def test_no_cell_of_a_written_csv_is_computed(tmp_path: Path) -> None:
    nasty = ["=1+1", "+1", "-1", "@SUM(A1)", "'=1"]
    notes = [Statement("weaknesses", {"unit_or_part": "OT-1", "text": text}) for text in nasty]
    (file,) = write_folder(notes, tmp_path)
    cells = [line.split(",")[2] for line in file.read_text().splitlines()[1:]]
    assert all(cell.startswith("'") for cell in cells)


def test_no_statements_still_make_a_workbook(tmp_path: Path) -> None:
    write_workbook([], tmp_path / "book.xlsx")
    assert [i.severity for i in read(tmp_path / "book.xlsx") if isinstance(i, Finding)] == ["warning"]
