"""Where a part is used or named, and what it leads to."""

from collections.abc import Iterable
from dataclasses import dataclass

from graph.index import records
from graph.index.records import Row
from graph.model.record import Interchange, KitLine, Supersession


@dataclass(frozen=True, slots=True, order=True)
class Use:
    """`sheet` says how: sits in a unit's seat, lies in a kit, is used up, supersedes, stands in.

    `by` is the key of the unit, kit or part that names it, or the work (`when`) that uses it up.
    """

    sheet: str
    by: str
    seat: str
    quantity: int
    said: str


def use_of(row: Row, filed: str) -> Use:
    """The use that a row states; `filed` is the key of the thing it is about, '' for none."""
    quantity = row.number("quantity")
    return Use(row.sheet, filed or row.text("when"), row.text("seat"), 1 if quantity is None else quantity, row.id)


@dataclass(frozen=True, slots=True)
class Joined:
    """All that a part is joined to, each list in the catalogue's order of such."""

    uses: tuple[Use, ...]
    supersessions: tuple[Supersession, ...]
    interchanges: tuple[Interchange, ...]
    kits: tuple[KitLine, ...]


def joined_of(about: Iterable[Row], named: Iterable[tuple[str, Row]]) -> Joined:
    """What the rows about a part and those that name it (each with the key it is filed under) say."""
    own, others = tuple(about), tuple(named)
    rows = {row.id: row for row in (*own, *(row for _, row in others))}.values()
    later = (records.supersession_of(row) for row in rows if row.sheet == "supersession")
    stand_ins = (records.interchange_of(row) for row in rows if row.sheet == "interchange")
    lines = (records.kit_line_of(row) for row in own if row.sheet == "kits")
    return Joined(
        tuple(sorted(use_of(row, filed) for filed, row in others)),
        tuple(sorted(later, key=lambda s: (s.old, s.new, s.said))),
        tuple(sorted(stand_ins, key=lambda i: (i.part, i.other, i.seat, i.said))),
        tuple(sorted(lines, key=lambda line: (line.part, line.said))),
    )
