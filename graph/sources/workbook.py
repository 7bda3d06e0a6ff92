"""XLSX files: the zip directory is looked at first, then a child process with limits unpacks the sheets."""

import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from graph.model.finding import Finding, Origin
from graph.sources.codes import finding
from graph.sources.tables import MAX_CELL, MAX_CELLS, MAX_COLUMNS, Odd, Row, Table

MAX_MEMBERS: Final = 200
MAX_INFLATED: Final = 512 * 2**20
MAX_RATIO: Final = 100
SMALL: Final = 2**20  # below this a member's ratio says nothing: a few hundred equal cells pack very well
WALL_SECONDS: Final = 300.0
SCRIPT: Final = Path(__file__).with_name("unpack.py")


def tables(path: Path, folder: Path, wall_seconds: float = WALL_SECONDS) -> tuple[list[Table], list[Finding]]:
    """The workbook's sheets, unpacked into `folder`; or the one finding that says why it cannot be read."""
    refused = refusal(path)
    if refused:
        return [], [refused]
    told = _unpacked(path, folder, wall_seconds)
    if "code" in told:
        words = dict(told["words"])
        origin = Origin(path.name, words.pop("sheet", ""), words.pop("row", 0))
        return [], [finding(told["code"], origin, path.name, **words)]
    return [
        Table(sheet["name"], path.name, _reader(folder / sheet["file"], path.name, sheet["name"]))
        for sheet in told["sheets"]
    ], []


def refusal(path: Path) -> Finding | None:
    """What the zip directory alone already forbids. Python's zipfile never inflates past the declared size."""
    origin = Origin(path.name)
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        return finding("file-unreadable", origin, path.name, detail=error)
    inflated = sum(member.file_size for member in members)
    if len(members) > MAX_MEMBERS:
        return finding("file-too-large", origin, path.name, detail=f"{len(members)} files inside")
    if inflated > MAX_INFLATED:
        return finding("file-too-large", origin, path.name, detail=f"{inflated >> 20} MiB unpacked")
    for member in members:
        if member.flag_bits & 1:
            return finding("file-unreadable", origin, path.name, detail="it is protected by a password")
        if member.file_size > SMALL and member.file_size > MAX_RATIO * max(member.compress_size, 1):
            detail = f"{member.filename} is packed {member.file_size // max(member.compress_size, 1)} to 1"
            return finding("file-too-large", origin, path.name, detail=detail)
    return None


def _unpacked(path: Path, folder: Path, wall_seconds: float) -> dict[str, Any]:
    # The same search path as ours: the package may run from an editable install, a wheel or a source tree.
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    limits = [str(limit) for limit in (MAX_CELLS, MAX_COLUMNS, MAX_CELL)]
    command = [sys.executable, "-P", str(SCRIPT), str(path), str(folder), *limits]
    try:
        child = subprocess.run(  # noqa: S603 (our own script; the arguments are paths and numbers, no shell)
            command, stdin=subprocess.DEVNULL, capture_output=True, timeout=wall_seconds, env=environment, check=False
        )
    except subprocess.TimeoutExpired:
        return {"code": "parse-limit", "words": {"detail": "time"}}
    try:
        told = json.loads(child.stdout)
    except ValueError:
        told = None
    if not isinstance(told, dict):
        return {"code": "parse-limit", "words": {"detail": "time or memory"}}
    return told


def _reader(spool: Path, file: str, sheet: str) -> Any:
    def rows() -> Iterator[Row | Finding]:
        with spool.open(encoding="utf-8", newline="\n") as lines:
            for line in lines:
                number, cells = json.loads(line)
                read = [cell if isinstance(cell, str) else Odd(*cell) for cell in cells]
                if any(len(cell) > MAX_CELL for cell in cells):
                    yield finding("cell-too-long", Origin(file, sheet, number), "", most=MAX_CELL)
                    continue
                yield number, read

    return rows
