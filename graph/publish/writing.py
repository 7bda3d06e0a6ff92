"""Appending change sets: statements into the catalogue, rows onto the shelf, and taking them back.

A publish is one transaction: the change set is appended, its index is compiled from within the transaction and
synced, then the ledger commits, then readers are switched over. Before the commit nothing happened; after it
everything did, and a crash before the switch is made good when the store is next opened.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from graph.collector import seldom
from graph.errors import BadQuestion, Conflict, Stale
from graph.index.compile import Progress
from graph.index.store import Store
from graph.ledger.chain import ChangeSet
from graph.ledger.draft import Change, Draft
from graph.ledger.outbox import tell_of
from graph.ledger.reading import Reading
from graph.ledger.undo import reversal
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement

Guard = Callable[[Reading], None]
"""Looks at the ledger as it is when a write begins, and raises what stands in the way."""


@dataclass(frozen=True, slots=True)
class Published:
    """What came of a write. `change_set` is None when every row was known already and nothing was written."""

    change_set: ChangeSet | None
    unchanged: int  # rows that the store held already
    catalogue: str  # id of the live catalogue


def publish_statements(
    store: Store,
    changes: Iterable[Change],
    *,
    author: str,
    time: str,
    title: str = "",
    progress: Progress | None = None,
    head: int | None = None,
) -> Published:
    """Append checked statements (and retractions) as one change set and switch readers to it.

    Raises
    ------
    Stale
        The last change set is not `head`, if that is given.
    """
    return _write(store, author, time, title, lambda draft: _at(head, draft, changes), progress)


def record(
    store: Store,
    changes: Iterable[Statement],
    *,
    author: str,
    time: str,
    title: str = "",
    unmoved_since: int = 0,
    guard: Guard | None = None,
) -> Published:
    """Append rows to the shelf; the next question sees them.

    `unmoved_since`: the version on which the rows rest; 0 when they rest on none. `guard` is asked with the lock held
    and raises what stands in the way.

    Raises
    ------
    BadQuestion
        A row belongs to the catalogue, which is published instead.
    Conflict
        The store has moved on since that version.
    """
    rows = list(changes)
    for sheet in sorted({row.sheet for row in rows if BY_NAME[row.sheet].clock != "shelf"}):
        raise BadQuestion(f"sheet {sheet!r} belongs to the catalogue", fix="publish it")

    def unmoved(draft: Draft) -> list[Statement]:
        if unmoved_since and draft.n != unmoved_since + 1:
            raise Conflict(
                f"the store has moved on from version {unmoved_since} to {draft.n - 1}", fix="look again, then write"
            )
        if guard is not None:
            guard(draft.reading)
        return rows

    return _write(store, author, time, title, unmoved)


def undo(store: Store, n: int, *, author: str, time: str, head: int | None = None) -> Published:
    """Take change set `n` back by a change set that reverses it.

    Raises
    ------
    NotFound
        There is no change set `n`.
    Conflict
        A later change set built on it.
    Stale
        The last change set is not `head`, if that is given.
    """
    return _write(store, author, time, f"undo of {n}", lambda draft: _at(head, draft, reversal(draft.reading, n)))


def _at(head: int | None, draft: Draft, changes: Iterable[Change]) -> Iterable[Change]:
    """The changes, if the ledger stands where the caller saw it; asked with the lock held."""
    if head is not None and draft.n != head + 1:
        raise Stale(f"the last change set is {draft.n - 1}, not {head}", fix="look at what came since, then write")
    return changes


@seldom()
def _write(
    store: Store,
    author: str,
    time: str,
    title: str,
    changes: Callable[[Draft], Iterable[Change]],
    progress: Progress | None = None,
) -> Published:
    store.recover()
    with store.locked("lock"):
        store.refuse_damaged()
        with store.ledger.writing(author, time, title) as draft:
            draft.add(changes(draft))
            sealed = draft.seal()
            id_ = store.prepare(draft.reading, progress) if sealed else store.catalogue().id
            if sealed:
                tell_of(draft.reading.connection, sealed, id_)
        if sealed:
            store.acknowledge(sealed, id_)
    return Published(sealed, draft.unchanged, id_)
