"""A change set being written, inside one transaction that nobody else sees until it is committed."""

import hashlib
import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlalchemy import Connection, Select, Table, and_, bindparam, insert, select, update

from graph.ledger.chain import ChangeSet, Entry, state_after, statement_id
from graph.ledger.reading import AT_ONCE, Reading, batches, key_text, shelf_subject
from graph.ledger.tables import CHANGE_SETS, ENTRIES, FORMAT, LIFE
from graph.model.finding import Origin
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement, canonical

_TO_N: Final = 2
"""The place of `to_n` in a row of `life`."""


_HOLDS: Final = select(LIFE.c.at, LIFE.c.statement, LIFE.c.sheet, LIFE.c.key).where(LIFE.c.to_n.is_(None))
_BY_ID: Final = _HOLDS.where(LIFE.c.statement.in_(bindparam("ids", expanding=True)))
_BY_KEY: Final = _HOLDS.where(
    and_(LIFE.c.key.in_(bindparam("keys", expanding=True)), LIFE.c.sheet == bindparam("sheet"))
)


@dataclass(frozen=True, slots=True)
class Retraction:
    """Takes back one statement; nothing happens when it does not hold."""

    statement: str


@dataclass(frozen=True, slots=True)
class Assertion:
    """A statement as the ledger writes it, so that it is spelled out once: key and content are canonical JSON."""

    statement: str
    sheet: str
    key: str
    subject: str | None  # as `life` has it
    content: str
    origin: str

    @classmethod
    def of(cls, one: Statement) -> "Assertion":
        """The assertion of a statement."""
        content = canonical(one.content())
        origin = _origin_text(one.origin)
        return cls(statement_id(content), one.sheet, key_text(one.key), shelf_subject(one), content, origin)


Change = Statement | Assertion | Retraction


@dataclass(slots=True)
class _Live:
    at: int
    statement: str
    sheet: str
    key: str


class Draft:
    """Collects changes; `seal` ends it. What already holds is not asserted again."""

    def __init__(self, connection: Connection, author: str, time: str, title: str) -> None:
        self.reading = Reading(connection)
        self.unchanged = 0
        self.sealed: int | None = None
        self._connection = connection
        self._opened = False
        self._said = (author, time, title)
        self._head = self.reading.head()
        self._digest = hashlib.sha256()
        self._state = self._head.state
        self._count = 0
        self.n = self._head.n + 1
        self.first = self._head.first + self._head.count

    def add(self, changes: Iterable[Change]) -> None:
        """Assert statements and retract ids, in order; a `latest` row takes the earlier one of its key back."""
        for batch in batches(changes, AT_ONCE):
            self._add(batch)

    def _add(self, batch: list[Change]) -> None:
        ready = [Assertion.of(c) if isinstance(c, Statement) else c for c in batch]
        live = self._live(ready)
        by_key = {(one.sheet, one.key): one for one in live.values() if BY_NAME[one.sheet].settled == "latest"}
        entries: list[tuple[Any, ...]] = []
        born: dict[int, list[Any]] = {}
        ended: list[int] = []
        added: list[str] = []
        removed: list[str] = []

        def write(entry: Entry) -> int:
            at = self.first + self._count
            self._count += 1
            self._digest.update(entry.line)
            e = entry
            entries.append((at, self.n, e.op, e.statement, e.sheet, e.key, e.content, e.origin))
            return at

        def end(one: _Live) -> None:
            write(Entry("-", one.statement, one.sheet, one.key, "", ""))
            del live[one.statement]
            by_key.pop((one.sheet, one.key), None)
            if one.at in born:
                born[one.at][_TO_N] = self.n
            else:
                ended.append(one.at)
            if BY_NAME[one.sheet].clock == "catalogue":
                removed.append(one.statement)

        for change in ready:
            statement = change.statement
            if isinstance(change, Retraction):
                if statement in live:
                    end(live[statement])
                continue
            if statement in live:
                self.unchanged += 1
                continue
            name, key, sheet = change.sheet, change.key, BY_NAME[change.sheet]
            if sheet.settled == "latest" and (name, key) in by_key:
                end(by_key[name, key])
            at = write(Entry("+", statement, name, key, change.content, change.origin))
            born[at] = [at, self.n, None, statement, name, key, change.subject]
            live[statement] = one = _Live(at, statement, name, key)
            if sheet.settled == "latest":
                by_key[name, key] = one
            if sheet.clock == "catalogue":
                added.append(statement)
        if entries:
            self._open()
            self._insert(ENTRIES, entries)
        if ended:  # before the births: a statement taken back and asserted again holds once
            self._connection.execute(
                update(LIFE).where(LIFE.c.at == bindparam("ended")).values(to_n=self.n),
                [{"ended": at} for at in ended],
            )
        if born:
            self._insert(LIFE, born.values())
        self._state = state_after(self._state, added, removed)

    def _insert(self, table: Table, rows: Iterable[Sequence[Any]]) -> None:
        """Rows with a value for every column, in order."""
        # By the driver at once: SQLAlchemy's own handling of each row's values costs more than SQLite's writing.
        compiled = insert(table).compile(dialect=self._connection.dialect)
        named = not getattr(compiled, "positional", False)
        given: Any = [dict(zip(table.columns.keys(), r, strict=True)) if named else tuple(r) for r in rows]
        self._connection.exec_driver_sql(str(compiled), given)

    def _live(self, batch: list[Assertion | Retraction]) -> dict[str, _Live]:
        found = self._ask(_BY_ID, ids=[c.statement for c in batch])
        latest = [c for c in batch if isinstance(c, Assertion) and BY_NAME[c.sheet].settled == "latest"]
        for name, of_sheet in itertools.groupby(sorted(latest, key=lambda s: s.sheet), key=lambda s: s.sheet):
            found |= self._ask(_BY_KEY, keys=[s.key for s in of_sheet], sheet=name)
        return found

    def _ask(self, query: Select[Any], **names: Any) -> dict[str, _Live]:
        return {row.statement: _Live(*row) for row in self._connection.execute(query, names)}

    def seal(self) -> ChangeSet | None:
        """Complete the heading; None, and nothing is written, when no change changed anything."""
        if not self._count:
            return None
        heading = self._heading()
        sealed = replace(heading, hash=heading.hashed())
        values = {f: getattr(sealed, f) for f in ("count", "entries", "state", "hash")}
        self._connection.execute(update(CHANGE_SETS).where(CHANGE_SETS.c.n == self.n).values(values))
        self.sealed = self.n
        return sealed

    def _heading(self) -> ChangeSet:
        """What there is to say so far, without its hash."""
        return ChangeSet(
            self.n, *self._said, FORMAT, self.first, self._count, self._digest.hexdigest(), self._state,
            self._head.hash,
        )  # fmt: skip

    def _open(self) -> None:
        """Write the heading that entries refer to, open; nobody sees it before it is sealed.

        Written after them, or its number written again, SQLite would look through all entries for those that refer
        to it.
        """
        if not self._opened:
            values = {f: getattr(self._heading(), f) for f in ChangeSet.__slots__}
            self._connection.execute(insert(CHANGE_SETS), [values])
            self._opened = True

    @property
    def unsealed(self) -> bool:
        """Whether something was written that has no heading yet."""
        return self._opened and self.sealed is None


def _origin_text(origin: Origin | None) -> str:
    return canonical([origin.file, origin.sheet, origin.row, origin.column]) if origin else ""
