"""Change sets and differences as plain text."""

from collections.abc import Sequence

from api.text.layout import columns, paragraph
from graph.ledger.chain import ChangeSet
from graph.ledger.reading import Difference


def history_lines(sets: Sequence[ChangeSet]) -> list[str]:
    """One line a change set: number, time, author, rows, title, hash."""
    rows = [(f"{s.n}", s.time, s.author, f"{s.count} rows", s.hash[:12], s.title) for s in sets]
    return columns(rows, "") or ["nothing was published yet"]


def diff_lines(a: int, b: int, changes: Sequence[Difference]) -> list[str]:
    """One line a row, then how many."""
    lines = []
    for change in changes:
        fields = "; ".join(f"{name} {_said(value)}" for name, value in change.statement.fields.items())
        lines += paragraph(f"{change.op} {change.statement.sheet}: {fields}", "", "    ")
    came = sum(change.op == "+" for change in changes)
    return [*lines, f"From version {a} to {b}: {came} rows came, {len(changes) - came} went."]


def _said(value: object) -> str:
    if isinstance(value, dict):
        return f"{value.get('text', '')} {value.get('unit', '')}".strip()
    return "|".join(str(v) for v in value) if isinstance(value, list) else str(value)
