"""Pick lists as CSV and as Excel workbooks; no cell is ever taken for a formula."""

import csv
import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import xlsxwriter

from api.text.pick import HEADER, pick_rows
from graph.model.picking import PickList

NUMBERS = {"quantity", "on_hand", "short", "unit_price", "price", "deposit", "lead_days"}


def pick_workbook(picks: PickList) -> bytes:
    """One sheet `pick list`, a header row, one row a line, and what it was read from below."""
    out = io.BytesIO()
    with one_sheet(out, "pick list", HEADER) as sheet:
        rows = pick_rows(picks)
        for number, row in enumerate(rows, 1):
            for column, (name, cell) in enumerate(zip(HEADER, row, strict=True)):
                if name in NUMBERS and cell:
                    sheet.write_number(number, column, float(cell))
                else:
                    sheet.write_string(number, column, cell)
        sheet.write_string(
            len(rows) + 2,
            0,
            f"read from catalogue {picks.snapshot.catalogue}, shelf {picks.snapshot.shelf}, as of {picks.day}",
        )
        for number, text in enumerate(picks.struck, len(rows) + 3):
            sheet.write_string(number, 0, f"struck out: {text}")
    return out.getvalue()


@contextmanager
def one_sheet(out: io.BytesIO, name: str, header: Sequence[str]) -> Iterator[Any]:
    """A workbook of one sheet with its header row, written to `out` once the rows are in; no text is a formula."""
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with xlsxwriter.Workbook(out, options) as book:
        sheet = book.add_worksheet(name)
        bold = book.add_format({"bold": True})
        for column, text in enumerate(header):
            sheet.write_string(0, column, text, bold)
        yield sheet
        sheet.freeze_panes(1, 0)
        sheet.autofit()


def guarded(cell: str) -> str:
    """A cell that no spreadsheet will take for a formula.

    >>> guarded("=1+1"), guarded("63 mm")
    ("'=1+1", '63 mm')
    """
    return "'" + cell if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell


def pick_csv(picks: PickList) -> str:
    """A header row, then one row a line."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows(tuple(guarded(cell) for cell in row) for row in pick_rows(picks))
    return out.getvalue()
