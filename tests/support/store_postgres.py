"""A PostgreSQL server of the tests' own: a temporary folder, an unprivileged user, a socket, no port."""

import atexit
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import cache
from pathlib import Path

from sqlalchemy import text

from graph.ledger.connect import engine_for

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin"))


def _user() -> str | None:
    if os.getuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


def empty(url: str) -> None:
    """Drop everything that is in the database."""
    engine = engine_for(url)
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()


@cache
def shared() -> str:
    """The URL of one server for all tests of this process, ended with it."""
    held = ExitStack()
    atexit.register(held.close)
    return held.enter_context(server())


@contextmanager
def server() -> Iterator[str]:
    """The URL of a running server."""
    programs, user = PROGRAMS[-1], _user()
    folder = Path(tempfile.mkdtemp(prefix="pg"))
    try:
        if user:
            shutil.chown(folder, user)

        def run(*command: str) -> None:
            subprocess.run(command, user=user, cwd=folder, check=True, stdout=subprocess.DEVNULL, timeout=120)

        data = str(folder / "data")
        run(str(programs / "initdb"), "-D", data, "-U", "shop", "-A", "trust", "-E", "UTF8", "--no-sync")
        unsafe = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"  # nothing here outlives the tests
        options = f"-c listen_addresses='' -c unix_socket_directories={folder} {unsafe}"
        control = str(programs / "pg_ctl")
        run(control, "-D", data, "-w", "-l", str(folder / "log"), "-o", options, "start")
        try:
            yield f"postgresql+psycopg://shop@/postgres?host={folder}"
        finally:
            run(control, "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
