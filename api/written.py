"""Answers to *does it fit?* as JSON: what they share with answers given before is written once.

An answer is joined from its fields; of its joints and match lines, which are the same object while what they come to
is kept, the bytes are kept too. Byte for byte what pydantic writes of the whole.
"""

from collections.abc import Callable, Iterable
from dataclasses import fields
from typing import Any, Final, get_type_hints

from pydantic import TypeAdapter

from graph.model.fits import FitsAnswer, JointVerdict
from graph.model.verdict import MatchLine
from graph.rules.kept import Kept

ROOM: Final = 8_000
"""Pieces of which the bytes are kept; one has about a kilobyte, and keeps its joint or line alive beside it."""

_TYPES: Final = get_type_hints(FitsAnswer)


def _writer(type_: Any) -> Callable[[Any], bytes]:
    return TypeAdapter(type_).serializer.to_json


_FIELDS: Final = tuple(
    (f.name, f'{"," if n else "{"}"{f.name}":'.encode(), _writer(_TYPES[f.name]))
    for n, f in enumerate(fields(FitsAnswer))
)
_PIECES: Final = {"joints": _writer(JointVerdict), "match": _writer(MatchLine)}


class Writing:
    """Writes answers; safe to share between threads."""

    def __init__(self) -> None:
        self._kept = Kept(ROOM)

    def answers(self, answers: Iterable[FitsAnswer]) -> bytes:
        """The answers as a JSON array."""
        said = [b"["]
        for n, one in enumerate(answers):
            said.append(b"," if n else b"")
            self._answer(one, said)
        said.append(b"]")
        return b"".join(said)  # once: an answer is large, and every copy of it takes longer than its other work

    def _answer(self, answer: FitsAnswer, said: list[bytes]) -> None:
        for name, start, write in _FIELDS:
            value = getattr(answer, name)
            said.append(start)
            of_piece = _PIECES.get(name)
            if of_piece is None:
                said.append(write(value))
                continue
            said.append(b"[")
            for n, one in enumerate(value):
                said.append(b"," if n else b"")
                said.append(self._piece(of_piece, one))
            said.append(b"]")
        said.append(b"}")

    def _piece(self, write: Callable[[Any], bytes], piece: object) -> bytes:
        found: tuple[bytes, object] | None = self._kept.get(id(piece))
        if found is None:
            found = self._kept.put(id(piece), (write(piece), piece))  # held, so that no other has its id
        return found[0]
