"""Photos of cores: kept with the record, and put to the core that they show."""

from typing import Final

from graph.errors import BadQuestion, NotFound, Stale
from graph.index.store import Store
from graph.ledger.photos import Photos, photo_name
from graph.ledger.reading import Reading
from graph.model.statement import Statement, subject
from graph.photograph import photograph
from graph.publish.entering import Cells, Entered, enter_core
from graph.publish.writing import Published, record

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
        have = _row(store, tag).fields.get("photos", [])
        if len(have) >= MOST:
            raise BadQuestion(f"a core has {MOST} photos at most", fix="choose the telling ones")
        cells = {"tag": tag, "photos": "|".join(have)}
        return _with_photo(store, cells, sent, author=author, time=time, correct=True)


def remove_photo(store: Store, tag: str, name: str, *, author: str, time: str) -> Published:
    """Take a photo off a core, by a new row. Its bytes stay in the record, as the rows do that named it.

    Raises
    ------
    NotFound
        There is no such core, or it has no such photo.
    Stale
        The core's row was changed in between.
    """
    with store.locked("photographing"):
        row = _row(store, tag)
        left = [one for one in row.fields.get("photos", []) if one != name]
        if len(left) == len(row.fields.get("photos", [])):
            raise NotFound(f"core {tag} has no photo {name!r}", fix="look at the core's photos again")
        fields = {**row.fields, "photos": left} if left else {k: v for k, v in row.fields.items() if k != "photos"}

        def unchanged(reading: Reading) -> None:
            if _last(reading, tag) != row:
                raise Stale(f"core {tag} was changed meanwhile", fix="look at it again, then take the photo off")

        return record(
            store,
            [Statement("cores", fields)],
            author=author,
            time=time,
            title=f"photo {name} taken off core {tag}",
            guard=unchanged,
        )


def _row(store: Store, tag: str) -> Statement:
    with store.ledger.reading() as reading:
        found = _last(reading, tag)
    if found is None:
        raise NotFound(f"there is no core {tag!r}", fix="read the tag again, or take the core in first")
    return found


def _last(reading: Reading, tag: str) -> Statement | None:
    """What counts of a core's own rows."""
    return next(reversed(list(reading.shelf(reading.head().n, ("cores",), [subject("core", tag)]))), None)


def _with_photo(store: Store, cells: Cells, sent: bytes, *, author: str, time: str, correct: bool = False) -> Entered:
    taken = photograph(sent)
    name = photo_name(taken.data, taken.suffix)
    listed = dict.fromkeys([*filter(None, cells.get("photos", "").split("|")), name])
    filled = {**cells, "photos": "|".join(listed)}
    with Photos(store.ledger).keeping(name, taken.data, who=author, time=time):
        return enter_core(store, filled, author=author, time=time, correct=correct)
