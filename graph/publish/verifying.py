"""Recomputing the whole store from its entries."""

import tempfile
from pathlib import Path

from graph.identifiers import tag_spelling
from graph.index.compile import catalogue_id, compile_all, content_digest
from graph.index.store import Store


def verify_store(store: Store) -> list[str]:
    """Everything that is wrong with the store, by recomputing it.

    A fault of the ledger stops all writing until it is mended. The index follows from the ledger: one that does not
    is named, and made again at once.
    """
    faults = [*store.ledger.verify()]
    if not faults:
        faults += store.lost_tail()
    store.note_damage(faults)
    if not faults:
        faults += _index_faults(store)
    return faults


def remarks(store: Store) -> list[str]:
    """What no fault is, yet somebody should mend: tags of cores that differ only by case, spaces or dashes."""
    alike: dict[str, list[str]] = {}
    with store.ledger.reading() as reading:
        for tag in reading.tags():
            alike.setdefault(tag_spelling(tag), []).append(tag)
    return [
        f"the cores {' and '.join(sorted(tags))} have one tag but for case, spaces or dashes: their rows are easily "
        "put to the wrong one; take one in under another tag"
        for _, tags in sorted(alike.items())
        if len(tags) > 1
    ]


def _index_faults(store: Store) -> list[str]:
    with tempfile.TemporaryDirectory() as folder, store.ledger.reading() as reading:
        again, head = Path(folder) / "again.sqlite", reading.head()
        compile_all(again, head.state, reading.contents(head.n))
        why = "the live index does not hold what the ledger says"
        try:
            same = content_digest(again) == content_digest(store.place(catalogue_id(head.state)))
        except Exception as error:  # a flipped bit may surface as any error; each of them means damage
            same, why = False, f"the live index cannot be read: {error}"
    if same:
        return []
    store.remake()
    return [f"{why}; it was made again: start anew what reads this store, then verify once more"]
