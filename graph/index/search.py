"""Finding things by what a person types: number as written, its spelling, its beginning, any piece of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from graph.errors import BadPartNumber
from graph.identifiers import spelling
from graph.index.file import IndexFile

LEAST_PIECE: Final = 3
"""Letters that a piece must have; the trigram index knows nothing shorter."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A thing that may be meant; `how`: written (letter for letter), spelled, begins or contains."""

    key: str
    type: str
    maker: str
    name: str
    kind: str
    label: str
    how: str


def candidates(
    index: IndexFile, type_: str, text: str, most: int, *, only_written: bool = False
) -> tuple[Candidate, ...]:
    """Up to `most` candidates, the surest way of finding first, then by name and maker.

    `only_written`: none but those of the surest way, which costs a quarter of looking on, and nothing the next time.

    Raises
    ------
    BadPartNumber
        Nothing was found and the text holds a letter that part numbers do not have.
    """
    # A NUL ends a text for SQLite, half a surrogate pair is no text at all; neither is in any number.
    text = text.encode("utf-8", "replace").decode().replace("\0", " ")
    if only_written:
        written = (text.strip(), type_)
        found: tuple[Candidate, ...] | None = index.written.get((written, most))
        if found is None:
            asked = _asked(index, "written", "name = ? AND type = ?", written, most)
            found = index.written.put((written, most), tuple(asked))
        return found
    refused: BadPartNumber | None = None
    try:
        spelled = spelling(text)
    except BadPartNumber as error:
        spelled, refused = "", error
    met: dict[str, Candidate] = {}
    for one in _ways(index, type_, text.strip(), spelled, most):
        met.setdefault(one.key, one)
        if len(met) >= most:
            break
    if refused and not met:
        raise refused
    return tuple(met.values())


def _ways(index: IndexFile, type_: str, text: str, spelled: str, most: int) -> Iterator[Candidate]:
    yield from _asked(index, "written", "name = ? AND type = ?", (text, type_), most)
    if spelled:
        yield from _asked(index, "spelled", "spelling = ? AND type = ?", (spelled, type_), most)
        beyond = (spelled, spelled + "[", type_)  # [ follows Z in ASCII
        yield from _asked(index, "begins", "spelling > ? AND spelling < ? AND type = ?", beyond, most)
    pieces = [piece for piece in text.split() if len(piece) >= LEAST_PIECE]
    asked = [" AND ".join(_quoted(piece) for piece in pieces)] if pieces else []
    asked += [_quoted(spelled)] if len(spelled) >= LEAST_PIECE else []
    if asked:
        match = " OR ".join(f"({one})" for one in asked)
        where = "id IN (SELECT rowid FROM words WHERE words MATCH ?) AND type = ?"
        yield from _asked(index, "contains", where, (match, type_), most)


def _quoted(piece: str) -> str:
    return '"' + piece.replace('"', '""') + '"'


def _asked(index: IndexFile, how: str, where: str, names: tuple[str, ...], most: int) -> Iterator[Candidate]:
    query = f"SELECT key, type, maker, name, kind, label FROM thing WHERE {where} ORDER BY name, maker LIMIT ?"  # noqa: S608
    for row in index.ask(query, (*names, most)):
        key, type_, maker, name, kind, label = row
        yield Candidate(key, type_, maker, name, kind, label, how)
