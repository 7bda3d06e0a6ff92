"""Counter papers as PDF: pick lists, quotes, credit notes and claims are one sort of slip, set by typst."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import typst
from fastapi import Response

from api.pages.wording import _
from api.paper.sheet import _seconds
from graph.errors import BadQuestion

TEMPLATE: Final = Path(__file__).parent / "slip.typ"
PAPERS: Final = {"a4": "a4", "letter": "us-letter"}


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a slip: a title, column heads, rows as texts; the last `numbers` columns stand to the right.

    `codes`: for each row a barcode as SVG (empty: none) and its width [mm]; it stands below the row's longest column.
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: int = 0
    codes: tuple[tuple[str, float], ...] = ()


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
        sys_inputs={
            "slip": json.dumps({**asdict(slip), "page": _("page")}, ensure_ascii=False),
            "paper": PAPERS[paper],
        },
        timestamp=_seconds(day),
    )
    assert isinstance(made, bytes)
    return made


def paper_named(name: str) -> str:
    """The name of a paper that there is.

    Raises
    ------
    BadQuestion
        It is none.
    """
    if name not in PAPERS:
        raise BadQuestion(_("%(name)s is no paper") % {"name": repr(name)}, fix=_("take a4 or letter"))
    return name


def pdf_response(data: bytes, name: str) -> Response:
    """A PDF to look at; `name` is its file name when it is saved."""
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"', "Cache-Control": "private, no-cache"}
    return Response(data, media_type="application/pdf", headers=headers)
