"""A thing in the middle of what it is joined to; each neighbour is a link to its own picture."""

from collections.abc import Callable
from typing import Final
from xml.sax.saxutils import quoteattr

from api.pages.wording import _
from api.picture.draw import cut, line, picture, text
from api.words import named, spoken
from graph.model.shown import Shown, ShownLink

WIDE: Final = 780
ROW: Final = 34
MOST: Final = 24
"""Neighbours that are drawn; the list beside the picture names all of them."""


def neighbours_svg(shown: Shown, href: Callable[[ShownLink], str]) -> str:
    """The picture, half the neighbours on either side, in order; empty for a thing that is joined to nothing."""
    links = list({(link.how, link.key): link for link in shown.links}.values())
    drawn_links = links[:MOST]
    if not drawn_links:
        return ""
    half = (len(drawn_links) + 1) // 2
    high = max(half * ROW + 40, 120)
    middle = high / 2
    drawn: list[str] = []
    for at, link in enumerate(drawn_links):
        left = at < half
        y = (
            30
            + (at if left else at - half) * ROW
            + (high - 40 - (half if left else len(drawn_links) - half) * ROW) / 2
        )
        x = 250 if left else WIDE - 250
        drawn.append(line(x, y, WIDE / 2 + (-70 if left else 70), middle, "bond"))
        drawn.append(_neighbour(link, href(link), x, y, left))
    drawn.append(f'<rect class="middle" x="{WIDE / 2 - 100:g}" y="{middle - 24:g}" width="200" height="48" rx="24"/>')
    drawn.append(text(WIDE / 2, middle + 5, cut(named(shown.key), 26), kind="strong", anchor="middle"))
    left_out = len(links) - len(drawn_links)
    if left_out:
        drawn.append(
            text(
                WIDE / 2,
                high - 6,
                _("and %(n)s more, in the list below") % {"n": left_out},
                kind="small",
                anchor="middle",
            )
        )
    told = "; ".join(f"{spoken(link.how)} {named(link.key)}" for link in drawn_links) + "."
    return picture(
        drawn,
        name="bonds",
        wide=WIDE,
        high=int(high),
        title=_("%(what)s and what it is joined to") % {"what": named(shown.key)},
        told=told,
        kind="bonds",
        walkable=True,
    )


def _neighbour(link: ShownLink, address: str, x: float, y: float, left: bool) -> str:
    anchor, at = ("end", x - 10) if left else ("start", x + 10)
    dot = f'<circle class="dot" cx="{x:g}" cy="{y:g}" r="5"/>'
    name = text(at, y, cut(named(link.key) or link.key, 30), kind="name", anchor=anchor)
    how = text(at, y + 13, cut(spoken(link.how), 36), kind="small", anchor=anchor)
    if not address:
        return dot + name + how
    return f"<a href={quoteattr(address)}>{dot}{name}{how}</a>"
