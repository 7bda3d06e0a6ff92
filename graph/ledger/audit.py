"""Who did what beside writing change sets: keys, hooks, staged changes. Change sets name their author themselves."""

from dataclasses import dataclass

from sqlalchemy import Connection, func, insert, select

from graph.ledger.ledger import Ledger
from graph.ledger.sidetables import AUDIT


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that somebody did."""

    at: int
    time: str
    who: str
    did: str
    about: str


def note_act(connection: Connection, time: str, who: str, did: str, about: str) -> None:
    """Put an act on record, in the transaction that carries it out."""
    at = (connection.execute(select(func.max(AUDIT.c.at))).scalar() or 0) + 1
    connection.execute(insert(AUDIT), [{"at": at, "time": time, "who": who, "did": did, "about": about}])


def acts(ledger: Ledger, before: int = 0, most: int = 100) -> tuple[Act, ...]:
    """Acts, newest first; those before number `before` (0: from the newest)."""
    query = select(AUDIT).order_by(AUDIT.c.at.desc()).limit(most)
    if before:
        query = query.where(AUDIT.c.at < before)
    with ledger.reading_beside() as connection:
        return tuple(Act(**row._mapping) for row in connection.execute(query))
