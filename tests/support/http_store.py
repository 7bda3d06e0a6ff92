"""Stores that a test of the HTTP answers may write to."""

import shutil
from pathlib import Path

from graph import publish as writer
from graph.index.store import Store
from graph.model.statement import Evidence, Statement


def copied(folder: Path, into: Path) -> Path:
    """A copy of a store at rest; the database's last writes lie in its log, which is copied along."""
    target = into / "store"
    shutil.copytree(folder, target)
    return target


def shelf_row(folder: Path, place: str = "A") -> None:
    """One more stock row, as another program writes it."""
    store = Store.open(folder)
    row = Statement(
        "stock",
        {"maker": "Ostrel", "number": f"HTTP-{place}", "place": place, "quantity": 3},
        Evidence(date="2026-11-20"),
    )
    writer.record(store, [row], author="test", time="2026-11-20T08:00:00Z")
    store.close()
