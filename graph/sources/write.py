"""Statements written as a workbook or a folder of CSV files; reading those back gives the same statements."""

import csv
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Final

import xlsxwriter

from graph.model.sheet import BY_NAME, EVIDENCE, Column, Sheet
from graph.model.statement import Statement
from graph.sources.cells import ESCAPED
from graph.sources.rows import unit_column
from ontology.quantities import shown

COMPUTED: Final = ("=", "+", "-", "@", "\t", "\r")
"""How a cell begins that a spreadsheet program would compute when it opens a CSV file."""

Cells = list[tuple[str, bool]]
"""Texts, each with whether it is a number."""


def columns_of(sheet: Sheet) -> tuple[Column, ...]:
    """The columns as written: the sheet's own, then the evidence columns that it does not have itself."""
    return (*sheet.columns, *(column for column in EVIDENCE if sheet.column(column.name) is None))


def write_folder(statements: Iterable[Statement], folder: Path) -> list[Path]:
    """One CSV file a sheet (UTF-8, comma) in the folder; the files written, in the order of their sheets."""
    folder.mkdir(parents=True, exist_ok=True)
    writers: dict[str, Any] = {}
    with ExitStack() as files:
        for statement in statements:
            name = statement.sheet
            if name not in writers:
                file = files.enter_context((folder / f"{name}.csv").open("w", encoding="utf-8", newline=""))
                writers[name] = csv.writer(file, lineterminator="\n")
                writers[name].writerow([column.name for column in columns_of(BY_NAME[name])])
            writers[name].writerow([text if number else escaped(text) for text, number in cells_of(statement)])
    return [folder / f"{name}.csv" for name in BY_NAME if name in writers]


def write_workbook(statements: Iterable[Statement], path: Path) -> None:
    """One XLSX file, a sheet for each kind of statement, every cell a text."""
    options = {
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "constant_memory": True,
    }
    with xlsxwriter.Workbook(str(path), options) as book:
        bold = book.add_format({"bold": True})
        as_text = book.add_format({"num_format": "@"})
        sheets: dict[str, tuple[Any, int]] = {}
        for statement in statements:
            if statement.sheet not in sheets:
                sheets[statement.sheet] = (_new_sheet(book, statement.sheet, bold), 1)
            sheet, row = sheets[statement.sheet]
            for place, (text, _) in enumerate(cells_of(statement)):
                if text:
                    sheet.write_string(row, place, text, as_text)
            sheets[statement.sheet] = (sheet, row + 1)
        if not sheets:
            book.add_worksheet("parts")


def _new_sheet(book: Any, name: str, bold: Any) -> Any:
    sheet = book.add_worksheet(name)
    columns = columns_of(BY_NAME[name])
    sheet.freeze_panes(1, 0)
    sheet.set_column(0, len(columns) - 1, 18)
    for place, column in enumerate(columns):
        sheet.write_string(0, place, column.name, bold)
    return sheet


def escaped(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet program would compute it.

    >>> escaped("=1+1"), escaped("OS-100")
    ("'=1+1", 'OS-100')
    """
    return "'" + text if text.startswith(COMPUTED) or ESCAPED.match(text) else text


def cells_of(statement: Statement) -> Cells:
    """The row of a statement, in the order of `columns_of`."""
    sheet = BY_NAME[statement.sheet]
    unit = str(statement.fields.get(unit_column(sheet), ""))
    said = {
        "source": statement.evidence.source,
        "rank": statement.evidence.rank,
        "date": statement.evidence.date,
        "note": statement.evidence.note,
    }
    cells = [_cell(statement.fields.get(column.name), column, unit) for column in sheet.columns]
    return cells + [(said[column.name], False) for column in columns_of(sheet)[len(cells) :]]


def _cell(value: Any, column: Column, unit: str) -> tuple[str, bool]:
    if value is None:
        return "", False
    if isinstance(value, bool):
        return ("yes" if value else "no"), False
    if isinstance(value, int):
        return str(value), True
    if isinstance(value, str):
        return value, False
    if isinstance(value, list):
        return "|".join(value), False
    return _WRITERS[next(name for name in _WRITERS if name in value)](value, column, unit)


def _amount(value: dict[str, Any], column: Column, unit: str) -> tuple[str, bool]:
    expected = column.of[1] if column.type == "amount" else unit
    if not value["text"]:
        return shown(value["amount"], value["quantity"], value["unit"] or None), True
    if value["unit"] == expected or not value["unit"]:
        return value["text"], True
    return f"{value['text']} {value['unit']}", True


def _money(value: dict[str, Any], column: Column, unit: str) -> tuple[str, bool]:
    return value["text"], True


def _code(value: dict[str, Any], column: Column, unit: str) -> tuple[str, bool]:
    return value["text"] or value["code"], False


def _codes(value: dict[str, Any], column: Column, unit: str) -> tuple[str, bool]:
    return value["text"] or "|".join(value["codes"]), False


_WRITERS: Final[dict[str, Callable[[dict[str, Any], Column, str], tuple[str, bool]]]] = {
    "amount": _amount,
    "minor": _money,
    "code": _code,
    "codes": _codes,
}
