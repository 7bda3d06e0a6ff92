"""Photos of cores: kept with the record, and put to the core that they show."""

from typing import Final

from graph.errors import BadQuestion, NotFound
from graph.index.store import Store
from graph.ledger.photos import Photos, photo_name
from graph.model.statement import subject
from graph.photograph import photograph
from graph.publish.entering import Cells, Entered, enter_core

MOST: Final = 100
"""Photos of one core."""


def enter_core_with_photo(store: Store, cells: Cells, sent: bytes, *, author: str, time: str) -> Entered:
    """Take a core in with a photo of its plate; no bytes: without.

    Raises
    ------
    BadFile
        The bytes are no photo.
    """
    return (
        _with_photo(store, cells, sent, author=author, time=time)
        if sent
        else enter_core(store, cells, author=author, time=time)
    )


def add_photo(store: Store, tag: str, sent: bytes, *, author: str, time: str) -> Entered:
    """Put a photo to a core, after those that are there. What the camera wrote beside the picture is left out.

    Raises
    ------
    NotFound
        There is no such core.
    BadQuestion
        It has as many photos as a core may have.
    BadFile
        The bytes are no photo.
    """
    with store.locked("photographing"):  # two tablets may add to one list at the same moment
        with store.ledger.reading() as reading:
            rows = list(reading.shelf(reading.head().n, ("cores",), [subject("core", tag)]))
        if not rows:
            raise NotFound(f"there is no core {tag!r}", fix="read the tag again, or take the core in first")
        have = rows[-1].fields.get("photos", [])
        if len(have) >= MOST:
            raise BadQuestion(f"a core has {MOST} photos at most", fix="choose the telling ones")
        cells = {"tag": tag, "photos": "|".join(have)}
        return _with_photo(store, cells, sent, author=author, time=time, correct=True)


def _with_photo(store: Store, cells: Cells, sent: bytes, *, author: str, time: str, correct: bool = False) -> Entered:
    taken = photograph(sent)
    name = photo_name(taken.data, taken.suffix)
    listed = dict.fromkeys([*filter(None, cells.get("photos", "").split("|")), name])
    filled = {**cells, "photos": "|".join(listed)}
    with Photos(store.ledger).keeping(name, taken.data, who=author, time=time):
        return enter_core(store, filled, author=author, time=time, correct=correct)
