"""Reading the ledger over one connection: history, any version, what changed, what holds on the shelf."""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, func, or_, select

from graph.errors import NotFound
from graph.ledger.chain import EMPTY, ChangeSet, Entry
from graph.ledger.tables import CHANGE_SETS, ENTRIES, LIFE
from graph.model.finding import Origin
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement, canonical, subject

AT_ONCE = 2_000
"""Rows fetched or names asked for at once; databases limit how many names one statement may hold."""

_HEADING = list(CHANGE_SETS.columns)
_ENTRY = [ENTRIES.c[name] for name in ("op", "statement", "sheet", "key", "content", "origin")]


@dataclass(frozen=True, slots=True)
class Held:
    """A statement with the change sets from which and to which (None: still) it holds."""

    statement: Statement
    from_n: int
    to_n: int | None


@dataclass(frozen=True, slots=True)
class Difference:
    """One net change between two versions: `+` asserted or `-` retracted."""

    op: str
    statement: Statement


def batches(items: Iterable[Any], size: int = AT_ONCE) -> Iterator[list[Any]]:
    """The items in lists of at most `size`."""
    batch: list[Any] = []
    for item in items:
        batch.append(item)
        if len(batch) >= size:
            yield batch
            batch = []
    if batch:
        yield batch


def statement_from(content: str, origin: str = "") -> Statement:
    """The statement that an entry holds."""
    return Statement.of(json.loads(content), Origin(*json.loads(origin)) if origin else None)


