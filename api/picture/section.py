"""A half-section along the shaft: every seat in its place, marked by what becomes of it.

Seats whose shape the drawing knows are drawn as they lie along a shaft; any other seat, of whatever domain, stands in
a row of boxes below, in the layout's order. Nothing is to scale.
"""

from collections.abc import Mapping, Sequence
from typing import Final

from api.pages.wording import _
from api.picture.draw import badge, line, picture, text
from api.words import spoken
from graph.model.record import Seat

WIDE: Final = 780
AXIS: Final = 300
BOX_WIDE, BOX_HIGH, IN_A_ROW = 124, 46, 6

# Outline, and where its badge hangs: on the shape itself, or on a line above or below it.
SHAPES: Final[dict[str, tuple[str, tuple[int, int], tuple[int, int]]]] = {
    "compressor-cover": (
        "M196 128V112Q188 88 202 60 196 8 152 8 106 10 112 70 120 120 156 128 156 196 98 212H40V196H86"
        "Q136 186 134 138 88 112 92 62 92-10 156-8 218-4 218 62 210 96 216 128Z",
        (62, 204),
        (62, 204),
    ),
    "compressor-wheel": ("M104 294V222Q176 214 196 132H210V294Z", (166, 254), (166, 254)),
    "backplate": ("M218 112H262V128H236V250H218Z", (227, 190), (227, 190)),
    "bearing-housing": (
        "M270 128H500V150H476V176H456V250H470V276H450V262H420V276H376V250H356V276H312V262H292V276H276V262H262V128Z",
        (386, 176),
        (386, 176),
    ),
    "thrust-collar": ("M240 258H252V288H240Z", (246, 274), (246, 356)),
    "thrust-bearing": ("M256 256H266V290H256Z", (261, 280), (290, 356)),
    "compressor-ring": ("M230 266H237V280H230Z", (233, 276), (202, 356)),
    "journal-bearing": ("M312 278H356V288H312ZM376 278H420V288H376Z", (334, 283), (344, 356)),
    "turbine-ring": ("M474 266H481V280H474Z", (477, 276), (450, 356)),
    "shaft-wheel": ("M212 290H504V150H520Q536 226 598 236V294H212Z", (546, 266), (546, 266)),
    "heat-shield": ("M486 166H492V258H486Z", (489, 200), (470, 226)),
    "turbine-housing": (
        "M512 128V112Q520 88 506 60 512 8 556 8 602 10 596 70 588 120 552 128 552 196 610 212H730V196H622"
        "Q572 186 574 138 620 112 616 62 616-10 552-8 490-4 490 62 498 96 492 128Z",
        (690, 204),
        (690, 204),
    ),
    "vane-ring": ("M524 116H546V142H524Z", (535, 129), (535, 60)),
    "nozzle-ring": ("M524 116H546V142H524Z", (535, 129), (535, 60)),
    "nozzle-shroud": ("M500 132H516V142H500Z", (508, 137), (640, 96)),
    "unison-ring": ("M500 96H512V122H500Z", (506, 109), (452, 96)),
    "turbine-clamp": ("M480 98H492V124H480Z", (486, 104), (452, 60)),
    "wastegate": ("M640 130H680V150H640Z", (660, 140), (660, 140)),
    "actuator": ("M300 34H400V78H300Z", (350, 56), (350, 56)),
    "position-sensor": ("M404 44H434V68H404Z", (419, 56), (419, 24)),
    "speed-sensor": ("M290 96H304V150H290Z", (297, 104), (297, 104)),
}


def section_svg(seats: Sequence[Seat], states: Mapping[str, str], name: str) -> str:
    """The picture of a plan's seats; empty when nothing is said of any seat."""
    told_of = [seat for seat in seats if seat.name in states]
    if not told_of:
        return ""
    known = [seat for seat in told_of if seat.name in SHAPES]
    boxed = [seat for seat in told_of if seat.name not in SHAPES]
    top = 390 if known else 10
    drawn = [line(20, AXIS, WIDE - 20, AXIS, "axis")] if known else []
    for seat in sorted(known, key=lambda s: s.name in ("thrust-bearing", "journal-bearing", "compressor-ring")):
        drawn.append(f'<path class="seat s-{states[seat.name]}" d="{SHAPES[seat.name][0]}"/>')
    for seat in known:
        _shape, at, hung = SHAPES[seat.name]
        if at != hung:
            drawn.append(line(*at, *hung))
        drawn.append(badge(*hung, states[seat.name]))
    if known:
        drawn.append(text(40, 384, _("compressor side, air in"), kind="small"))
        drawn.append(text(WIDE - 40, 384, _("turbine side, gas out"), kind="small", anchor="end"))
    for place, seat in enumerate(boxed):
        x, y = 16 + (place % IN_A_ROW) * BOX_WIDE, top + (place // IN_A_ROW) * (BOX_HIGH + 10)
        drawn.append(
            f'<rect class="seat s-{states[seat.name]}" x="{x}" y="{y}" width="{BOX_WIDE - 10}" height="{BOX_HIGH}"/>'
        )
        drawn += [badge(x + 16, y + 23, states[seat.name]), text(x + 32, y + 28, spoken(seat.name), kind="small")]
    rows = (len(boxed) + IN_A_ROW - 1) // IN_A_ROW
    high = top + rows * (BOX_HIGH + 10) + 10
    told = "; ".join(f"{spoken(seat.name)}: {WORDS[states[seat.name]]}" for seat in told_of) + "."
    return picture(
        drawn,
        name=name,
        wide=WIDE,
        high=high,
        top=-16,
        title=_("Half-section along the shaft, not to scale: what becomes of each seat"),
        told=told,
        kind="section",
    )


WORDS: Final = {
    "kept": _("kept"),
    "machined": _("machined"),
    "new": _("new part"),
    "donor": _("from a donor"),
    "measure": _("to be measured"),
    "empty": _("left empty"),
}
"""What becomes of a seat, in words."""
