"""What is known of one thing, as plain text."""

from api.text.layout import bullets, columns, heading, paragraph
from api.words import named
from graph.model.shown import Shown, ShownClaim


def show_lines(shown: Shown) -> list[str]:
    """Title, facts with every claim, then where it leads."""
    lines = paragraph(f"{shown.kind}: {shown.title}")
    if shown.remarks:
        lines += bullets(shown.remarks)
    if shown.facts:
        lines += heading("What is known")
        rows = []
        for fact in shown.facts:
            rows.append((fact.label, fact.value, fact.status))
            rows += [("", _claim(claim), "governs" if claim.governs else "kept beside it") for claim in fact.claims]
        lines += columns(rows)
    if shown.links:
        lines += heading("Where it leads")
        lines += columns((link.how, named(link.key), link.note) for link in shown.links)
    lines += ["", f"Read from catalogue {shown.snapshot.catalogue}, shelf {shown.snapshot.shelf}."]
    return lines


def _claim(claim: ShownClaim) -> str:
    said = ", ".join(text for text in (claim.source or "no source named", claim.rank, claim.date) if text)
    place = f" at {claim.position}" if claim.position else ""
    note = f"; {claim.note}" if claim.note else ""
    return f"  {claim.value}{place} ({said}{note})"
