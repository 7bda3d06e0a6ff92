"""The report's derived edges, against every pair of parts in every seat decided one by one (a slow second way)."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import permutations
from types import SimpleNamespace
from typing import Any

import pytest
from families import ACCEPTED, FEATURES, KINDS, LAYOUTS, OPERATIONS, family

from graph.interchange import Place, report
from graph.model.interchange import Unasserted
from graph.model.record import Limit, Operation, Part, Snapshot, Unit
from graph.model.verdict import Verdict

SEATS = ("cover", "wheel", "backplate", "bearing_housing", "turbine_housing")


class Listed:
    """As much of a catalogue as the report asks for, in memory."""

    features, kinds = FEATURES, KINDS
    accepted = ACCEPTED

    def __init__(
        self,
        parts: Iterable[Part],
        units: Sequence[Unit],
        superseded: Sequence[tuple[str, str, str, bool]],
        operations: tuple[Operation, ...],
    ) -> None:
        self._parts = {p.key: p for p in parts}
        self._units = tuple(units)
        self._superseded = superseded
        self.all_operations = operations
        self.layouts = tuple(LAYOUTS[name] for name in sorted({u.layout for u in units} | {"swing-vane"}))

    def units(self) -> tuple[Unit, ...]:
        return self._units

    def sheet(self, name: str) -> Iterator[Any]:
        for maker, old, new, two_way in self._superseded if name == "supersession" else ():
            yield SimpleNamespace(fields={"maker": maker, "old": old, "new": new, "two_way": two_way})

    def kinds_below(self, names: Iterable[str]) -> tuple[str, ...]:
        return tuple(names)

    def keys(self, type_: str, after: str, most: int, *, kinds: Sequence[str]) -> list[str]:
        found = (k for k, p in self._parts.items() if k > after and p.kind in kinds)
        return sorted(found)[: min(most, 7)]  # so few that there are several pages

    def parts(self, keys: Iterable[str]) -> tuple[Part, ...]:
        return tuple(self._parts[k] for k in sorted(set(keys)))


def shelf(seeds: range, layout: str) -> list[Part]:
    """Parts of a few families with twins of another maker, some with a fact missing, some whose limit is stated."""
    out = []
    for seed in seeds:
        for unit in family(seed, layout).units:
            for seat in SEATS:
                part = unit.part(seat)
                twin = replace(unit, maker="Quenby" if unit.maker == "Ostrel" else "Ostrel").part(seat)
                gap = replace(unit, name=f"{unit.name}y").without(seat, next(iter(unit.facts[seat]))).part(seat)
                tight = replace(unit, name=f"{unit.name}z").part(seat)
                limits = tuple(
                    Limit(o.feature, "used", None, 1, 2, "drawing") for o in OPERATIONS if o.kind == part.kind
                )
                out += [part, twin, gap, replace(tight, limits=limits)]
    return out


def by_trying(catalogue: Listed, later: dict[str, frozenset[str]]) -> set[Unasserted]:
    """The best verdict over the layouts that use either part, of every two parts in every seat."""
    rank = {Verdict.YES: 0, Verdict.WITH_WORK: 1}
    found: dict[tuple[str, str, str], Unasserted] = {}
    for layout in catalogue.layouts:
        for seat in layout.seats:
            accepted = {name: frozenset(pairs) for name, pairs in ACCEPTED}
            where = Place(
                layout, seat, features=FEATURES, accepted=accepted, kinds=KINDS, operations=catalogue.all_operations
            )
            where.later = later
            parts = [p for p in catalogue._parts.values() if p.kind == seat.kind]
            for one, other in permutations(parts, 2):
                derived = where.decide(one, other)
                used = {u.layout for u in catalogue.units() if one.key in {p for _, p in u.parts}}
                used = used or {u.layout for u in catalogue.units() if other.key in {p for _, p in u.parts}}
                if derived.verdict not in rank or (used and layout.name not in used):
                    continue
                edge = Unasserted(seat.name, one.key, other.key, derived.verdict, derived.conditions)
                before = found.setdefault((seat.name, one.key, other.key), edge)
                if (rank[edge.verdict], len(edge.conditions)) < (rank[before.verdict], len(before.conditions)):
                    found[seat.name, one.key, other.key] = edge
    return set(found.values())


@pytest.mark.parametrize("operations", [OPERATIONS, ()], ids=["with work", "no work"])
@pytest.mark.parametrize("start", [0, 3])
def test_the_report_finds_exactly_the_edges_that_deciding_every_pair_finds(
    start: int, operations: tuple[Operation, ...]
) -> None:
    parts = shelf(range(start, start + 3), "swing-vane")
    cover = [p for p in parts if p.kind == "compressor_cover"]
    one, other = cover[0], cover[1]
    units = [
        Unit("unit/Ostrel/u", "Ostrel", "u", "swing-vane", "", (("wheel", parts[4].key),)),
        Unit("unit/Ostrel/v", "Ostrel", "v", "wastegate", "", (("cover", cover[2].key),)),
    ]
    gone = replace(other, maker=one.maker, number="new", key=f"part/{one.maker}/new")
    catalogue = Listed([*parts, gone], units, [(one.maker, one.number, "new", False)], operations)
    wanted = by_trying(catalogue, {one.key: frozenset({gone.key})})
    found = report(catalogue, Snapshot("c", 1)).unasserted  # type: ignore[arg-type]
    assert set(found) == wanted and len(found) == len(wanted)
    verdicts = [u.verdict for u in found]
    assert verdicts.count(Verdict.YES) > 30
    assert (verdicts.count(Verdict.WITH_WORK) > 10) == bool(operations)
    assert verdicts == sorted(verdicts, key=[Verdict.YES, Verdict.WITH_WORK].index)
