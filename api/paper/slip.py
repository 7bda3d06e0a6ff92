"""Counter papers as PDF: pick lists, quotes, credit notes and claims are one sort of slip, set by typst."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import typst

from api.paper.sheet import _seconds

TEMPLATE: Final = Path(__file__).parent / "slip.typ"
PAPERS: Final = {"a4": "a4", "letter": "us-letter"}


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a slip: a title, column heads, rows as texts; the last `numbers` columns stand to the right."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: int = 0


@dataclass(frozen=True, slots=True)
class Slip:
    """The words of one paper in the order in which they are read. `code` is an SVG that stands at the top right."""

    title: str
    head: tuple[str, ...]
    sentence: str
    tables: tuple[Table, ...]
    sums: tuple[tuple[str, str], ...]
    notes: tuple[tuple[str, tuple[str, ...]], ...]
    foot: str
    sign: tuple[str, ...] = ()
    code: str = ""


def slip_pdf(slip: Slip, *, paper: str = "a4", day: str = "") -> bytes:
    """The slip on A4 or Letter. Its words go in as data, never as markup."""
    made = typst.compile(
        TEMPLATE,
        root=TEMPLATE.parent,
        font_paths=[],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"slip": json.dumps(asdict(slip), ensure_ascii=False), "paper": PAPERS[paper]},
        timestamp=_seconds(day),
    )
    assert isinstance(made, bytes)
    return made
