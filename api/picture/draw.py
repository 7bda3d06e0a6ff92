"""The pieces that all pictures are made of: the frame with title and description, texts, and badges for states."""

import re
from typing import Final
from xml.sax.saxutils import escape, quoteattr

BADGES: Final = {
    "kept": ("K", '<circle r="11"/>'),
    "machined": ("M", '<path d="M-11-11H4L11-4V11H-11Z"/>'),
    "new": ("N", '<path d="M0-12.5 11-6V6L0 12.5-11 6V-6Z"/>'),
    "donor": ("D", '<path d="M0-14 14 0 0 14-14 0Z"/>'),
    "measure": ("?", '<path d="M0-14 14 11H-14Z"/>'),
    "empty": ("–", '<circle r="11" class="dashed"/>'),
}
"""What becomes of a seat: a letter in a shape of its own (round, corner cut off, six-sided, on its tip …)."""


def picture(
    drawn: list[str],
    *,
    name: str,
    wide: int,
    high: int,
    title: str,
    told: str,
    kind: str,
    top: int = 0,
    walkable: bool = False,
) -> str:
    """The whole picture. `name` makes ids unique on a page; `kind` is the class that the style sheet knows.

    A `walkable` picture holds links, so its insides are told to a screen reader too.
    """
    role = "group" if walkable else "img"
    return (
        f'<svg class="picture {kind}" viewBox="0 {top} {wide} {high - top}" role="{role}"'
        f' aria-labelledby="{name}-title {name}-told" focusable="false">'
        f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-told">{escape(told)}</desc>'
        + "".join(drawn)
        + "</svg>"
    )


def text(x: float, y: float, said: str, *, kind: str = "", anchor: str = "start") -> str:
    """One line of text."""
    styled = f" class={quoteattr(kind)}" if kind else ""
    return f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}"{styled}>{escape(said)}</text>'


def badge(x: float, y: float, state: str) -> str:
    """The letter of a state in its shape."""
    letter, shape = BADGES[state]
    drop = 7 if state == "measure" else 5
    return (
        f'<g class="badge b-{state}" transform="translate({x:g} {y:g})">{shape}'
        f'<text y="{drop}" text-anchor="middle">{escape(letter)}</text></g>'
    )


def line(x1: float, y1: float, x2: float, y2: float, kind: str = "hair") -> str:
    """A straight line."""
    return f'<line class="{kind}" x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}"/>'


def cut(said: str, most: int) -> str:
    """A text that fits; what is left out shows as …, and the full text stands beside the picture."""
    return said if len(said) <= most else said[: most - 1].rstrip() + "…"


def described(svg: str, *, name: str, told: str, kind: str) -> str:
    """A picture that was drawn elsewhere, with a description, and the style sheet's class instead of a fixed size."""
    opened = re.sub(r'<svg [^>]*viewBox="([^"]*)"[^>]*>', "", svg, count=1)
    box = re.search(r'viewBox="([^"]*)"', svg)
    titled = opened.replace("<title>", f'<title id="{name}-title">', 1)
    titled = titled.replace("</title>", f'</title><desc id="{name}-told">{escape(told)}</desc>', 1)
    view = box[1] if box else ""
    return (
        f'<svg class="picture {kind}" viewBox="{view}" role="img" aria-labelledby="{name}-title {name}-told"'
        f' focusable="false">{titled}'
    )
