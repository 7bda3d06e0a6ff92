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
        for fact in shown.facts:
            status = "" if fact.status == "known" else f" ({fact.status})"
            lines += paragraph(f"{fact.label}: {fact.value}{status}", "  ", "    ")
            for claim in fact.claims:
                lines += paragraph(
                    f"{'counts' if claim.governs else 'beside'}  {_claim(claim)}", "      ", "        "
                )
    if shown.links:
        lines += heading("Where it leads")
        lines += columns((link.how, named(link.key), link.note) for link in shown.links)
    lines += ["", f"Read from catalogue {shown.snapshot.catalogue}, shelf {shown.snapshot.shelf}."]
    return lines


def _claim(claim: ShownClaim) -> str:
    said = ", ".join(text for text in (claim.source or "no source named", claim.rank, claim.by, claim.date) if text)
    place = f" at {claim.position}" if claim.position else ""
    note = f"; {claim.note}" if claim.note else ""
    return f"{claim.value}{place} ({said}{note})"
