"""Recomputing the whole store from its entries."""

import tempfile
from pathlib import Path

from graph.index.compile import compile_all, content_digest
from graph.index.store import Store


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
