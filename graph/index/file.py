"""An index file opened for reading: immutable, one connection a thread."""

import threading
from collections.abc import Iterator, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from graph.errors import NotFound, StoreDamaged
from graph.index.schema import COMPILER
from graph.rules.kept import Kept

SQLITE: Final[Any] = import_module("pysqlite3.dbapi2")
"""The SQLite that the ledger uses too; Python's own may lack what the index needs."""


WRITTEN: Final = 2_000
"""Texts of which the things of exactly that name are kept; one takes less than a kilobyte."""


class IndexFile:
    """Read-only access to one index file; safe to share between threads."""

    def __init__(self, place: Path) -> None:
        if not place.exists():
            raise NotFound(f"there is no index {place.name}", fix="compile that version again")
        self.place = place
        self.written = Kept(WRITTEN)
        self._local = threading.local()
        self._inode = place.stat().st_ino
        try:
            ((self._bytes,),) = self.ask(
                "SELECT p.page_count * s.page_size FROM pragma_page_count p, pragma_page_size s"
            )
            meta = dict(self.ask("SELECT name, value FROM meta"))
            self.id = str(meta["id"])
            self.state = str(meta["state"])
            compiler = int(meta["compiler"])
        except (SQLITE.DatabaseError, KeyError, ValueError) as error:
            raise StoreDamaged(
                f"{place.name} is not a whole index: {error}", fix="compile that version again"
            ) from error
        if compiler != COMPILER:
            raise StoreDamaged(
                f"{place.name} was written by compiler {compiler}; this one is {COMPILER}",
                fix="compile that version again",
            )

    @property
    def whole(self) -> bool:
        """Whether the file at its place is still this one, and as long as its first page says."""
        try:
            found = self.place.stat()
        except FileNotFoundError:
            return False
        return found.st_ino == self._inode and found.st_size == self._bytes

    def ask(self, query: str, names: Sequence[Any] = ()) -> Iterator[tuple[Any, ...]]:
        """The rows of one query."""
        connection = getattr(self._local, "connection", None)
        if connection is None:
            where = f"file:{quote(str(self.place))}?mode=ro&immutable=1"
            connection = self._local.connection = SQLITE.connect(where, uri=True, isolation_level=None)
        yield from connection.execute(query, names)


def marks(names: Sequence[Any]) -> str:
    """As many question marks as there are names."""
    return ",".join("?" * len(names))
