"""A long N-Quads or N-Triples file of ours, cut between statements so that it can be read a piece at a time."""

import re
from collections.abc import Iterable, Iterator
from typing import Final

from ontology.terms import ID, STATEMENT

PIECE: Final = 16 * 1024 * 1024
_OURS: Final = re.compile(rb"<%b|_:s[0-9a-f]{24}-" % re.escape(ID.encode()))
_ROW: Final = re.compile(rb"<%bs[0-9a-f]{24}> " % re.escape(STATEMENT.encode()))


def pieces(lines: Iterable[bytes], size: int = PIECE) -> Iterator[bytes]:
    """The lines in pieces of at least `size` bytes, cut where a statement begins.

    `graph.triples.serialise` keeps the lines of a statement together. From the first line on whose subject is not
    ours nothing is cut any more, since such a row may be spread over the file; a row of ours that is spread is
    noticed by its digest when the pieces are read.
    """
    waiting: list[bytes] = []
    held = 0
    row: bytes | None = b""  # the subject of the statement at hand; None: cut no more
    for line in lines:
        if row is not None:
            begun = _ROW.match(line)
            if begun and begun[0] != row:
                if held >= size:
                    yield b"".join(waiting)
                    waiting, held = [], 0
                row = begun[0]
            elif not _OURS.match(line) and line.strip():
                row = None
        waiting.append(line)
        held += len(line)
    if waiting:
        yield b"".join(waiting)
