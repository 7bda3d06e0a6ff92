"""Part numbers: the one spelling by which they are looked up.

The number as written is the identity; the spelling (letters A-Z and digits) only finds candidates. Look-alike
letters of other alphabets are refused, and `O`/`0` or `I`/`1` are never merged, only suggested.
"""

import re
import unicodedata
from collections.abc import Container
from itertools import product
from typing import Final

from graph.errors import BadPartNumber

_PLAIN: Final = re.compile(r"[ -~]*")
_DROPPED: Final = re.compile(r"[^A-Z0-9]+")
_ALIKE: Final = {"O": "0", "0": "O", "I": "1", "1": "I"}
# 2^10 candidates at most: numbers with more such characters get suggestions for the first ten only.
MAX_ALIKE: Final = 10


def spelling(number: str) -> str:
    """The one ASCII spelling: compatibility forms folded, upper case, dashes, spaces and marks dropped.

    Raises
    ------
    BadPartNumber
        A letter or digit of another alphabet, a hidden or control character (named with its code point), or
        nothing left to look up.

    >>> spelling(" os-100 007.b")
    'OS100007B'
    """
    folded = number if _PLAIN.fullmatch(number) else _folded(number)
    spelled = _DROPPED.sub("", folded.upper())
    if not spelled:
        raise BadPartNumber(f"{number!r} holds no letter or digit", fix="type the number as it stands on the part")
    return spelled


def _folded(number: str) -> str:
    folded = unicodedata.normalize("NFKC", number)
    for c in folded:
        if not (" " <= c <= "~") and unicodedata.category(c) not in ("Pd", "Zs") and c != "−":
            name = unicodedata.name(c, "a character without a name")
            raise BadPartNumber(
                f"{number!r} holds U+{ord(c):04X}, {name.lower()}",
                fix="type the number with the letters A to Z and the digits 0 to 9",
            )
    return folded


def suggest(number: str, known: Container[str]) -> tuple[str, ...]:
    """Spellings in `known` that differ only by O for 0 or I for 1, in order; never taken without asking.

    >>> suggest("OS-1O0", {"OS100", "0S200"})
    ('OS100',)
    """
    spelled = spelling(number)
    places = [i for i, c in enumerate(spelled) if c in _ALIKE][:MAX_ALIKE]
    found = set()
    for swaps in product((False, True), repeat=len(places)):
        letters = list(spelled)
        for place, swap in zip(places, swaps, strict=True):
            if swap:
                letters[place] = _ALIKE[letters[place]]
        candidate = "".join(letters)
        if candidate != spelled and candidate in known:
            found.add(candidate)
    return tuple(sorted(found))
