"""How long events are kept: older ones are let go, but none that is still on its way to a webhook.

Numbers are never given twice. What was let go is known by one number: events up to it are no longer listed, though
those that are still on their way stay until they were delivered or their webhook is ended.
"""

from dataclasses import dataclass

from sqlalchemy import Connection, delete, func, insert, select

from graph.errors import EventsGone
from graph.ledger.audit import note_act
from graph.ledger.ledger import Ledger
from graph.ledger.sidetables import DELIVERIES, EVENTS, GONE, HOOKS


@dataclass(frozen=True, slots=True)
class LetGo:
    """What a clearance let go: `count` events; lists begin after event number `through`."""

    count: int
    through: int


def gone(connection: Connection) -> int:
    """The number of the last event that is no longer listed; 0: all are there."""
    return connection.execute(select(func.max(GONE.c.through))).scalar() or 0


def refuse_gone(connection: Connection, after: int) -> None:
    """Raise EventsGone where a reader that has seen event number `after` would miss some."""
    through = gone(connection)
    if after < through:
        raise EventsGone(
            f"events up to {through} are kept no longer, {after} was the last one seen",
            fix=f"read anew what the answers are, then go on after event {through}",
        )


def let_go(ledger: Ledger, before: str, *, by: str, time: str) -> LetGo:
    """Let events from before a moment (UTC, as change sets carry it) go, and what became of them.

    An event goes only with all that came before it, and not before it was delivered to every webhook that stands and
    wanted it; one whose tries are used up was not delivered.
    """
    with ledger.writing_beside() as connection:
        earlier = gone(connection)
        young = connection.execute(select(func.min(EVENTS.c.at)).where(EVENTS.c.time >= before)).scalar()
        last = connection.execute(select(func.max(EVENTS.c.at))).scalar() or 0
        through = max(earlier, last if young is None else young - 1)
        standing = select(HOOKS.c.id).where(HOOKS.c.ended.is_(None))
        under_way = select(DELIVERIES.c.at).where(DELIVERIES.c.state != "delivered", DELIVERIES.c.hook.in_(standing))
        done = (EVENTS.c.at <= through) & EVENTS.c.at.not_in(under_way)
        count = connection.execute(delete(EVENTS).where(done)).rowcount
        connection.execute(
            delete(DELIVERIES).where(DELIVERIES.c.at <= through, DELIVERIES.c.at.not_in(select(EVENTS.c.at)))
        )
        if through > earlier:
            connection.execute(delete(GONE))
            connection.execute(insert(GONE), [{"through": through, "time": time}])
        if count:
            note_act(connection, time, by, "events let go", f"{count}, up to {through}, from before {before}")
        return LetGo(count, through)
