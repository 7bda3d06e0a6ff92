"""Hostile and broken files: each ends in a finding, quickly, and never in a wrong reading.

The kinds of attack are those that spreadsheet readers are known to fall for: zip bombs, entities, far cells, wrong
dimensions, odd encodings, broken quoting.
"""

import zipfile
from pathlib import Path

import pytest
import xlsxwriter

from graph.model.finding import Finding
from graph.model.statement import Statement
from graph.sources import read, workbook

HEADER = [["kind", "label"], ["wheel", "wheel"]]
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def plain_xlsx(path: Path) -> Path:
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("kinds")
        for r, row in enumerate(HEADER):
            for c, cell in enumerate(row):
                sheet.write_string(r, c, cell)
    return path


def with_member(path: Path, name: str, content: bytes) -> Path:
    """The workbook with one of its inner files replaced or added."""
    with zipfile.ZipFile(path) as old:
        members = {n: old.read(n) for n in old.namelist()}
    members[name] = content
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for n, data in members.items():
            new.writestr(n, data)
    return path


def sheet_xml(rows: str, before: str = "", dimension: str = "") -> bytes:
    head = f'<?xml version="1.0" encoding="UTF-8"?>{before}<worksheet xmlns="{MAIN}">{dimension}'
    return f"{head}<sheetData>{rows}</sheetData></worksheet>".encode()


def text_cell(place: str, text: str) -> str:
    return f'<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>'


GOOD_ROWS = (
    f'<row r="1">{text_cell("A1", "kind")}{text_cell("B1", "label")}</row>'
    f'<row r="2">{text_cell("A2", "wheel")}{text_cell("B2", "wheel")}</row>'
)
SHEET = "xl/worksheets/sheet1.xml"


def findings(path: Path, **more: object) -> list[Finding]:
    return [item for item in read(path, **more) if isinstance(item, Finding)]  # type: ignore[arg-type]


def statements(path: Path, **more: object) -> list[Statement]:
    return [item for item in read(path, **more) if isinstance(item, Statement)]  # type: ignore[arg-type]


def test_a_zip_bomb_is_refused_by_its_directory(tmp_path: Path) -> None:
    bomb = with_member(plain_xlsx(tmp_path / "a.xlsx"), SHEET, sheet_xml(GOOD_ROWS) + b" " * 60_000_000)
    (found,) = findings(bomb)
    assert (found.code, found.severity) == ("file-too-large", "error")


def test_more_inner_files_than_any_workbook_has_are_refused(tmp_path: Path) -> None:
    path = plain_xlsx(tmp_path / "a.xlsx")
    with zipfile.ZipFile(path, "a") as book:
        for n in range(workbook.MAX_MEMBERS + 1):
            book.writestr(f"x/{n}", b"")
    assert [f.code for f in findings(path)] == ["file-too-large"]


def test_a_workbook_that_lies_about_its_size_is_not_inflated_past_it(tmp_path: Path) -> None:
    path = with_member(plain_xlsx(tmp_path / "a.xlsx"), SHEET, sheet_xml(GOOD_ROWS) + b" " * 900_000)
    with zipfile.ZipFile(path) as book:
        size = book.getinfo(SHEET).file_size
    raw = path.read_bytes()
    assert raw.count(size.to_bytes(4, "little")) == 2  # the local header and the directory
    path.write_bytes(raw.replace(size.to_bytes(4, "little"), (300).to_bytes(4, "little")))
    assert [f.code for f in findings(path)] == ["file-unreadable"]


LAUGHS = "<!DOCTYPE l [" + "".join(
    f'<!ENTITY l{n} "{f"&l{n - 1};" * 10 if n else "ha"}">' for n in range(10)
) + "]>"  # fmt: skip


@pytest.mark.parametrize(
    "doctype",
    [LAUGHS, '<!DOCTYPE d [<!ENTITY x SYSTEM "file:///etc/passwd">]>', "<!DOCTYPE d>"],
    ids=["billion laughs", "external entity", "any document type"],
)
@pytest.mark.parametrize("member", [SHEET, "xl/workbook.xml", "xl/sharedStrings.xml"])
def test_document_types_and_entities_are_refused(tmp_path: Path, doctype: str, member: str) -> None:
    path = with_member(plain_xlsx(tmp_path / "a.xlsx"), member, sheet_xml(GOOD_ROWS, before=doctype))
    assert [f.code for f in findings(path)] == ["unsafe-xml"]


def test_one_cell_in_the_farthest_corner_is_refused(tmp_path: Path) -> None:
    far = f'<row r="1048576">{text_cell("XFD1048576", "x")}</row>'
    path = with_member(plain_xlsx(tmp_path / "a.xlsx"), SHEET, sheet_xml(GOOD_ROWS + far))
    (found,) = findings(path)
    assert (found.code, found.origin.sheet, found.origin.row) == ("sheet-too-large", "kinds", 1048576)


def test_a_wrong_dimension_hides_no_row(tmp_path: Path) -> None:
    xml = sheet_xml(GOOD_ROWS, dimension='<dimension ref="A1"/>')
    path = with_member(plain_xlsx(tmp_path / "a.xlsx"), SHEET, xml)
    assert [s.fields["kind"] for s in statements(path)] == ["wheel"]


