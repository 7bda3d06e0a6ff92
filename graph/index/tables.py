"""The small tables of one version (sources, layouts, builds, kinds, features, operations, …), read once and kept."""

import json
from collections.abc import Callable, Iterable
from functools import cached_property
from pathlib import Path
from typing import Any, Final, TypeVar

from graph.errors import NotFound
from graph.index import records
from graph.index.file import IndexFile
from graph.index.records import Row
from graph.index.schema import NOTHING
from graph.model.record import Build, Consume, Feature, Kind, Layout, Operation, ServiceDue, Source
from graph.model.value import spelled_code

T = TypeVar("T")
Pairs = tuple[tuple[str, str], ...]
_READ: Final = json.JSONDecoder().raw_decode  # what is filed is canonical: nothing stands around it


class Tables:
    """The small tables in an index file, by name or key; safe to share between threads."""

    def __init__(self, place: Path) -> None:
        self.index = IndexFile(place)
        self.id = self.index.id

    def _small(self, name: str) -> list[Row]:
        query = "SELECT sheet, id, content FROM statement WHERE thing = ? AND sheet = ? ORDER BY id"
        return [row_of(*found) for found in self.index.ask(query, (NOTHING, name))]

    @cached_property
    def _sources(self) -> dict[str, Source]:
        made = (records.source_of(row) for row in self._small("sources"))
        return {s.name: s for s in sorted(made, key=lambda s: s.name)}

    @cached_property
    def _ranks(self) -> dict[str, str]:
        return {name: source.rank for name, source in self._sources.items()}

    @cached_property
    def _layouts(self) -> dict[str, Layout]:
        return records.layouts_of(self._small("layouts"), self._small("joints"), self._small("rules"))

    @cached_property
    def _builds(self) -> dict[str, Build]:
        demands: dict[str, list[Row]] = {}
        for row in self._small("demands"):
            demands.setdefault(row.text("build"), []).append(row)
        made = (records.build_of(row, demands.get(row.text("build"), ())) for row in self._small("builds"))
        return {b.key: b for b in sorted(made, key=lambda b: b.key)}

    @cached_property
    def kinds(self) -> tuple[Kind, ...]:
        """The kinds of part."""
        return _by_name(records.kind_of(row) for row in self._small("kinds"))

    @cached_property
    def features(self) -> tuple[Feature, ...]:
        """The features."""
        return _by_name(records.feature_of(row) for row in self._small("features"))

    @cached_property
    def all_operations(self) -> tuple[Operation, ...]:
        """All operations, services included."""
        return _by_name(records.operation_of(row) for row in self._small("operations"))

    @cached_property
    def accepted(self) -> tuple[tuple[str, Pairs], ...]:
        """The accepted sets, each with its directed pairs of codes."""
        sets: dict[str, set[tuple[str, str]]] = {}
        for row in self._small("accepted"):
            pair = (spelled_code(row.text("left_value")), spelled_code(row.text("right_value")))
            sets.setdefault(row.text("set"), set()).add(pair)
        return tuple((name, tuple(sorted(pairs))) for name, pairs in sorted(sets.items()))

    @property
    def sources(self) -> tuple[Source, ...]:
        """Who says what is said here."""
        return tuple(self._sources.values())

    @property
    def layouts(self) -> tuple[Layout, ...]:
        """The layouts."""
        return tuple(self._layouts.values())

    @property
    def builds(self) -> tuple[Build, ...]:
        """The builds."""
        return tuple(self._builds.values())

    def layout(self, name: str) -> Layout:
        """One layout, or NotFound."""
        return one_of(self._layouts, name, "layout")

    def build(self, key: str) -> Build:
        """One build, or NotFound."""
        return one_of(self._builds, key, "build")

    def source(self, name: str) -> Source:
        """One source, or NotFound."""
        return one_of(self._sources, name, "source")

    def kinds_below(self, names: Iterable[str]) -> tuple[str, ...]:
        """These kinds and all kinds below them, sorted."""
        children: dict[str, list[str]] = {}
        for kind in self.kinds:
            children.setdefault(kind.parent, []).append(kind.name)
        return tuple(sorted(_closure(names, lambda name: children.get(name, ()))))

    def kinds_above(self, names: Iterable[str]) -> tuple[str, ...]:
        """These kinds and all kinds above them, sorted."""
        parents = {kind.name: (kind.parent,) if kind.parent else () for kind in self.kinds}
        return tuple(sorted(_closure(names, lambda name: parents.get(name, ()))))

    def operations(self, kinds: Iterable[str]) -> tuple[Operation, ...]:
        """The operations that a part of one of these kinds may get, and every service on the whole unit."""
        above = {*self.kinds_above(kinds), ""}
        return tuple(o for o in self.all_operations if o.kind in above)

    def consumes(self, layout: str) -> tuple[Consume, ...]:
        """What work on a unit of this layout uses up."""
        rows = (row for row in self._small("consumes") if row.text("layout") in ("", layout))
        return tuple(sorted((records.consume_of(r) for r in rows), key=lambda c: (c.when, c.part, c.per, c.said)))

    def services(self, layout: str) -> tuple[ServiceDue, ...]:
        """The services that follow work on a unit of this layout."""
        rows = (row for row in self._small("services") if row.text("layout") in ("", layout))
        return tuple(sorted((records.service_of(r) for r in rows), key=lambda s: (s.when, s.operation, s.said)))


def row_of(sheet: str, id_: str, content: str) -> Row:
    """A statement as the index files it."""
    data, _ = _READ(content)
    return Row(sheet, id_, data["fields"], data["evidence"])


def one_of(table: dict[str, T], name: str, what: str) -> T:
    """The entry of that name, or NotFound."""
    try:
        return table[name]
    except KeyError:
        raise NotFound(f"there is no {what} {name!r}", fix=f"look the {what} up by its name or number") from None


def _by_name(things: Iterable[Any]) -> tuple[Any, ...]:
    return tuple(sorted(things, key=lambda thing: thing.name))


def _closure(names: Iterable[str], further: Callable[[str], Iterable[str]]) -> set[str]:
    met: set[str] = set()
    open_ = list(names)
    while open_:
        name = open_.pop()
        if name not in met:
            met.add(name)
            open_ += further(name)
    return met
