"""The verb that serves."""

import logging
from contextlib import suppress
from dataclasses import replace
from datetime import date
from enum import StrEnum
from typing import Annotated

import typer

from api.cli.asking import Demo, Store
from api.cli.output import fail, say
from api.settings import Serving, store_path
from api.text.plan import answer_lines
from graph.desk import open_desk
from graph.errors import SpoolwrightError
from graph.index.store import Store as Folder
from graph.ledger.keys import Keys

OPEN_RATE = "1200/minute"
"""Requests that one caller may make of a server that listens beyond this machine, unless SPOOLWRIGHT_RATE says."""


class Log(StrEnum):
    """What is told of requests."""

    off = "off"
    json = "json"


def serve(
    host: Annotated[
        str, typer.Option(help="Address to listen on; anything but loopback is open to the network.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535)] = 8321,
    store: Store = None,
    demo: Demo = False,
    log: Annotated[Log, typer.Option(help="What is told of requests: off, or a JSON object a line.")] = Log.off,
) -> None:
    """Serve the page and the HTTP answers; with --demo, publish the demo shop first and answer one question."""
    import uvicorn

    from api.access import loopback
    from api.app import create_app
    from api.http.protocol import Protocol
    from api.pages.frame import warm
    from api.resident import rehearse, stay
    from demo_graph.tours import BUILD, CORE, ENGINE, publish_demo

    path = store_path(store, demo=demo)
    try:
        if demo:
            publish_demo(path)
            answer = open_desk(path).plan(CORE, BUILD, ENGINE, day=date.today().isoformat())
            say([f"What turns core {CORE} into build {BUILD}?", "", *answer_lines(answer), ""])
        serving = Serving.from_environment()
        if not serving.rate and not loopback(host):
            serving = replace(serving, rate=OPEN_RATE)
        keyed = path.exists() and Keys(Folder.open(path).ledger).any()
        shown_host = f"[{host}]" if ":" in host else host
        where = f"Spoolwright answers at http://{shown_host}:{port}/  (stop with Ctrl-C)"
        whose = _who_writes(demo=demo, here=loopback(host), keyed=keyed)
        application = create_app(path, demo=demo, serving=serving, begun=lambda: say([where, whose]))
        application.state.open_here = loopback(host)
        with suppress(SpoolwrightError):  # pages say it when they are asked
            desk = application.state.current.desk()
            warm(application, desk)
            rehearse(desk, date.today().isoformat())
        stay()
    except SpoolwrightError as error:
        raise fail(error, as_json=False) from error
    _log(log)
    uvicorn.run(
        application,
        host=host,
        port=port,
        log_level="warning",
        http=Protocol,
        timeout_graceful_shutdown=10,
        server_header=False,
    )


def _log(form: Log) -> None:
    logging.basicConfig(level=logging.WARNING)
    if form is Log.json:
        from api.http.shell import JsonLines

        logging.getLogger().handlers[0].setFormatter(JsonLines())
        logging.getLogger("spoolwright").setLevel(logging.INFO)


def _who_writes(*, demo: bool, here: bool, keyed: bool) -> str:
    if not here:
        return (
            "Writing takes a key." if keyed else "No key was made yet: nobody may write. See `spoolwright key make`."
        )
    if demo:
        return "This is the demo: whoever sits at this machine may change it without a key, nobody else may."
    return "Writing takes a key." if keyed else "No key was made yet: programs on this machine may write, no others."
