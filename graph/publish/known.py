"""What a store holds, as reading a file asks for it."""

from collections.abc import Iterable
from functools import cached_property
from typing import Final

from graph.index.catalogue import Catalogue
from graph.index.store import Store
from graph.ledger.reading import Reading
from graph.model.sheet import BY_NAME
from graph.model.statement import Fields
from graph.sources.known import Known

_THINGS: Final = {"parts": "part", "units": "unit", "engines": "engine"}


class StoreKnown:
    """The rows of a store that hold now; things by the index, all else by the ledger."""

    def __init__(self, store: Store, reading: Reading) -> None:
        self._store = store
        self._reading = reading

    @cached_property
    def _catalogue(self) -> Catalogue:
        return self._store.catalogue()

    def rows(self, sheet: str) -> Iterable[Fields]:
        """All rows of a small sheet."""
        if BY_NAME[sheet].clock == "shelf":
            return [s.fields for s in self._reading.shelf(self._reading.head().n, (sheet,))]
        return [s.fields for s in self._catalogue.sheet(sheet)]

    def row(self, sheet: str, key: tuple[str, ...]) -> Fields | None:
        """The row with exactly that key, or None."""
        type_ = _THINGS.get(sheet)
        if type_:
            found = self._catalogue.row(sheet, type_, *key)
            return found.fields if found else None
        rows = self._reading.keyed(sheet, key)
        return rows[-1].fields if rows else None

    def numbers(self, sheet: str, spelled: str) -> Iterable[tuple[str, str]]:
        """Maker and number of the things with that spelling."""
        return self._catalogue.numbers(sheet, _THINGS[sheet], spelled)

    def tags(self) -> Iterable[str]:
        """The tags of all cores."""
        return self._reading.tags()


class Over:
    """Newer rows over what was known before them: the newer row of a key governs."""

    def __init__(self, newer: Known, older: Known) -> None:
        self._newer = newer
        self._older = older

    def rows(self, sheet: str) -> Iterable[Fields]:
        """All rows of a small sheet."""
        names = BY_NAME[sheet].key
        fresh = list(self._newer.rows(sheet))
        taken = {tuple(str(row.get(n, "")) for n in names) for row in fresh}
        kept = [row for row in self._older.rows(sheet) if tuple(str(row.get(n, "")) for n in names) not in taken]
        return [*kept, *fresh]

    def row(self, sheet: str, key: tuple[str, ...]) -> Fields | None:
        """The row with exactly that key, or None."""
        return self._newer.row(sheet, key) or self._older.row(sheet, key)

    def numbers(self, sheet: str, spelled: str) -> Iterable[tuple[str, str]]:
        """Maker and number of the things with that spelling."""
        return list(dict.fromkeys([*self._older.numbers(sheet, spelled), *self._newer.numbers(sheet, spelled)]))

    def tags(self) -> Iterable[str]:
        """The tags of all cores."""
        return list(dict.fromkeys([*self._older.tags(), *self._newer.tags()]))
