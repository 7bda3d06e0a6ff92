"""What parts have to do with other parts, read of many parts at once: supersession and asserted interchange."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from graph.index import records
from graph.index.file import IndexFile, marks
from graph.index.records import Row
from graph.index.tables import row_of
from graph.ledger.reading import batches
from graph.model.record import Interchange, Supersession

_SHEETS: Final = ("supersession", "interchange")
_AT_ONCE: Final = 2_000


@dataclass(frozen=True, slots=True)
class Links:
    """One part's, whichever side it is on: by old and new number, and by part, other part and seat."""

    supersessions: tuple[Supersession, ...]
    interchanges: tuple[Interchange, ...]


def links_of(index: IndexFile, parts: Iterable[str]) -> dict[str, Links]:
    """The links of each of these parts, also of one that has none."""
    found: dict[str, dict[str, Row]] = {part: {} for part in parts}
    for keys in batches(sorted(found), _AT_ONCE):
        for key, row in _rows(index, keys):
            found[key][row.id] = row
    return {part: _links(rows.values()) for part, rows in found.items()}


def _rows(index: IndexFile, keys: Sequence[str]) -> Iterable[tuple[str, Row]]:
    query = f"""SELECT t.key, s.sheet, s.id, s.content FROM thing t JOIN statement s ON s.thing = t.id
            WHERE t.key IN ({marks(keys)}) AND s.sheet IN ({marks(_SHEETS)})
        UNION ALL
        SELECT t.key, s.sheet, s.id, s.content FROM thing t JOIN mention m ON m.thing = t.id
            JOIN statement s ON s.thing = m.filed AND s.sheet = m.sheet AND s.id = m.id
            WHERE t.key IN ({marks(keys)}) AND m.sheet IN ({marks(_SHEETS)})"""  # noqa: S608
    for key, *found in index.ask(query, (*keys, *_SHEETS, *keys, *_SHEETS)):
        yield key, row_of(*found)


def _links(rows: Iterable[Row]) -> Links:
    supersessions = [records.supersession_of(row) for row in rows if row.sheet == "supersession"]
    interchanges = [records.interchange_of(row) for row in rows if row.sheet == "interchange"]
    return Links(
        tuple(sorted(supersessions, key=lambda s: (s.old, s.new, s.said))),
        tuple(sorted(interchanges, key=lambda i: (i.part, i.other, i.seat, i.said))),
    )
