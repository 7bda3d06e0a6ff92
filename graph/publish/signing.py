"""Signing the records of a route sheet, a record at a time, and taking a signature back.

Rule 1: nothing is filled in by the program but the name and the day of who signs. Rule 2: no entry lifts a block.
Rule 3: what is signed is the sheet as it was shown; once anything is written that a plan reads, it is shown again.
"""

from collections.abc import Mapping
from dataclasses import replace

from graph.errors import BadQuestion, NotFound, Stale
from graph.index.store import Store
from graph.ledger.reading import Reading
from graph.model.routing import FinishRecord, RouteSheet
from graph.model.signing import UNREAD
from graph.publish.entering import Entered, enter
from graph.publish.writing import Guard
from graph.routesheet import refusals


def sign(
    store: Store,
    sheet: RouteSheet,
    core: str,
    code: str,
    told: Mapping[str, str],
    *,
    version: int,
    stood: int,
    author: str,
    time: str,
) -> Entered:
    """Sign one record of a sheet: all its fields, by whom and when, in one change set.

    `version`: of the record as it was shown, 0 where nothing was written into it; `stood`: the change set up to which
    the sheet is known to stand as it was shown.

    Raises
    ------
    NotFound
        The sheet has no such record.
    BadQuestion
        The sheet is blocked or held, a field is blank, cannot be read, or lies outside what the sheet allows; all
        are named.
    Stale
        The record has another version, or something was written since that a plan reads.
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
    title = f"core {core}: {record.title} signed"
    guard = _as_shown(sheet, core, record, version, stood)
    return enter(store, "sign_offs", rows, author=author, time=time, title=title, guard=guard).sound()


def take_back(
    store: Store, sheet: RouteSheet, core: str, code: str, *, version: int, author: str, time: str
) -> Entered:
    """Take the signature of a record back; what was written stays in the history. `version` as for a signature.

    Raises
    ------
    NotFound
        The sheet has no such record.
    Stale
        The record has another version.
    """
    record = _record(sheet, code)
    rows = [_row(sheet, core, f.name, "", author, time) for f in record.fields]
    title = f"core {core}: {record.title} taken back"
    guard = _as_shown(sheet, core, record, version, None)
    return enter(store, "sign_offs", rows, author=author, time=time, title=title, guard=guard).sound()


def _as_shown(sheet: RouteSheet, core: str, record: FinishRecord, version: int, stood: int | None) -> Guard:
    def guard(reading: Reading) -> None:
        found = [
            n for f in record.fields
            for n in reading.live_since("sign_offs", (core, sheet.identity, f.name)).values()
        ]  # fmt: skip
        if max(found, default=0) != version:
            raise Stale(
                f"somebody wrote into the record {record.code!r} since it was shown; nothing was written",
                fix="look at it again: it may be signed already",
            )
        if stood is not None and reading.written_between(stood, reading.head().n) - UNREAD:
            raise Stale(
                "something was written since this sheet was laid out; nothing was signed",
                fix="look at the sheet again, then sign",
            )

    return guard


def _row(sheet: RouteSheet, core: str, field: str, entry: str, who: str, time: str) -> dict[str, str]:
    row = {"tag": core, "plan": sheet.identity, "field": field, "entry": entry, "who": who}
    return {**row, "date": time.rstrip("Z")}


def _record(sheet: RouteSheet, code: str) -> FinishRecord:
    for record in sheet.records:
        if record.code == code:
            return record
    raise NotFound(f"this sheet has no record {code!r}", fix="open the sheet's sign-off page again")
