"""Records as a table: CSV and Excel workbooks, a row a record, no cell ever taken for a formula."""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from typing import Any

from api.workbook import guarded, one_sheet


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str | int | float):
        return str(value)
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def table_csv(columns: Sequence[str], rows: Sequence[Mapping[str, Any]], last: str = "") -> bytes:
    """A header, a row a record; `last` is put below them where a list goes on."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([guarded(_cell(row.get(name))) for name in columns] for row in rows)
    if last:
        writer.writerow([guarded(last)])
    return out.getvalue().encode()


def table_xlsx(columns: Sequence[str], rows: Sequence[Mapping[str, Any]], last: str = "") -> bytes:
    """The same as a workbook with one sheet."""
    out = io.BytesIO()
    with one_sheet(out, "list", columns) as sheet:
        for number, row in enumerate(rows, 1):
            for at, name in enumerate(columns):
                sheet.write_string(number, at, _cell(row.get(name)))
        if last:
            sheet.write_string(len(rows) + 1, 0, last)
    return out.getvalue()
