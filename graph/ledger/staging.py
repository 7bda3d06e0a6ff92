"""Change sets in the making: what several requests put together before anything is published.

What was added is kept as it came, and read only when the whole is checked or committed: a row may rest on rows of
earlier items, and on whatever the store holds by then.
"""

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final, Literal, cast

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from graph.errors import BadQuestion, Conflict, NotFound, Stale
from graph.ledger.audit import note_act
from graph.ledger.ledger import Ledger
from graph.ledger.sidetables import ITEMS, STAGED

State = Literal["open", "committed", "dropped"]

ITEMS_MOST: Final = 1_000
BYTES_MOST: Final = 256 * 2**20
"""Bytes of all items of one change set; as much as one file may have that is published from the command line."""

FORMS: Final = ("rows", "csv", "zip", "xlsx", "ttl", "nq", "jsonld", "back")
"""What an item may be; `back` names statements that are to be taken back."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that was added. `name`: the file's; for rows the sheet's."""

    number: int
    form: str
    name: str
    size: int
    time: str
    who: str


@dataclass(frozen=True, slots=True)
class Staged:
    """A change set in the making. `version` grows with every change of it. `n`: the change set that it became."""

    id: str
    title: str
    made: str
    made_by: str
    version: int
    state: State
    n: int | None
    items: tuple[Item, ...] = ()


class Staging:
    """The change sets in the making of one ledger."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def make(self, title: str, *, by: str, time: str) -> Staged:
        """A new one with nothing in it."""
        made = Staged("c" + secrets.token_hex(5), title.strip(), time, by, 1, "open", None)
        values = {name: getattr(made, name) for name in Staged.__slots__ if name != "items"}
        with self._ledger.writing_beside() as connection:
            connection.execute(insert(STAGED), [values])
            note_act(connection, time, by, "change staged", f"{made.id}: {made.title}")
        return made

    def all(self, state: str = "") -> tuple[Staged, ...]:
        """All, or those of one state, newest first, without their items."""
        query = select(STAGED).order_by(STAGED.c.made.desc(), STAGED.c.id)
        if state:
            query = query.where(STAGED.c.state == state)
        with self._ledger.reading_beside() as connection:
            return tuple(_staged(row) for row in connection.execute(query))

    def get(self, id_: str) -> Staged:
        """One, with its items.

        Raises
        ------
        NotFound
            There is none of that id.
        """
        with self._ledger.reading_beside() as connection:
            return _get(connection, id_)

    def add(
        self, id_: str, form: str, name: str, body: bytes, *, by: str, time: str, version: int | None = None
    ) -> Staged:
        """Add rows or a file; what they say is looked at when the whole is checked. `version`: the one that was seen.

        Raises
        ------
        Conflict
            It is committed or dropped.
        Stale
            It has another version than `version`.
        BadQuestion
            It would be too much for one change set.
        """
        if form not in FORMS:
            raise BadQuestion(f"{form!r} is not read here", fix=f"send one of {', '.join(FORMS)}")
        with self._changing(id_, version) as (connection, staged):
            sizes = sum(item.size for item in staged.items) + len(body)
            if len(staged.items) >= ITEMS_MOST or sizes > BYTES_MOST:
                raise BadQuestion(
                    f"a change set takes {ITEMS_MOST} items of together {BYTES_MOST >> 20} MiB",
                    fix="commit what is there, then begin another",
                )
            number = max((item.number for item in staged.items), default=0) + 1
            connection.execute(
                insert(ITEMS),
                [
                    {
                        "staged": id_,
                        "number": number,
                        "form": form,
                        "name": name,
                        "body": body,
                        "time": time,
                        "who": by,
                    }
                ],
            )
        return self.get(id_)

    def remove(self, id_: str, number: int, *, version: int | None = None) -> Staged:
        """Take one item out again. `version` as for one that is added.

        Raises
        ------
        NotFound
            There is no such item.
        Stale
            It has another version than `version`.
        """
        with self._changing(id_, version) as (connection, staged):
            if number not in {item.number for item in staged.items}:
                raise NotFound(f"change {id_} has no item {number}", fix="look at its items")
            connection.execute(delete(ITEMS).where(ITEMS.c.staged == id_, ITEMS.c.number == number))
        return self.get(id_)

    def drop(self, id_: str, *, by: str, time: str, version: int | None = None) -> Staged:
        """Give it up; it stays on record without its items. `version` as for an item that is added.

        Raises
        ------
        Stale
            It has another version than `version`.
        """
        with self._changing(id_, version) as (connection, _):
            connection.execute(delete(ITEMS).where(ITEMS.c.staged == id_))
            connection.execute(update(STAGED).where(STAGED.c.id == id_).values(state="dropped"))
            note_act(connection, time, by, "change dropped", id_)
        return self.get(id_)

    def bodies(self, id_: str, version: int | None = None) -> tuple[tuple[Item, bytes], ...]:
        """What was added, in order.

        Raises
        ------
        Conflict
            It is not open any more.
        Stale
            It has another version than `version`.
        """
        with self._ledger.reading_beside() as connection:
            staged = _open(connection, id_)
            if version is not None and staged.version != version:
                raise _moved(staged, version)
            query = select(ITEMS.c.number, ITEMS.c.body).where(ITEMS.c.staged == id_)
            found = {row.number: row.body for row in connection.execute(query)}
        return tuple((item, bytes(found[item.number])) for item in staged.items)

    @contextmanager
    def _changing(self, id_: str, version: int | None) -> Iterator[tuple[Connection, Staged]]:
        with self._ledger.writing_beside() as connection:
            staged = _open(connection, id_)
            if version is not None and staged.version != version:
                raise _moved(staged, version)
            yield connection, staged
            connection.execute(update(STAGED).where(STAGED.c.id == id_).values(version=staged.version + 1))


def mark_committed(connection: Connection, id_: str, version: int, n: int | None) -> None:
    """Note, in the transaction that publishes it, which change set it became.

    Raises
    ------
    Conflict, Stale
        Somebody else was faster.
    """
    staged = _open(connection, id_)
    if staged.version != version:
        raise _moved(staged, version)
    connection.execute(update(STAGED).where(STAGED.c.id == id_).values(state="committed", n=n, version=version + 1))
    connection.execute(delete(ITEMS).where(ITEMS.c.staged == id_))


def _moved(staged: Staged, version: int) -> Stale:
    return Stale(
        f"change {staged.id} has version {staged.version}, not {version}", fix="look at it again, then go on"
    )


def _get(connection: Connection, id_: str) -> Staged:
    row = connection.execute(select(STAGED).where(STAGED.c.id == id_)).first()
    if row is None:
        raise NotFound(f"there is no change {id_!r} in the making", fix="the list of changes shows their ids")
    size = func.length(ITEMS.c.body)
    query = select(ITEMS.c.number, ITEMS.c.form, ITEMS.c.name, size, ITEMS.c.time, ITEMS.c.who)
    items = connection.execute(query.where(ITEMS.c.staged == id_).order_by(ITEMS.c.number))
    return _staged(row, tuple(Item(*item) for item in items))


def _open(connection: Connection, id_: str) -> Staged:
    staged = _get(connection, id_)
    if staged.state != "open":
        became = f" as change set {staged.n}" if staged.n else ""
        raise Conflict(f"change {id_} is {staged.state}{became}", fix="begin another one")
    return staged


def _staged(row: Row[tuple[object, ...]], items: tuple[Item, ...] = ()) -> Staged:
    said = row._mapping
    return Staged(
        said["id"], said["title"], said["made"], said["made_by"], said["version"], cast(State, said["state"]),
        said["n"], items,
    )  # fmt: skip
