"""Plain-text layout: headings, wrapped paragraphs, and columns that grow instead of cutting."""

import textwrap
from collections.abc import Iterable, Sequence

WIDTH = 100


def paragraph(text: str, indent: str = "", hang: str = "") -> list[str]:
    """`text` wrapped at the page's width; words longer than a line stay whole."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + hang,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [indent.rstrip()]


def heading(text: str) -> list[str]:
    """A blank line, the heading and its rule."""
    return ["", text, "-" * len(text)]


def columns(rows: Iterable[Sequence[str]], indent: str = "  ") -> list[str]:
    """Rows with their columns aligned; only the last column wraps."""
    table = [tuple(row) for row in rows]
    if not table:
        return []
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]) - 1)]
    lines: list[str] = []
    for row in table:
        head = indent + "".join(f"{cell:<{width}}  " for cell, width in zip(row, widths, strict=False))
        room = max(30, WIDTH - len(head))
        tail = textwrap.wrap(row[-1], room, break_long_words=False, break_on_hyphens=False) or [""]
        lines.append((head + tail[0]).rstrip())
        lines += [" " * len(head) + more for more in tail[1:]]
    return lines


def bullets(texts: Iterable[str]) -> list[str]:
    """One bullet a text."""
    return [line for text in texts for line in paragraph(f"- {text}", "  ", "  ")]
