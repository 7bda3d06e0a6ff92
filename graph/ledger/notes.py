"""Notes that go into the database in the same transaction as a write that somebody else makes.

Whoever calls a function that writes may carry a note along: it is put down just before the commit, so that it is
there exactly if the write is. Notes travel with the calling thread.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from sqlalchemy import Connection

Note = Callable[[Connection, int | None], None]
"""Called with the connection and the number of the change set; None when the write makes none."""

_CARRIED: ContextVar[tuple[Note, ...]] = ContextVar("carried", default=())


@contextmanager
def carrying(note: Note) -> Iterator[None]:
    """Every write within the block puts the note down too."""
    token = _CARRIED.set((*_CARRIED.get(), note))
    try:
        yield
    finally:
        _CARRIED.reset(token)


def put_down(connection: Connection, n: int | None) -> None:
    """All notes that are carried, in the order in which they were taken up."""
    for note in _CARRIED.get():
        note(connection, n)
