"""A plan's records as signed: what was written into which field, by whom, and whether the unit may go out."""

from typing import Final

from graph.desk.desk import Desk
from graph.model.routing import RouteSheet
from graph.model.signing import SignedField, SignedRecord, Signing, sheet_mark
from graph.model.statement import subject
from graph.routesheet import refusals

OWN: Final = (".by", ".date")
"""Ends of the fields that the program fills in with who signs and when."""


def entries(desk: Desk, core: str, plan: str) -> dict[str, tuple[str, str, str, int]]:
    """What was last written into each field of a plan's records: the entry (empty: taken back), who wrote it, when,
    and in which change set. `core`: its tag."""
    found: dict[str, tuple[str, str, str, int]] = {}
    for held in desk.shelf.held("sign_offs", [subject("core", core)]):
        row = held.statement.fields
        if row["plan"] != plan:
            continue
        name, entry = str(row["field"]), str(row.get("entry", ""))
        found[name] = (entry, str(row.get("who", "")), held.statement.evidence.date, held.from_n)
    return found


def signing(desk: Desk, sheet: RouteSheet, core: str) -> Signing:
    """The records of a sheet with what was written into them, in the sheet's order."""
    have = entries(desk, core, sheet.identity)
    records = []
    for record in sheet.records:
        fields = tuple(
            SignedField(f.name, f.label, f.quantity, *_shown(have, f.name))
            for f in record.fields
            if not f.name.endswith(OWN)
        )
        by, day = (_shown(have, record.code + end)[0] for end in OWN)
        version = max((have[f.name][3] for f in record.fields if f.name in have), default=0)
        records.append(SignedRecord(record.code, record.title, record.because, fields, by, day, version))
    filled = {name: entry for name, (entry, _who, _date, _n) in have.items() if entry}
    return Signing(core, sheet.identity, sheet_mark(sheet), tuple(records), refusals(sheet, filled))


def _shown(have: dict[str, tuple[str, str, str, int]], name: str) -> tuple[str, str, str]:
    entry, who, date, _n = have.get(name, ("", "", "", 0))
    return (entry, who, date) if entry else ("", "", "")
