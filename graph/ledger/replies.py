"""Retries of a write: whether it was carried out, and the answer it got, for a day.

A request that carries a key is put on record in the transaction of its write, so that a caller who never saw the
answer may ask again: what was written is not written twice. The answer itself is kept after the write; a crash
between the two leaves a request that is known to be carried out, whose answer is made anew.
"""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from sqlalchemy import ColumnElement, Connection, delete, insert, select, update

from graph.errors import KeyReused
from graph.ledger.alone import alone
from graph.ledger.ledger import Ledger
from graph.ledger.notes import carrying
from graph.ledger.sidetables import REPLIES

BODY_MOST: Final = 2**20
"""Bytes of an answer that is kept; a longer one is made anew."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Who asks, with which key, what (a digest), and when; `since`: a record older than this counts no more."""

    caller: str
    key: str
    request: str
    time: str
    since: str


@dataclass(frozen=True, slots=True)
class Reply:
    """A kept answer. `steps`: writes that are committed. `status` 0: the answer was not kept."""

    steps: int
    status: int
    headers: str
    body: bytes


def request_digest(method: str, address: str, body: bytes) -> str:
    """What a request is, so that another one under the same key is noticed."""
    return hashlib.sha256(f"{method} {address}\n".encode() + body).hexdigest()


class Replies:
    """The kept answers of one ledger; `folder` is where this machine's locks are."""

    def __init__(self, ledger: Ledger, folder: Path) -> None:
        self._ledger = ledger
        self._folder = folder

    def earlier(self, asked: Asked) -> Reply | None:
        """What came of an earlier request with this key.

        Raises
        ------
        KeyReused
            It was another request.
        """
        with self._ledger.reading_beside() as connection:
            row = connection.execute(select(REPLIES).where(_of(asked), REPLIES.c.time >= asked.since)).first()
        if row is None:
            return None
        if row.request != asked.request:
            raise KeyReused("this Idempotency-Key came with another request", fix="take a new key for a new request")
        return Reply(row.steps, row.status or 0, row.headers or "", row.body or b"")

    @contextmanager
    def noting(self, asked: Asked, step: int) -> Iterator[None]:
        """Whatever is written within the block is put on record as this request's write number `step`."""

        def note(connection: Connection, _n: int | None) -> None:
            done = connection.execute(
                update(REPLIES).where(_of(asked), REPLIES.c.time >= asked.since).values(steps=step)
            )
            if done.rowcount:
                return
            connection.execute(delete(REPLIES).where(REPLIES.c.time < asked.since))
            connection.execute(
                insert(REPLIES),
                [{"caller": asked.caller, "key": asked.key, "request": asked.request, "time": asked.time,
                  "steps": step}],
            )  # fmt: skip

        with carrying(note):
            yield

    def keep(self, asked: Asked, status: int, headers: str, body: bytes) -> None:
        """Keep the answer, if the request wrote anything."""
        if len(body) > BODY_MOST:
            return
        with self._ledger.writing_beside() as connection:
            connection.execute(update(REPLIES).where(_of(asked)).values(status=status, headers=headers, body=body))

    @contextmanager
    def alone(self, asked: Asked) -> Iterator[None]:
        """Keep others with the same key out; the lock is free again when its holder dies.

        Raises
        ------
        InFlight
            Another one is at it.
        """
        why = "a request with this Idempotency-Key is being carried out"
        with alone(self._ledger, self._folder, f"{asked.caller}\0{asked.key}", why):
            yield


def _of(asked: Asked) -> ColumnElement[bool]:
    return (REPLIES.c.caller == asked.caller) & (REPLIES.c.key == asked.key)
