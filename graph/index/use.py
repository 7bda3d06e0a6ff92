"""One place where a part is used or named."""

from dataclasses import dataclass

from graph.index.records import Row


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
