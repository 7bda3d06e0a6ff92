"""A sheet as raw rows that can be read again and again, whatever kind of file it came from."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from graph.model.finding import Finding

MAX_CELL: Final = 32_767  # what a spreadsheet program itself can hold in one cell
MAX_COLUMNS: Final = 500
# A workbook of 100,000 parts with eight values each in long form has six million cells.
MAX_CELLS: Final = 10_000_000


class Odd(NamedTuple):
    """A spreadsheet cell that is no text: number, yesno, date, formula or error, and how it reads as text."""

    kind: str
    text: str


Cell = str | Odd
Row = tuple[int, list[Cell]]
"""A row's number, from 1, and its cells; a missing cell is ''."""


@dataclass(frozen=True, slots=True)
class Table:
    """One sheet: its name, the file shown to people, and its rows (the header first), found afresh by each call.

    `even` says that every row must have as many cells as the header, as a CSV file's must. `escaped` says that
    an apostrophe before `= + - @` only keeps a spreadsheet program from computing.
    """

    name: str
    file: str
    rows: Callable[[], Iterator[Row | Finding]]
    even: bool = False
    escaped: bool = False
