"""A plan's records as signed: what was written into which field, by whom, and whether the unit may go out."""

from typing import Final

from graph.desk.desk import Desk
from graph.model.routing import RouteSheet
from graph.model.signing import SignedField, SignedRecord, Signing
from graph.model.statement import subject
from graph.routesheet import refusals

OWN: Final = (".by", ".date")
"""Ends of the fields that the program fills in with who signs and when."""


def entries(desk: Desk, core: str, plan: str) -> dict[str, tuple[str, str, str]]:
    """What stands in each field of a plan's records: the entry, who wrote it, when. `core`: its tag."""
    found: dict[str, tuple[str, str, str]] = {}
    for held in desk.shelf.held("sign_offs", [subject("core", core)]):
        row = held.statement.fields
        if row["plan"] != plan:
            continue
        name, entry = str(row["field"]), str(row.get("entry", ""))
        found.pop(name, None)
        if entry:
            found[name] = (entry, str(row.get("who", "")), held.statement.evidence.date)
    return found


def signing(desk: Desk, sheet: RouteSheet, core: str) -> Signing:
    """The records of a sheet with what was written into them, in the sheet's order."""
    have = entries(desk, core, sheet.identity)
    records = []
    for record in sheet.records:
        fields = tuple(
            SignedField(f.name, f.label, f.quantity, *have.get(f.name, ("", "", "")))
            for f in record.fields
            if not f.name.endswith(OWN)
        )
        by, day = (have.get(record.code + end, ("", "", ""))[0] for end in OWN)
        records.append(SignedRecord(record.code, record.title, record.because, fields, by, day))
    filled = {name: entry for name, (entry, _who, _date) in have.items()}
    return Signing(core, sheet.identity, tuple(records), refusals(sheet, filled))
