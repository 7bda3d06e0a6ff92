"""Every asserted edge held against the features, and every derived edge that nobody asserts.

The parts of a seat are gone through once and gathered into a book; pairs are made of parts that share an interface
only. Where work is on record, a second book of the rules that no work changes leads to the pairs that it might mend.
"""

from collections.abc import Iterable, Iterator
from typing import Final

from graph.collector import seldom
from graph.index.catalogue import Catalogue
from graph.interchange.answer import EDGES, ORDER, held, places, said_edges, step_after_step
from graph.interchange.book import Book
from graph.interchange.place import Place
from graph.model.interchange import InterchangeReport, Unasserted
from graph.model.record import Part, Snapshot
from graph.model.statement import subject
from graph.model.verdict import Verdict

AT_ONCE: Final = 2_000
"""Parts that are read together."""

Pair = tuple[str, str]
Edge = tuple[Pair, Verdict, tuple[str, ...]]


@seldom()
def report(catalogue: Catalogue, snapshot: Snapshot) -> InterchangeReport:
    """Every asserted edge held against the features, and the derived edges that nobody asserts, with conditions."""
    said = said_edges(catalogue)
    known = {(i.part, i.other) for i in said}
    used = _layouts_of_parts(catalogue)
    everywhere, later = places(catalogue), step_after_step(_one_way(catalogue))
    for place in everywhere:
        place.later = later
    found: dict[tuple[str, Pair], Unasserted] = {}
    for kind in sorted({place.seat.kind for place in everywhere}):
        for place, (pair, verdict, conditions) in _edges(catalogue, kind, everywhere):
            layouts = used.get(pair[0]) or used.get(pair[1]) or (place.layout.name,)
            if pair in known or place.layout.name not in layouts:
                continue
            edge, before = Unasserted(place.seat.name, *pair, verdict, conditions), found.get((place.seat.name, pair))
            if before is None or _rank(edge) < _rank(before):
                found[place.seat.name, pair] = edge
    parts = {p.key: p for p in catalogue.parts({key for pair in known for key in pair})}
    unasserted = sorted(found.values(), key=lambda u: (ORDER.index(u.verdict), u.seat, u.part, u.other))
    return InterchangeReport(snapshot, tuple(held(i, parts, everywhere, catalogue) for i in said), tuple(unasserted))


def _rank(edge: Unasserted) -> tuple[int, int]:
    return ORDER.index(edge.verdict), len(edge.conditions)


def _layouts_of_parts(catalogue: Catalogue) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for unit in catalogue.units():
        for _, part in unit.parts:
            found.setdefault(part, set()).add(unit.layout)
    return found


def _one_way(catalogue: Catalogue) -> dict[str, list[str]]:
    steps: dict[str, list[str]] = {}
    for fields in (row.fields for row in catalogue.sheet("supersession")):
        if not fields.get("two_way"):
            old, new = (subject("part", str(fields.get("maker", "")), str(fields[n])) for n in ("old", "new"))
            steps.setdefault(old, []).append(new)
    return steps


def _edges(catalogue: Catalogue, kind: str, everywhere: Iterable[Place]) -> Iterator[tuple[Place, Edge]]:
    """Every edge of the seats for a kind of part: the sure ones of each seat, then those that hold once machined."""
    here = [place for place in everywhere if place.seat.kind == kind]
    kinds = catalogue.kinds_below([kind])
    worked_on = [place for place in here if any(place.works_on(one) for one in kinds)]
    sure = {place: Book(place) for place in here}
    mended = {place: Book(place, touches=place.fixed()) for place in worked_on}
    parts: dict[str, Part] = {}
    for part in _every(catalogue, kinds):
        for book in (*sure.values(), *mended.values()):
            book.add(part)
        if worked_on:
            parts[part.key] = part
    for place, book in sure.items():
        pairs: set[Pair] = set()
        for first, second in book.edges():
            conditions = place.conditions(first.admitted, second.admitted)
            yield place, ((first.key, second.key), Verdict.YES, conditions)
            if place in mended:
                pairs.add((first.key, second.key))
        for first, second in mended[place].edges() if place in mended else ():
            if (first.key, second.key) not in pairs:
                derived = place.decide(parts[first.key], parts[second.key], told=False)
                if derived.verdict in EDGES:
                    yield place, ((first.key, second.key), derived.verdict, derived.conditions)


def _every(catalogue: Catalogue, kinds: tuple[str, ...]) -> Iterator[Part]:
    after = ""
    while keys := catalogue.keys("part", after, AT_ONCE, kinds=kinds):
        yield from catalogue.parts(keys)
        after = keys[-1]
