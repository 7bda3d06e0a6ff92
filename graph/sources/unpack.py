"""The child that opens a workbook: a script of its own, so that it starts fast and dies alone.

Called as `unpack.py FILE FOLDER MOST_CELLS MOST_COLUMNS MOST_CHARACTERS`. It writes each sheet's rows as JSON lines
into the folder and prints one JSON object: the sheets, or what stopped it. A text cell is a string; any other is
`[kind, text]` with the kinds of `graph.sources.tables.Odd`.
"""

import json
import re
import sys
import warnings
import zipfile
from collections.abc import Iterable
from datetime import date, datetime, time
from pathlib import Path
from typing import Any, Final

MEMORY: Final = 1024 * 2**20
SECONDS: Final = 300
# The format's own escape (ECMA-376, ST_Xstring) for what XML cannot hold or what would look like an escape.
_ESCAPE: Final = re.compile(r"_x([0-9A-Fa-f]{4})_")
_DOCTYPE: Final = re.compile(rb"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)


class Stopped(Exception):
    """The code of the finding that ends the reading, with its words."""

    def __init__(self, code: str, **words: object) -> None:
        super().__init__(code)
        self.told = {"code": code, "words": words}


def main(file: str, folder: str, cells: str, columns: str, characters: str) -> int:
    """Unpack the file and tell on standard output how it went."""
    _limit()
    sys.modules["numpy"] = None  # type: ignore[assignment]  # openpyxl would import it, which takes longer than all else
    warnings.simplefilter("ignore")
    try:
        told: dict[str, Any] = {
            "sheets": _unpack(Path(file), Path(folder), int(cells), int(columns), int(characters))
        }
    except Stopped as stopped:
        told = stopped.told
    except MemoryError:
        told = {"code": "parse-limit", "words": {"detail": "memory"}}
    except Exception as error:  # whatever a hostile file makes a parser raise, it must come back as one finding
        told = {"code": "file-unreadable", "words": {"detail": f"{type(error).__name__}: {error}"[:200]}}
        if type(error).__name__ in ("EntitiesForbidden", "DTDForbidden", "ExternalReferenceForbidden"):
            told = {"code": "unsafe-xml", "words": {}}
    sys.stdout.write(json.dumps(told))
    return 0


def _limit() -> None:
    try:
        import resource  # noqa: PLC0415 (not on every system)
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _unpack(
    path: Path, folder: Path, most_cells: int, most_columns: int, most_characters: int
) -> list[dict[str, Any]]:
    from openpyxl import load_workbook  # noqa: PLC0415 (after the limits)

    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            if name.endswith((".xml", ".rels")):
                with archive.open(name) as member:
                    if _DOCTYPE.search(member.read(8192).replace(b"\0", b"")):
                        raise Stopped("unsafe-xml")
    book = load_workbook(path, read_only=True, data_only=False, keep_links=False)
    sheets = []
    cells_read = 0
    for number, sheet in enumerate(book.worksheets):
        sheet.reset_dimensions()
        target = folder / f"{number}.jsonl"
        with target.open("w", encoding="utf-8") as out:
            for row, cells in enumerate(sheet.iter_rows(), start=1):
                if not cells:
                    continue
                if len(cells) > most_columns:
                    raise Stopped("sheet-too-large", most=f"{most_columns} columns", sheet=sheet.title, row=row)
                read = _read(cells, most_characters)
                cells_read += len(cells)
                if cells_read > most_cells:
                    raise Stopped("sheet-too-large", most=f"{most_cells} cells", sheet=sheet.title, row=row)
                if read:
                    out.write(json.dumps([row, read], ensure_ascii=False))
                    out.write("\n")
        sheets.append({"name": sheet.title, "file": target.name})
    return sheets


def _read(cells: Iterable[Any], most: int) -> list[str | list[str]]:
    read = [_cell(cell.value, cell.data_type, most) if cell.value is not None else "" for cell in cells]
    while read and read[-1] == "":
        read.pop()
    return read


def _cell(value: Any, data_type: str, most: int) -> str | list[str]:
    if data_type == "f":
        text = value if isinstance(value, str) else getattr(value, "text", None) or "="
        return ["formula", str(text)[:most]]
    if data_type == "e":
        return ["error", str(value)]
    if isinstance(value, bool):
        return ["yesno", "yes" if value else "no"]
    if isinstance(value, int):
        return ["number", str(value)]
    if isinstance(value, float):
        whole = value.is_integer() and abs(value) < 1e15
        return ["number", str(int(value)) if whole else format(value, ".15g")]
    if isinstance(value, datetime):
        return ["date", value.date().isoformat() if value.time() == time() else value.isoformat()]
    if isinstance(value, date):
        return ["date", value.isoformat()]
    if isinstance(value, str):
        return _ESCAPE.sub(lambda match: chr(int(match[1], 16)), value)
    return ["date", str(value)]


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:6]))
