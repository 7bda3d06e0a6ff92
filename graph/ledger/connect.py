"""Connections to the ledger's database: SQLite with the settings that lose nothing, or PostgreSQL by URL."""

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

import pysqlite3.dbapi2 as pysqlite3
from sqlalchemy import URL, Connection, Engine, create_engine, event, text
from sqlalchemy.engine import ExceptionContext
from sqlalchemy.exc import DBAPIError

from graph.errors import BadQuestion, StoreDamaged, StoreFull, StoreReadOnly, StoreUnreachable

OLDEST: Final = (3, 51, 3)
"""SQLite before it may corrupt a WAL that two connections write (the WAL-reset bug, fixed in 3.51.3)."""

_WAL_BYTES: Final = 64 * 2**20  # a bulk import leaves a WAL of its own size behind otherwise
_DISK_FULL: Final = "53100"  # PostgreSQL's condition disk_full
_BUSY_MS: Final = 600_000  # a shelf write waits for a large publish rather than fail
_CACHE_KIB: Final = 131_072  # statement ids arrive in hash order; a bulk import thrashes a smaller cache


def refuse_old_library(version: tuple[int, ...] = pysqlite3.sqlite_version_info) -> None:
    """Raise StoreDamaged for a SQLite library that is known to corrupt a WAL."""
    if version < OLDEST:
        found, least = (".".join(map(str, v)) for v in (version, OLDEST))
        raise StoreDamaged(
            f"SQLite {found} may damage the store", fix=f"install pysqlite3 with SQLite {least} or newer"
        )


def engine_for(target: Path | str) -> Engine:
    """An engine for a SQLite file (a path) or a PostgreSQL database (a URL)."""
    if isinstance(target, str):
        if find_spec("psycopg") is None:
            raise BadQuestion("PostgreSQL takes the package psycopg", fix="install spoolwright[postgres]")
        engine = create_engine(target, isolation_level="READ COMMITTED", pool_pre_ping=True)
        event.listen(engine, "handle_error", _unreachable)
        return engine
    refuse_old_library()
    engine = create_engine(URL.create("sqlite", database=str(target)), module=pysqlite3)
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    event.listen(engine, "handle_error", partial(_unwritable, target))
    return engine


@contextmanager
def telling_full() -> Iterator[None]:
    """Let an error that says the disk has no room be told as that.

    Raises
    ------
    StoreFull
        It has none.
    """
    try:
        yield
    except Exception as error:
        if is_full(error):
            raise StoreFull(
                "the disk under the store is full; nothing was written", fix="make room, then send it again"
            ) from error
        raise


def is_full(error: Exception) -> bool:
    """SQLite and PostgreSQL leave no commit behind when they say so, so that the outcome is known."""
    told = error.orig if isinstance(error, DBAPIError) else error
    if isinstance(told, OSError):
        return told.errno in (errno.ENOSPC, errno.EDQUOT)
    return getattr(told, "sqlite_errorname", "") == "SQLITE_FULL" or getattr(told, "sqlstate", "") == _DISK_FULL


@contextmanager
def telling_read_only(folder: Path) -> Iterator[None]:
    """Let an error that says that a folder or disk may not be written be told as that.

    Raises
    ------
    StoreReadOnly
        It may not.
    """
    try:
        yield
    except OSError as error:
        if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
            raise _read_only(folder) from error
        raise


def _read_only(folder: Path) -> StoreReadOnly:
    return StoreReadOnly(
        f"the store in {folder.name!r} cannot be written here",
        fix="see that the disk is mounted for writing and that the folder and its files are the program's own",
    )


def _unwritable(file: Path, context: ExceptionContext) -> None:
    """A database in a place that may not be written cannot be opened by the way that loses nothing."""
    said = getattr(context.original_exception, "sqlite_errorname", "")
    if not said.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN")):
        return
    # SQLite says that it cannot open a file for want of handles, too.
    if not os.access(file.parent, os.W_OK) or (file.exists() and not os.access(file, os.W_OK)):
        raise _read_only(file.parent) from context.original_exception


def _unreachable(context: ExceptionContext) -> None:
    """A server that cannot be reached, or was lost on the way, is no fault of the question's."""
    if context.is_disconnect or (context.connection is None and isinstance(context.sqlalchemy_exception, DBAPIError)):
        raise StoreUnreachable(
            f"the store's database does not answer: {str(context.original_exception).splitlines()[0]}",
            fix="see that the database server runs and can be reached, then ask again",
        ) from context.original_exception


def _set_up(connection: Any, _record: object) -> None:
    connection.isolation_level = None  # the driver shall not begin transactions of its own
    cursor = connection.cursor()
    for pragma in (
        f"busy_timeout={_BUSY_MS}",
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        f"journal_size_limit={_WAL_BYTES}",
        f"cache_size=-{_CACHE_KIB}",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin(connection: Connection) -> None:
    # A plain BEGIN that later writes fails with BUSY at once when another writer was faster.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def lock_head(connection: Connection) -> None:
    """Keep other writers out until the transaction ends; SQLite's BEGIN IMMEDIATE has done so already."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("LOCK TABLE change_sets IN EXCLUSIVE MODE"))


def hold_snapshot(connection: Connection) -> None:
    """Let every read of this transaction see one moment; SQLite in WAL mode does so by itself."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY"))
