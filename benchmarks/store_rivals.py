"""The same questions to rdflib and pyoxigraph by SPARQL, over triples of the same catalogue."""

from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import quote

import pyoxigraph
import rdflib
from rdflib.plugins.sparql import prepareQuery

from benchmarks.store_catalogue import MAKER, catalogue
from graph.identifiers import spelling
from graph.model.statement import subject

BASE = "https://bench.invalid/"
Answer = frozenset[tuple[str, ...]]

QUERIES = {
    "part by number": f"SELECT ?p WHERE {{ ?p <{BASE}spelling> ?asked }}",
    "claims of a part": f"""SELECT ?f ?v WHERE {{ ?asked ?f ?v . FILTER(STRSTARTS(STR(?f), "{BASE}feature/")) }}""",
    "where a part is used": f"SELECT ?u ?s WHERE {{ ?u ?s ?asked . FILTER(STRSTARTS(STR(?s), '{BASE}seat/')) }}",
}
"""By question; `?asked` is the spelling for the first, the part for the others."""


def triples(parts: int) -> Iterator[tuple[str, str, str | int]]:
    """Subject, predicate (both without the base) and key or literal; `=` before a literal text."""
    for s in catalogue(parts):
        f = s.fields
        if s.sheet == "parts":
            key = subject("part", f["maker"], f["number"])
            yield key, "spelling", "=" + spelling(f["number"])
            yield key, "kind", "=" + f["kind"]
            yield key, "label", "=" + f["label"]
        elif s.sheet == "values":
            said = f["value"]
            value = said["amount"] if "amount" in said else "=" + said["code"]
            yield subject("part", f["maker"], f["number"]), f"feature/{f['feature']}", value
        elif s.sheet == "unit_seats":
            unit = subject("unit", f["maker"], f["unit"])
            yield unit, f"seat/{quote(f['seat'])}", subject("part", MAKER, f["part_number"])


def in_rdflib(parts: int) -> Callable[[str, str], Answer]:
    """A function that answers a question of `QUERIES`."""
    triples_ = rdflib.Graph()
    for s, p, o in triples(parts):
        literal = isinstance(o, int) or o.startswith("=")
        end = rdflib.Literal(o if isinstance(o, int) else o[1:]) if literal else rdflib.URIRef(BASE + str(o))
        triples_.add((rdflib.URIRef(BASE + s), rdflib.URIRef(BASE + p), end))

    prepared = {name: prepareQuery(text) for name, text in QUERIES.items()}

    def ask(question: str, asked: str) -> Answer:
        term = rdflib.Literal(asked[1:]) if asked.startswith("=") else rdflib.URIRef(BASE + asked)
        rows: Any = triples_.query(prepared[question], initBindings={"asked": term})
        return frozenset(tuple(_plain(str(t)) for t in row) for row in rows)

    return ask


def in_pyoxigraph(parts: int) -> Callable[[str, str], Answer]:
    """The same in memory by pyoxigraph."""
    store = pyoxigraph.Store()
    node, literal = pyoxigraph.NamedNode, pyoxigraph.Literal

    def quads() -> Iterator[pyoxigraph.Quad]:
        for s, p, o in triples(parts):
            end: Any = literal(o) if isinstance(o, int) else literal(o[1:]) if o.startswith("=") else node(BASE + o)
            yield pyoxigraph.Quad(node(BASE + s), node(BASE + p), end)

    store.bulk_extend(quads())

    def ask(question: str, asked: str) -> Answer:
        term: Any = literal(asked[1:]) if asked.startswith("=") else node(BASE + asked)
        rows: Any = store.query(QUERIES[question].replace("?asked", str(term)))
        return frozenset(tuple(_plain(t.value) for t in row if t is not None) for row in rows)

    return ask


def _plain(text: str) -> str:
    return text.removeprefix(BASE).removeprefix("feature/").removeprefix("seat/")
