"""What happened, for those who want to be told: events in the transaction that made them, and their deliveries.

An event has one id for ever: whoever is told twice, by a retry or a replay, is told the same id.
"""

import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, Row, and_, func, insert, select, update

from graph.errors import BadQuestion, EventsGone, NotFound
from graph.ledger.audit import note_act
from graph.ledger.chain import ChangeSet
from graph.ledger.ledger import Ledger
from graph.ledger.retention import gone, refuse_gone
from graph.ledger.sidetables import DELIVERIES, EVENTS, HOOKS, WATCHES
from graph.ledger.tables import ENTRIES
from graph.model.sheet import BY_NAME
from graph.model.statement import canonical

PUBLISHED, STOCK, JOB, ANSWER = "catalogue.published", "stock.changed", "job.changed", "answer.changed"
TYPES: Final = (PUBLISHED, STOCK, JOB, ANSWER)

DELAYS: Final = (5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400)
"""s from each failed try to the next, as Standard Webhooks proposes; after the last one the delivery is dead."""

_STOCK_SHEETS: Final = ("stock", "prices", "reservations")
_JOB_SHEETS: Final = ("jobs", "job_stages", "job_deposits")
NAMED_MOST: Final = 100
"""Things that one event names; with more of them `more` is true, and the diff of the change set has them all."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened. `at` counts them from 1 without gaps, for ever; `n`: the last change set then."""

    at: int
    id: str
    type: str
    time: str
    n: int
    data: dict[str, Any]

    def payload(self) -> bytes:
        """What is sent: the same bytes each time, since they are signed."""
        return canonical({"type": self.type, "timestamp": self.time, "data": self.data}).encode()


@dataclass(frozen=True, slots=True)
class Hook:
    """Where events are sent. `types`: which; none named: all. The secret is told once."""

    id: str
    url: str
    types: tuple[str, ...]
    made: str
    made_by: str
    ended: str = ""


@dataclass(frozen=True, slots=True)
class Delivery:
    """One event on its way to one hook: waiting, delivered or dead. `due`: s since 1970; `last`: of the last try."""

    hook: str
    at: int
    state: str
    tries: int
    due: int
    last: str
    time: str


@dataclass(frozen=True, slots=True)
class Due:
    """A delivery to be tried now."""

    delivery: Delivery
    event: Event
    url: str
    secret: str


def put_event(connection: Connection, type_: str, data: dict[str, Any], *, n: int, time: str) -> None:
    """Put an event down, in the transaction that made it, and a delivery for every hook that wants it."""
    at = _last(connection) + 1
    id_ = "msg_" + secrets.token_hex(12)
    connection.execute(
        insert(EVENTS), [{"at": at, "id": id_, "type": type_, "time": time, "n": n, "data": canonical(data)}]
    )
    wanting = [
        row.id
        for row in connection.execute(select(HOOKS.c.id, HOOKS.c.types).where(HOOKS.c.ended.is_(None)))
        if not row.types or type_ in row.types.split()
    ]
    if wanting:
        connection.execute(insert(DELIVERIES), [_waiting(hook, at, 0) for hook in wanting])


def tell_of(connection: Connection, of: ChangeSet, catalogue: str) -> None:
    """The events of a change set: the catalogue published, stock changed, jobs changed; each once at most."""
    within = ENTRIES.c.at.between(of.first, of.first + of.count - 1)
    rows = connection.execute(select(ENTRIES.c.sheet, func.count()).where(within).group_by(ENTRIES.c.sheet))
    counts = {sheet: count for sheet, count in rows if count}
    said = {"change_set": of.n, "author": of.author, "title": of.title}
    published = {name: counts[name] for name in sorted(counts) if BY_NAME[name].clock == "catalogue"}
    if published:
        put_event(connection, PUBLISHED, {**said, "catalogue": catalogue, "sheets": published}, n=of.n, time=of.time)
    for type_, sheets, names in ((STOCK, _STOCK_SHEETS, "keys"), (JOB, _JOB_SHEETS, "jobs")):
        if not any(sheet in counts for sheet in sheets):
            continue
        query = select(ENTRIES.c.sheet, ENTRIES.c.key).where(within, ENTRIES.c.sheet.in_(sheets)).distinct()
        found = [
            (row.sheet, json.loads(row.key))
            for row in connection.execute(query.order_by(ENTRIES.c.sheet, ENTRIES.c.key).limit(NAMED_MOST + 1))
        ]
        shown: list[Any] = (
            sorted({key[0] for _, key in found[:NAMED_MOST]})
            if type_ == JOB
            else [{"sheet": sheet, "key": key} for sheet, key in found[:NAMED_MOST]]
        )
        data = {**said, names: shown, "more": len(found) > NAMED_MOST}
        put_event(connection, type_, data, n=of.n, time=of.time)


