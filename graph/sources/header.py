"""The header row: which column of the workbook's table, or which feature, each place of it means."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from graph.model.finding import Finding, Origin
from graph.model.sheet import BY_NAME, EVIDENCE, Column, Sheet
from graph.sources.cells import text_in, unit_for
from graph.sources.codes import Fault, finding
from graph.sources.tables import Cell, Odd

_WIDE: Final = re.compile(r"(?P<name>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")
FeatureNamed = Callable[[str], tuple[str, str] | None]
Hint = Callable[[str, list[str]], str]
EVIDENCE_BY_NAME: Final = {column.name: column for column in EVIDENCE}


@dataclass(frozen=True, slots=True)
class Wide:
    """A column of `parts` that holds one feature of every row; `unit` as the header says, '' if it does not."""

    feature: str
    type: str
    unit: str


@dataclass(frozen=True, slots=True)
class Place:
    """One usable place of the header: its index, its words as written, and what it means."""

    index: int
    shown: str
    meaning: Column | Wide


@dataclass(frozen=True, slots=True)
class Header:
    """A sheet's usable places, its evidence places, the width of the header, and the needed columns it lacks."""

    sheet: Sheet
    places: tuple[Place, ...]
    evidence: tuple[Place, ...]
    wide: tuple[Place, ...]
    width: int
    lacks: tuple[str, ...]


def folded(name: str) -> str:
    """A sheet's or column's name without regard to case, spaces and dashes.

    >>> folded(" Part  Number")
    'part_number'
    """
    return re.sub(r"[\s_-]+", "_", name.strip().casefold())


def sheet_named(name: str) -> Sheet | None:
    """The sheet of that name, or None."""
    return BY_NAME.get(folded(name))


def read_header(
    sheet: Sheet, place: Origin, cells: list[Cell], feature: FeatureNamed, near: Hint
) -> tuple[Header, list[Finding]]:
    """The header's meaning and all that is wrong with it.

    `feature` finds a feature's name and type by a folded name; `near` words a suggestion.
    """
    findings: list[Finding] = []
    seen: dict[object, str] = {}
    places: list[Place] = []
    evidence: list[Place] = []
    wide: list[Place] = []
    for index, cell in enumerate(cells):
        shown = cell.text if isinstance(cell, Odd) else cell.strip()
        if not shown:
            continue
        origin = replace(place, column=shown)
        try:
            meaning = _meaning(sheet, text_in(cell, None), feature, near)
        except Fault as fault:
            findings.append(finding(fault.code, origin, shown, **fault.words))
            continue
        if meaning in seen:
            findings.append(finding("duplicate-header", origin, shown))
            continue
        seen[meaning] = shown
        found = Place(index, shown, meaning)
        if isinstance(meaning, Wide):
            wide.append(found)
        elif sheet.column(meaning.name) is not None:
            places.append(found)
        else:
            evidence.append(found)
    have = {p.meaning.name for p in places if isinstance(p.meaning, Column)}
    lacks = tuple(c.name for c in sheet.columns if c.needed and c.name not in have)
    findings += [finding("missing-column", replace(place, column=name), "") for name in lacks]
    return Header(sheet, tuple(places), tuple(evidence), tuple(wide), len(cells), lacks), findings


def _meaning(sheet: Sheet, text: str, feature: FeatureNamed, near: Hint) -> Column | Wide:
    column = sheet.column(folded(text)) or EVIDENCE_BY_NAME.get(folded(text))
    if column is not None:
        return column
    match = _WIDE.fullmatch(text)
    found = feature(folded(match["name"])) if match and sheet.name == "parts" else None
    if not match or found is None:
        raise Fault("unknown-column", hint=near(folded(text), [c.name for c in (*sheet.columns, *EVIDENCE)]))
    name, type_ = found
    unit = (match["unit"] or "").strip()
    return Wide(name, type_, unit_for(unit, type_, name).symbol if unit and type_ else "")