def test_ten_million_cells_are_refused(tmp_path: Path) -> None:
    rows = "<row>" + "<c><v>1</v></c>" * 100 + "</row>"
    path = with_member(plain_xlsx(tmp_path / "a.xlsx"), SHEET, sheet_xml(rows * 100_000))
    assert [f.code for f in findings(path)] == ["file-too-large"]


def test_the_cap_on_cells_is_counted_not_believed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "MAX_CELLS", 3)
    (found,) = findings(plain_xlsx(tmp_path / "a.xlsx"))
    assert (found.code, found.origin.row) == ("sheet-too-large", 2)


def test_a_child_that_takes_too_long_is_killed(tmp_path: Path) -> None:
    assert [f.code for f in findings(plain_xlsx(tmp_path / "a.xlsx"), wall_seconds=0.001)] == ["parse-limit"]


@pytest.mark.parametrize("content", [b"", b"PK", b"kind,label\n", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(512)])
def test_what_is_no_workbook_is_said_to_be_none(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(content)
    assert [f.code for f in findings(path)] == ["file-unreadable"]


@pytest.mark.parametrize("name", ["a.xls", "a.pdf", "a", "missing.csv", "a.rdf"])
def test_other_files_are_not_read(tmp_path: Path, name: str) -> None:
    if "missing" not in name:
        (tmp_path / name).write_bytes(b"x")
    assert [f.code for f in findings(tmp_path / name)] == ["file-unreadable"]


def test_an_empty_folder_is_said_to_be_empty(tmp_path: Path) -> None:
    assert [f.code for f in findings(tmp_path)] == ["file-unreadable"]


def kinds_csv(folder: Path, content: bytes) -> Path:
    path = folder / "kinds.csv"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-32"])
def test_utf_16_is_never_read_as_something_else(tmp_path: Path, encoding: str) -> None:
    path = kinds_csv(tmp_path, "kind,label\nwheel,wheel\n".encode(encoding))
    assert [f.code for f in findings(path)] == ["encoding"]
    assert statements(path) == []


def test_another_encoding_is_asked_for_and_then_reads_right(tmp_path: Path) -> None:
    path = kinds_csv(tmp_path, "kind,label\nwheel,Gehäuse\n".encode("cp1252"))
    (found,) = findings(path)
    assert (found.code, found.severity) == ("encoding", "error")
    assert [s.fields["label"] for s in statements(path, encoding="cp1252")] == ["Gehäuse"]
    assert [f.code for f in findings(path, encoding="klingon")] == ["encoding"]


def test_a_byte_order_mark_is_no_part_of_the_header(tmp_path: Path) -> None:
    assert statements(kinds_csv(tmp_path, "\ufeffkind,label\nwheel,wheel\n".encode()))


def test_an_unterminated_quote_ends_the_reading_and_says_where(tmp_path: Path) -> None:
    rows = 'kind,label\nwheel,wheel\ncover,"cover\n' + "seal,seal\n" * 20_000
    path = kinds_csv(tmp_path, rows.encode())
    (found,) = findings(path)
    assert (found.code, found.origin.row) == ("csv-quote", 3)
    assert [s.fields["kind"] for s in statements(path)] == ["wheel"]


def test_a_huge_cell_is_refused(tmp_path: Path) -> None:
    path = kinds_csv(tmp_path, b"kind,label\nwheel," + b"x" * 40_000 + b"\ncover,cover\n")
    (found,) = findings(path)
    assert (found.code, found.origin.row) == ("cell-too-long", 2)
    assert [s.fields["kind"] for s in statements(path)] == ["cover"]


def test_a_line_without_end_is_refused(tmp_path: Path) -> None:
    path = kinds_csv(tmp_path, b"kind,label\nwheel," + b"x" * 5_000_000)
    assert [f.code for f in findings(path)] == ["csv-quote"]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_separator_is_found_by_counting(tmp_path: Path, separator: str) -> None:
    text = f'kind{separator}"label"\nwheel{separator}"a wheel{separator} large"\n'
    assert [s.fields["label"] for s in statements(kinds_csv(tmp_path, text.encode()))] == [
        f"a wheel{separator} large"
    ]


def test_more_columns_than_any_sheet_has_are_refused(tmp_path: Path) -> None:
    path = kinds_csv(tmp_path, b"kind,label" + b"," * 600 + b"\n")
    assert [f.code for f in findings(path)] == ["sheet-too-large"]


def test_a_sheet_of_nothing_is_remarked(tmp_path: Path) -> None:
    assert [(f.code, f.severity) for f in findings(kinds_csv(tmp_path, b"\n\n"))] == [("empty-sheet", "warning")]


def test_blank_rows_count_as_the_spreadsheet_counts_them(tmp_path: Path) -> None:
    path = kinds_csv(tmp_path, b"kind,label\n\n,\nwheel,\n")
    assert [(f.code, f.origin.row) for f in findings(path)] == [("missing-cell", 4)]
