"""The one door for writing: publishing into the catalogue, recording on the shelf, undoing, verifying.

A publish is one transaction: the change set is appended, its index is compiled from within the transaction and
synced, then the ledger commits, then readers are switched over. Before the commit nothing happened; after it
everything did, and a crash before the switch is made good when the store is next opened.
"""

import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from graph.errors import BadQuestion
from graph.index.compile import Progress, compile_all, content_digest
from graph.index.store import Store
from graph.ledger.chain import ChangeSet
from graph.ledger.draft import Change, Draft
from graph.ledger.undo import reversal
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement


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
) -> Published:
    """Append checked statements (and retractions) as one change set and switch readers to it."""
    return _write(store, author, time, title, lambda draft: changes, progress)


def record(store: Store, changes: Iterable[Statement], *, author: str, time: str, title: str = "") -> Published:
    """Append rows to the shelf; the next question sees them.

    Raises
    ------
    BadQuestion
        A row belongs to the catalogue, which is published instead.
    """
    rows = list(changes)
    for sheet in sorted({row.sheet for row in rows if BY_NAME[row.sheet].clock != "shelf"}):
        raise BadQuestion(f"sheet {sheet!r} belongs to the catalogue", fix="publish it")
    return _write(store, author, time, title, lambda draft: rows)


def undo(store: Store, n: int, *, author: str, time: str) -> Published:
    """Take change set `n` back by a change set that reverses it.

    Raises
    ------
    NotFound
        There is no change set `n`.
    Conflict
        A later change set built on it.
    """
    return _write(store, author, time, f"undo of {n}", lambda draft: reversal(draft.reading, n))


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
            store.acknowledge(sealed, id_)
    return Published(sealed, draft.unchanged, id_)


def verify_store(store: Store) -> list[str]:
    """Everything that is wrong with the store, by recomputing it; a fault stops all writing until it is mended."""
    faults = [*store.ledger.verify()]
    if not faults:
        faults += store.lost_tail()
    if not faults:
        faults += _index_faults(store)
    store.note_damage(faults)
    return faults


def _index_faults(store: Store) -> list[str]:
    catalogue = store.catalogue()
    with tempfile.TemporaryDirectory() as folder, store.ledger.reading() as reading:
        again = Path(folder) / "again.sqlite"
        n = reading.version_of(catalogue.index.state)
        if n is None:
            return ["the live index is not of this ledger"]
        compile_all(again, catalogue.index.state, reading.contents(n))
        try:
            same = content_digest(again) == content_digest(catalogue.index.place)
        except Exception as error:  # a flipped bit may surface as any error; each of them means damage
            return [f"the live index cannot be read: {error}"]
    return [] if same else ["the live index does not hold what the ledger says"]
