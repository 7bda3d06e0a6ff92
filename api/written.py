"""Answers to *does it fit?* as JSON: what they share with answers given before is written once.

An answer is joined from its fields; of its joints and match lines, which are the same object while what they come to
is kept, the bytes are kept too. Byte for byte what pydantic writes of the whole.
"""

from collections.abc import Iterable
from dataclasses import fields
from typing import Any, Final, get_type_hints

from pydantic import TypeAdapter

from graph.model.fits import FitsAnswer, JointVerdict
from graph.model.verdict import MatchLine
from graph.rules.kept import Kept

ROOM: Final = 8_000
"""Pieces of which the bytes are kept; one has about a kilobyte, and keeps its joint or line alive beside it."""

_TYPES: Final = get_type_hints(FitsAnswer)
_FIELDS: Final = tuple(
    (f.name, f'"{f.name}":'.encode(), TypeAdapter[Any](_TYPES[f.name])) for f in fields(FitsAnswer)
)
_PIECES: Final = {"joints": TypeAdapter[Any](JointVerdict), "match": TypeAdapter[Any](MatchLine)}


class Writing:
    """Writes answers; safe to share between threads."""

    def __init__(self) -> None:
        self._kept = Kept(ROOM)

    def answers(self, answers: Iterable[FitsAnswer]) -> bytes:
        """The answers as a JSON array."""
        return b"[%b]" % b",".join([self._answer(one) for one in answers])

    def _answer(self, answer: FitsAnswer) -> bytes:
        return b"{%b}" % b",".join([start + self._field(name, adapter, answer) for name, start, adapter in _FIELDS])

    def _field(self, name: str, adapter: TypeAdapter[Any], answer: FitsAnswer) -> bytes:
        value = getattr(answer, name)
        pieces = _PIECES.get(name)
        if pieces is None:
            return adapter.dump_json(value)
        return b"[%b]" % b",".join([self._piece(pieces, one) for one in value])

    def _piece(self, adapter: TypeAdapter[Any], piece: object) -> bytes:
        found: tuple[bytes, object] | None = self._kept.get(id(piece))
        if found is None:
            found = self._kept.put(id(piece), (adapter.dump_json(piece), piece))  # held, so that no other has its id
        return found[0]
