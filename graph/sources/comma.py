"""CSV files: strict text, one sheet a file, the separator found by counting."""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Final, TextIO

from graph.model.finding import Finding, Origin
from graph.sources.codes import finding
from graph.sources.tables import MAX_CELL, MAX_CELLS, MAX_COLUMNS, Row, Table

SEPARATORS: Final = (",", ";", "\t")
MAX_LINE: Final = 4_000_000
MAX_BYTES: Final = 512 * 2**20


def table(path: Path, encoding: str = "utf-8-sig") -> Table:
    """The file as a table whose name is the file's."""
    return Table(path.stem, path.name, lambda: _rows(path, encoding), even=True, escaped=True)


def _rows(path: Path, encoding: str) -> Iterator[Row | Finding]:
    sheet = path.stem
    if path.stat().st_size > MAX_BYTES:
        yield finding(
            "file-too-large", Origin(path.name, sheet), path.name, detail=f"more than {MAX_BYTES >> 20} MiB"
        )
        return
    number = 0
    try:
        with path.open(encoding=encoding, newline="") as text:
            separator = _separator(text)
            text.seek(0)
            cells_read = 0
            reader = csv.reader(_lines(text), delimiter=separator, strict=True)
            for number, cells in enumerate(reader, start=1):
                cells_read += len(cells)
                if len(cells) > MAX_COLUMNS or cells_read > MAX_CELLS:
                    yield _too_large(path, number)
                    return
                if any(len(cell) > MAX_CELL for cell in cells):
                    yield finding("cell-too-long", Origin(path.name, sheet, number), cells[0], most=MAX_CELL)
                    continue
                yield number, list(cells)
    except (UnicodeError, LookupError) as error:
        origin = Origin(path.name, sheet, number + 1 if number else 0)
        yield finding("encoding", origin, error, detail=encoding.removesuffix("-sig").upper())
    except csv.Error as error:
        yield finding("csv-quote", Origin(path.name, sheet, number + 1), path.name, detail=error)


def _too_large(path: Path, number: int) -> Finding:
    most = f"{MAX_COLUMNS} columns or {MAX_CELLS} cells"
    return finding("sheet-too-large", Origin(path.name, path.stem, number), path.name, most=most)


def _lines(text: TextIO) -> Iterator[str]:
    while line := text.readline(MAX_LINE):
        if len(line) >= MAX_LINE:
            raise csv.Error(f"a line is longer than {MAX_LINE} characters")
        yield line


def _separator(text: TextIO) -> str:
    """The one that stands most often in the first line outside quotation marks; a comma if none does."""
    head = text.readline(MAX_LINE)
    if "\0" in head:
        raise UnicodeError("the first line holds NUL, as UTF-16 does")
    outside = "".join(head.split('"')[::2])
    return max(SEPARATORS, key=outside.count)
