"""Signing the records of a route sheet, a record at a time, and taking a signature back.

Rule 1: nothing is filled in by the program but the name and the day of who signs. Rule 2: no entry lifts a block.
"""

from collections.abc import Mapping
from dataclasses import replace

from graph.errors import BadQuestion, NotFound
from graph.index.store import Store
from graph.model.routing import FinishRecord, RouteSheet
from graph.publish.entering import Entered, enter
from graph.routesheet import refusals


def sign(
    store: Store, sheet: RouteSheet, core: str, code: str, told: Mapping[str, str], *, author: str, time: str
) -> Entered:
    """Sign one record of a sheet: all its fields, by whom and when, in one change set.

    Raises
    ------
    NotFound
        The sheet has no such record.
    BadQuestion
        The sheet is blocked or held, a field is blank, cannot be read, or lies outside what the sheet allows; all
        are named.
    """
    record = _record(sheet, code)
    if sheet.blocks:
        raise BadQuestion(
            f"blocked: {sheet.blocks[0].text}", fix="nothing on this sheet is signed while it is blocked"
        )
    if sheet.holds and code.startswith("step-"):
        raise BadQuestion(
            f"not settled: {'; '.join(sheet.holds)}", fix="settle it, then ask for the plan and its sheet again"
        )
    filled = {name: text.strip() for name, text in told.items() if text.strip()}
    filled |= {f"{code}.by": author, f"{code}.date": time[:10]}
    wrong = refusals(replace(sheet, blocks=(), holds=(), records=(record,)), filled)
    if wrong:
        raise BadQuestion(
            "; ".join(wrong),
            fix="fill in every field; a size that came out otherwise is written down as a reading of the core",
        )
    rows = [_row(sheet, core, f.name, filled[f.name], author, time) for f in record.fields]
    return enter(
        store, "sign_offs", rows, author=author, time=time, title=f"core {core}: {record.title} signed"
    ).sound()


def take_back(store: Store, sheet: RouteSheet, core: str, code: str, *, author: str, time: str) -> Entered:
    """Take the signature of a record back; what was written stays in the history.

    Raises
    ------
    NotFound
        The sheet has no such record.
    """
    record = _record(sheet, code)
    rows = [_row(sheet, core, f.name, "", author, time) for f in record.fields]
    title = f"core {core}: {record.title} taken back"
    return enter(store, "sign_offs", rows, author=author, time=time, title=title).sound()


def _row(sheet: RouteSheet, core: str, field: str, entry: str, who: str, time: str) -> dict[str, str]:
    row = {"tag": core, "plan": sheet.identity, "field": field, "entry": entry, "who": who}
    return {**row, "date": time.rstrip("Z")}


def _record(sheet: RouteSheet, code: str) -> FinishRecord:
    for record in sheet.records:
        if record.code == code:
            return record
    raise NotFound(f"this sheet has no record {code!r}", fix="open the sheet's sign-off page again")
