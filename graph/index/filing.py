"""Where a catalogue statement is filed: the thing it is about, and the other things it names."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from graph.errors import BadPartNumber
from graph.identifiers import spelling
from graph.model.statement import Statement, subject

Fields = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Thing:
    """What a statement is about or names. `bare`: a number that may be a part's or a unit's."""

    type: str
    maker: str
    name: str

    @property
    def key(self) -> str:
        """The key of the thing, as in `graph.model.statement.subject`."""
        return _key(self.type, self.maker, self.name)

    @property
    def spelled(self) -> str:
        """The spelling it is looked up by; '' when it has none."""
        try:
            return spelling(self.name)
        except BadPartNumber:
            return ""


@lru_cache(maxsize=65_536)  # a thing's statements come one after the other
def _key(type_: str, maker: str, name: str) -> str:
    return subject(type_, maker, name)


def _thing(type_: str, maker: str, name: str) -> Callable[[Fields], Thing | None]:
    def find(fields: Fields) -> Thing | None:
        return Thing(type_, str(fields.get(maker, "")), str(fields[name])) if fields.get(name) else None

    return find


_PART: Final = _thing("part", "maker", "number")
_UNIT: Final = _thing("unit", "maker", "unit")
_ENGINE: Final = _thing("engine", "maker", "engine")
_BARE: Final = _thing("bare", "maker", "unit_or_part")

ABOUT: Final = {
    "parts": _PART,
    "values": _PART,
    "supersession": _thing("part", "maker", "old"),
    "interchange": _PART,
    "units": _UNIT,
    "unit_seats": _UNIT,
    "unit_values": _UNIT,
    "engines": _ENGINE,
    "engine_values": _ENGINE,
    "fitments": _thing("engine", "engine_maker", "engine"),
    "kits": _thing("part", "kit_maker", "kit"),
    "limits": _BARE,
    "weaknesses": _BARE,
}
"""The sheets whose rows are filed under a thing; all others are small tables."""

NAMES: Final = {
    "supersession": (_thing("part", "maker", "new"),),
    "interchange": (_thing("part", "other_maker", "other_number"),),
    "unit_seats": (_thing("part", "part_maker", "part_number"),),
    "fitments": (_thing("unit", "unit_maker", "unit"), _thing("machine", "machine_maker", "machine")),
    "kits": (_PART,),
    "consumes": (_PART,),
    "builds": (_thing("engine", "engine_maker", "engine"),),
}
"""The sheets whose rows name further things, in the order of `Mentioned`."""

DESCRIBES: Final = {"parts", "units", "engines"}
"""The sheets that give a thing its kind and label."""


def about(statement: Statement) -> Thing | None:
    """The thing that a statement is about; None for the small tables."""
    find = ABOUT.get(statement.sheet)
    return find(statement.fields) if find else None


def named(statement: Statement) -> list[Thing]:
    """The other things that it names."""
    finders = NAMES.get(statement.sheet)
    if not finders:
        return []
    found = (find(statement.fields) for find in finders)
    return [thing for thing in found if thing is not None]


def sayings(statement: Statement) -> list[tuple[str, int | str]]:
    """What a claim says, as (feature, quanta or code)."""
    feature, value = statement.fields.get("feature"), statement.fields.get("value")
    if (
        statement.sheet not in ("values", "unit_values", "engine_values")
        or not feature
        or not isinstance(value, dict)
    ):
        return []
    if "amount" in value:
        return [(feature, value["amount"])]
    return [(feature, code) for code in value.get("codes", [value.get("code", "")])]
