"""The pages' words stand in one catalogue, and its colours can be read."""

import re
from itertools import product
from pathlib import Path

import pytest

from api.pages import wording
from api.pages.frame import templates
from api.pages.sizes import UNITS, in_units

STYLE = (Path(wording.__file__).parents[1] / "static" / "style.css").read_text()
NOT_WORDS = {"Spoolwright"}  # the program's own name


def test_the_catalogue_holds_every_text_that_is_marked() -> None:
    written = (wording.LOCALE / f"{wording.DOMAIN}.pot").read_text()
    assert written == wording.template(), "write it anew: python -m api.pages.wording"


@pytest.mark.parametrize("file", sorted(f.name for f in wording.TEMPLATES.glob("*.html")))
def test_no_word_in_a_template_escapes_the_catalogue(file: str) -> None:
    source = (wording.TEMPLATES / file).read_text()
    plain = "".join(text for _line, kind, text in templates.env.lex(source) if kind == "data")
    words = set(re.findall(r"[A-Za-z]{2,}", re.sub(r"<[^>]*>|&\w+;", " ", _without_attributes(plain))))
    assert words - NOT_WORDS == set()


def _without_attributes(html: str) -> str:
    """Tags whose attributes hold template code fall apart when that is cut out; drop what stands in quotes first."""
    return re.sub(r'[\w-]+="[^"]*"|class="|"', " ", html)


def _themes() -> dict[str, dict[str, str]]:
    light = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", STYLE[: STYLE.index("@media")]))
    dark_block = STYLE[STYLE.index("@media (prefers-color-scheme: dark)") :]
    dark = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", dark_block[: dark_block.index("}\n}")]))
    return {"light": light, "dark": {**light, **dark}}


def _contrast(one: str, other: str) -> float:
    """WCAG 2.2, definitions of relative luminance and contrast ratio."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_of_black_on_white_is_twenty_one() -> None:
    assert _contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2, contrast ratio: from 1 to 21
    assert _contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)  # the well-known least grey for AA


INKS = ("ink", "quiet", "link", "yes", "work", "unknown", "no", "kept", "machined", "new", "donor", "measure")


@pytest.mark.parametrize(
    ("theme", "ink", "ground"), list(product(("light", "dark"), INKS, ("paper", "card", "tint")))
)
def test_every_ink_reads_on_every_ground(theme: str, ink: str, ground: str) -> None:
    colours = _themes()[theme]
    assert _contrast(colours[ink], colours[ground]) >= 4.5  # WCAG 2.2, 1.4.3 (AA), text of any size


def test_inches_are_exact_to_the_tenth_and_keep_the_original() -> None:
    token = UNITS.set("in")
    try:
        assert in_units("25.4 mm") == "1.0000 in (25.4 mm)"  # the inch of 1959
        assert in_units("2 1/16 in is 52.3875 mm") == "2 1/16 in is 2.0625 in (52.3875 mm)"
        assert in_units("1,062.5 mm, 3 mm² and 12 mm/s") == "41.8307 in (1,062.5 mm), 3 mm² and 12 mm/s"
    finally:
        UNITS.reset(token)
    assert in_units("25.4 mm") == "25.4 mm"
