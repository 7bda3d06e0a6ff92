"""Small dimensioned drawings of a contour and of a recess: half sections above the shaft's axis, not to scale."""

from typing import Final
from xml.sax.saxutils import escape

from graph.model.routing import Cut, Sketch
from graph.rules.spoken import number

WIDTH, HEIGHT, AXIS = 360, 224, 190
FONT: Final = "Libertinus Serif, DejaVu Serif, serif"
INK, QUIET, METAL = "#222222", "#5f5f5f", "#e6e2d6"
TEXT, SMALL = 15, 12


def sketch_of(cut: Cut) -> Sketch | None:
    """The drawing for a cut, by the words in its feature; None for other cuts."""
    name = f"{cut.feature} {cut.label}".casefold()
    if not cut.diameter or not cut.widens:
        return None
    if "contour" in name:
        return Sketch(f"{cut.label}, half section, not to scale", _picture(_contour(cut), cut))
    if "recess" in name or "counterbore" in name:
        return Sketch(f"{cut.label}, half section, not to scale", _picture(_recess(cut), cut))
    return None


def _picture(drawn: list[str], cut: Cut) -> str:
    ends = f"{number(cut.low, cut.quantity)} to {number(cut.high, cut.quantity)}" if cut.low and cut.high else ""
    said = f"{cut.label}: {number(cut.target, cut.quantity)}" + (f", window {ends}" if ends else "")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}"'
        f' role="img" aria-label="{escape(said, {chr(34): "&quot;"})}">'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>' + "".join(drawn) + "</svg>"
    )


def _contour(cut: Cut) -> list[str]:
    """A shroud: bore at the wheel's small end, then the arc up to its tip; the old line inside the metal's edge."""
    return [
        f'<path d="M92 34 H316 V50 C256 50 218 62 212 96 H92 Z" fill="{METAL}" stroke="none"/>',
        _path("M316 50 C256 50 218 62 212 96 H92", width=2),
        _path("M316 64 C260 64 228 76 222 110 H92", dash="6 3", colour=QUIET),
        _path("M316 78 C268 78 240 92 234 126 H178 V182 H316 Z", colour=QUIET),
        _text(275, 160, "wheel", "middle", colour=QUIET),
        *_axis(),
        *_diameter(116, 96, cut),
        *_gap_mark(196, 96, 126, cut),
        *_before(96, 110, cut),
    ]


def _recess(cut: Cut) -> list[str]:
    """A plate with a recess turned into its face, and the wheel's tip standing in it."""
    return [
        f'<path d="M92 34 H232 V64 H186 V150 H92 Z" fill="{METAL}" stroke="none"/>',
        _path("M232 64 V34 H92 V150 H186"),
        _path("M232 64 H186 V150", width=2),
        _path("M232 80 H186", dash="6 3", colour=QUIET),
        _path("M196 96 H210 C214 134 240 150 306 152 V182 H196 Z", colour=QUIET),
        _text(284, 172, "wheel", "middle", colour=QUIET),
        *_axis(),
        _path("M232 64 H258", width=0.5),
        *_diameter(250, 64, cut, says=(258, 118)),
        *_gap_mark(203, 64, 96, cut),
        _path("M232 80 H262", width=0.5, colour=QUIET),
        _text(264, 84, _was(cut), size=SMALL, colour=QUIET),
    ]


def _axis() -> list[str]:
    return [
        _path(f"M24 {AXIS} H340", dash="14 3 2 3", width=0.8),
        _text(24, AXIS + 16, "shaft axis", size=SMALL, colour=QUIET),
    ]


def _diameter(x: int, y: int, cut: Cut, says: tuple[int, int] | None = None) -> list[str]:
    """The new diameter from the axis to the cut face, with its limits in two lines."""
    left, line = says or (16, 140)
    out = [
        _path(f"M{x} {AXIS} V{y}", width=0.8),
        f'<path d="M{x} {y} l-3.5 11 h7 Z" fill="{INK}"/>',
        _text(left, line, f"Ø {number(cut.target, cut.quantity)}", bold=True),
    ]
    if cut.low is not None and cut.high is not None:
        ends = (f"{number(cut.low, cut.quantity)} to", number(cut.high, cut.quantity))
        out += [_text(left, line + 14 * at, end, size=SMALL) for at, end in enumerate(ends, 1)]
    return out


def _gap_mark(x: int, top: int, foot: int, cut: Cut) -> list[str]:
    """What the cut leaves to the wheel, a side, from the first rule that says so."""
    gap = next((g for g in cut.gaps if g.low is not None and g.high is not None), None)
    if gap is None or gap.low is None or gap.high is None:
        return []
    low, high = (number(side, gap.quantity, difference=True) for side in (gap.low // 2, -(-gap.high // 2)))
    return [
        _path(f"M{x} {top} V{foot}", width=0.8),
        _path(f"M{x - 4} {top} h8 M{x - 4} {foot} h8", width=0.8),
        _path(f"M{x} {(top + foot) // 2} L{x - 26} 24", width=0.5, colour=QUIET),
        _text(WIDTH // 2, 18, f"gap a side {low} to {high}", "middle", size=SMALL),
    ]


def _before(x: int, y: int, cut: Cut) -> list[str]:
    return [
        _path(f"M{x} {y} H{x - 4} L76 78", width=0.5, colour=QUIET),
        _text(8, 58, "before", size=SMALL, colour=QUIET),
        _text(8, 72, _was(cut).removeprefix("before "), size=SMALL, colour=QUIET),
    ]


def _was(cut: Cut) -> str:
    return f"before Ø {number(cut.before, cut.quantity)}" if cut.before is not None else "before not known"


def _path(d: str, *, width: float = 1.0, dash: str = "", colour: str = INK) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{width}"{dashed}/>'


def _text(
    x: int, y: int, text: str, anchor: str = "start", *, size: int = TEXT, bold: bool = False, colour: str = INK
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x}" y="{y}" font-family="{FONT}" font-size="{size}"{weight} text-anchor="{anchor}"'
        f' fill="{colour}">{escape(text)}</text>'
    )
