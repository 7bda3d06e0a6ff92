"""Setting faulty rows aside, and the rows that rest on them.

A row that points to one that is kept out, and to nothing in the store either, is kept out too: no published row
may lead nowhere.
"""

from collections.abc import Iterable, Iterator
from typing import Any, Final

from graph.model.finding import Finding, Origin
from graph.model.sheet import BY_NAME, Column
from graph.model.statement import Statement
from graph.sources.known import Known

Place = tuple[str, str, int]
"""File, sheet and row of a statement."""
Target = tuple[str, tuple[str, ...]]
"""A sheet, and the key (or its first words) of the row that is meant."""

_POINTING: Final = {name: tuple(c for c in sheet.columns if c.points_to) for name, sheet in BY_NAME.items()}
_SEATED: Final = frozenset({"joints", "rules"})


def place(origin: Origin | None) -> Place:
    """Where a row stands."""
    return (origin.file, origin.sheet, origin.row) if origin else ("", "", 0)


def faulty_places(findings: Iterable[Finding]) -> set[Place]:
    """The rows with an error."""
    return {place(f.origin) for f in findings if f.severity == "error"}


def resting_on(aside: set[Place], statements: Iterable[Statement], known: Known) -> list[Finding]:
    """A finding for each further row that has to stay out; `aside` grows by them. `statements` is gone through
    again until no more are found."""
    found: list[Finding] = []
    while True:
        there = {target for s in statements if place(s.origin) not in aside for target in _offers(s)}
        fresh = [
            _finding(s, column, target)
            for s in statements
            if place(s.origin) not in aside
            for column, target in _points(s)
            if target not in there and not _in_store(known, target)
        ]
        if not fresh:
            return found
        found += {place(f.origin): f for f in reversed(fresh)}.values()
        aside |= {place(f.origin) for f in fresh}


def _offers(statement: Statement) -> Iterator[Target]:
    key = statement.key
    yield from ((statement.sheet, key[: n + 1]) for n in range(len(key)))


def _points(statement: Statement) -> Iterator[tuple[str, Target]]:
    fields = statement.fields
    for column in _POINTING[statement.sheet]:
        if fields.get(column.name):
            yield column.name, (column.points_to, _key(column, fields))
    if statement.evidence.source:
        yield "source", ("sources", (statement.evidence.source,))
    if statement.sheet in _SEATED:
        layout = str(fields.get("layout", ""))
        for name, seat in _seats(fields):
            if seat != "engine":
                yield name, ("layouts", (layout, seat))
    if statement.sheet == "rules":
        yield "joint", ("joints", (str(fields.get("layout", "")), str(fields.get("joint", ""))))


def _key(column: Column, fields: Any) -> tuple[str, ...]:
    if column.with_maker:
        return (str(fields.get(column.with_maker, "")), str(fields[column.name]))
    return (str(fields[column.name]),)


def _seats(fields: Any) -> Iterator[tuple[str, str]]:
    yield from (("seats", str(seat)) for seat in fields.get("seats", ()))
    for name, operand in [("left", fields.get("left"))] + [("right", one) for one in fields.get("right", ())]:
        if operand:
            yield name, str(operand).partition(".")[0].strip()


def _in_store(known: Known, target: Target) -> bool:
    sheet, key = target
    if len(key) == len(BY_NAME[sheet].key):
        return known.row(sheet, key) is not None
    names = BY_NAME[sheet].key[: len(key)]
    return any(tuple(str(row.get(n, "")) for n in names) == key for row in known.rows(sheet))


def _finding(statement: Statement, column: str, target: Target) -> Finding:
    file, sheet, row = place(statement.origin)
    return Finding(
        "rests-on-set-aside",
        "error",
        Origin(file, sheet or statement.sheet, row, column),
        " ".join(target[1]),
        f"the row of {target[0]} that it points to was set aside",
        "mend that row first",
    )
