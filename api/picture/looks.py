"""Line drawings of what to look at when a core is identified, so that a newcomer finds the place.

A feature is drawn by the sort of thing that it is, told by the words in its name; one that no drawing fits has none.
"""

# ruff: noqa: E501 (outlines are not broken)

from typing import Final

from api.pages.wording import _
from api.picture.draw import picture

_WHEEL: Final = '<circle class="ink" cx="90" cy="70" r="52"/><circle class="ink" cx="90" cy="70" r="12"/>' + "".join(
    f'<path class="ink" transform="rotate({a} 90 70)" d="M90 58Q104 40 98 20"/>' for a in range(0, 360, 52)
)
_ARROWS: Final = '<path class="mark" d="M38 132H142M38 126V138M142 126V138"/>'
DRAWINGS: Final[tuple[tuple[tuple[str, ...], str], ...]] = (
    (
        ("plate", "casting", "mark"),
        '<path class="ink" d="M20 110Q20 30 90 30T160 110Z"/><rect class="mark" x="56" y="62" width="68" height="30"/>'
        '<path class="mark" d="M64 72H116M64 82H100"/><circle class="ink" cx="60" cy="66" r="2"/>'
        '<circle class="ink" cx="120" cy="66" r="2"/>',
    ),
    (
        ("foot", "mount", "bolts"),
        '<rect class="ink" x="30" y="30" width="120" height="80" rx="8"/><rect class="ink" x="66" y="52" width="48" '
        'height="36" rx="6"/><circle class="mark" cx="46" cy="46" r="7"/><circle class="mark" cx="134" cy="46" r="7"/>'
        '<circle class="mark" cx="46" cy="94" r="7"/><circle class="mark" cx="134" cy="94" r="7"/>'
        '<path class="mark" d="M46 124H134M46 118V130M134 118V130"/>',
    ),
    (
        ("blade", "splitter", "vane_count"),
        _WHEEL + '<path class="mark" d="M98 16A54 54 0 0 1 138 44M138 44l-2-9M138 44l-9-1"/>',
    ),
    (("rotation",), _WHEEL + '<path class="mark" d="M30 46A64 64 0 0 1 84 6M84 6l-9-4M84 6l-7 7"/>'),
    (("inducer", "exducer", "tip_width", "wheel"), _WHEEL + _ARROWS),
    (
        ("boost_control", "signal", "actuator", "lever", "wastegate", "stroke", "travel"),
        '<circle class="ink" cx="64" cy="52" r="34"/><path class="ink" d="M30 52H98"/><path class="mark" d="M64 86V118'
        'H120"/><circle class="mark" cx="126" cy="118" r="6"/><path class="ink" d="M64 18V6H84"/>',
    ),
    (
        ("outlet_angle",),
        '<path class="ink" d="M20 100H90V50H20"/><path class="ink" d="M90 40 140 10V140L90 110Z"/>'
        '<path class="mark" d="M90 30V120M120 30A40 40 0 0 0 90 22"/>',
    ),
    (
        ("outlet", "band", "inlet", "cover_od", "hose", "clamp"),
        '<path class="ink" d="M20 40H110V100H20"/><ellipse class="ink" cx="110" cy="70" rx="14" ry="30"/>'
        '<path class="mark" d="M146 40V100M140 40H152M140 100H152"/>',
    ),
    (
        ("coolant", "oil", "drain", "boss", "thread"),
        '<rect class="ink" x="24" y="36" width="132" height="72" rx="10"/><circle class="mark" cx="62" cy="72" r="16"/>'
        '<circle class="mark" cx="62" cy="72" r="8"/><circle class="mark" cx="118" cy="72" r="16"/>'
        '<circle class="mark" cx="118" cy="72" r="8"/>',
    ),
    (
        ("nose", "nut"),
        '<path class="ink" d="M20 58H70V86H20"/><path class="mark" d="M70 46H104V98H70ZM70 62H104M70 82H104"/>'
        '<path class="ink" d="M104 62H136V82H104M112 62V82M120 62V82M128 62V82"/>',
    ),
    (
        ("connector",),
        '<rect class="ink" x="36" y="40" width="108" height="60" rx="12"/><circle class="mark" cx="66" cy="70" r="6"/>'
        '<circle class="mark" cx="90" cy="70" r="6"/><circle class="mark" cx="114" cy="70" r="6"/>'
        '<path class="ink" d="M78 40V30H102V40"/>',
    ),
    (
        ("mass",),
        '<path class="ink" d="M50 60H130L150 124H30Z"/><path class="mark" d="M74 60A16 20 0 1 1 106 60"/>',
    ),
)


def look_svg(feature: str, name: str, label: str) -> str:
    """The drawing for a feature, or an empty text; the place to look at is the heavy line."""
    drawn = next((shape for words, shape in DRAWINGS if any(word in feature for word in words)), "")
    if not drawn:
        return ""
    return picture(
        [drawn],
        name=name,
        wide=180,
        high=150,
        title=_("Where to look: %(what)s") % {"what": label},
        told=_("A line drawing, not to scale; the heavy lines show the place."),
        kind="look",
    )
