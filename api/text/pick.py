"""A pick list as plain text and as rows for CSV and XLSX."""

from api.text.layout import bullets, columns, heading, paragraph
from api.words import days, money
from graph.model.picking import PickLine, PickList

SECTIONS = {
    "core": "From the core",
    "donor": "From donor cores",
    "part": "Parts",
    "consumed": "Used up",
    "kit": "Kits",
    "in-kit": "in the kit",
}
HEADER = (
    "section", "side", "maker", "number", "label", "quantity", "one_time", "from_core", "bins", "on_hand", "short",
    "instead_of", "for", "substitutes", "notes", "unit_price", "price", "deposit", "currency", "price_as_of",
    "lead_days",
)  # fmt: skip


def pick_lines(picks: PickList) -> list[str]:
    """Sections in order, shortages first, totals last."""
    lines = paragraph(f"Pick list for {', '.join(picks.jobs)}")
    if picks.shortages:
        lines += heading("Short")
        lines += bullets(picks.shortages)
    section = ""
    for line in picks.lines:
        if line.section not in (section, "in-kit", "kit") or (line.section == "kit" and section != "kit"):
            section = line.section
            lines += heading(SECTIONS[section])
        lines += columns([_row(line, picks.currency)], "      " if line.section == "in-kit" else "  ")
        lines += bullets([*line.notes, *(_substitute(line, i) for i in range(len(line.substitutes)))])
    total = money(picks.total, picks.currency, at_least=picks.at_least)
    lines += [
        "",
        f"Parts: {total}. Deposits: {money(picks.deposits, picks.currency)}. Ready: {days(picks.lead_days)}.",
    ]
    lines += [f"Read from catalogue {picks.snapshot.catalogue}, shelf {picks.snapshot.shelf}, as of {picks.day}."]
    return lines


def _row(line: PickLine, currency: str) -> tuple[str, ...]:
    where = ", ".join(f"{place} ({quantity})" for place, quantity in line.bins) or line.lot
    uses = "; ".join(f"{use.seat or use.reason}" + (f" [{use.job}]" if use.job else "") for use in line.uses)
    price = (
        f", {money(line.price, currency)}" + (f" as of {line.as_of}" if line.as_of else "")
        if line.section in ("part", "consumed", "kit", "donor")
        else ""
    )
    flags = ", one-time use" if line.one_time else ""
    short = f", {line.short} SHORT ({days(line.lead_days)})" if line.short else ""
    instead = f", instead of {', '.join(line.instead_of)}" if line.instead_of else ""
    text = f"{line.label}{instead}{flags}; {uses}; {where or 'no bin on record'}{short}{price}"
    return (f"[ ] {line.quantity} x", f"{line.maker} {line.number}", text)


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
            _decimal(line.unit_price),
            _decimal(line.price),
            _decimal(line.deposit),
            picks.currency,
            line.as_of,
            "" if line.lead_days is None else str(line.lead_days),
        )
        for line in picks.lines
    ]


def _decimal(minor: int | None) -> str:
    return "" if minor is None else f"{minor // 100}.{minor % 100:02d}"
