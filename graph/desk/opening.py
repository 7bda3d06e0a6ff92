"""Opening a desk over a store's folder, and noticing that the store has moved on."""

from pathlib import Path

from graph.desk.desk import Desk
from graph.index.store import Store


def open_desk(folder: Path) -> Desk:
    """A desk over the newest snapshot in a store's folder.

    Raises
    ------
    NotFound
        There is no store.
    """
    return Desk.over(Store.open(folder))


def version_of(folder: Path) -> str:
    """A text that changes with every publish and every shelf write; two small files are read."""
    return "|".join(_text(folder / name) for name in ("CURRENT", "head"))


def _text(file: Path) -> str:
    try:
        return file.read_text()
    except FileNotFoundError:
        return ""
