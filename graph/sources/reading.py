"""Files in, statements and findings out, streaming.

A file is gone through twice: once for the names in it, then row by row. A faulty row gives findings and no
statement; a finding and a statement of one row have the same file, sheet and row in their origin, so that rows
with faults that only the whole shows (a circle) can be set aside as well.
"""

import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Final

from graph.model.finding import Finding, Origin
from graph.model.sheet import BY_NAME, Column, Sheet
from graph.model.statement import Statement
from graph.sources import comma as csv_files
from graph.sources import workbook, zipped
from graph.sources.cells import refuse_negative
from graph.sources.checks import Checks
from graph.sources.codes import Fault, finding
from graph.sources.header import Header, folded, read_header, sheet_named
from graph.sources.known import EmptyKnown, Known
from graph.sources.rows import Line, RowReader, statement
from graph.sources.tables import Cell, Odd, Table
from graph.sources.things import DEFINING, Things, near, words_of
from ontology.quantities import Reading

Progress = Callable[[str, int], None]
"""Called with a sheet's name and the rows of it read so far."""

MEDIA: Final = {
    ".ttl": "text/turtle",
    ".nt": "application/n-triples",
    ".nq": "application/n-quads",
    ".jsonld": "application/ld+json",
}
MAX_RDF_BYTES: Final = 256 * 2**20
STEP: Final = 1000
ORDER: Final = {name: place for place, name in enumerate(BY_NAME)}


def read(
    path: Path,
    known: Known | None = None,
    progress: Progress | None = None,
    *,
    encoding: str = "utf-8-sig",
    decimal_comma: bool = False,
    wall_seconds: float = workbook.WALL_SECONDS,
) -> Iterator[Statement | Finding]:
    """All statements and findings of a workbook, a folder or zip of CSV files, one CSV file, or an RDF file.

    `known` is what the store already holds. `encoding` is that of CSV files; `decimal_comma` says that the file
    writes 15,875 for what others write 15.875.
    """
    things = Things(known or EmptyKnown())
    suffix = path.suffix.casefold()
    if path.is_dir():
        files = sorted(file for file in path.iterdir() if file.suffix.casefold() == ".csv")
        if not files:
            yield finding("file-unreadable", Origin(path.name), path.name, detail="the folder holds no .csv file")
        yield from _sheets([csv_files.table(f, encoding) for f in files], things, progress, decimal_comma)
    elif not path.is_file():
        yield finding("file-unreadable", Origin(path.name), path.name, detail="there is no such file")
    elif suffix in (".xlsx", ".xlsm"):
        with tempfile.TemporaryDirectory(prefix="spoolwright-") as folder:
            tables, findings = workbook.tables(path, Path(folder), wall_seconds)
            yield from findings
            yield from _sheets(tables, things, progress, decimal_comma)
    elif suffix == ".csv":
        yield from _sheets([csv_files.table(path, encoding)], things, progress, decimal_comma)
    elif suffix == ".zip":
        with tempfile.TemporaryDirectory(prefix="spoolwright-") as folder:
            refused = zipped.unpack(path, Path(folder))
            if refused:
                yield refused
                return
            files = sorted(Path(folder).iterdir())
            yield from _sheets([csv_files.table(f, encoding) for f in files], things, progress, decimal_comma)
    elif suffix in MEDIA:
        yield from _triples(path, MEDIA[suffix], things, progress)
    else:
        yield finding(
            "file-unreadable", Origin(path.name), path.name, detail=f"{suffix or 'no suffix'} is not read here"
        )


def read_tables(tables: list[Table], known: Known | None = None) -> Iterator[Statement | Finding]:
    """All statements and findings of rows that come from elsewhere than a file, a form for instance."""
    yield from _sheets(tables, Things(known or EmptyKnown()), None, decimal_comma=False)


def _sheets(
    tables: list[Table], things: Things, progress: Progress | None, decimal_comma: bool
) -> Iterator[Statement | Finding]:
    usable: list[tuple[Sheet, Table]] = []
    for table in tables:
        sheet = sheet_named(table.name)
        if sheet is None:
            hint = near(folded(table.name), BY_NAME)
            yield finding("unknown-sheet", Origin(table.file, table.name), table.name, hint=hint)
        else:
            usable.append((sheet, table))
    usable.sort(key=lambda pair: ORDER[pair[0].name])
    for sheet, table in usable:
        if sheet.name in DEFINING:
            _survey(sheet, table, things)
    things.settle()
    checks = Checks(things)
    for sheet, table in usable:
        yield from _sheet(sheet, table, checks, progress, decimal_comma)
    yield from checks.end()


def _survey(sheet: Sheet, table: Table, things: Things) -> None:
    """The names in a sheet, for the first pass; whatever is wrong is left to the second."""
    places: list[tuple[int, str]] = []
    for item in table.rows():
        if isinstance(item, Finding):
            continue
        _, cells = item
        if not places:
            if not any(cells):
                continue
            names = [folded(_text(cell)) for cell in cells]
            places = [(i, name) for i, name in enumerate(names) if sheet.column(name)]
            needed = {c.name for c in sheet.columns if c.key and c.needed}
            if needed - {name for _, name in places}:
                things.broken.add(sheet.name)
                return
            continue
        words = {name: _text(cells[i]) for i, name in places if i < len(cells) and cells[i]}
        if words:
            things.add(sheet.name, words)


