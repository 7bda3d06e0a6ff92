"""Backups of a store: one file that holds the whole record, made while it is written to, and checked when restored.

Index files are no part of it: they are compiled again from the record.
"""

import hashlib
import shutil
from contextlib import closing
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from graph.errors import BadFile, BadQuestion, Conflict
from graph.index.compile import sync
from graph.index.store import Store

SQLITE: Final[Any] = import_module("pysqlite3.dbapi2")
PAGES: Final = 1_000
"""Database pages copied at once; writers get their turn between."""


@dataclass(frozen=True, slots=True)
class Backup:
    """One backup: up to which change set, how many bytes, and the digest of the file."""

    name: str
    change_set: int
    bytes: int
    sha256: str


def backup(store: Store, target: Path) -> Backup:
    """Copy the record as it is at this moment into a file that is not there yet; whole, or not there at all.

    Raises
    ------
    BadQuestion
        The record is a PostgreSQL database.
    Conflict
        The file is there already.
    """
    if not isinstance(store.ledger.target, Path):
        raise BadQuestion("the record is a PostgreSQL database", fix="back it up with pg_dump")
    if target.exists():
        raise Conflict(f"{target.name} is there already", fix="name another file")
    target.parent.mkdir(parents=True, exist_ok=True)
    beside = target.with_name(target.name + ".partial")
    beside.unlink(missing_ok=True)
    with closing(SQLITE.connect(str(store.ledger.target))) as there, closing(SQLITE.connect(str(beside))) as here:
        there.backup(here, pages=PAGES)
        here.execute("PRAGMA journal_mode=DELETE")
    sync(beside)
    beside.replace(target)
    sync(target.parent)
    return told(target)


def told(file: Path) -> Backup:
    """What a backup holds.

    Raises
    ------
    BadFile
        It is none.
    """
    if not file.is_file():
        raise BadFile(f"{file.name} is no backup", fix="name a file that `backup` made")
    try:
        # Not by the ledger's own connection, which would turn the file to write-ahead logging.
        with closing(SQLITE.connect(f"file:{quote(str(file.resolve()))}?mode=ro&immutable=1", uri=True)) as opened:
            n = opened.execute("SELECT coalesce(max(n), 0) FROM change_sets").fetchone()[0]
    except SQLITE.DatabaseError as error:
        raise BadFile(f"{file.name} is no backup of a record", fix="name a file that `backup` made") from error
    digest = hashlib.sha256()
    with file.open("rb") as data:
        while piece := data.read(1 << 20):
            digest.update(piece)
    return Backup(file.name, n, file.stat().st_size, digest.hexdigest())


def restore(file: Path, folder: Path) -> Backup:
    """Make a store of a backup in a folder that has none; there once its chain was followed and its index made.

    Raises
    ------
    Conflict
        There is a store already; it is not touched.
    BadFile
        The backup is none, or damaged; nothing is left behind.
    """
    if (folder / "ledger.sqlite").exists() or (folder / "CURRENT").exists():
        raise Conflict(
            f"there is a store in {folder.name!r} already", fix="restore into an empty folder, then switch"
        )
    made = told(file)
    trial = folder.with_name(folder.name + ".restoring")
    shutil.rmtree(trial, ignore_errors=True)
    try:
        trial.mkdir(parents=True)
        shutil.copyfile(file, trial / "ledger.sqlite")
        store = Store.create(trial)
        try:
            faults = store.ledger.verify()
        finally:
            store.close()
        if faults:
            raise BadFile(f"the backup is damaged: {faults[0]}", fix="take another backup")
        for part in trial.rglob("*"):
            if part.is_file():
                sync(part)
        if folder.exists():
            folder.rmdir()
        trial.replace(folder)
        sync(folder.parent)
    except OSError as error:
        raise BadFile(f"the store cannot be put there: {error}", fix="give an empty or new folder") from error
    finally:
        shutil.rmtree(trial, ignore_errors=True)
    return made
