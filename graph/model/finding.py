"""A fault or a remark about data: where it stands, what was there, why it is wrong and how to mend it."""

from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "notice"]


@dataclass(frozen=True, slots=True)
class Origin:
    """The place in a file that a statement came from; `row` counts as the spreadsheet does, from 1."""

    file: str
    sheet: str = ""
    row: int = 0
    column: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault (`error` stops a publish), doubt (`warning`) or remark (`notice`)."""

    code: str
    severity: Severity
    origin: Origin
    found: str
    why: str
    mend: str


def in_order(findings: list[Finding]) -> list[Finding]:
    """The findings by file, sheet, row, column, then code, so that every run prints them alike."""
    return sorted(
        findings,
        key=lambda f: (f.origin.file, f.origin.sheet, f.origin.row, f.origin.column, f.code, f.found),
    )
