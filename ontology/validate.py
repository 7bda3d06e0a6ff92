"""SHACL over a graph of statements: the shapes that apply, without inference, as plain results.

pyshacl writes into the shapes graph it is given, so that every call gets a fresh one. Only the shapes whose target
class occurs are handed over: the cost of a call is then that of its rows.
"""

from collections.abc import Iterable, Iterator
from functools import cache
from importlib.resources import files

import pyshacl
from rdflib import RDF, BNode, Graph, Literal, URIRef
from rdflib.collection import Collection
from rdflib.namespace import SH
from rdflib.term import Node

from ontology.report import Result, in_order

SEVERITY_WORDS = {SH.Violation: "error", SH.Warning: "warning", SH.Info: "notice"}


@cache
def _parsed() -> tuple[tuple[Node, Node, Node], ...]:
    text = (files("ontology") / "shapes.ttl").read_bytes()
    return tuple(Graph(bind_namespaces="none").parse(data=text, format="turtle"))


@cache
def _by_class() -> dict[Node, tuple[tuple[Node, Node, Node], ...]]:
    """For each target class the triples of its shape, with everything that hangs on it."""
    whole = Graph(bind_namespaces="none")
    for triple in _parsed():
        whole.add(triple)
    return {target: tuple(_hanging(whole, shape)) for shape, target in whole.subject_objects(SH.targetClass)}


def _hanging(whole: Graph, top: Node) -> Iterator[tuple[Node, Node, Node]]:
    seen: set[Node] = set()
    waiting = [top]
    while waiting:
        node = waiting.pop()
        if node in seen:
            continue
        seen.add(node)
        for triple in whole.triples((node, None, None)):
            yield triple
            if isinstance(triple[2], BNode | URIRef) and triple[1] != SH.targetClass:
                waiting.append(triple[2])


def shapes(classes: Iterable[Node] | None = None) -> Graph:
    """A fresh graph of all shapes, or of those that target one of the classes."""
    fresh = Graph(bind_namespaces="none")
    known = _by_class()
    wanted = known if classes is None else [c for c in classes if c in known]
    for target in wanted:
        for triple in known[target]:
            fresh.add(triple)
    return fresh


def validate(triples: Graph) -> list[Result]:
    """Every fault that the shapes see, in order; an empty list when the graph conforms.

    Slow: a few hundred rows a second (benchmarks/), so that bulk sheets go through `ontology.forms` first.
    """
    applicable = shapes(set(triples.objects(None, RDF.type)))
    if not len(applicable):
        return []
    _, found, text = pyshacl.validate(
        triples,
        shacl_graph=applicable,
        inference="none",
        advanced=False,
        js=False,
        meta_shacl=False,
        do_owl_imports=False,
        allow_warnings=False,
        inplace=True,
    )
    if not isinstance(found, Graph):
        raise TypeError(f"the shapes could not be applied: {text}")
    return in_order(_results(found))


def _results(found: Graph) -> Iterator[Result]:
    for node in found.subjects(RDF.type, SH.ValidationResult):
        messages = [m for m in found.objects(node, SH.resultMessage) if isinstance(m, Literal)]
        severity = found.value(node, SH.resultSeverity)
        shape = found.value(node, SH.sourceShape)
        yield Result(
            focus=str(found.value(node, SH.focusNode)),
            path=_first(found, found.value(node, SH.resultPath)),
            value=_text(found.value(node, SH.value)),
            message=min((str(m) for m in messages), default=""),
            severity=SEVERITY_WORDS.get(URIRef(str(severity)), "error"),
            shape=str(shape) if isinstance(shape, URIRef) else "",
            component=str(found.value(node, SH.sourceConstraintComponent)),
        )


def _first(found: Graph, path: Node | None) -> str:
    if path is None or isinstance(path, URIRef):
        return str(path or "")
    return str(next(iter(Collection(found, path)), ""))


def _text(value: Node | None) -> str:
    return "" if value is None else str(value)
