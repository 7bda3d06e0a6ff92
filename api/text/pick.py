"""A pick list as plain text and as rows for CSV and XLSX."""

from api.text.layout import bullets, columns, heading, paragraph
from api.words import days, money
from graph.model.picking import PickLine, PickList
from ontology.currencies import amount_shown

SECTIONS = {
    "core": "From the core",
    "donor": "From donor cores",
    "part": "Parts",
    "consumed": "Used up",
    "kit": "Kits",
    "in-kit": "in the kit",
}
PAID = ("donor", "part", "consumed", "kit")
"""Sections whose lines cost something."""

HEADER = (
    "section", "side", "maker", "number", "label", "quantity", "one_time", "from_core", "bins", "on_hand", "short",
    "instead_of", "for", "substitutes", "notes", "unit_price", "price", "deposit", "currency", "price_as_of",
    "lead_days",
)  # fmt: skip


def pick_lines(picks: PickList) -> list[str]:
    """Sections in order, shortages first, totals last."""
    lines = paragraph(f"Pick list: {', '.join(picks.jobs)}")
    if picks.shortages:
        lines += heading("Short")
        lines += bullets(picks.shortages)
    for section, rows in _sections(picks):
        lines += heading(section)
        lines += columns(rows)
    if picks.struck:
        lines += heading("Struck out")
        lines += bullets(picks.struck)
    total = money(picks.total, picks.currency, at_least=picks.at_least)
    lines += [
        "",
        f"Parts: {total}. Deposits: {money(picks.deposits, picks.currency)}. Ready: {days(picks.lead_days)}.",
    ]
    lines += [f"Read from catalogue {picks.snapshot.catalogue}, shelf {picks.snapshot.shelf}, as of {picks.day}."]
    return lines


def _sections(picks: PickList) -> list[tuple[str, list[tuple[str, str, str]]]]:
    found: list[tuple[str, list[tuple[str, str, str]]]] = []
    for line in picks.lines:
        title = SECTIONS["kit" if line.section == "in-kit" else line.section]
        if not found or found[-1][0] != title:
            found.append((title, []))
        rows = found[-1][1]
        rows.append(_row(line, picks))
        rows += [("", "", f"note: {note}") for note in line.notes]
        rows += [("", "", _substitute(line, i)) for i in range(len(line.substitutes))]
    return found


def _row(line: PickLine, picks: PickList) -> tuple[str, str, str]:
    number = f"{line.maker} {line.number}"
    if line.section == "in-kit":
        return (f"    {line.quantity} x", f"  {number}", f"{line.label}, in the kit")
    several = len(picks.jobs) > 1
    uses = "; ".join(f"{use.seat or use.reason}" + (f" [{use.job}]" if several else "") for use in line.uses)
    where = ", ".join(f"{place} ({quantity})" for place, quantity in line.bins) or (
        f"core {line.lot}" if line.lot else "no bin on record"
    )
    texts = [line.label, f"for {uses}" if line.uses and line.uses[0].seat else uses, where]
    if line.instead_of:
        texts.insert(1, f"instead of {', '.join(line.instead_of)}")
    if line.one_time:
        texts.append("one-time use")
    if line.short:
        texts.append(f"{line.short} SHORT, {days(line.lead_days)}")
    if line.section in PAID:
        texts.append(money(line.price, picks.currency) + (f" as of {line.as_of}" if line.as_of else ""))
    return (f"[ ] {line.quantity} x", number, "; ".join(text for text in texts if text))


def _substitute(line: PickLine, index: int) -> str:
    other = line.substitutes[index]
    condition = f", only where: {other.condition}" if other.condition else ""
    return f"or {other.label} ({other.on_hand} on hand; {other.basis}{condition})"


def pick_rows(picks: PickList) -> list[tuple[str, ...]]:
    """One row a line, under `HEADER`; money as decimal numbers, empty where not known."""
    return [
        (
            line.section,
            line.side,
            line.maker,
            line.number,
            line.label,
            str(line.quantity),
            "yes" if line.one_time else "no",
            line.lot,
            " | ".join(f"{place}: {quantity}" for place, quantity in line.bins),
            str(line.on_hand),
            str(line.short),
            " | ".join(line.instead_of),
            " | ".join(f"{use.job} {use.seat or use.reason} x {use.quantity}".strip() for use in line.uses),
            " | ".join(_substitute(line, i) for i in range(len(line.substitutes))),
            " | ".join(line.notes),
            _decimal(line.unit_price, picks.currency),
            _decimal(line.price, picks.currency),
            _decimal(line.deposit, picks.currency),
            picks.currency,
            line.as_of,
            "" if line.lead_days is None else str(line.lead_days),
        )
        for line in picks.lines
    ]


def _decimal(minor: int | None, currency: str) -> str:
    return "" if minor is None else amount_shown(minor, currency)
