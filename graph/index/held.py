"""A shelf that is asked more than once: what it said is kept, since at one change set it says nothing else.

Cores and what sits in them are the same objects as at an earlier change set where nothing about them changed.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Final, TypeVar

from graph.index.catalogue import Catalogue
from graph.index.shelf import Shelf
from graph.ledger.ledger import Ledger
from graph.model.record import Core, Price, Rate, Stock
from graph.rules.kept import Kept

T = TypeVar("T")

ROOM: Final = 20_000
"""Answers about single parts that are kept."""


def unnoted() -> None:
    """Nobody wants to know that the shelf was read."""


class HeldShelf(Shelf):
    """The same answers as the shelf's, some from memory; safe to share between threads.

    `noted` is called whenever an answer rests on the shelf, whether it is read or remembered.
    """

    def __init__(self, ledger: Ledger, n: int, catalogue: Catalogue, noted: Callable[[], None] = unnoted) -> None:
        super().__init__(ledger, n, catalogue)
        self._noted = noted
        self._kept = Kept(ROOM)
        self._all: tuple[Core, ...] | None = None
        self._rates: tuple[Rate, ...] | None = None

    def cores(self) -> tuple[Core, ...]:
        """All cores, by tag."""
        self._noted()
        if self._all is None:
            self._all = tuple(map(self._same, super().cores()))
        return self._all

    def _same(self, core: Core) -> Core:
        same = self._catalogue.same
        return same.one(replace(core, found=same.row(map(same.one, core.found))))

    def rates(self) -> tuple[Rate, ...]:
        """The labour rates, by name."""
        self._noted()
        if self._rates is None:
            self._rates = self._catalogue.same.one(super().rates())
        return self._rates

    def stocks(self, parts: Iterable[str]) -> dict[str, tuple[Stock, ...]]:
        """What is on hand of several parts."""
        self._noted()
        keys = list(parts)
        read = super().stocks

        def found(missing: list[str]) -> dict[str, tuple[Stock, ...]]:
            stocks = read(missing)
            return {key: stocks.get(key, ()) for key in missing}

        return {key: stock for key, stock in self._several("stock", keys, found).items() if stock}

    def prices(self, parts: Iterable[str], day: str = "") -> dict[tuple[str, str], Price]:
        """Prices of several parts by (part, condition): the latest not dated after the day."""
        self._noted()
        read = super().prices

        def found(missing: list[str]) -> dict[str, dict[tuple[str, str], Price]]:
            priced: dict[str, dict[tuple[str, str], Price]] = {key: {} for key in missing}
            for (key, condition), price in read(missing, day).items():
                priced[key][key, condition] = price
            return priced

        rows = self._several(("price", day), list(parts), found)
        return {named: price for row in rows.values() for named, price in row.items()}

    def _several(self, what: object, keys: list[str], read: Callable[[list[str]], dict[str, T]]) -> dict[str, T]:
        found: dict[str, T] = {}
        missing: list[str] = []
        for key in dict.fromkeys(keys):
            held: T | None = self._kept.get((what, key))
            if held is None:
                missing.append(key)
            else:
                found[key] = held
        if missing:
            found |= {key: self._kept.put((what, key), one) for key, one in read(missing).items()}
        return found
