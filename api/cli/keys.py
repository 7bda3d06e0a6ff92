"""Verbs of keys: who may write over HTTP, and as whom."""

import getpass
from typing import Annotated

import typer

from api.cli.asking import Demo, Json, Store
from api.cli.keeping import now
from api.cli.output import fail, remark, say, say_json
from api.settings import store_path
from graph.errors import SpoolwrightError
from graph.index.store import Store as Folder
from graph.ledger.keys import SCOPES, Key, Keys
from graph.model.codec import to_json

app = typer.Typer(
    name="key",
    help="Keys with which other programs write over HTTP; a key's name signs what is written with it.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
)
Author = Annotated[str, typer.Option(help="Who does this; default: the name you are logged in with.")]


@app.command()
def make(
    name: Annotated[str, typer.Argument(help="Who will hold it; the author of what is written with it.")],
    scopes: Annotated[
        list[str], typer.Option("--scope", help=f"What it opens: {', '.join(SCOPES)}. May be given several times.")
    ],
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Make a key and show it, this once; only its digest is kept."""
    try:
        folder = Folder.open(store_path(store, demo=demo))
        key, text = Keys(folder.ledger).make(name, tuple(scopes), by=author or getpass.getuser(), time=now())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    _shown(key, text, as_json=as_json)


@app.command("list")
def listed(store: Store = None, demo: Demo = False, as_json: Json = False) -> None:
    """All keys by name, revoked ones too; their secrets are kept nowhere."""
    try:
        keys = Keys(Folder.open(store_path(store, demo=demo)).ledger).all()
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(keys))
    else:
        say([_line(key) for key in keys] or ["There are no keys: only this machine may write."])


@app.command()
def renew(
    key: Annotated[str, typer.Argument(help="The id of the key, as the list shows it.")],
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Give a key a new secret and show it, this once; the one before opens nothing from now on."""
    try:
        folder = Folder.open(store_path(store, demo=demo))
        done, text = Keys(folder.ledger).renew(key, by=author or getpass.getuser(), time=now())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    _shown(done, text, as_json=as_json)


@app.command()
def revoke(
    key: Annotated[str, typer.Argument(help="The id of the key, as the list shows it.")],
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Let a key open nothing any more."""
    try:
        folder = Folder.open(store_path(store, demo=demo))
        done = Keys(folder.ledger).revoke(key, by=author or getpass.getuser(), time=now())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(done))
    else:
        say([_line(done)])


def _shown(key: Key, text: str, *, as_json: bool) -> None:
    if as_json:
        say_json({"key": to_json(key), "secret": text})
    else:
        say([text])
        remark(f"key {key.id} for {key.name}: {', '.join(key.scopes)}. It is not shown again.")


def _line(key: Key) -> str:
    state = f"revoked {key.revoked}" if key.revoked else ", ".join(key.scopes)
    return f"{key.id}  {key.name}  {state}  (made {key.made} by {key.made_by})"
