"""All that a file and the store name together: what exists, and which entry a written number means.

A first pass over the file fills it with names only, so that rows may stand in any order; faults are found later.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from sys import intern
from typing import Any, Final

from graph.errors import BadPartNumber
from graph.identifiers import spelling
from graph.model.sheet import BY_NAME, Column, Sheet
from graph.model.statement import Fields
from graph.sources.codes import Fault
from graph.sources.header import folded
from graph.sources.known import NUMBERED, Known

DEFINING: Final = (
    "sources", "kinds", "layouts", "joints", "accepted", "features", "parts", "units", "engines", "operations",
    "cores", "finished_jobs", "jobs", "builds", "rates",
)  # fmt: skip
"""The sheets whose rows other rows name."""

Key = tuple[str, ...]
Pair = tuple[str, str]
# A suggestion is worth a look through this many names; beyond it costs more than it helps.
MAX_NAMES_FOR_HINT: Final = 5000


def near(name: str, names: Iterable[str]) -> str:
    """` (did you mean …?)` for the nearest name, or nothing."""
    several = list(names)[: MAX_NAMES_FOR_HINT + 1]
    if len(several) > MAX_NAMES_FOR_HINT:
        return ""
    close = get_close_matches(name, several, n=1, cutoff=0.7)
    return f" (did you mean {close[0]}?)" if close else ""


@dataclass(slots=True)
class Seats:
    """The seats of one layout: kind of part, how many, and whether each may be empty."""

    kinds: dict[str, str] = field(default_factory=dict)
    quantities: dict[str, int] = field(default_factory=dict)
    must_fill: list[str] = field(default_factory=list)


class Things:
    """Names and what little the checks must know of them; the file's rows come before the store's."""

    def __init__(self, known: Known) -> None:
        self.known = known
        self.rows: dict[str, dict[Key, dict[str, str]]] = {name: {} for name in DEFINING}
        self.broken: set[str] = set()
        self._spelled: dict[str, dict[str, list[Pair]]] = {name: {} for name in NUMBERED}
        self._features: dict[str, tuple[str, str, str]] = {}
        self._folded: dict[str, str] = {}
        self._layouts: dict[str, Seats] = {}
        self._first: dict[str, set[str]] = {}
        self._resolved: dict[tuple[str, str, str], Pair] = {}

    def add(self, sheet: str, words: dict[str, str]) -> None:
        """A row of the file, as text, in the first pass."""
        key = tuple(words.get(name, "") for name in BY_NAME[sheet].key)
        if sheet == "parts":
            words = {"kind": intern(words.get("kind", ""))}
            key = (intern(key[0]), key[1])
        self.rows[sheet].setdefault(key, words)

    def settle(self) -> None:
        """End the first pass: bring in the store's small sheets and index the names."""
        for sheet in ("sources", "kinds", "layouts", "joints", "accepted", "features", "operations", "rates"):
            for fields in self.known.rows(sheet):
                key = tuple(str(fields.get(name, "")) for name in BY_NAME[sheet].key)
                self.rows[sheet].setdefault(key, {k: _plain(v) for k, v in fields.items()})
        for sheet in NUMBERED:
            for key in self.rows[sheet]:
                self._index(sheet, key)
        for (name,), words in self.rows["features"].items():
            type_ = folded(words.get("type", ""))
            self._features[name] = (name, type_ if type_ in _types() else "", words.get("unit", ""))
            self._folded[folded(name)] = name
        for (layout, seat), words in self.rows["layouts"].items():
            seats = self._layouts.setdefault(layout, Seats())
            seats.kinds[seat] = words.get("kind", "")
            if words.get("quantity", "1").isdecimal():
                seats.quantities[seat] = int(words.get("quantity", "1"))
            if words.get("may_be_empty", "").casefold() not in ("yes", "y", "true"):
                seats.must_fill.append(seat)
        self._first = {
            sheet: {key[0] for key in self.rows[sheet]}
            for sheet in (
                "sources",
                "kinds",
                "layouts",
                "features",
                "operations",
                "rates",
                "accepted",
                "cores",
                "finished_jobs",
                "jobs",
                "builds",
            )
        }

    def _index(self, sheet: str, key: Key) -> None:
        try:
            self._spelled[sheet].setdefault(spelling(key[1]), []).append((key[0], key[1]))
        except BadPartNumber:
            return

    def names(self, sheet: str) -> set[str]:
        """The first key of every entry of a small sheet."""
        return self._first.get(sheet, set())

    def has(self, sheet: str, name: str) -> bool:
        """Whether something of that name (its first key) exists."""
        return name in self.names(sheet) or self.known.row(sheet, (name,)) is not None

    def feature(self, name: str) -> tuple[str, str, str] | None:
        """Name, type ('' if its row is faulty) and unit of a feature."""
        return self._features.get(name)

    def feature_folded(self, name: str) -> tuple[str, str] | None:
        """Name and type of the feature whose folded name this is."""
        found = self._features.get(self._folded.get(name, ""))
        return found[:2] if found else None

    def layout(self, name: str) -> Seats | None:
        """The seats of a layout, or None."""
        return self._layouts.get(name)

    def all_seats(self) -> set[str]:
        """Every seat of every layout."""
        return {seat for seats in self._layouts.values() for seat in seats.kinds}

    def words(self, sheet: str, key: Key) -> dict[str, str] | None:
        """The row of that key as text: the file's, else the store's."""
        found = self.rows[sheet].get(key)
        if found is None:
            fields = self.known.row(sheet, key)
            found = None if fields is None else {k: _plain(v) for k, v in fields.items()}
        return found

    def is_kind(self, kind: str, wanted: str) -> bool:
        """Whether `kind` is `wanted` or stands below it."""
        seen = set()
        while kind and kind not in seen:
            if kind == wanted:
                return True
            seen.add(kind)
            kind = self.rows["kinds"].get((kind,), {}).get("parent", "")
        return False

    def same_spelling(self, sheet: str, key: Key) -> Pair | None:
        """Another entry of the same maker with the same letters and digits, or None."""
        try:
            spelled = spelling(key[1])
        except BadPartNumber:
            return None
        for other in (*self._spelled[sheet].get(spelled, []), *self.known.numbers(sheet, spelled)):
            if other[0] == key[0] and other != key:
                return other
        return None

    def resolve(self, sheet: str, maker: str, number: str) -> Pair:
        """Maker and number, as their own sheet writes them, of what a row names.

        Exactly that number counts first, else the one entry with its spelling; without a maker, of any maker.

        Raises
        ------
        Fault
            Nothing there, or several entries with that spelling.
        """
        asked = (sheet, maker, number)
        found = self._resolved.get(asked)
        if found is None:
            found = self._resolve(sheet, maker, number)
            if len(self._resolved) > 200_000:
                self._resolved.clear()
            self._resolved[asked] = found
        return found

    def _resolve(self, sheet: str, maker: str, number: str) -> Pair:
        key = (maker, number)
        if maker and (key in self.rows[sheet] or self.known.row(sheet, key) is not None):
            return key
        try:
            spelled = spelling(number)
        except BadPartNumber as error:
            raise Fault("look-alike-letter", detail=error.message) from None
        candidates = {*self._spelled[sheet].get(spelled, []), *self.known.numbers(sheet, spelled)}
        found = sorted(c for c in candidates if not maker or c[0] == maker)
        exact = [c for c in found if c[1] == number]
        if len(exact) == 1:
            return exact[0]
        if len(found) == 1:
            return found[0]
        if found:
            raise Fault("ambiguous-reference", sheet=sheet, others=" and ".join(" ".join(c) for c in found[:4]))
        raise Fault("dangling-reference", sheet=sheet, hint=self._hint(sheet, maker, number, candidates))

    def _hint(self, sheet: str, maker: str, number: str, candidates: set[Pair]) -> str:
        if candidates:
            return f"; {' '.join(sorted(candidates)[0])} is of another maker"
        return near(number, (key[1] for key in self.rows[sheet] if key[0] == maker))

    def check_named(self, column: Column, name: str) -> None:
        """Refuse a name that its sheet does not have.

        Raises
        ------
        Fault
            No such entry.
        """
        if column.points_to in self.broken or self.has(column.points_to, name):
            return
        hint = near(name, self.names(column.points_to))
        if column.points_to == "sources":
            raise Fault("unknown-source", hint=hint)
        raise Fault("dangling-reference", sheet=column.points_to, hint=hint)


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "|".join(value)
    return str(value)


def _types() -> tuple[str, ...]:
    column = BY_NAME["features"].column("type")
    assert column is not None
    return column.of


def words_of(fields: Fields, sheet: Sheet) -> Iterator[tuple[str, str]]:
    """A statement's plain fields as text, for the first pass over data that is no spreadsheet."""
    for column in sheet.columns:
        if column.name in fields:
            yield column.name, _plain(fields[column.name])
