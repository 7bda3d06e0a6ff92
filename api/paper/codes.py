"""QR and Code 128 as SVG: by segno and python-barcode, drawn as plain shapes without styles."""

from typing import Final

import segno
from barcode.codex import Code128

from api.picture.draw import picture, text
from graph.identifiers import spelling

QUIET_QR: Final = 4  # modules, ISO/IEC 18004
QUIET_BAR: Final = 10  # modules, ISO/IEC 15417
BAR_HIGH: Final = 44
LOW: Final = 24
"""Modules of height of a barcode within a line of a list."""
MODULE: Final = 0.25
"""Width of a module on paper [mm]; ISO/IEC 15417 leaves it to the application, hand scanners read from about 0.19 on
(common practice, no source)."""


def qr_svg(said: str, name: str, title: str) -> str:
    """The text as a QR code, level M."""
    matrix = segno.make(said, error="m", micro=False).matrix
    side = len(matrix) + 2 * QUIET_QR
    dark = "".join(
        f"M{x + QUIET_QR} {y + QUIET_QR}h1v1h-1z" for y, row in enumerate(matrix) for x, bit in enumerate(row) if bit
    )
    drawn = [f'<rect class="blank-paper" width="{side}" height="{side}"/>', f'<path class="bars" d="{dark}"/>']
    return picture(drawn, name=name, wide=side, high=side, title=title, told=said, kind="qr")


def code128_svg(said: str, name: str, title: str) -> str:
    """The text as Code 128 with the text below it."""
    return _bars(said, name, title, BAR_HIGH, told=True)[0]


def _bars(said: str, name: str, title: str, high: int, *, told: bool = False) -> tuple[str, int]:
    """The picture and its width in modules; `told`: with the text below the bars."""
    modules = Code128(said).build()[0]
    wide = len(modules) + 2 * QUIET_BAR
    bars, at = "", 0
    while at < len(modules):
        end = at
        while end < len(modules) and modules[end] == modules[at]:
            end += 1
        if modules[at] == "1":
            bars += f"M{QUIET_BAR + at} 4h{end - at}v{high}h-{end - at}z"
        at = end
    tall = high + (20 if told else 8)
    drawn = [
        f'<rect class="blank-paper" width="{wide}" height="{tall}"/>',
        f'<path class="bars" d="{bars}"/>',
        *([text(wide / 2, high + 16, said, kind="small", anchor="middle")] if told else []),
    ]
    return picture(drawn, name=name, wide=wide, high=tall, title=title, told=said, kind="code128"), wide


def code128_bare(said: str) -> tuple[str, float]:
    """The text as Code 128 without a line of text, for paper: the picture, and its width [mm] at `MODULE`."""
    svg, wide = _bars(said, "bar", said, LOW)
    return for_paper(svg), round(wide * MODULE, 2)


def scanned(number: str) -> str:
    """What stands in a part's barcode: its number as written, or its spelling where Code 128 has no such letter.

    >>> scanned("46-20-262"), scanned("QF50–11")
    ('46-20-262', 'QF5011')
    """
    return number if number.isascii() and number.isprintable() else spelling(number)


def for_paper(svg: str) -> str:
    """The same picture as a document of its own, for typst; black on white."""
    opened = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    return opened.replace('class="blank-paper"', 'fill="#fff"').replace('class="bars"', 'fill="#000"')
