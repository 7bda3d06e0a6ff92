"""The tables beside the record: keys, kept replies, staged change sets, events, deliveries, watched questions.

They live in the ledger's database so that a row here and a change set are committed together or not at all. They
are no part of the hash chain: what they hold may be lost without a claim being lost.
"""

from typing import Final

from sqlalchemy import Column, Index, Integer, LargeBinary, String, Table, Text

from graph.ledger.tables import METADATA

KEYS: Final = Table(
    "keys",
    METADATA,
    Column("id", String(12), primary_key=True),  # the part of a key that is no secret
    Column("name", Text, nullable=False, unique=True),  # the author of what is written with it
    Column("scopes", Text, nullable=False),  # words with a space between, in the order of SCOPES
    Column("digest", String(64), nullable=False),  # SHA-256 of the secret, which is 256 random bits
    Column("made", Text, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("revoked", Text),  # when; empty while it opens
)

AUDIT: Final = Table(
    "audit",
    METADATA,
    Column("at", Integer, primary_key=True, autoincrement=False),
    Column("time", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("did", Text, nullable=False),
    Column("about", Text, nullable=False),
)

REPLIES: Final = Table(
    "replies",
    METADATA,
    Column("caller", Text, primary_key=True),
    Column("key", Text, primary_key=True),  # the Idempotency-Key as it came
    Column("request", String(64), nullable=False),  # SHA-256 of method, address and body
    Column("time", Text, nullable=False),
    Column("steps", Integer, nullable=False),  # writes of this request that are committed
    Column("status", Integer),  # empty until the answer is kept
    Column("headers", Text),
    Column("body", LargeBinary),
)
Index("replies_time", REPLIES.c.time)

STAGED: Final = Table(
    "staged",
    METADATA,
    Column("id", String(16), primary_key=True),
    Column("title", Text, nullable=False),
    Column("made", Text, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("version", Integer, nullable=False),  # grows with every change of it
    Column("state", String(9), nullable=False),  # open, committed, dropped
    Column("n", Integer),  # the change set it became
)

ITEMS: Final = Table(
    "staged_items",
    METADATA,
    Column("staged", String(16), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("form", String(8), nullable=False),  # rows, xlsx, turtle
    Column("name", Text, nullable=False),  # the file's; a sheet's for rows
    Column("body", LargeBinary, nullable=False),
    Column("time", Text, nullable=False),
    Column("who", Text, nullable=False),
)

EVENTS: Final = Table(
    "events",
    METADATA,
    Column("at", Integer, primary_key=True, autoincrement=False),  # in the order of commits, from 1, without gaps
    Column("id", String(32), nullable=False, unique=True),
    Column("type", Text, nullable=False),
    Column("time", Text, nullable=False),
    Column("n", Integer, nullable=False),  # the head when it happened
    Column("data", Text, nullable=False),  # JSON
)

HOOKS: Final = Table(
    "hooks",
    METADATA,
    Column("id", String(16), primary_key=True),
    Column("url", Text, nullable=False),
    Column("secret", Text, nullable=False),  # in clear, since each delivery is signed with it
    Column("types", Text, nullable=False),  # words with a space between; empty: all
    Column("made", Text, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("ended", Text),
)

DELIVERIES: Final = Table(
    "deliveries",
    METADATA,
    Column("hook", String(16), primary_key=True),
    Column("at", Integer, primary_key=True, autoincrement=False),  # of the event
    Column("state", String(9), nullable=False),  # waiting, delivered, dead
    Column("tries", Integer, nullable=False),
    Column("due", Integer, nullable=False),  # s since 1970 from which it is tried
    Column("last", Text, nullable=False),  # what the last try came to
    Column("time", Text, nullable=False),  # of the last try
)
Index("deliveries_due", DELIVERIES.c.state, DELIVERIES.c.due)

WATCHES: Final = Table(
    "watches",
    METADATA,
    Column("id", String(16), primary_key=True),
    Column("label", Text, nullable=False),
    Column("question", Text, nullable=False),  # JSON
    Column("made", Text, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("n", Integer, nullable=False),  # the head at which it was last asked
    Column("word", Text, nullable=False),
    Column("sentence", Text, nullable=False),
    Column("ended", Text),
)

GONE: Final = Table(
    "events_gone",
    METADATA,
    Column("through", Integer, primary_key=True, autoincrement=False),  # one row: the last event that was let go
    Column("time", Text, nullable=False),
)

LAST: Final = GONE
"""The table that was added last: a ledger that has it has them all."""
