"""The spreadsheet from the CSV folder: `python -m demo_graph.build` writes it, the same bytes each time."""

import csv
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import xlsxwriter

from demo_graph.data import spreadsheet, workbook
from graph.model.sheet import SHEETS

# XLSX keeps a time of writing; a fixed one keeps the bytes the same.
WRITTEN: Final = datetime(2026, 3, 12, tzinfo=UTC)


def build(source: Path, target: Path) -> None:
    """Write every CSV of the folder as a sheet of text cells, in the order in which the sheets are described."""
    with xlsxwriter.Workbook(str(target), {"strings_to_numbers": False, "strings_to_formulas": False}) as book:
        book.set_properties({"title": "Hollin Beck", "created": WRITTEN.replace(tzinfo=None)})
        as_text = book.add_format({"num_format": "@"})
        for sheet in SHEETS:
            file = source / f"{sheet.name}.csv"
            if not file.exists():
                continue
            page = book.add_worksheet(sheet.name)
            page.freeze_panes(1, 0)
            with file.open(encoding="utf-8", newline="") as text:
                for row, cells in enumerate(csv.reader(text)):
                    for column, cell in enumerate(cells):
                        if cell:
                            page.write_string(row, column, cell, as_text)


if __name__ == "__main__":
    build(workbook(), spreadsheet())
    sys.stdout.write(f"{spreadsheet().name} written\n")
