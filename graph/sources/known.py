"""What the store already holds, as far as reading needs it, so that a small correction file reads right."""

from collections.abc import Iterable, Mapping
from typing import Any, Protocol

from graph.errors import BadPartNumber
from graph.identifiers import spelling
from graph.model.sheet import BY_NAME
from graph.model.statement import Fields, Statement


class Known(Protocol):
    """The governing rows of the store. Every call is one look-up; `rows` is asked only of small sheets."""

    def rows(self, sheet: str) -> Iterable[Fields]:
        """All rows of a small sheet: sources, kinds, layouts, joints, rules, accepted, features, operations, rates,
        supersession or kits."""
        ...

    def row(self, sheet: str, key: tuple[str, ...]) -> Fields | None:
        """The row with exactly that key, or None."""
        ...

    def numbers(self, sheet: str, spelled: str) -> Iterable[tuple[str, str]]:
        """Maker and number, as written, of the parts, units or engines whose number has that spelling."""
        ...

    def tags(self) -> Iterable[str]:
        """The tags of all cores."""
        ...


class EmptyKnown:
    """A store with nothing in it."""

    def rows(self, sheet: str) -> Iterable[Fields]:
        """None."""
        return ()

    def row(self, sheet: str, key: tuple[str, ...]) -> Fields | None:
        """None."""
        return None

    def numbers(self, sheet: str, spelled: str) -> Iterable[tuple[str, str]]:
        """None."""
        return ()

    def tags(self) -> Iterable[str]:
        """None."""
        return ()


class KnownStatements:
    """A store held in memory: the last statement of a key governs."""

    def __init__(self, statements: Iterable[Statement]) -> None:
        self._rows: dict[str, dict[tuple[str, ...], Mapping[str, Any]]] = {}
        self._spelled: dict[tuple[str, str], list[tuple[str, str]]] = {}
        for statement in statements:
            rows = self._rows.setdefault(statement.sheet, {})
            key = statement.key
            if key not in rows and statement.sheet in NUMBERED:
                try:
                    spelled = spelling(key[1])
                except BadPartNumber:
                    continue
                self._spelled.setdefault((statement.sheet, spelled), []).append((key[0], key[1]))
            rows[key] = statement.fields

    def rows(self, sheet: str) -> Iterable[Fields]:
        """The governing rows of a sheet."""
        return self._rows.get(sheet, {}).values()

    def row(self, sheet: str, key: tuple[str, ...]) -> Fields | None:
        """The governing row of that key."""
        return self._rows.get(sheet, {}).get(key)

    def numbers(self, sheet: str, spelled: str) -> Iterable[tuple[str, str]]:
        """Those with that spelling."""
        return self._spelled.get((sheet, spelled), ())

    def tags(self) -> Iterable[str]:
        """The tags of the cores."""
        return [tag for (tag,) in self._rows.get("cores", {})]


NUMBERED = tuple(
    name for name in BY_NAME if any(c.points_to == name and c.with_maker for s in BY_NAME.values() for c in s.columns)
)
"""The sheets whose things go by maker and number: parts, units, engines."""
