"""QR and Code 128 as SVG: by segno and python-barcode, drawn as plain shapes without styles."""

from typing import Final

import segno
from barcode.codex import Code128

from api.picture.draw import picture, text
from graph.identifiers import spelling

QUIET_QR: Final = 4  # modules, ISO/IEC 18004
QUIET_BAR: Final = 10  # modules, ISO/IEC 15417
BAR_HIGH: Final = 44


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
    modules = Code128(said).build()[0]
    wide = len(modules) + 2 * QUIET_BAR
    bars, at = "", 0
    while at < len(modules):
        end = at
        while end < len(modules) and modules[end] == modules[at]:
            end += 1
        if modules[at] == "1":
            bars += f"M{QUIET_BAR + at} 4h{end - at}v{BAR_HIGH}h-{end - at}z"
        at = end
    drawn = [
        f'<rect class="blank-paper" width="{wide}" height="{BAR_HIGH + 20}"/>',
        f'<path class="bars" d="{bars}"/>',
        text(wide / 2, BAR_HIGH + 16, said, kind="small", anchor="middle"),
    ]
    return picture(drawn, name=name, wide=wide, high=BAR_HIGH + 20, title=title, told=said, kind="code128")


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
