"""What a query may not ask for, told before it is run; the process that runs it cannot open a connection anyway."""

import re
from typing import Final

from graph.errors import BadQuestion

MOST: Final = 64 * 1024
"""Characters of a query."""

DEPTH: Final = 200
"""Brackets within brackets: a parser that descends once a bracket runs out of its stack some thousand deep."""

_TOKEN: Final = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*"""'
    r"|'''(?:[^'\\]|\\.|'(?!''))*'''"
    r'|"(?:[^"\\\n\r]|\\.)*"'
    r"|'(?:[^'\\\n\r]|\\.)*'"
    r"|<[^<>\"{}|^`\\\x00-\x20]*>"
    r"|#[^\n\r]*"
    r"|[?$][\w]+"
    r"|[\w.-]*:[\w.%:-]*"
    r"|(?P<word>[A-Za-z]+)"
    r"|(?P<open>[{(\[])|(?P<close>[})\]])",
    re.DOTALL,
)


def refuse(query: str) -> None:
    """Raise BadQuestion for what is not done here: other servers, changes, texts without measure.

    >>> refuse("SELECT * { ?service ?p 'SERVICE <x>' } # SERVICE")
    """
    if len(query) > MOST:
        raise BadQuestion(f"the query has {len(query)} characters", fix=f"at most {MOST} are read")
    depth = 0
    for token in _TOKEN.finditer(query):
        word = (token["word"] or "").upper()
        if word == "SERVICE":
            raise BadQuestion("SERVICE asks another server, which is not done here", fix="ask that server yourself")
        if word in ("LOAD", "INSERT", "DELETE", "CLEAR", "DROP", "CREATE", "COPY", "MOVE", "ADD"):
            raise BadQuestion(f"{word} changes the graph; this address only reads", fix="publish a change instead")
        depth += (token["open"] is not None) - (token["close"] is not None)
        if depth > DEPTH:
            raise BadQuestion(f"brackets are nested more than {DEPTH} deep", fix="ask in a flatter form")


def names_graphs(query: str) -> bool:
    """Whether the query itself says which graphs it is about.

    >>> names_graphs("SELECT * FROM <urn:x> {}"), names_graphs("SELECT ?from { ?from ?p 'FROM' }")
    (True, False)
    """
    return any((token["word"] or "").upper() == "FROM" for token in _TOKEN.finditer(query))
