"""Compiling an index file: all of one version, or the previous file with one change set applied.

The file is written beside its place, synced and renamed, so that a name always stands for a whole file. Equal
catalogues give files that hold the same, whichever way they were made; numbers of things may differ.
"""

import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from graph.collector import seldom
from graph.index.file import SQLITE
from graph.index.filing import DESCRIBES, Thing, about, named, sayings
from graph.index.schema import COMPILER, DDL, INDEXES, NOTHING
from graph.ledger.reading import Difference, batches
from graph.model.statement import Statement, canonical

Progress = Callable[[int], None]
"""Called now and then with the number of statements done."""

Content = tuple[str, str]  # id and canonical JSON

_AT_ONCE: Final = 5_000


def catalogue_id(state: str) -> str:
    """The id of the catalogue with this content, as this compiler writes it."""
    return sha256(f"{state} {COMPILER}".encode()).hexdigest()[:32]


@seldom()
def compile_all(place: Path, state: str, contents: Iterable[Content], progress: Progress | None = None) -> None:
    """Write the index of these catalogue statements, as `Reading.contents` gives them."""
    with _written(place) as beside, closing(SQLITE.connect(beside)) as connection:
        _fast(connection)
        for line in DDL:
            connection.execute(line)
        writer = _Writer(connection)
        for done, batch in enumerate(batches(contents, _AT_ONCE), 1):
            writer.add(batch)
            if progress:
                progress(done * _AT_ONCE)
        for line in INDEXES:
            connection.execute(line)
        _finish(connection, state)


def compile_changes(place: Path, state: str, previous: Path, changes: Iterable[Difference]) -> None:
    """Write the index from a previous one; `changes` has the retractions first."""
    with _written(place) as beside:
        shutil.copyfile(previous, beside)
        with closing(SQLITE.connect(beside)) as connection:
            _fast(connection)
            writer = _Writer(connection)
            for batch in batches(changes, _AT_ONCE):
                writer.remove([c.statement for c in batch if c.op == "-"])
                writer.add([(c.statement.id, canonical(c.statement.content())) for c in batch if c.op == "+"])
            writer.sweep()
            _finish(connection, state)


def _fast(connection: Any) -> None:
    connection.isolation_level = None
    # Nothing of this file counts before it is synced and renamed: no journal, no sync meanwhile.
    for pragma in ("journal_mode=OFF", "synchronous=OFF", "cache_size=-64000", "temp_store=MEMORY"):
        connection.execute(f"PRAGMA {pragma}")
    connection.execute("BEGIN")


def _finish(connection: Any, state: str) -> None:
    meta = (("id", catalogue_id(state)), ("state", state), ("compiler", str(COMPILER)))
    connection.executemany("INSERT OR REPLACE INTO meta VALUES (?, ?)", meta)
    connection.execute("COMMIT")


@contextmanager
def _written(place: Path) -> Iterator[Path]:
    beside = place.with_suffix(".partial")
    beside.unlink(missing_ok=True)
    try:
        yield beside
        sync(beside)
        beside.replace(place)
        sync(place.parent)
    finally:
        beside.unlink(missing_ok=True)


