"""Statements held against the shapes, and to RDF and back, beside pyshacl and rdflib on the same rows."""

import time
from collections.abc import Callable, Iterable
from statistics import median

import rdflib

from benchmarks.measurement import Measurement
from graph.model.statement import Evidence, Statement
from graph.triples import serialise, statements, to_triples
from graph.triples.check import findings
from ontology.validate import validate

ROWS = 10_000
FEW = 500  # rows that pyshacl and rdflib are given; both are linear in the rows
TURTLE, QUADS = "text/turtle", "application/n-quads"


def rows(count: int) -> list[Statement]:
    """Claims, stock and prices in the proportion of a catalogue: eight claims, one of each of the others."""
    made = []
    for i in range(count):
        part = {"maker": "Ostrel", "number": f"OS-{i // 10:06}"}
        said = Evidence(source=f"drawing {i % 7}", date="2026-11-20")
        amount = {"amount": 500_000_000 + i, "quantity": "length", "text": f"{50 + i / 1e7:.7f}", "unit": "mm"}
        if i % 10 == 8:
            made.append(Statement("stock", part | {"place": "A1", "quantity": i % 5}, said))
        elif i % 10 == 9:
            price = {"price": {"minor": i, "text": f"{i / 100:.2f}"}, "currency": "EUR", "as_of": "2026-11-01"}
            made.append(Statement("prices", part | price, said))
        else:
            claim = {"feature": f"f{i % 10}", "value": amount, "tolerance": amount | {"amount": 100_000}}
            made.append(Statement("values", part | claim, said))
    return made


def _seconds(work: Callable[[], object], times: int = 3) -> float:
    taken = []
    for _ in range(times):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return median(taken)


def _rate(what: str, ours: float, theirs: float, goal: str, least: float, note: str) -> Measurement:
    mine, other = ROWS / ours, FEW / theirs
    return Measurement(what, mine, other, mine / other, goal, mine / other >= least, "rows/s", note)


def run() -> Iterable[Measurement]:
    """Rates in rows a second of processor time, so that other work on the machine counts little."""
    many, few = rows(ROWS), rows(FEW)
    validate(to_triples(few[:20]))  # shapes parsed, modules loaded
    ours = _seconds(lambda: list(findings(many)))
    theirs = _seconds(lambda: validate(to_triples(few)), 1)
    yield _rate("rows held against the shapes", ours, theirs, "≥ 10× pyshacl on every row", 10, "one row a form")
    for media, name in ((TURTLE, "turtle"), (QUADS, "nquads")):
        data = b"".join(serialise(many, media))
        small = b"".join(serialise(few, media))
        graph = rdflib.Dataset()
        for triple in to_triples(few):
            graph.add(triple)
        ours = _seconds(lambda m=media: list(serialise(many, m)))  # type: ignore[misc]
        theirs = _seconds(lambda g=graph, n=name: g.serialize(format=n), 1)  # type: ignore[misc]
        yield _rate(f"rows written as {name}", ours, theirs, "≥ 1× rdflib", 1, "theirs: the same triples")
        ours = _seconds(lambda d=data, m=media: list(statements(d, m)))  # type: ignore[misc]
        theirs = _seconds(lambda d=small, n=name: rdflib.Dataset().parse(data=d, format=n), 1)  # type: ignore[misc]
        yield _rate(f"rows read from {name}", ours, theirs, "≥ 1× rdflib", 1, "theirs: triples only, no rows")
