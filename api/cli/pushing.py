"""The verb that hands the graph to another server."""

from typing import Annotated

import typer

from api.cli.asking import Demo, Store, desk_at
from api.cli.output import fail, say
from graph.errors import SpoolwrightError


def push(
    address: Annotated[str, typer.Argument(help="The other server's graph store, e.g. http://127.0.0.1:7878/store")],
    key: Annotated[str, typer.Option(envvar="SPOOLWRIGHT_PUSH_KEY", help="Sent as Authorization: Bearer.")] = "",
    store: Store = None,
    demo: Demo = False,
) -> None:
    """Put all that holds into another SPARQL 1.1 server, a graph a source; those of these names are replaced."""
    from graph.sparql.push import push as pushed

    try:
        rows = graphs = 0
        for name, count in pushed(desk_at(store, demo).everything(), address, key=key):
            say([f"{name or 'the default graph'}: {count:,} rows"])
            rows, graphs = rows + count, graphs + 1
    except SpoolwrightError as error:
        raise fail(error, as_json=False) from error
    say([f"Complete: {rows:,} rows in {graphs} graphs."])
