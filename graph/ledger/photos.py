"""Photographs of cores, kept in the ledger's database, so that a backup of the record has them too.

A photo's name is the beginning of the SHA-256 of its bytes; the name stands in the core's row on the hash chain, so
that a photo which was changed afterwards is noticed. Photo and row are committed together or not at all.
"""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from sqlalchemy import Column, Connection, LargeBinary, String, Table, Text, insert, inspect, select

from graph.errors import NotFound, StoreDamaged
from graph.ledger.ledger import Ledger
from graph.ledger.notes import carrying
from graph.ledger.tables import METADATA

DIGITS: Final = 32
"""Of the 64 hexadecimal digits of the SHA-256: 128 bits."""

PHOTOS: Final = Table(
    "photos",
    METADATA,
    Column("name", String(40), primary_key=True),
    Column("time", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("body", LargeBinary, nullable=False),
)


def photo_name(data: bytes, suffix: str) -> str:
    """How these bytes are called; `suffix` with its dot."""
    return hashlib.sha256(data).hexdigest()[:DIGITS] + suffix


class Photos:
    """The photos of one ledger."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    @contextmanager
    def keeping(self, name: str, data: bytes, *, who: str, time: str) -> Iterator[None]:
        """Whatever is written within the block takes the photo along; one that is there already stays."""
        self._complete()

        def note(connection: Connection, _n: int | None) -> None:
            if connection.execute(select(PHOTOS.c.name).where(PHOTOS.c.name == name)).first() is None:
                connection.execute(insert(PHOTOS), [{"name": name, "time": time, "who": who, "body": data}])

        with carrying(note):
            yield

    def photo(self, name: str) -> bytes:
        """The bytes of a photo.

        Raises
        ------
        NotFound
            There is none of that name.
        StoreDamaged
            They are not the bytes that were put there.
        """
        self._complete()
        with self._ledger.reading_beside() as connection:
            row = connection.execute(select(PHOTOS.c.body).where(PHOTOS.c.name == name)).first()
        if row is None:
            raise NotFound(f"there is no photo {name!r} here", fix="look at the core again")
        data = bytes(row.body)
        if photo_name(data, "") != name.partition(".")[0]:
            raise StoreDamaged(f"photo {name} is not what was put there", fix="restore a backup")
        return data

    def held(self, names: tuple[str, ...]) -> frozenset[str]:
        """Those of the names that are photos here; others are files that the shop keeps elsewhere."""
        self._complete()
        with self._ledger.reading_beside() as connection:
            rows = connection.execute(select(PHOTOS.c.name).where(PHOTOS.c.name.in_(names)))
            return frozenset(row.name for row in rows)

    def _complete(self) -> None:
        if not inspect(self._ledger.engine).has_table(PHOTOS.name):
            self._ledger.create()
