"""The desk of the moment, shared by all threads and opened anew when the store has moved on."""

import os
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Annotated, Final, cast

from fastapi import Depends, Request
from fastapi.concurrency import run_in_threadpool

from api.http import notes
from api.http.refusals import BadHeader
from graph.desk import Desk
from graph.errors import NotFound
from graph.index.catalogue import Catalogue
from graph.index.held import HeldShelf
from graph.index.store import Store
from graph.ledger.ledger import Ledger
from graph.ledger.reading import Reading

AS_OF: Final = re.compile(r"[0-9]{1,9}|[0-9]{4}-[0-9]{2}-[0-9]{2}")


class Watched:
    """A ledger that notes when an answer reads the shelf from it."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    @contextmanager
    def reading(self) -> Iterator[Reading]:
        """One moment of the ledger, noted."""
        _shelf_read()
        with self._ledger.reading() as reading:
            yield reading


class Current:
    """Hands each request a desk over the newest snapshot; a request keeps the one it was given."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._marked = (str(folder / "CURRENT"), str(folder / "head"))
        self._lock = threading.Lock()
        self._version = ""
        self._store: Store | None = None
        self._desk: Desk | None = None

    def store(self) -> Store:
        """The store, for writing."""
        with self._lock:
            if self._store is None:
                self._store = Store.open(self.folder)
            return self._store

    def version(self) -> str:
        """A text that changes with every publish and every shelf write; it costs two looks at files."""
        current, head = self._marked
        return f"{_mark(current)}|{_mark(head)}"

    def desk(self) -> Desk:
        """The desk of now."""
        version = self.version()
        if self._desk is not None and version == self._version:
            return self._desk
        with self._lock:
            if self._store is None:
                self._store = Store.open(self.folder)
            catalogue, shelf = self._store.snapshot()
            before = self._desk
            recall = before.recall if before is not None and before.catalogue is catalogue else None
            self._desk = Desk(self._store, catalogue, _held(self._store, shelf.n, catalogue), recall)
            self._version = version
            return self._desk

    def desk_at(self, asked: str) -> Desk:
        """The desk as it was after a change set (its number), or at the end of a day (UTC).

        Raises
        ------
        BadHeader
            It is neither.
        NotFound
            There was no such change set, or none yet.
        """
        now = self.desk()
        if not AS_OF.fullmatch(asked):
            raise BadHeader(f"as-of={asked!r} is no change set and no day", fix="give a number, or YYYY-MM-DD")
        notes.read("shelf")
        n = int(asked) if asked.isdigit() else self._last_of(asked)
        if n > now.snapshot.shelf:
            raise NotFound(f"there is no change set {n} yet", fix=f"the last one is {now.snapshot.shelf}")
        if n == now.snapshot.shelf:
            return now
        store = self.store()
        catalogue, shelf = store.as_of(n)
        return Desk(store, catalogue, _held(store, shelf.n, catalogue))

    def _last_of(self, day: str) -> int:
        with self.store().ledger.reading() as reading:
            found = [change.n for change in reading.history() if change.time[:10] <= day]
        if not found:
            raise NotFound(f"nothing was on record on {day}", fix="history lists the change sets")
        return found[-1]

    def close(self) -> None:
        """Give the store's connections back."""
        with self._lock:
            if self._store is not None:
                self._store.close()
            self._store = self._desk = None
            self._version = ""


def _held(store: Store, n: int, catalogue: Catalogue) -> HeldShelf:
    return HeldShelf(cast(Ledger, Watched(store.ledger)), n, catalogue, _shelf_read)


def _shelf_read() -> None:
    notes.read("shelf")


def _mark(file: str) -> str:
    """What changes when the file is replaced: both files are written beside and renamed into place."""
    try:
        found = os.stat(file)  # noqa: PTH116 - a third of what Path.stat costs, and asked for by every request
    except FileNotFoundError:
        return ""
    return f"{found.st_ino}.{found.st_mtime_ns}.{found.st_size}"


async def current_desk(request: Request) -> Desk:
    """The desk for this request; asynchronous, since a hop to a thread costs more than the look at the files."""
    current: Current = request.app.state.current
    asked = request.scope["state"].get("as_of", "")
    desk = await run_in_threadpool(current.desk_at, asked) if asked else current.desk()
    notes.answered_from(desk.snapshot)
    return desk


async def current_store(request: Request) -> Store:
    """The store for a request that writes."""
    current: Current = request.app.state.current
    if request.scope["state"].get("as_of"):
        raise BadHeader("what was cannot be written to", fix="leave as-of out")
    return current.store()


CurrentStore = Annotated[Store, Depends(current_store)]
CurrentDesk = Annotated[Desk, Depends(current_desk)]


def today() -> str:
    """The day on which prices are read when the asker names none."""
    notes.read("day")
    return date.today().isoformat()
