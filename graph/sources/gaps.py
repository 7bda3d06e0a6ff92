"""Words and numbers that stand where nothing is known: a code that only says so, a size of zero."""

import re
from collections.abc import Iterable
from typing import Any, Final

from graph.sources.rows import Line

_NOTHING: Final = re.compile(
    r"[?\-–—_./]+|n/a|n\. ?a\.|k\. ?a\.|tb[acd]|unk|unknown|not known|unbekannt|nicht bekannt|"
    r"not (?:measured|read|seen|checked)|to be (?:measured|read|checked|confirmed)"
)
NEVER_ZERO: Final = frozenset({"length", "area", "mass", "volume", "speed", "pressure"})
"""The quantities of which a part or an engine hardly ever has none."""
KINDS: Final = ("values", "unit_values", "engine_values")
"""The sheets of claims about kinds; a reading may well be zero, as runout is."""


def says_nothing(code: str) -> bool:
    """Whether a code, spelled, is only another way to leave the cell empty.

    >>> says_nothing("?"), says_nothing("n/a"), says_nothing("unknown"), says_nothing("none"), says_nothing("a4")
    (True, True, True, False, False)
    """
    return _NOTHING.fullmatch(code) is not None


def check_gap(line: Line) -> None:
    """Refuse codes that say nothing, doubt a size of zero among claims about a kind."""
    for name, value in line.fields.items():
        if isinstance(value, dict) and any(says_nothing(code) for code in _codes(value)):
            line.report("code-says-nothing", name)
    value = line.readings.get("value") if line.sheet.name in KINDS else None
    if value is not None and value.amount == 0 and value.quantity in NEVER_ZERO:
        line.report("size-of-zero", "value", quantity=value.quantity)


def check_free(line: Line) -> None:
    """Doubt a price or a rate of nothing."""
    for name in ("price", "per_hour"):
        if isinstance(value := line.fields.get(name), dict) and value.get("minor") == 0:
            line.report("price-of-zero", name)


def _codes(value: dict[str, Any]) -> Iterable[str]:
    return (value["code"],) if "code" in value else value.get("codes", ())
