"""The day's jobs as a list in CSV: `job`, `core` (empty: any of the shop's), `build`, `engine`, `due`, `customer`."""

import csv
import io
from collections.abc import Iterator
from datetime import date
from typing import Final

from graph.desk import names
from graph.errors import BadFile, BadQuestion, SpoolwrightError
from graph.index.catalogue import Catalogue
from graph.index.shelf import Shelf
from graph.model.yard import Job
from graph.shelf.answer import MOST_JOBS

COLUMNS: Final = ("job", "core", "build", "engine", "due", "customer")
NEEDED: Final = ("job", "build")
LARGEST: Final = 1 << 20
"""Bytes of a list; sixty jobs take a few thousand."""


def jobs_of(catalogue: Catalogue, shelf: Shelf, data: bytes, file: str = "jobs") -> tuple[Job, ...]:
    """The jobs of a list, in its order.

    Raises
    ------
    BadFile
        It is no such list.
    BadQuestion
        Rows with faults; the message names all of them with row and column.
    """
    rows = list(_rows(data, file))
    faults: list[str] = []
    jobs: list[Job] = []
    for number, row in rows:
        job = _job(catalogue, shelf, number, row, faults)
        if job is not None:
            jobs.append(job)
    if faults:
        raise BadQuestion(f"{file}: " + "; ".join(faults), fix="mend these rows, then ask again")
    return tuple(jobs)


def _rows(data: bytes, file: str) -> Iterator[tuple[int, dict[str, str]]]:
    if len(data) > LARGEST:
        raise BadFile(f"{file} has {len(data)} bytes", fix=f"a list of jobs has at most {LARGEST}")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadFile(f"{file} is not UTF-8: {error.reason} at byte {error.start}", fix="save it as UTF-8") from error
    if "\0" in text:
        raise BadFile(f"{file} holds a NUL", fix="save it as a CSV file")
    try:
        table = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as error:
        raise BadFile(f"{file} is no CSV: {error}", fix="save it as a CSV file") from error
    head = [cell.strip().lower() for cell in table[0]] if table else []
    missing = [name for name in NEEDED if name not in head]
    strange = [name for name in head if name not in COLUMNS]
    twice = sorted({name for name in head if head.count(name) > 1})
    if missing or strange or twice:
        said = [f"column {name!r} is missing" for name in missing]
        said += [f"column {name!r} is not known" for name in strange] + [
            f"column {name!r} is there twice" for name in twice
        ]
        raise BadFile(f"{file}: " + "; ".join(said), fix=f"the first row names the columns {', '.join(COLUMNS)}")
    count = 0
    for number, cells in enumerate(table[1:], 2):
        if not any(cell.strip() for cell in cells):
            continue
        count += 1
        if count > MOST_JOBS:
            raise BadFile(f"{file} has more than {MOST_JOBS} jobs", fix="plan them in several lists")
        padded = [*cells, *[""] * (len(head) - len(cells))]
        row = {name: cell.strip() for name, cell in zip(head, padded, strict=False)}
        if len(cells) > len(head):
            row["…"] = ", ".join(cells[len(head) :])
        yield number, row


def _job(catalogue: Catalogue, shelf: Shelf, number: int, row: dict[str, str], faults: list[str]) -> Job | None:
    before = len(faults)

    def fault(column: str, why: str) -> None:
        faults.append(f"row {number}, {column}: {why}")

    if "…" in row:
        fault("after the last column", f"{row['…']!r} is too much")
    name, build_name = row.get("job", ""), row.get("build", "")
    if not name:
        fault("job", "it has no name")
    core = build = engine = ""
    try:
        wanted = names.build(catalogue, build_name)
        build, engine = wanted.key, wanted.engine
    except SpoolwrightError as error:
        fault("build", error.message)
    if row.get("engine"):
        try:
            engine = names.thing(catalogue.find_engines, "engine", row["engine"]).key
        except SpoolwrightError as error:
            fault("engine", f"{error.message} ({error.fix})" if error.fix else error.message)
    elif build and not engine:
        fault("engine", f"build {build_name} is for no engine in particular: name one")
    if row.get("core"):
        try:
            core = names.core(shelf, row["core"]).key
        except SpoolwrightError as error:
            fault("core", error.message)
    due = row.get("due", "")
    if due and not _is_day(due):
        fault("due", f"{due!r} is no day; write YYYY-MM-DD")
    return Job(name, build, engine, core, due, row.get("customer", "")) if len(faults) == before else None


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