def sync(path: Path) -> None:
    """Make a file, or the names in a folder, last through a power cut."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class _Writer:
    """Files statements and keeps the things they are about."""

    def __init__(self, connection: Any) -> None:
        self._sql = connection.execute
        self._many = connection.executemany
        self._next = connection.execute("SELECT coalesce(max(id), 0) + 1 FROM thing").fetchone()[0]
        self._ids: dict[str, int] = {}
        self._described: set[int] = set()
        self._touched: set[int] = set()

    def add(self, contents: list[Content]) -> None:
        """File statements."""
        read = [(id_, content, Statement.of(json.loads(content))) for id_, content in contents]
        filed = [(id_, content, s, about(s), named(s)) for id_, content, s in read]
        self._meet([t for *_, one, others in filed for t in (one, *others) if t])
        rows, mentions, said, described = [], [], [], []
        for id_, content, s, one, others in filed:
            thing = self._ids[one.key] if one else NOTHING
            rows.append((thing, s.sheet, id_, content))
            mentions += [(self._ids[other.key], s.sheet, thing, id_) for other in others]
            said += [(feature, value, thing, id_) for feature, value in sayings(s)]
            if one and s.sheet in DESCRIBES:
                described.append((s, thing, one))
        self._many("INSERT INTO statement VALUES (?, ?, ?, ?)", rows)
        self._many("INSERT OR IGNORE INTO mention VALUES (?, ?, ?, ?)", mentions)
        self._many("INSERT OR IGNORE INTO saying VALUES (?, ?, ?, ?)", said)
        self._describe(described)

    def _meet(self, things: list[Thing]) -> None:
        unmet = {t.key: t for t in things if t.key not in self._ids}
        for keys in batches(sorted(unmet), 2000):
            marks = ",".join("?" * len(keys))
            self._ids.update(self._sql(f"SELECT key, id FROM thing WHERE key IN ({marks})", keys))  # noqa: S608
        fresh = [(key, t) for key, t in unmet.items() if key not in self._ids]
        for number, (key, _) in enumerate(fresh, self._next):
            self._ids[key] = number
        self._next += len(fresh)
        self._many(
            "INSERT INTO thing VALUES (?, ?, ?, ?, ?, ?, '', '')",
            [(self._ids[key], t.type, key, t.maker, t.name, t.spelled) for key, t in fresh],
        )

    def _describe(self, described: list[tuple[Statement, int, Thing]]) -> None:
        kinds = [(str(s.fields.get("kind", "")), str(s.fields.get("label", "")), n) for s, n, _ in described]
        self._many("UPDATE thing SET kind = ?, label = ? WHERE id = ?", kinds)
        self._many("DELETE FROM words WHERE rowid = ?", [(n,) for _, n, _ in described if n in self._described])
        self._many(
            "INSERT INTO words (rowid, text) VALUES (?, ?)",
            [(n, f"{t.spelled} {t.name} {s.fields.get('label', '')}") for s, n, t in described],
        )
        self._described.update(n for _, n, _ in described)

    def remove(self, statements: list[Statement]) -> None:
        """Take statements out."""
        for s in statements:
            one = about(s)
            thing = self._number(one) if one else NOTHING
            self._sql("DELETE FROM statement WHERE thing = ? AND sheet = ? AND id = ?", (thing, s.sheet, s.id))
            self._many(
                "DELETE FROM saying WHERE feature = ? AND value = ? AND thing = ? AND id = ?",
                [(feature, value, thing, s.id) for feature, value in sayings(s)],
            )
            for number in (self._number(other) for other in named(s)):
                self._touched.add(number)
                self._sql(
                    "DELETE FROM mention WHERE thing = ? AND sheet = ? AND filed = ? AND id = ?",
                    (number, s.sheet, thing, s.id),
                )
            if one:
                self._touched.add(thing)
            if one and s.sheet in DESCRIBES:
                self._sql("UPDATE thing SET kind = '', label = '' WHERE id = ?", (thing,))
                self._sql("DELETE FROM words WHERE rowid = ?", (thing,))

    def _number(self, thing: Thing) -> int:
        self._meet([thing])
        return self._ids[thing.key]

    def sweep(self) -> None:
        """Forget things that nothing speaks of any more."""
        self._many(
            """DELETE FROM thing WHERE id = ?1 AND NOT EXISTS (SELECT 1 FROM statement WHERE thing = ?1)
            AND NOT EXISTS (SELECT 1 FROM mention WHERE thing = ?1)""",
            [(n,) for n in sorted(self._touched)],
        )


def content_digest(place: Path) -> str:
    """A digest of all that an index file says, free of the numbers it gave to things."""
    with closing(SQLITE.connect(f"file:{place}?mode=ro&immutable=1", uri=True)) as connection:
        lines = sha256()
        for query in (
            "SELECT name, value FROM meta ORDER BY 1",
            "SELECT type, key, maker, name, spelling, kind, label FROM thing ORDER BY key",
            """SELECT coalesce(t.key, ''), s.sheet, s.id, s.content FROM statement s
            LEFT JOIN thing t ON t.id = s.thing ORDER BY s.id""",
            """SELECT t.key, m.sheet, m.id, coalesce(f.key, '') FROM mention m JOIN thing t ON t.id = m.thing
            LEFT JOIN thing f ON f.id = m.filed ORDER BY m.id, t.key""",
            """SELECT s.feature, s.value, t.key, s.id FROM saying s JOIN thing t ON t.id = s.thing
            ORDER BY s.id, s.value""",
            "SELECT t.key FROM words w JOIN thing t ON t.id = w.rowid ORDER BY t.key",
        ):
            for row in connection.execute(query):
                lines.update(canonical(list(row)).encode() + b"\n")
        return lines.hexdigest()
