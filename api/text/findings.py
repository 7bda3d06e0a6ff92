"""Findings as plain text: every one, in file order."""

from collections import Counter
from collections.abc import Sequence

from api.text.layout import columns, paragraph
from graph.model.finding import Finding, Origin

WORDS = {"error": "error", "warning": "warning", "notice": "note"}


def where(origin: Origin) -> str:
    """The place of a finding: sheet, row and column as the spreadsheet shows them."""
    steps = [origin.sheet or origin.file]
    if origin.row:
        steps.append(f"row {origin.row}")
    if origin.column:
        steps.append(origin.column)
    return " ".join(steps)


def finding_lines(findings: Sequence[Finding]) -> list[str]:
    """A block of four lines a finding, then how many of each severity."""
    lines: list[str] = []
    for finding in findings:
        lines += [f"{WORDS[finding.severity]} {finding.code}: {where(finding.origin)}"]
        lines += columns(
            [("found", finding.found or "(empty)"), ("why", finding.why), ("mend", finding.mend)], "    "
        )
    count = Counter(finding.severity for finding in findings)
    return [
        *lines,
        *paragraph(f"{count['error']} errors, {count['warning']} warnings, {count['notice']} notes."),
    ]
