"""What one version of the catalogue says of single things, read once and kept while there is room.

Only what follows from things and the version is kept, in one room what follows from one thing, in the other what
several come to among themselves: what a question makes of a day or of the shelf is worked out for that question.
"""

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any, Final, TypeVar

from graph.index.links import Links, links_of
from graph.model.record import Engine, Fitment, Interchange, Part, Source, Supersession, Unit
from graph.rules.kept import Kept

if TYPE_CHECKING:
    from graph.index.catalogue import Catalogue

T = TypeVar("T")

ROOM: Final = 4_000
"""Things that are kept, each with what follows from it; a part with its facts takes about 20 kB."""

TOGETHER: Final = 8_000
"""Joints, and seats compared with an original's, that are kept; one takes about a kilobyte."""


class Known:
    """The same answers as the catalogue gives, some of them from memory; safe to share between threads."""

    def __init__(self, catalogue: "Catalogue") -> None:
        self.kept = Kept(ROOM, Kept(TOGETHER))
        self._catalogue = catalogue

    def _once(self, what: str, key: str, read: Callable[[str], T]) -> T:
        found: T | None = self.kept.get((what, key))
        return found if found is not None else self.kept.put((what, key), read(key))

    def unit(self, key: str) -> Unit:
        """One unit, or NotFound."""
        return self._once("unit", key, self._catalogue.unit)

    def engine(self, key: str) -> Engine:
        """One engine, or NotFound."""
        return self._once("engine", key, self._catalogue.engine)

    def units(self, keys: Iterable[str]) -> tuple[Unit, ...]:
        """Those of these units that there are, by key."""
        return self._several("unit", keys, self._catalogue.units)

    def parts(self, keys: Iterable[str]) -> tuple[Part, ...]:
        """Those of these parts that there are, by key."""
        return self._several("part", keys, self._catalogue.parts)

    def _several(
        self, what: str, keys: Iterable[str], read: Callable[[list[str]], tuple[Any, ...]]
    ) -> tuple[Any, ...]:
        found = {key: self.kept.get((what, key)) for key in keys}
        missing = [key for key, one in found.items() if one is None]
        if missing:
            found |= {one.key: self.kept.put((what, one.key), one) for one in read(missing)}
        return tuple(found[key] for key in sorted(found) if found[key] is not None)

    def fitments(self, *, engine: str, unit: str) -> tuple[Fitment, ...]:
        """The fitments of the unit, and of the engine where one is named; by engine, machine, unit and year."""
        of_unit = self._once("fitments", unit, lambda key: self._catalogue.fitments(unit=key))
        of_engine = self._once("fitments", engine, lambda key: self._catalogue.fitments(engine=key)) if engine else ()
        made = {one.said: one for one in (*of_unit, *of_engine)}
        return tuple(sorted(made.values(), key=_order))

    def supersessions(self, parts: Iterable[str]) -> tuple[Supersession, ...]:
        """Every supersession that leads to or from these parts, over any number of steps; by old, then new number."""
        keys = list(parts)
        self._links(keys)  # all in one reading, before one after the other is followed further
        found = {one.said: one for part in keys for one in self._once("supersessions", part, self._reached)}
        return tuple(sorted(found.values(), key=lambda s: (s.old, s.new, s.said)))

    def _reached(self, part: str) -> tuple[Supersession, ...]:
        found: dict[str, Supersession] = {}
        met: set[str] = set()
        open_ = [part]
        while open_:
            at = open_.pop()
            if at in met:
                continue
            met.add(at)
            for one in self._links([at])[at].supersessions:
                found[one.said] = one
                open_ += [one.old, one.new]
        return tuple(found.values())

    def interchanges(self, parts: Iterable[str]) -> tuple[Interchange, ...]:
        """What is asserted to stand in for these parts, or they for others."""
        found = {one.said: one for links in self._links(parts).values() for one in links.interchanges}
        return tuple(sorted(found.values(), key=lambda i: (i.part, i.other, i.seat, i.said)))

    def _links(self, parts: Iterable[str]) -> dict[str, Links]:
        found: dict[str, Links | None] = {part: self.kept.get(("links", part)) for part in parts}
        missing = [part for part, links in found.items() if links is None]
        read = links_of(self._catalogue.index, missing) if missing else {}
        new = {part: self.kept.put(("links", part), links) for part, links in read.items()}
        return {part: links if links is not None else new[part] for part, links in found.items()}

    def sources(self, things: Iterable[Part | Unit | Engine]) -> tuple[Source, ...]:
        """Who says anything of these things, by name."""
        names: set[str] = set()
        for thing in things:
            names |= self._once("sources", thing.key, lambda _, thing=thing: frozenset(_sources(thing)))  # type: ignore[misc]
        return tuple(source for source in self._catalogue.sources if source.name in names)


def _sources(thing: Part | Unit | Engine) -> Iterator[str]:
    yield from (claim.source for claim in thing.claims)
    if isinstance(thing, Part):
        yield from (limit.source for limit in thing.limits)


def _order(f: Fitment) -> tuple[str, ...]:
    return (f.engine, f.machine_maker, f.machine, f.unit, f.year_from, f.said)
