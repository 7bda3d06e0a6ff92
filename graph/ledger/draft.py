"""A change set being written, inside one transaction that nobody else sees until it is committed."""

import hashlib
import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, and_, bindparam, insert, select, update

from graph.ledger.chain import ChangeSet, Entry, state_after, statement_id
from graph.ledger.reading import AT_ONCE, Reading, batches, key_text, shelf_subject
from graph.ledger.tables import CHANGE_SETS, ENTRIES, FORMAT, LIFE
from graph.model.finding import Origin
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement, canonical


@dataclass(frozen=True, slots=True)
class Retraction:
    """Takes back one statement; nothing happens when it does not hold."""

    statement: str


Change = Statement | Retraction


@dataclass(slots=True)
class _Live:
    at: int
    statement: str
    sheet: str
    key: str


class Draft:
    """Collects changes; `seal` writes the heading. What already holds is not asserted again."""

    def __init__(self, connection: Connection, author: str, time: str, title: str) -> None:
        self.reading = Reading(connection)
        self.unchanged = 0
        self.sealed: int | None = None
        self._connection = connection
        self._heading = (author, time, title)
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
        read = [(c, "") if isinstance(c, Retraction) else (c, canonical(c.content())) for c in batch]
        ids = [c.statement if isinstance(c, Retraction) else statement_id(content) for c, content in read]
        live = self._live(ids, batch)
        by_key = {(one.sheet, one.key): one for one in live.values() if BY_NAME[one.sheet].settled == "latest"}
        entries: list[dict[str, Any]] = []
        born: dict[int, dict[str, Any]] = {}
        ended: list[int] = []
        added: list[str] = []
        removed: list[str] = []

        def write(entry: Entry) -> int:
            at = self.first + self._count
            self._count += 1
            self._digest.update(entry.line)
            entries.append({"at": at, "n": self.n, **{f: getattr(entry, f) for f in Entry.__slots__}})
            return at

        def end(one: _Live) -> None:
            write(Entry("-", one.statement, one.sheet, one.key, "", ""))
            del live[one.statement]
            by_key.pop((one.sheet, one.key), None)
            if one.at in born:
                born[one.at]["to_n"] = self.n
            else:
                ended.append(one.at)
            if BY_NAME[one.sheet].clock == "catalogue":
                removed.append(one.statement)

        for (change, content), statement in zip(read, ids, strict=True):
            if isinstance(change, Retraction):
                if statement in live:
                    end(live[statement])
                continue
            if statement in live:
                self.unchanged += 1
                continue
            sheet = BY_NAME[change.sheet]
            key = key_text(change.key)
            if sheet.settled == "latest" and (change.sheet, key) in by_key:
                end(by_key[change.sheet, key])
            at = write(Entry("+", statement, change.sheet, key, content, _origin_text(change.origin)))
            born[at] = {
                "at": at,
                "from_n": self.n,
                "to_n": None,
                "statement": statement,
                "sheet": change.sheet,
                "key": key,
                "subject": shelf_subject(change),
            }
            live[statement] = one = _Live(at, statement, change.sheet, key)
            if sheet.settled == "latest":
                by_key[change.sheet, key] = one
            if sheet.clock == "catalogue":
                added.append(statement)
        if entries:
            self._connection.execute(insert(ENTRIES), entries)
        if ended:  # before the births: a statement taken back and asserted again holds once
            self._connection.execute(
                update(LIFE).where(LIFE.c.at == bindparam("ended")).values(to_n=self.n),
                [{"ended": at} for at in ended],
            )
        if born:
            self._connection.execute(insert(LIFE), list(born.values()))
        self._state = state_after(self._state, added, removed)

    def _live(self, ids: list[str], batch: list[Change]) -> dict[str, _Live]:
        found = self._ask(LIFE.c.statement.in_(ids))
        latest = [c for c in batch if isinstance(c, Statement) and BY_NAME[c.sheet].settled == "latest"]
        for name, of_sheet in itertools.groupby(sorted(latest, key=lambda s: s.sheet), key=lambda s: s.sheet):
            keys = [key_text(s.key) for s in of_sheet]
            found |= self._ask(and_(LIFE.c.key.in_(keys), LIFE.c.sheet == name))
        return found

    def _ask(self, where: Any) -> dict[str, _Live]:
        query = select(LIFE.c.at, LIFE.c.statement, LIFE.c.sheet, LIFE.c.key).where(LIFE.c.to_n.is_(None), where)
        return {row.statement: _Live(*row) for row in self._connection.execute(query)}

    def seal(self) -> ChangeSet | None:
        """Write the heading; None, and nothing to write, when no change changed anything."""
        if not self._count:
            return None
        author, time, title = self._heading
        open_ = ChangeSet(
            self.n, author, time, title, FORMAT, self.first, self._count,
            self._digest.hexdigest(), self._state, self._head.hash,
        )  # fmt: skip
        values = {f: getattr(open_, f) for f in ChangeSet.__slots__} | {"hash": open_.hashed()}
        self._connection.execute(insert(CHANGE_SETS), [values])
        self.sealed = self.n
        return ChangeSet(**values)


def _origin_text(origin: Origin | None) -> str:
    return canonical([origin.file, origin.sheet, origin.row, origin.column]) if origin else ""
