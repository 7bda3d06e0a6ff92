"""Verbs that keep: check, publish, history, diff, undo, export."""

import getpass
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from api.cli.asking import Demo, Json, Store, desk_at
from api.cli.output import FAULTS, fail, remark, say, say_json
from api.settings import ledger_url, store_path
from api.text.findings import finding_lines
from api.text.history import diff_lines, history_lines
from graph.errors import SpoolwrightError
from graph.index.store import Store as Folder
from graph.model.codec import to_json

File = Annotated[
    Path, typer.Argument(help="An .xlsx workbook, a folder or .zip of CSV, or a .csv, .ttl, .nq or .jsonld file.")
]
Encoding = Annotated[str, typer.Option(help="Encoding of CSV files; default: UTF-8.")]
Comma = Annotated[bool, typer.Option("--decimal-comma", help="The file writes 15,875 for 15.875.")]
Author = Annotated[str, typer.Option(help="Who publishes; default: the name you are logged in with.")]


def now() -> str:
    """The time as change sets carry it: UTC, to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@contextmanager
def progress() -> Iterator[Callable[[str, int], None]]:
    """A line on standard error that says what is being done and how far it is; only a person sees it."""
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}"),
        TextColumn("{task.completed:,}"),
        TimeElapsedColumn(),
    )
    console = Console(stderr=True)
    with Progress(*columns, console=console, disable=not sys.stderr.isatty(), transient=True) as shown:
        task = shown.add_task("reading", total=None)

        def tell(what: str, done: int) -> None:
            shown.update(task, description=what, completed=done)

        yield tell


def check(
    file: File,
    shacl: Annotated[bool, typer.Option("--shacl", help="Print a SHACL validation report in Turtle.")] = False,
    encoding: Encoding = "utf-8-sig",
    decimal_comma: Comma = False,
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Find every fault in a file, all at once; nothing is published."""
    from graph import publish as writer

    path = store_path(store, demo=demo)
    try:
        known = Folder.open(path) if path.exists() else None
        with progress() as tell:
            reading = writer.Reading(encoding, decimal_comma)
            report = writer.check(file, known, tell, reading=reading)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if shacl:
        sys.stdout.write(report.shacl())
    elif as_json:
        say_json({"findings": [to_json(f) for f in report.findings], "rows": report.rows})
    else:
        say(finding_lines(report.findings))
    if report.faulty:
        raise typer.Exit(FAULTS)


def publish(
    file: File,
    author: Author = "",
    title: Annotated[str, typer.Option(help="What this change is about.")] = "",
    set_aside: Annotated[
        bool, typer.Option("--set-aside", help="Publish the sound rows, say which were kept out.")
    ] = False,
    encoding: Encoding = "utf-8-sig",
    decimal_comma: Comma = False,
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Check a file and publish it, all or nothing."""
    from graph import publish as writer

    path = store_path(store, demo=demo)
    try:
        folder = Folder.create(path, ledger_url())
        with progress() as tell:
            report = writer.publish(
                file,
                folder,
                author=author or getpass.getuser(),
                time=now(),
                title=title or file.name,
                set_aside=set_aside,
                reading=writer.Reading(encoding, decimal_comma),
                progress=tell,
            )
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(report))
    else:
        say(finding_lines(report.findings))
        say(report.lines())
    if not report.published:
        raise typer.Exit(FAULTS)


def history(store: Store = None, demo: Demo = False, as_json: Json = False) -> None:
    """Every change set, newest first."""
    try:
        sets = list(desk_at(store, demo).history())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json([to_json(one) for one in sets])
    else:
        say(history_lines(sets))


def diff(
    a: Annotated[int, typer.Argument(min=0, help="The earlier version's number; 0 is the empty store.")],
    b: Annotated[int, typer.Argument(min=0, help="The later version's number.")],
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """What was asserted and taken back between two versions."""
    try:
        changes = list(desk_at(store, demo).diff(a, b))
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json([{"op": change.op, **change.statement.content()} for change in changes])
    else:
        say(diff_lines(a, b, changes))


def undo(
    n: Annotated[int, typer.Argument(min=1, help="The change set that is to be taken back.")],
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Take a change set back, by a new one that reverses it."""
    from graph import publish as writer

    try:
        done = writer.undo(
            Folder.open(store_path(store, demo=demo)), n, author=author or getpass.getuser(), time=now()
        )
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(done))
    else:
        number = done.change_set.n if done.change_set else n
        say([f"Change set {n} is taken back by change set {number}; catalogue {done.catalogue} is live."])


class Form(StrEnum):
    """What an export is written as."""

    xlsx = "xlsx"
    csv = "csv"
    ttl = "ttl"
    nq = "nq"
    jsonld = "jsonld"


def export(
    target: Annotated[Path, typer.Argument(help="The file to write; a folder for csv.")],
    form: Annotated[Form, typer.Option("--as", help="xlsx, csv (a folder), ttl, nq or jsonld.")] = Form.xlsx,
    store: Store = None,
    demo: Demo = False,
) -> None:
    """Write the whole store, catalogue and shelf, so that it reads back to the same rows."""
    try:
        count = desk_at(store, demo).export(target, form.value)
    except SpoolwrightError as error:
        raise fail(error, as_json=False) from error
    remark(f"written: {target}, {count:,} rows, complete")