class Outbox:
    """The events, hooks and deliveries of one ledger."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def events(self, after: int | None = None, most: int = 100, types: Sequence[str] = ()) -> tuple[Event, ...]:
        """Events after number `after`, in order; None: from the oldest that is kept.

        Raises
        ------
        EventsGone
            Some of them are kept no longer.
        """
        with self._ledger.reading_beside() as connection:
            if after is None:
                after = gone(connection)
            refuse_gone(connection, after)
            query = select(EVENTS).where(EVENTS.c.at > after).order_by(EVENTS.c.at).limit(most)
            if types:
                query = query.where(EVENTS.c.type.in_(types))
            return tuple(_event_of(tuple(row)) for row in connection.execute(query))

    def gone(self) -> int:
        """The number of the last event that is no longer listed; 0: all are there."""
        with self._ledger.reading_beside() as connection:
            return gone(connection)

    def last(self) -> int:
        """The number of the last event; 0 before the first."""
        with self._ledger.reading_beside() as connection:
            return _last(connection)

    def make_hook(self, url: str, types: Sequence[str], secret: str, *, by: str, time: str) -> Hook:
        """A hook that is told of what happens from now on; whether the address may be used the caller has looked."""
        strangers = sorted(set(types) - set(TYPES))
        if strangers:
            raise BadQuestion(f"there are no events {strangers[0]!r}", fix=f"events: {', '.join(TYPES)}")
        hook = Hook("h" + secrets.token_hex(5), url, tuple(t for t in TYPES if t in types), time, by)
        values = {
            "id": hook.id, "url": url, "secret": secret, "types": " ".join(hook.types), "made": time, "made_by": by,
            "ended": None,
        }  # fmt: skip
        with self._ledger.writing_beside() as connection:
            connection.execute(insert(HOOKS), [values])
            note_act(connection, time, by, "webhook made", f"{hook.id}: {url}")
        return hook

    def hooks(self) -> tuple[Hook, ...]:
        """All hooks, those ended too, oldest first."""
        with self._ledger.reading_beside() as connection:
            return tuple(_hook(row) for row in connection.execute(select(HOOKS).order_by(HOOKS.c.made, HOOKS.c.id)))

    def end_hook(self, id_: str, *, by: str, time: str) -> Hook:
        """Tell it nothing more; what is on its way to it is given up."""
        with self._ledger.writing_beside() as connection:
            hook = _get_hook(connection, id_)
            if not hook.ended:
                connection.execute(update(HOOKS).where(HOOKS.c.id == id_).values(ended=time))
                connection.execute(
                    update(DELIVERIES)
                    .where(DELIVERIES.c.hook == id_, DELIVERIES.c.state == "waiting")
                    .values(state="dead", last="the webhook was ended")
                )
                note_act(connection, time, by, "webhook ended", f"{id_}: {hook.url}")
            return _get_hook(connection, id_)

    def deliveries(self, hook: str, state: str = "", most: int = 100, *, before: int = 0) -> tuple[Delivery, ...]:
        """Deliveries to one hook, newest event first; of one state if named; of events before `before` (0: of all).

        Raises
        ------
        NotFound
            There is no such hook.
        """
        query = select(DELIVERIES).where(DELIVERIES.c.hook == hook).order_by(DELIVERIES.c.at.desc()).limit(most)
        if state:
            query = query.where(DELIVERIES.c.state == state)
        if before:
            query = query.where(DELIVERIES.c.at < before)
        with self._ledger.reading_beside() as connection:
            _get_hook(connection, hook)
            return tuple(Delivery(*row) for row in connection.execute(query))

    def replay(self, hook: str, first: int, last: int, *, now: int, by: str, time: str) -> int:
        """Send events `first` to `last` once more, under their own ids; how many.

        Raises
        ------
        NotFound
            There is no such hook.
        BadQuestion
            It was ended.
        EventsGone
            Some of them are kept no longer; nothing is sent.
        """
        with self._ledger.writing_beside() as connection:
            known = _get_hook(connection, hook)
            if known.ended:
                raise BadQuestion(f"webhook {hook} was ended", fix="make another one")
            _refuse_missing(connection, first, last)
            query = select(EVENTS.c.at, EVENTS.c.type).where(EVENTS.c.at.between(first, last))
            wanted = [r.at for r in connection.execute(query) if not known.types or r.type in known.types]
            there = and_(DELIVERIES.c.hook == hook, DELIVERIES.c.at.between(first, last))
            have = set(connection.execute(select(DELIVERIES.c.at).where(there)).scalars())
            connection.execute(update(DELIVERIES).where(there).values(state="waiting", tries=0, due=now))
            fresh = [_waiting(hook, at, now) for at in wanted if at not in have]
            if fresh:
                connection.execute(insert(DELIVERIES), fresh)
            note_act(connection, time, by, "events sent again", f"{hook}: {first} to {last}")
            return len(have) + len(fresh)

    def wanted(self) -> bool:
        """Whether anybody wants to be told anything."""
        with self._ledger.reading_beside() as connection:
            live = (select(table.c.id).where(table.c.ended.is_(None)).limit(1) for table in (HOOKS, WATCHES))
            return any(connection.execute(query).first() for query in live)

    def due(self, now: int, most: int = 50) -> tuple[Due, ...]:
        """Deliveries whose time has come, the oldest event first."""
        query = (
            select(DELIVERIES, EVENTS, HOOKS.c.url, HOOKS.c.secret)
            .join_from(DELIVERIES, EVENTS, DELIVERIES.c.at == EVENTS.c.at)
            .join(HOOKS, DELIVERIES.c.hook == HOOKS.c.id)
            .where(DELIVERIES.c.state == "waiting", DELIVERIES.c.due <= now, HOOKS.c.ended.is_(None))
            .order_by(DELIVERIES.c.at, DELIVERIES.c.hook)
            .limit(most)
        )
        wide = len(DELIVERIES.columns)
        with self._ledger.reading_beside() as connection:
            rows = [tuple(row) for row in connection.execute(query)]
        return tuple(Due(Delivery(*row[:wide]), _event_of(row[wide:-2]), row[-2], row[-1]) for row in rows)

    def settle(self, delivery: Delivery, *, done: bool, last: str, now: int, time: str) -> Delivery:
        """Note what a try came to; after a failed one when the next is due, or that there is none."""
        tries = delivery.tries + 1
        dead = not done and tries > len(DELAYS)
        state = "delivered" if done else "dead" if dead else "waiting"
        due = now if done or dead else now + DELAYS[tries - 1]
        settled = Delivery(delivery.hook, delivery.at, state, tries, due, last, time)
        with self._ledger.writing_beside() as connection:
            connection.execute(
                update(DELIVERIES)
                .where(DELIVERIES.c.hook == delivery.hook, DELIVERIES.c.at == delivery.at)
                .values(state=state, tries=tries, due=due, last=last, time=time)
            )
        return settled


def _last(connection: Connection) -> int:
    return max(connection.execute(select(func.max(EVENTS.c.at))).scalar() or 0, gone(connection))


def _refuse_missing(connection: Connection, first: int, last: int) -> None:
    """Raise EventsGone where an event of this range was let go; one that is still under way is there."""
    through = gone(connection)
    old = min(last, through)
    there = connection.execute(select(func.count()).where(EVENTS.c.at.between(first, old))).scalar() or 0
    if there < old - first + 1:
        raise EventsGone(
            f"events up to {through} are kept no longer, but for those still on their way",
            fix=f"begin with event {through + 1}; `dead` ones among the deliveries can be named one by one",
        )


def _waiting(hook: str, at: int, due: int) -> dict[str, Any]:
    return {"hook": hook, "at": at, "state": "waiting", "tries": 0, "due": due, "last": "", "time": ""}


def _event_of(row: Sequence[Any]) -> Event:
    at, id_, type_, time, n, data = row
    return Event(at, id_, type_, time, n, json.loads(data))


def _get_hook(connection: Connection, id_: str) -> Hook:
    row = connection.execute(select(HOOKS).where(HOOKS.c.id == id_)).first()
    if row is None:
        raise NotFound(f"there is no webhook {id_!r}", fix="the list of webhooks shows their ids")
    return _hook(row)


def _hook(row: Row[Any]) -> Hook:
    said = row._mapping
    return Hook(
        said["id"], said["url"], tuple(said["types"].split()), said["made"], said["made_by"], said["ended"] or ""
    )
