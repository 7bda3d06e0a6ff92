"""A row of the shop's figures: which value each sort has, what it is of, and where the value may lie."""

from dataclasses import dataclass
from typing import Final

from graph.sources.rows import Line
from graph.sources.things import Things, near

VALUES: Final = ("percent", "price", "days")
WHOLE: Final = 10**6
"""100 per cent, in quanta of a ratio."""


@dataclass(frozen=True, slots=True)
class Sort:
    """What a figure of one sort needs: its value column, and what stands in `of` (empty: nothing)."""

    value: str
    of: str
    needs: str


SORTS: Final = {
    "credit": Sort("percent", "grade", "the grade in `of` and its share of the deposit in `percent`, 0 to 100"),
    "sublet": Sort("price", "operation", "the operation in `of`, its `price` and its `currency`"),
    "tax": Sort("percent", "", "the rate in `percent`, 0 to 100, and nothing in `of`"),
    "validity": Sort("days", "", "the `days`, 1 or more, and nothing in `of`"),
    "warranty": Sort("days", "", "the `days`, 1 or more, and nothing in `of`"),
}


def check_figure(line: Line, things: Things) -> None:
    """Report what is wrong with a row; one without a value says that nothing is set any more."""
    figure = line.fields.get("figure")
    sort = SORTS.get(str(figure))
    if sort is None:
        return
    of = line.texts.get("of", "")
    if bool(of) != bool(sort.of):
        _unfit(line, "of", sort, "is of one thing" if sort.of else "is of nothing in particular")
    elif sort.of == "operation" and not things.has("operations", of):
        line.report("unknown-name", "of", name=of, what="operation", hint=near(of, things.names("operations")))
    for column in VALUES:
        if column in line.texts and column != sort.value:
            _unfit(line, column, sort, f"has no {column}")
    if sort.value in line.bad or sort.value not in line.fields:
        return
    value = line.fields[sort.value]
    if sort.value == "percent" and not 0 <= value["amount"] <= WHOLE:
        _unfit(line, "percent", sort, "is a share of the whole")
    if sort.value == "days" and not value:
        _unfit(line, "days", sort, "holds for a day at least")


def _unfit(line: Line, column: str, sort: Sort, wrong: str) -> None:
    line.report("figure-unfit", column, figure=line.fields["figure"], wrong=wrong, needs=sort.needs)
