"""Labels as PDF, a label a page: what it is, in words, as Code 128, and where there is an address as QR code."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import typst

from api.paper.codes import code128_bare, for_paper, qr_svg
from api.paper.sheet import _seconds

TEMPLATE: Final = Path(__file__).parent / "label.typ"
SIZE: Final = (100, 50)
"""Width and height of a label [mm]."""
MARGIN: Final = 3
"""Around it [mm]."""


@dataclass(frozen=True, slots=True)
class Label:
    """One label. `code`: what its barcode says; `address`: what its QR code says, empty for none."""

    title: str
    lines: tuple[str, ...]
    code: str
    address: str = ""


def label_pdf(labels: Sequence[Label], *, day: str = "") -> bytes:
    """All labels in their order. A barcode that is wider than the label is narrowed to it."""
    told = [_told(one) for one in labels]
    made = typst.compile(
        TEMPLATE,
        root=TEMPLATE.parent,
        font_paths=[],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"labels": json.dumps({"size": SIZE, "margin": MARGIN, "labels": told}, ensure_ascii=False)},
        timestamp=_seconds(day),
    )
    assert isinstance(made, bytes)
    return made


def _told(label: Label) -> dict[str, object]:
    bar, wide = code128_bare(label.code)
    return {
        "title": label.title,
        "lines": [text for text in label.lines if text],
        "code": label.code,
        "bar": bar,
        "wide": min(2 * wide, SIZE[0] - 2 * MARGIN),
        "qr": for_paper(qr_svg(label.address, "qr", label.title)) if label.address else "",
    }
