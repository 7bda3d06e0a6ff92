"""How a thread is written, as thread rules compare it: one spelling for the ways that a standard allows.

Rule 1: what no standard's designation explains is compared letter by letter.
Rule 2: what a designation leaves out is not put in: M12 alone may be any M12.

Sources
-------
[1] ISO 965-1 (metric designation: `M12x1.5-6H`, `LH` for left hand; tolerance classes do not decide what mates).
[2] ASME B1.1 (`7/16-20 UNF-2B`), ASME B1.20.1 (`1/8-27 NPT`: the size says the pitch).
[3] ISO 228-1 (`G 1/8`, `G 1/8 A`); BSPP is what it is called in the trade. All from memory.
"""

import re
from functools import lru_cache
from typing import Final

from graph.model.value import spelled_code

_HAND: Final = r"(?:-?(?P<hand>LH|RH|LEFT(?:-?HAND)?|RIGHT(?:-?HAND)?))?"
_METRIC: Final = re.compile(
    r"M(?P<size>[0-9]+(?:\.[0-9]+)?)(?:[X*-](?P<pitch>[0-9]+(?:\.[0-9]+)?))?(?:-(?:[0-9][EFGH]){1,2})?" + _HAND
)
_INCH: Final = r"(?:[0-9]-)?[0-9]+/[0-9]+|[0-9]"
_MARK: Final = "(?:\"|”|''|′′)?"
_UNIFIED: Final = re.compile(
    rf"(?P<size>{_INCH}|#[0-9]+){_MARK}-(?P<pitch>[0-9]+)(?P<series>UN[A-Z]{{0,3}})?(?:-[123][AB])?{_HAND}"
)
_TAPER: Final = re.compile(rf"(?P<size>{_INCH}){_MARK}(?:-(?P<pitch>[0-9.]+))?NPT|NPT(?P<after>{_INCH}){_MARK}")
_PIPE: Final = re.compile(
    rf"G(?P<size>{_INCH}){_MARK}[AB]?|(?P<before>{_INCH}){_MARK}BSPP|BSPP(?P<after>{_INCH}){_MARK}"
)
_MIXED: Final = re.compile(r"(?<=[0-9])\s+(?=[0-9]+/[0-9])")  # 1 1/4
_SAID: Final = re.compile(r"(?P<bare>M[0-9.]+(?=X)|[0-9/#-]+-[0-9]+(?=UN))(?:X[0-9.]+|UN[A-Z]*?)(?P<hand>LH)?")
_A_TURN: Final = {"1/16": "27", "1/8": "27", "1/4": "18", "3/8": "18", "1/2": "14", "3/4": "14", "1": "11.5",
                  "1-1/4": "11.5", "1-1/2": "11.5", "2": "11.5"}  # fmt: skip
"""Threads an inch of each NPT size [2]."""


@lru_cache(maxsize=65536)
def designation(text: str) -> str:
    """A thread's one spelling; a left hand stays a left hand, a right hand needs no word.

    >>> designation("m12 × 1,50-6H"), designation("M12x1.5 LH")
    ('M12X1.5', 'M12X1.5LH')
    >>> designation('7/16"-20 UNF-2B'), designation("1/8-27 NPT"), designation("1/8 BSPP")
    ('7/16-20UNF', '1/8NPT', 'G1/8')
    """
    said = spelled_code(text)
    plain = _squeezed(_MIXED.sub("-", said))
    if found := _METRIC.fullmatch(_squeezed(said)):
        pitch = f"X{_number(found['pitch'])}" if found["pitch"] else ""
        return f"M{_number(found['size'])}{pitch}{_left(found['hand'])}"
    if found := _UNIFIED.fullmatch(plain):
        return f"{found['size']}-{found['pitch']}{found['series'] or ''}{_left(found['hand'])}"
    if found := _TAPER.fullmatch(plain):
        size = found["size"] or found["after"]
        if found["pitch"] in (None, _A_TURN.get(size)):
            return f"{size}NPT"
    if found := _PIPE.fullmatch(plain):
        return f"G{found['size'] or found['before'] or found['after']}"
    return _squeezed(said)


def same_thread(one: str, other: str) -> bool | None:
    """Whether two are one thread; None: one of them leaves out the pitch or the series that the other states.

    >>> same_thread("M12", "M12x1.75"), same_thread("M12x1.5", "M12 x 1,50"), same_thread("M12x1.5", "M12x1.25")
    (None, True, False)
    """
    a, b = designation(one), designation(other)
    if a == b:
        return True
    return None if a == _bare(b) or b == _bare(a) else False


def _bare(spelled: str) -> str | None:
    """The same with its pitch or series left out; None where it states none."""
    found = _SAID.fullmatch(spelled)
    return f"{found['bare']}{found['hand'] or ''}" if found else None


def _squeezed(text: str) -> str:
    return text.replace(" ", "").replace(",", ".").upper()


def _number(text: str) -> str:
    whole, _, part = text.partition(".")
    part = part.rstrip("0")
    return (whole.lstrip("0") or "0") + (f".{part}" if part else "")


def _left(hand: str | None) -> str:
    return "LH" if hand and hand.startswith("L") else ""
