"""Locks by name that only one process or thread holds, on one machine or, with PostgreSQL, on all of them.

A lock is free again when its holder dies, so that a kill leaves nothing to clear away.
"""

import fcntl
import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import text

from graph.errors import InFlight
from graph.ledger.ledger import Ledger


@contextmanager
def alone(ledger: Ledger, folder: Path, name: str, why: str) -> Iterator[None]:
    """Hold the lock; `folder` is where this machine's locks are.

    Raises
    ------
    InFlight
        Another one holds it; `why` says what that one does.
    """
    mark = hashlib.sha256(name.encode()).hexdigest()
    held = _in_database(ledger, int(mark[:15], 16), why) if isinstance(ledger.target, str) else _in(folder, mark, why)
    with held:
        yield


@contextmanager
def _in_database(ledger: Ledger, number: int, why: str) -> Iterator[None]:
    with ledger.engine.connect() as connection:
        if not connection.execute(text("SELECT pg_try_advisory_lock(:n)"), {"n": number}).scalar():
            raise InFlight(why, fix="ask again in a moment")
        connection.commit()  # the lock is the session's: no transaction stays open meanwhile
        try:
            yield
        finally:
            connection.execute(text("SELECT pg_advisory_unlock(:n)"), {"n": number})
            connection.commit()


@contextmanager
def _in(folder: Path, mark: str, why: str) -> Iterator[None]:
    locks = folder / "in-flight"
    locks.mkdir(exist_ok=True)
    place = locks / mark
    while True:
        handle = os.open(place, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            raise InFlight(why, fix="ask again in a moment") from None
        if _still_there(place, handle):
            break
        os.close(handle)  # its last holder took the file away between our two calls
    try:
        yield
    finally:
        place.unlink(missing_ok=True)
        os.close(handle)


def _still_there(place: Path, handle: int) -> bool:
    try:
        return place.stat().st_ino == os.fstat(handle).st_ino
    except FileNotFoundError:
        return False
