"""A store of one's own for as long as it takes to see what a change would change."""

import os
import shutil
import tempfile
import time as clock
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from graph.index.store import Store
from graph.ledger.draft import Change
from graph.publish.writing import Published, publish_statements

_STALE_SECONDS: Final = 3_600


@contextmanager
def tried(store: Store, changes: Iterable[Change], *, time: str) -> Iterator[tuple[Store, Published]]:
    """A copy of the store in which the changes are published, with what that came to; it vanishes with the block.

    The copy of a SQLite ledger is one `VACUUM INTO`, index files are shared. From PostgreSQL all that holds is
    written anew, which takes minutes for a million parts.
    """
    folder = store.folder / "trials"
    folder.mkdir(mode=0o700, exist_ok=True)
    _clear(folder)
    with tempfile.TemporaryDirectory(dir=folder) as name:
        copy = _copied(store, Path(name))
        try:
            yield copy, publish_statements(copy, changes, author="trial", time=time)
        finally:
            copy.close()


def _copied(store: Store, place: Path) -> Store:
    (place / "index").mkdir()
    if isinstance(store.ledger.target, str):
        copy = Store.create(place)
        with store.ledger.reading() as reading:
            publish_statements(copy, reading.as_of(reading.head().n), author="trial", time="")
        return copy
    live = store.catalogue().index.place
    os.link(live, place / "index" / live.name)
    raw = store.ledger.engine.raw_connection()
    try:
        raw.cursor().execute("VACUUM INTO ?", (str(place / "ledger.sqlite"),))
    finally:
        raw.close()
    return Store.open(place)


def _clear(folder: Path) -> None:
    """What a killed process left behind."""
    for rest in folder.iterdir():
        if clock.time() - rest.stat().st_mtime > _STALE_SECONDS:
            shutil.rmtree(rest, ignore_errors=True)
