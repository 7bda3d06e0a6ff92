"""Whether two threads as written are one, read word by word (docs/semantics.md, section 2)."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from graph.model.value import spelled_code

_WORDS = re.compile(r"[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]+)?|[efgh](?=lh|rh|left|right)|[a-z]+|[^\s]")
_DECIMAL = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_INCHES = ('"', "”", "'", "′")
_NPT = {"1/16": 27, "1/8": 27, "1/4": 18, "3/8": 18, "1/2": 14, "3/4": 14}
_NPT_ABOVE = Fraction(23, 2)  # 1 in to 2 in


@dataclass(frozen=True)
class Thread:
    """One thread as a standard names it; what is not stated is empty."""

    form: str
    size: Fraction | str
    pitch: Fraction | None = None
    series: str = ""
    left: bool = False


def agree(one: str, other: str) -> bool | None:
    """Whether both are one thread; None where one leaves open what the other states."""
    a, b = read(one), read(other)
    if a is None or b is None:
        return _squeezed(one) == _squeezed(other)
    if a == b:
        return True
    if a.form == "M" and b.form == "M" and None in (a.pitch, b.pitch):
        return None if replace(a, pitch=None) == replace(b, pitch=None) else False
    if a.form == b.form == "inch" and "" in (a.series, b.series):
        return None if replace(a, series="") == replace(b, series="") else False
    return False


def spelled(text: str) -> object:
    """What is equal for two ways to write one thread."""
    return read(text) or _squeezed(text)


def read(text: str) -> Thread | None:
    """The thread that a designation names; None for any other text."""
    words = _WORDS.findall(spelled_code(text).replace(",", "."))
    joined = " ".join(words)
    if words[:1] == ["m"]:
        return _metric(words[1:])
    if words[:1] == ["g"] or "bspp" in words:
        return _pipe(words)
    if "npt" in words:
        return _taper(words)
    return _unified(words) if joined[:1].isdigit() or words[:1] == ["#"] else None


def _hand(words: Sequence[str]) -> bool | None:
    """Whether the last words say left hand; None when they say something else."""
    said = "".join(w for w in words if w != "-")
    if words and words[-1] == "-":
        return None
    return {
        "": False,
        "lh": True,
        "left": True,
        "lefthand": True,
        "rh": False,
        "right": False,
        "righthand": False,
    }.get(said)


def _metric(words: list[str]) -> Thread | None:
    if not words or not _DECIMAL.fullmatch(words[0]):
        return None
    size, rest, pitch = Fraction(words[0]), words[1:], None
    if len(rest) > 1 and rest[0] in ("x", "*", "-") and _DECIMAL.fullmatch(rest[1]) and not _class(rest[1:3]):
        pitch, rest = Fraction(rest[1]), rest[2:]
    if len(rest) > 2 and rest[0] == "-" and _class(rest[1:3]):
        rest = rest[5:] if _class(rest[3:5]) else rest[3:]
    left = _hand(rest)
    return None if left is None else Thread("M", size, pitch, left=left)


def _class(words: Sequence[str]) -> bool:
    return len(words) == 2 and len(words[0]) == 1 and words[0].isdigit() and words[1] in ("e", "f", "g", "h")


def _size(words: list[str]) -> tuple[str, list[str]]:
    """The inch size at the front, and the rest; empty when there is none."""
    if words[:1] == ["#"] and len(words) > 1 and words[1].isdigit():
        return f"#{words[1]}", words[2 + _marks(words[2:]) :]
    found = ""
    if len(words) > 2 and _digit(words[0]) and words[1] == "-" and "/" in words[2]:
        found, words = f"{words[0]} {words[2]}", words[3:]
    elif len(words) > 1 and _digit(words[0]) and "/" in words[1]:
        found, words = f"{words[0]} {words[1]}", words[2:]
    elif words and ("/" in words[0] or _digit(words[0])):
        found, words = words[0], words[1:]
    return found, words[_marks(words) :]


def _digit(word: str) -> bool:
    return len(word) == 1 and word.isdigit()


def _marks(words: list[str]) -> int:
    if words[:1] in (['"'], ["”"]):
        return 1
    return 2 if len(words) > 1 and words[0] in _INCHES and words[0] == words[1] else 0


def _unified(words: list[str]) -> Thread | None:
    size, rest = _size(words)
    if not size or len(rest) < 2 or rest[0] != "-" or not rest[1].isdigit():
        return None
    pitch, rest, series = Fraction(rest[1]), rest[2:], ""
    if rest and re.fullmatch("un[a-z]{0,3}", rest[0]):
        series, rest = rest[0], rest[1:]
    if len(rest) > 2 and rest[0] == "-" and rest[1] in ("1", "2", "3") and rest[2] in ("a", "b"):
        rest = rest[3:]
    left = _hand(rest)
    return None if left is None else Thread("inch", size, pitch, series, left)


def _taper(words: list[str]) -> Thread | None:
    after = words[0] == "npt"
    size, rest = _size(words[1:] if after else words)
    if after:
        return Thread("NPT", size) if size and not rest else None
    a_turn = _NPT.get(size, _NPT_ABOVE if size in ("1", "1 1/4", "1 1/2", "2") else None)
    if len(rest) > 1 and rest[0] == "-" and _DECIMAL.fullmatch(rest[1]) and Fraction(rest[1]) == a_turn:
        rest = rest[2:]
    return Thread("NPT", size) if size and rest == ["npt"] else None


def _pipe(words: list[str]) -> Thread | None:
    if words[0] in ("g", "bspp"):
        size, rest = _size(words[1:])
        extra = [[], ["a"], ["b"]] if words[0] == "g" else [[]]
        return Thread("G", size) if size and rest in extra else None
    size, rest = _size(words)
    return Thread("G", size) if size and rest == ["bspp"] else None


def _squeezed(text: str) -> str:
    return "".join(spelled_code(text).replace(",", ".").split()).upper()
