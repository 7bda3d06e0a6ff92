"""The reverse of a change set, as changes for another one."""

from collections.abc import Iterator

from graph.errors import Conflict
from graph.ledger.draft import Change, Retraction
from graph.ledger.reading import Reading
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement


def reversal(reading: Reading, n: int) -> Iterator[Change]:
    """What takes change set `n` back: its assertions retracted, its retractions asserted again.

    Raises
    ------
    NotFound
        There is no change set `n`.
    Conflict
        A later change set built on `n`; the message names it.
    """
    born = list(reading.born(n))
    ended = list(reading.ended(n))
    own = {statement for statement, _ in born}
    later = {to_n for _, to_n in born if to_n is not None and to_n > n}
    for statement in ended:
        later |= _later(reading, statement, own)
    if later:
        names = ", ".join(str(m) for m in sorted(later))
        raise Conflict(f"change set {names} changed what {n} wrote", fix=f"undo {names} first, the last one first")
    yield from (Retraction(statement) for statement, to_n in born if to_n is None)
    yield from ended


def _later(reading: Reading, statement: Statement, own: set[str]) -> set[int]:
    if BY_NAME[statement.sheet].settled != "latest":
        return set()
    live = reading.live_since(statement.sheet, statement.key)
    return {from_n for id_, from_n in live.items() if id_ not in own and id_ != statement.id}