def _text(cell: Cell) -> str:
    return cell.text if isinstance(cell, Odd) else cell.strip()


def _sheet(
    sheet: Sheet, table: Table, checks: Checks, progress: Progress | None, decimal_comma: bool
) -> Iterator[Statement | Finding]:
    header: Header | None = None
    reader: RowReader | None = None
    done, broken = 0, False
    for item in table.rows():
        if isinstance(item, Finding):
            broken = True
            yield replace(item, origin=replace(item.origin, sheet=sheet.name))
            continue
        number, cells = item
        if not any(cells):
            continue
        origin = Origin(table.file, sheet.name, number)
        if header is None:
            header, findings = read_header(sheet, origin, cells, checks.things.feature_folded, near)
            yield from findings
            reader = RowReader(header, checks.things, escaped=table.escaped, comma=decimal_comma)
            continue
        done += 1
        if progress and done % STEP == 0:
            progress(sheet.name, done)
        if table.even and len(cells) != header.width:
            yield finding("ragged-row", origin, _text(cells[0]), cells=len(cells), columns=header.width)
            continue
        if header.lacks or reader is None:
            continue
        yield from _row(reader, origin, cells, checks)
    if header is None and not broken:
        yield finding("empty-sheet", Origin(table.file, sheet.name), table.name)
    if progress:
        progress(sheet.name, done)


def _row(reader: RowReader, origin: Origin, cells: list[Cell], checks: Checks) -> Iterator[Statement | Finding]:
    line = reader.read(origin, cells)
    checks.row(line)
    yield from line.findings
    if not line.faulty:
        yield statement(line)
    if reader.header.wide:
        for value in reader.wide(line, cells):
            if not value.faulty and not {"maker", "number"} & line.bad:
                checks.row(value)
            yield from value.findings
            if not value.faulty and not line.faulty:
                yield statement(value)


def _triples(path: Path, media: str, things: Things, progress: Progress | None) -> Iterator[Statement | Finding]:
    """RDF: the statements are made elsewhere; here they get the checks that every row gets."""
    if path.stat().st_size > MAX_RDF_BYTES:
        yield finding("file-too-large", Origin(path.name), path.name, detail=f"more than {MAX_RDF_BYTES >> 20} MiB")
        return
    from graph.triples import statements  # noqa: PLC0415 (rdflib is heavy and most files are no RDF)

    found: list[Statement] = []
    for item in statements(path.read_bytes(), media):
        if isinstance(item, Finding):
            yield replace(item, origin=replace(item.origin, file=item.origin.file or path.name))
        else:
            origin = item.origin or Origin(path.name)
            found.append(replace(item, origin=replace(origin, file=origin.file or path.name, sheet=item.sheet)))
    yield from check_statements(found, things, progress)


def check_statements(
    statements: Iterable[Statement], things: Things, progress: Progress | None = None
) -> Iterator[Statement | Finding]:
    """Statements from elsewhere, with the same checks as the rows of a file; faulty ones are left out."""
    ordered = sorted(statements, key=lambda s: ORDER[s.sheet])
    for one in ordered:
        if one.sheet in DEFINING:
            things.add(one.sheet, dict(words_of(one.fields, BY_NAME[one.sheet])))
    things.settle()
    checks = Checks(things)
    for done, one in enumerate(ordered, start=1):
        line = _line(one, done, things)
        checks.row(line)
        yield from line.findings
        if not line.faulty:
            yield one
        if progress and done % STEP == 0:
            progress(one.sheet, done)
    yield from checks.end()


def _line(one: Statement, number: int, things: Things) -> Line:
    sheet = BY_NAME[one.sheet]
    origin = one.origin or Origin("", one.sheet)
    said = {
        name: text
        for name, text in (
            ("source", one.evidence.source), ("rank", one.evidence.rank),
            ("date", one.evidence.date), ("note", one.evidence.note),
        )
        if text
    }  # fmt: skip
    line = Line(sheet, replace(origin, row=origin.row or number), dict(one.fields), evidence=said)
    line.texts = {name: _said(value) for name, value in one.fields.items()} | said
    for column in sheet.columns:
        if column.needed and column.name not in line.fields:
            line.report("missing-cell", column.name)
        elif column.name in line.fields:
            _points(line, column, things)
            _measured(line, column)
    return line


def _measured(line: Line, column: Column) -> None:
    """Let the checks of sizes see an amount that was read elsewhere."""
    value = line.fields[column.name]
    if not isinstance(value, dict) or "amount" not in value:
        return
    reading = Reading(value["amount"], value["quantity"], value["unit"], value["text"], Fraction(0), own_unit=False)
    line.readings[column.name] = reading
    try:
        if line.sheet.name != "rules":
            refuse_negative(reading, column)
    except Fault as fault:
        line.report(fault.code, column.name, **fault.words)


def _said(value: object) -> str:
    if isinstance(value, dict):
        return f"{value.get('text', value)} {value.get('unit', '')}".strip()
    return "|".join(value) if isinstance(value, list) else str(value)


def _points(line: Line, column: Column, things: Things) -> None:
    try:
        if column.with_maker:
            things.resolve(column.points_to, line.fields.get(column.with_maker, ""), line.fields[column.name])
        elif column.points_to:
            things.check_named(column, line.fields[column.name])
    except Fault as fault:
        line.report(fault.code, column.name, **fault.words)
