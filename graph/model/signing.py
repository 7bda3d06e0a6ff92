"""What was signed on a route sheet's records."""

from dataclasses import dataclass, replace
from typing import Final

from graph.model.codec import to_json
from graph.model.record import Snapshot
from graph.model.routing import RouteSheet
from graph.model.statement import digest

UNREAD: Final = frozenset({"sign_offs", "jobs", "job_stages", "job_deposits", "figures"})
"""Sheets whose rows no plan and no route sheet reads: a sheet that was shown stands when they are written."""


def sheet_mark(sheet: RouteSheet) -> str:
    """What names everything that stands on a sheet, whenever it was laid out: equal marks, equal sheets."""
    return digest(to_json(replace(sheet, snapshot=Snapshot("", 0))))[:32]


@dataclass(frozen=True, slots=True)
class SignedField:
    """One field of a record: what was written into it (empty: nothing), by whom, when."""

    name: str
    label: str
    quantity: str
    entry: str
    who: str
    date: str


@dataclass(frozen=True, slots=True)
class SignedRecord:
    """One record; `by` empty: it is not signed. `version`: goes with a change of it; 0: nothing was written yet."""

    code: str
    title: str
    because: str
    fields: tuple[SignedField, ...]
    by: str
    date: str
    version: int


@dataclass(frozen=True, slots=True)
class Signing:
    """The records of one plan for one core. `refusals`: why the unit may not go out; empty: it may.

    `sheet`: the mark of the sheet that these records stand on; a signature says which it signs.
    """

    core: str
    plan: str
    sheet: str
    records: tuple[SignedRecord, ...]
    refusals: tuple[str, ...]
