"""The desk of the moment, shared by all threads and opened anew when the store has moved on."""

import threading
from datetime import date
from pathlib import Path
from typing import Annotated

from fastapi import Depends, Request

from graph.desk import Desk, version_of
from graph.index.store import Store


class Current:
    """Hands each request a desk over the newest snapshot; a request keeps the one it was given."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._version = ""
        self._store: Store | None = None
        self._desk: Desk | None = None

    def store(self) -> Store:
        """The store, for writing."""
        with self._lock:
            if self._store is None:
                self._store = Store.open(self._folder)
            return self._store

    def desk(self) -> Desk:
        """The desk of now. Costs two small reads while neither clock has moved."""
        version = version_of(self._folder)
        if self._desk is not None and version == self._version:
            return self._desk
        with self._lock:
            if self._store is None:
                self._store = Store.open(self._folder)
            self._desk = Desk.over(self._store)
            self._version = version
            return self._desk


def current_desk(request: Request) -> Desk:
    """The desk for this request."""
    current: Current = request.app.state.current
    return current.desk()


def current_store(request: Request) -> Store:
    """The store for a request that writes."""
    current: Current = request.app.state.current
    return current.store()


CurrentStore = Annotated[Store, Depends(current_store)]
CurrentDesk = Annotated[Desk, Depends(current_desk)]


def today() -> str:
    """The day on which prices are read when the asker names none."""
    return date.today().isoformat()
