"""Handing all statements to another SPARQL 1.1 server by the Graph Store Protocol, a graph a source."""

import tempfile
import urllib.error
import urllib.request
from collections.abc import Iterable, Iterator
from typing import IO, Final
from urllib.parse import quote, urlsplit

from graph.errors import BadFile, BadQuestion
from graph.model.statement import Statement
from graph.triples import serialise
from graph.triples.node import thing

MEDIA: Final = "application/n-triples"
SECONDS: Final = 600
IN_MEMORY: Final = 8 * 1024 * 1024
"""Bytes of one graph above which it waits in a file."""


def push(statements: Iterable[Statement], address: str, *, key: str = "") -> Iterator[tuple[str, int]]:
    """Put each source's statements as a graph of its own, those without source into the default graph.

    `address` is that of the other server's graph store. Graphs are replaced; others there are left alone. Yields the
    name of each graph ('' for the default one) and how many statements it has.

    Raises
    ------
    BadQuestion
        The address is none of a web server.
    BadFile
        The other server did not take a graph; those before are there.
    """
    if urlsplit(address).scheme not in ("http", "https"):
        raise BadQuestion(f"{address!r} is no address of a server", fix="give http://… or https://…")
    by_source: dict[str, list[Statement]] = {}
    for said in statements:
        by_source.setdefault(said.evidence.source, []).append(said)
    for source, rows in sorted(by_source.items()):
        name = str(thing("source", source)) if source else ""
        where = f"graph={quote(name, safe='')}" if name else "default"
        with tempfile.SpooledTemporaryFile(IN_MEMORY) as body:
            for chunk in serialise(rows, MEDIA):
                body.write(chunk)
            _put(f"{address}{'&' if '?' in address else '?'}{where}", body, key)
        yield name, len(rows)


def _put(address: str, body: IO[bytes], key: str) -> None:
    size = body.tell()
    body.seek(0)
    headers = {"Content-Type": MEDIA, "Content-Length": str(size)} | (
        {"Authorization": f"Bearer {key}"} if key else {}
    )
    request = urllib.request.Request(address, data=body, method="PUT", headers=headers)  # noqa: S310 - checked above
    try:
        with urllib.request.urlopen(request, timeout=SECONDS) as answer:  # noqa: S310
            answer.read()
    except urllib.error.HTTPError as error:
        with error:
            raise BadFile(f"the other server refuses a graph with status {error.code}", fix="look there") from error
    except OSError as error:
        raise BadFile(f"the other server cannot be reached: {error}", fix="start it, or mend the address") from error
