"""Verbs that back a store up, bring it back, and recompute it."""

from pathlib import Path
from typing import Annotated

import typer

from api.cli.asking import Demo, Json, Store
from api.cli.output import fail, say, say_json
from api.settings import store_path
from graph.errors import SpoolwrightError
from graph.index.store import Store as Folder
from graph.model.codec import to_json


def backup(
    target: Annotated[Path, typer.Argument(help="The file to write; it must not be there yet.")],
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Copy the whole record into one file, also while it is being written to."""
    from graph.publish.backing import backup as backed

    try:
        made = backed(Folder.open(store_path(store, demo=demo)), target)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(made))
    else:
        say([f"{target}: up to change set {made.change_set}, {made.bytes:,} bytes, sha256 {made.sha256}"])


def restore(
    file: Annotated[Path, typer.Argument(help="A file that `backup` made.")],
    store: Annotated[Path, typer.Option(help="A new or empty folder; a store that is there is never replaced.")],
    as_json: Json = False,
) -> None:
    """Make a store of a backup: its chain is followed and its index compiled before it is there."""
    from graph.publish.backing import restore as restored

    try:
        made = restored(file, store)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(made))
    else:
        say([f"{store}: restored up to change set {made.change_set}; serve it with --store {store}"])


def sound(store: Store = None, demo: Demo = False, as_json: Json = False) -> None:
    """Recompute the whole store from its entries and name all that is wrong; a damaged index is made again."""
    from graph.publish import remarks, verify_store

    try:
        folder = Folder.open(store_path(store, demo=demo))
        faults = verify_store(folder)
        told = remarks(folder) if not faults else []
        with folder.ledger.reading() as reading:
            n = reading.head().n if not faults else 0
        folder.close()
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json({"sound": not faults, "faults": faults, "remarks": told})
    else:
        say(faults or [f"The store is sound: all entries up to change set {n}, and the index made of them.", *told])
    if faults:
        raise typer.Exit(1)
