"""The hash chain over change sets and the state of the catalogue, as plain computation.

An entry's digest covers everything it says; a change set's covers its entries, its heading and its parent, so
that a change anywhere shows in every later hash. The state is the sum of the digests of all catalogue
statements that hold, modulo 2^256: the same content gives the same state, whatever way led there, and adding
or retracting a statement costs one addition.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from graph.model.statement import canonical, digest

EMPTY: Final = "0" * 64
"""State of an empty catalogue, and parent of the first change set."""
_MODULUS: Final = 1 << 256


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a change set: a statement asserted (`+`) or retracted (`-`)."""

    op: str
    statement: str
    sheet: str
    key: str
    content: str
    origin: str

    @property
    def line(self) -> bytes:
        """What the digest of a change set's entries is taken over."""
        # Key, content and origin are JSON, in which a NUL is escaped: no two entries give one line.
        said = (self.op, self.statement, self.sheet, self.key, self.content, self.origin)
        return ("\0".join(said) + "\n").encode()


@dataclass(frozen=True, slots=True)
class ChangeSet:
    """The heading of one change set; `entries` is the digest of its lines."""

    n: int
    author: str
    time: str
    title: str
    format: int
    first: int
    count: int
    entries: str
    state: str
    parent: str
    hash: str = ""

    def hashed(self) -> str:
        """The hash that belongs to this heading."""
        return digest([getattr(self, name) for name in self.__slots__ if name != "hash"])


def statement_id(content: str) -> str:
    """The id of a statement from its canonical JSON, as `Statement.id` gives it."""
    return "s" + hashlib.sha256(content.encode()).hexdigest()[:24]


def state_after(state: str, added: Iterable[str], removed: Iterable[str]) -> str:
    """The state when these statements (ids) were added and those removed."""
    total = int(state, 16)
    total += sum(_weight(one) for one in added) - sum(_weight(one) for one in removed)
    return f"{total % _MODULUS:064x}"


def _weight(statement: str) -> int:
    return int.from_bytes(hashlib.sha256(statement.encode()).digest(), "big")


class Tally:
    """The sum of the digests of rows, to compare two tables whatever their order."""

    def __init__(self) -> None:
        self.total = 0

    def add(self, *row: object) -> None:
        """Count one row."""
        self.total += _weight(canonical(list(row)))
