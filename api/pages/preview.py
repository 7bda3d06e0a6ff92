"""What a change would do, worked out in a copy of the store that nobody else sees: faults, rows, answers."""

from collections import Counter
from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Final

from api.current import today
from api.pages.frame import Remembered
from api.writing import now
from graph import publish as writer
from graph.desk import Desk, within
from graph.desk.touching import Effect, effect
from graph.index.store import Store
from graph.ledger.draft import Change
from graph.ledger.reading import Difference
from graph.ledger.undo import reversal
from graph.ledger.watches import Watches
from graph.model.finding import Finding
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement
from graph.sources.rows import unit_column
from graph.sources.write import cells_of, columns_of

SECONDS: Final = 8.0
"""How long answers are asked before and after; the rest is counted. A person waits for the page."""

ROWS_MOST: Final = 200_000
"""Rows that are worked out for a page, about 2 kB each while that is done; the command line takes any number."""

HELD_MOST: Final = 20_000
"""Lines that are kept to be paged through; a change with more says so."""

previews: Final = Remembered(4)


@dataclass(frozen=True, slots=True)
class Cell:
    """One column of a row that comes, goes or changes; `before` is empty where nothing stood."""

    column: str
    before: str
    after: str

    @property
    def same(self) -> bool:
        """Whether it stays."""
        return self.before == self.after


@dataclass(frozen=True, slots=True)
class Line:
    """One row: `new`, `gone`, or `changed`. `key` is how it is named, `ids` its statements before and after."""

    how: str
    sheet: str
    key: str
    cells: tuple[Cell, ...]
    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows by sheet in the workbook's order, then as they were written. `counts`: of each sheet and way."""

    lines: tuple[Line, ...]
    counts: tuple[tuple[str, tuple[tuple[str, int], ...]], ...]
    total: int

    @property
    def cut(self) -> bool:
        """Whether there are more than are held."""
        return self.total > len(self.lines)


@dataclass(frozen=True, slots=True)
class Preview:
    """What a change would do. Without `rows` faults stand in the way, or it is too large for a page."""

    findings: tuple[Finding, ...]
    read: int
    aside: int
    whole: bool
    rows: Rows | None
    effect: Effect | None

    @property
    def large(self) -> bool:
        """Whether it is too large for a page."""
        return self.read > ROWS_MOST

    @property
    def errors(self) -> int:
        """Faults that stand in the way."""
        return sum(f.severity == "error" for f in self.findings)


def of_staged(desk: Desk, store: Store, id_: str, version: int, *, aside: bool) -> Preview:
    """What a change set in the making would do; worked out once for each version of it and of the store."""
    key = ("staged", id_, version, aside, today())
    return previews.get(desk, key, lambda: _staged(store, id_, version, aside=aside))


def of_undo(desk: Desk, store: Store, n: int) -> Preview:
    """What taking change set `n` back would do.

    Raises
    ------
    NotFound, Conflict
        There is no such change set; a later one built on it.
    """
    return previews.get(desk, ("undo", n, today()), lambda: _undone(store, n))


def _staged(store: Store, id_: str, version: int, *, aside: bool) -> Preview:
    with ExitStack() as stack:
        report, spool = writer.check_staged(store, id_, stack, version, set_aside=aside)
        left = {(f.origin.file, f.origin.sheet, f.origin.row) for f in report.findings if f.severity == "error"}
        if report.faulty and (not aside or report.whole):
            return Preview(report.findings, report.rows, 0, report.whole, None, None)
        if report.rows > ROWS_MOST:
            return Preview(report.findings, report.rows, 0, report.whole, None, None)
        rows, turns = _tried(store, spool.changes())
        return Preview(report.findings, report.rows, len(left) if aside else 0, report.whole, rows, turns)


def _undone(store: Store, n: int) -> Preview:
    with store.ledger.reading() as reading:
        rest = reading.change_set(n).count
        if rest > ROWS_MOST:
            return Preview((), rest, 0, False, None, None)
        changes = list(reversal(reading, n))
    rows, turns = _tried(store, changes)
    return Preview((), rows.total, 0, False, rows, turns)


def _tried(store: Store, changes: Iterable[Change]) -> tuple[Rows, Effect]:
    with writer.tried(store, changes, time=now()) as (copy, done):
        if done.change_set is None:
            return rows_of(()), Effect((), 0)
        n = done.change_set.n
        with copy.ledger.reading() as reading:
            found = list(reading.diff(n - 1, n))
        turns = effect(
            Desk.over(store),
            Desk.over(copy),
            Watches(store.ledger).all(),
            (one.statement for one in found),
            day=today(),
            stop=within(SECONDS),
        )
        return rows_of(found), turns


def rows_of(differences: Iterable[Difference]) -> Rows:
    """The differences as lines; a row that takes the place of the one row of its key is one line, `changed`."""
    order = {name: place for place, name in enumerate(BY_NAME)}
    by_key: dict[tuple[str, tuple[str, ...]], list[Difference]] = {}
    for one in differences:
        by_key.setdefault((one.statement.sheet, one.statement.key), []).append(one)
    lines: list[Line] = []
    for (sheet, key), of_key in sorted(by_key.items(), key=lambda item: order[item[0][0]]):
        gone = [d.statement for d in of_key if d.op == "-"]
        come = [d.statement for d in of_key if d.op == "+"]
        if len(gone) == len(come) == 1:
            lines.append(_line("changed", sheet, key, gone[0], come[0]))
            continue
        lines += [_line("gone", sheet, key, one, None) for one in gone]
        lines += [_line("new", sheet, key, None, one) for one in come]
    ways: dict[str, Counter[str]] = {}
    for line in lines:
        ways.setdefault(line.sheet, Counter())[line.how] += 1
    counts = tuple((sheet, tuple(sorted(ways[sheet].items()))) for sheet in sorted(ways, key=order.__getitem__))
    return Rows(tuple(lines[:HELD_MOST]), counts, len(lines))


def _line(how: str, sheet: str, key: tuple[str, ...], before: Statement | None, after: Statement | None) -> Line:
    old, new = with_units(sheet, texts(before)), with_units(sheet, texts(after))
    names = [c.name for c in columns_of(BY_NAME[sheet]) if not c.key]
    cells = [Cell(n, old.get(n, ""), new.get(n, "")) for n in names if old.get(n) or new.get(n)]
    ids = tuple(s.id for s in (before, after) if s is not None)
    columns = zip(BY_NAME[sheet].key, key, strict=True)
    named = (text.replace("_", " ") if name == "feature" else text for name, text in columns)
    return Line(how, sheet, " ".join(text for text in named if text), tuple(cells), ids)


def with_units(sheet: str, cells: dict[str, str]) -> dict[str, str]:
    """The cells with the row's unit beside each bare number, as a person reads them."""
    column = unit_column(BY_NAME[sheet])
    unit = cells.get(column, "")
    if not unit:
        return cells
    sizes = {c.name for c in BY_NAME[sheet].columns if c.type in ("value", "size")}
    return {
        name: f"{text} {unit}" if name in sizes and not text[-1].isalpha() else text
        for name, text in cells.items()
        if name != column
    }


def texts(statement: Statement | None) -> dict[str, str]:
    """The cells of a row by column, as they are written in a workbook."""
    if statement is None:
        return {}
    cells: Sequence[tuple[str, bool]] = cells_of(statement)
    columns = columns_of(BY_NAME[statement.sheet])
    return {column.name: text for column, (text, _) in zip(columns, cells, strict=True) if text}
