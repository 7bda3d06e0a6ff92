"""Part numbers, tags of cores and serial numbers: the one spelling by which they are looked up.

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
_MISREAD: Final = str.maketrans("oil", "011")
_ALIKE: Final = {"O": "0", "0": "O", "I": "1", "1": "I"}
_TAIL: Final = re.compile(r"^(.*?)([0-9]+)$")
_PARTING: Final = re.compile(r"[\s_\-]+")
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


def tag_spelling(tag: str) -> str:
    """What one tag of a core is told from another by: without case, form of its characters, sort of dash or space.

    What parts two groups stays there: K1-1 is not K11.

    >>> tag_spelling(" hb_101"), tag_spelling("HB \u2013 101"), tag_spelling("K1-1")
    ('hb-101', 'hb-101', 'k1-1')
    """
    if _PLAIN.fullmatch(tag):  # as most tags are: each new one is held against ten thousand
        plain = tag.lower()
    else:
        folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", tag).casefold())
        sorts = [(c, unicodedata.category(c)) for c in folded]
        plain = "".join("-" if sort == "Pd" or c == "−" else c for c, sort in sorts if sort != "Cf")
    return _PARTING.sub("-", plain).strip("-")


def tag_misread(tag: str) -> str:
    """The spelling of a tag as somebody reads it who takes O for 0, and I or L for 1.

    >>> tag_misread("HB-IO1") == tag_misread("hb-101")
    True
    """
    return tag_spelling(tag).translate(_MISREAD)


def serial_count(text: str) -> tuple[str, int] | None:
    """A serial number as its letters before and the count at its end; None: it ends with no figure.

    >>> serial_count("t12-0100"), serial_count("T12-0100A")
    (('T12', 100), None)
    """
    pieces = re.split(r"[\s–-]+", text.strip().upper())
    match = _TAIL.match(pieces[-1]) if pieces else None
    return ("".join(pieces[:-1]) + match[1], int(match[2])) if match else None


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
