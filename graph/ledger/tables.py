"""The tables of the ledger, the same on SQLite and PostgreSQL.

`entries` is the record: rows are only ever added. `life` is drawn from it and says from which change set to
which an asserted statement held; the shelf is read from it live, and the catalogue of any version.
"""

from typing import Final

from sqlalchemy import BigInteger, Column, ForeignKey, Index, Integer, MetaData, String, Table, Text

FORMAT: Final = 1
"""The format number that this code writes; a ledger with a higher one is read, never written."""

METADATA: Final = MetaData()
_AT = BigInteger().with_variant(Integer, "sqlite")  # INTEGER is SQLite's own row number, a lookup less

CHANGE_SETS: Final = Table(
    "change_sets",
    METADATA,
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("author", Text, nullable=False),
    Column("time", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("format", Integer, nullable=False),
    Column("first", _AT, nullable=False),  # `at` of its first entry
    Column("count", Integer, nullable=False),
    Column("entries", String(64), nullable=False),  # digest of its entries
    Column("state", String(64), nullable=False, index=True),  # what the catalogue holds after it
    Column("parent", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
)

ENTRIES: Final = Table(
    "entries",
    METADATA,
    Column("at", _AT, primary_key=True, autoincrement=False),  # counts through the whole ledger, from 1
    Column("n", Integer, ForeignKey("change_sets.n", deferrable=True, initially="DEFERRED"), nullable=False),
    Column("op", String(1), nullable=False),  # + asserted, - retracted
    Column("statement", String(25), nullable=False),
    Column("sheet", Text, nullable=False),
    Column("key", Text, nullable=False),  # JSON list
    Column("content", Text, nullable=False),  # canonical JSON; empty for a retraction
    Column("origin", Text, nullable=False),  # JSON list; empty when not from a file
)

LIFE: Final = Table(
    "life",
    METADATA,
    Column("at", _AT, ForeignKey("entries.at"), primary_key=True, autoincrement=False),
    Column("from_n", Integer, nullable=False),
    Column("to_n", Integer),  # the change set that retracted it; empty while it holds
    Column("statement", String(25), nullable=False),
    Column("sheet", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("subject", Text),  # shelf only: the core or part the row is about, '' for rates
)
_LIVE = LIFE.c.to_n.is_(None)
_ENDED = LIFE.c.to_n.is_not(None)
_SHELF = LIFE.c.subject.is_not(None)
Index("life_statement", LIFE.c.statement)
Index("life_live", LIFE.c.statement, unique=True, sqlite_where=_LIVE, postgresql_where=_LIVE)
Index("life_key", LIFE.c.key, LIFE.c.sheet, sqlite_where=_LIVE, postgresql_where=_LIVE)
Index("life_ended", LIFE.c.to_n, sqlite_where=_ENDED, postgresql_where=_ENDED)
Index("life_shelf", LIFE.c.subject, LIFE.c.sheet, sqlite_where=_SHELF, postgresql_where=_SHELF)
