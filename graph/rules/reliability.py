"""How far something may be trusted, as people write it: a number, or high, medium, low."""

from typing import Final

WORDS: Final = {"high": 0.95, "medium": 0.8, "low": 0.6}
"""For those who have no number; the three steps of common practice, no source."""


def reliability(text: str) -> float | None:
    """The number that a text gives, above 0 and below 1; None for anything else.

    >>> reliability("High"), reliability("0,8"), reliability("80 %"), reliability("1")
    (0.95, 0.8, None, None)
    """
    plain = text.strip().casefold().replace(",", ".")
    if plain in WORDS:
        return WORDS[plain]
    try:
        number = float(plain)
    except ValueError:
        return None
    return number if 0.0 < number < 1.0 else None
