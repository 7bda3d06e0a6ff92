"""The tables of an index file.

A *thing* is what has a key: a part, a unit, an engine, a machine, or a bare number that limits and weaknesses
name. Every statement of the catalogue is filed once, under the thing it is about (0: none), in the order of
the table itself, so that all that is said of one thing lies on neighbouring pages.
"""

from typing import Final

COMPILER: Final = 1
"""Part of every catalogue's id: raise it with every change to what is written here or to how it is read."""

NOTHING: Final = 0
"""The thing that the small tables (layouts, rules, operations, …) are filed under."""

DDL: Final = (
    "CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
    """CREATE TABLE thing (
        id INTEGER PRIMARY KEY, type TEXT NOT NULL, key TEXT NOT NULL, maker TEXT NOT NULL, name TEXT NOT NULL,
        spelling TEXT NOT NULL, kind TEXT NOT NULL, label TEXT NOT NULL)""",
    """CREATE TABLE statement (
        thing INTEGER NOT NULL, sheet TEXT NOT NULL, id TEXT NOT NULL, content TEXT NOT NULL,
        PRIMARY KEY (thing, sheet, id)) WITHOUT ROWID""",
    # Where a thing is named by a statement that is filed under another one, or under none.
    """CREATE TABLE mention (
        thing INTEGER NOT NULL, sheet TEXT NOT NULL, filed INTEGER NOT NULL, id TEXT NOT NULL,
        PRIMARY KEY (thing, sheet, filed, id)) WITHOUT ROWID""",
    # Claims by what they say: quanta, or the code.
    """CREATE TABLE saying (
        feature TEXT NOT NULL, value NOT NULL, thing INTEGER NOT NULL, id TEXT NOT NULL,
        PRIMARY KEY (feature, value, thing, id)) WITHOUT ROWID""",
    "CREATE VIRTUAL TABLE words USING fts5(text, content='', contentless_delete=1, tokenize='trigram')",
)

INDEXES: Final = (
    "CREATE UNIQUE INDEX thing_key ON thing (key)",
    "CREATE INDEX thing_spelling ON thing (spelling, type)",
    "CREATE INDEX thing_name ON thing (name, type)",
    "CREATE INDEX mention_sheet ON mention (sheet, filed, id)",
    "CREATE INDEX thing_kind ON thing (kind) WHERE kind <> ''",
)
"""Made after a full compile has filled the tables, which is several times faster than keeping them meanwhile."""