class Reading:
    """What one transaction sees of the ledger."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def _stream(self, query: Any) -> Iterator[Row[Any]]:
        yield from self.connection.execute(query, execution_options={"yield_per": AT_ONCE})

    def head(self) -> ChangeSet:
        """The last change set; number 0 of an empty ledger."""
        found = self.connection.execute(select(*_HEADING).order_by(CHANGE_SETS.c.n.desc()).limit(1)).first()
        return _change_set(found) if found else ChangeSet(0, "", "", "", 0, 1, 0, EMPTY, EMPTY, "", EMPTY)

    def change_set(self, n: int) -> ChangeSet:
        """Change set `n`.

        Raises
        ------
        NotFound
            There is none.
        """
        found = self.connection.execute(select(*_HEADING).where(CHANGE_SETS.c.n == n)).first()
        if found is None:
            raise NotFound(f"there is no change set {n}", fix="history lists them")
        return _change_set(found)

    def history(self, after: int = 0) -> Iterator[ChangeSet]:
        """The change sets after number `after`, oldest first."""
        for row in self._stream(select(*_HEADING).where(CHANGE_SETS.c.n > after).order_by(CHANGE_SETS.c.n)):
            yield _change_set(row)

    def entries(self, of: ChangeSet) -> Iterator[Entry]:
        """The lines of one change set in order."""
        within = ENTRIES.c.at.between(of.first, of.first + of.count - 1)
        for row in self._stream(select(*_ENTRY).where(within).order_by(ENTRIES.c.at)):
            yield Entry(**row._mapping)

    def version_of(self, state: str) -> int | None:
        """The last change set after which the catalogue held exactly this; 0 for an empty one; None: never."""
        found = self.connection.execute(
            select(func.max(CHANGE_SETS.c.n)).where(CHANGE_SETS.c.state == state)
        ).scalar()
        return 0 if found is None and state == EMPTY else found

    def state_at(self, n: int) -> str:
        """What the catalogue held after change set `n`."""
        return self.change_set(n).state if n else EMPTY

    def as_of(self, n: int, clock: str = "") -> Iterator[Statement]:
        """All statements that held after change set `n`, oldest first; of one clock if named."""
        for held in self._held(and_(_holds(n), _of_clock(clock)) if clock else _holds(n)):
            yield held.statement

    def contents(self, n: int) -> Iterator[tuple[str, str]]:
        """Id and canonical JSON of all catalogue statements that held after change set `n`."""
        query = (
            select(LIFE.c.statement, ENTRIES.c.content)
            .join_from(LIFE, ENTRIES, LIFE.c.at == ENTRIES.c.at)
            .where(_holds(n), _of_clock("catalogue"))
            .order_by(LIFE.c.at)
        )
        for row in self._stream(query):
            yield row.statement, row.content

    def known(self, statements: Sequence[str]) -> Iterator[Held]:
        """The statements of these ids, whether they hold or not, oldest first."""
        for names in batches(statements):
            yield from self._held(LIFE.c.statement.in_(names))

    def born(self, n: int) -> Iterator[tuple[str, int | None]]:
        """The ids that change set `n` asserted, and when they ended."""
        of = self.change_set(n)
        within = LIFE.c.at.between(of.first, of.first + of.count - 1)
        for row in self._stream(select(LIFE.c.statement, LIFE.c.to_n).where(within).order_by(LIFE.c.at)):
            yield row.statement, row.to_n

    def ended(self, n: int) -> Iterator[Statement]:
        """The statements that held before change set `n` and that it took back."""
        for held in self._held(and_(LIFE.c.to_n == n, LIFE.c.from_n < n)):
            yield held.statement

    def live_since(self, sheet: str, key: Sequence[str]) -> dict[str, int]:
        """Id and change set of what holds now under one key of one sheet."""
        found = and_(LIFE.c.key == key_text(key), LIFE.c.sheet == sheet, LIFE.c.to_n.is_(None))
        return {r.statement: r.from_n for r in self._stream(select(LIFE.c.statement, LIFE.c.from_n).where(found))}

    def keyed(self, sheet: str, key: Sequence[str]) -> list[Statement]:
        """What holds now under one key of one sheet."""
        text = key_text(key)
        return [
            h.statement for h in self._held(and_(LIFE.c.key == text, LIFE.c.sheet == sheet, LIFE.c.to_n.is_(None)))
        ]

    def tags(self) -> Iterator[str]:
        """The tags of all cores, in the order in which their rows were asserted."""
        subjects = LIFE.c.subject.startswith("core/", autoescape=True)
        if self.connection.dialect.name == "sqlite":  # whose text compares by bytes, so that the index serves
            subjects = and_(LIFE.c.subject >= "core/", LIFE.c.subject < "core0")
        held = and_(subjects, LIFE.c.sheet == "cores", LIFE.c.to_n.is_(None))
        for row in self._stream(select(LIFE.c.key).where(held).order_by(LIFE.c.at)):
            yield json.loads(row.key)[0]

    def shelf(self, n: int, sheets: Sequence[str], subjects: Sequence[str] | None = None) -> Iterator[Statement]:
        """Shelf rows that held after change set `n`, of these sheets and, if given, these subjects."""
        for held in self.shelf_history(n, sheets, subjects, _holds(n)):
            yield held.statement

    def shelf_history(
        self,
        n: int,
        sheets: Sequence[str],
        subjects: Sequence[str] | None = None,
        where: ColumnElement[bool] | None = None,
    ) -> Iterator[Held]:
        """Shelf rows asserted up to change set `n`, those replaced since included."""
        base = and_(LIFE.c.subject.is_not(None), LIFE.c.sheet.in_(sheets), LIFE.c.from_n <= n)
        if where is not None:
            base = and_(base, where)
        if subjects is None:
            yield from self._held(base)
            return
        for names in batches(subjects):
            yield from self._held(and_(base, LIFE.c.subject.in_(names)))

    def subjects(self, n: int, sheet: str, first: str, most: int) -> list[str]:
        """What the rows of a shelf sheet that held after change set `n` are about: `most` of them, in the order of
        the database, from `first` on."""
        about = and_(LIFE.c.subject.is_not(None), LIFE.c.subject >= first, LIFE.c.sheet == sheet, _holds(n))
        query = select(LIFE.c.subject).where(about).distinct().order_by(LIFE.c.subject).limit(most)
        return [row.subject for row in self._stream(query)]

    def diff(self, a: int, b: int, clock: str = "") -> Iterator[Difference]:
        """The net changes from version `a` to version `b`: retractions first, each in order of assertion."""
        low, high = min(a, b), max(a, b)
        of = [_of_clock(clock)] if clock else []
        gone = [h.statement for h in self._held(and_(LIFE.c.from_n <= low, _ends(low, high), *of))]
        # `at` grows with the change sets and has an index; `from_n` has none.
        after, until = (self._end_of(n) for n in (low, high))
        come = [h.statement for h in self._held(and_(LIFE.c.at > after, LIFE.c.at <= until, _holds(high), *of))]
        if a > b:
            gone, come = come, gone
        both = {s.id for s in gone} & {s.id for s in come}
        yield from (Difference("-", s) for s in gone if s.id not in both)
        yield from (Difference("+", s) for s in come if s.id not in both)

    def written_between(self, a: int, b: int) -> frozenset[str]:
        """The sheets of which the change sets after `a` up to `b` assert or take back a row."""
        within = ENTRIES.c.at.between(self._end_of(a) + 1, self._end_of(b))
        return frozenset(row.sheet for row in self._stream(select(ENTRIES.c.sheet).where(within).distinct()))

    def _end_of(self, n: int) -> int:
        if not n:
            return 0
        of = self.change_set(n)
        return of.first + of.count - 1

    def _held(self, where: ColumnElement[bool]) -> Iterator[Held]:
        query = (
            select(ENTRIES.c.content, ENTRIES.c.origin, LIFE.c.from_n, LIFE.c.to_n)
            .join_from(LIFE, ENTRIES, LIFE.c.at == ENTRIES.c.at)
            .where(where)
            .order_by(LIFE.c.at)
        )
        for row in self._stream(query):
            yield Held(statement_from(row.content, row.origin), row.from_n, row.to_n)


def key_text(key: Sequence[str]) -> str:
    """A key as the ledger holds it."""
    return canonical(list(key))


def shelf_subject(statement: Statement) -> str | None:
    """What a shelf row is about: its core or part, '' for the rest; None for a catalogue row."""
    if BY_NAME[statement.sheet].clock != "shelf":
        return None
    key = statement.key
    names = BY_NAME[statement.sheet].key
    if names[0] == "tag":
        return subject("core", key[0])
    return subject("part", key[0], key[1]) if names[:2] == ("maker", "number") else ""


def _holds(n: int) -> ColumnElement[bool]:
    return and_(LIFE.c.from_n <= n, or_(LIFE.c.to_n.is_(None), LIFE.c.to_n > n))


def _of_clock(clock: str) -> ColumnElement[bool]:
    return LIFE.c.subject.is_(None) if clock == "catalogue" else LIFE.c.subject.is_not(None)


def _ends(low: int, high: int) -> ColumnElement[bool]:
    return and_(LIFE.c.to_n > low, LIFE.c.to_n <= high)


def _change_set(row: Row[Any]) -> ChangeSet:
    named = row._mapping
    return ChangeSet(**{c.name: named[c.name] for c in _HEADING})
