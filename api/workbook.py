"""Pick lists as CSV and as Excel workbooks; no cell is ever taken for a formula."""

import csv
import io

import xlsxwriter

from api.text.pick import HEADER, pick_rows
from graph.model.picking import PickList

NUMBERS = {"quantity", "on_hand", "short", "unit_price", "price", "deposit", "lead_days"}


def pick_workbook(picks: PickList) -> bytes:
    """One sheet `pick list`, a header row, one row a line, and what it was read from below."""
    out = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with xlsxwriter.Workbook(out, options) as book:
        sheet = book.add_worksheet("pick list")
        bold = book.add_format({"bold": True})
        for column, name in enumerate(HEADER):
            sheet.write_string(0, column, name, bold)
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
        sheet.freeze_panes(1, 0)
        sheet.autofit()
    return out.getvalue()


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
