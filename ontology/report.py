"""What a check of the graph found: plain results, as sentences and as a W3C validation report."""

from collections.abc import Iterable
from dataclasses import dataclass

from rdflib import RDF, BNode, Graph, Literal, URIRef
from rdflib.namespace import SH

from ontology.terms import NS, PREFIXES

SEVERITIES = {"error": SH.Violation, "warning": SH.Warning, "notice": SH.Info}
PLAIN_CHECK = NS + "PlainCheckConstraintComponent"


@dataclass(frozen=True, slots=True)
class Result:
    """One fault: where (the node and its property), what was there, the plain sentence, and which shape says so.

    `focus`, `path`, `shape` and `component` are IRIs; `path` is empty when the whole node is meant, and names the
    first property of a longer path. `value` is the text that was found, empty when something is missing.
    """

    focus: str
    path: str
    value: str
    message: str
    severity: str = "error"
    shape: str = ""
    component: str = PLAIN_CHECK


def in_order(results: Iterable[Result]) -> list[Result]:
    """The results by node, property, value, then message, so that every run gives them alike."""
    return sorted(results, key=lambda r: (r.focus, r.path, r.value, r.message, r.component))


def sentences(results: Iterable[Result]) -> list[str]:
    """One line a result: the sentence, and what was found where."""
    return [
        f"{r.message} (found {r.value!r} at {r.focus})" if r.value else f"{r.message} (at {r.focus})"
        for r in in_order(results)
    ]


def report(results: Iterable[Result]) -> Graph:
    """The results as a validation report (W3C SHACL, 2017, section 3); it conforms when there are none.

    Warnings and notices are results too, so that a report with any does not conform, as the standard has it.
    """
    triples = Graph(bind_namespaces="none")
    triples.bind("sh", SH)
    for prefix in ("sw", "id", "st", "xsd"):
        triples.bind(prefix, PREFIXES[prefix])
    ordered = in_order(results)
    top = BNode("report")
    triples.add((top, RDF.type, SH.ValidationReport))
    triples.add((top, SH.conforms, Literal(not ordered)))
    for number, result in enumerate(ordered, 1):
        node = BNode(f"result-{number}")
        triples.add((top, SH.result, node))
        triples.add((node, RDF.type, SH.ValidationResult))
        triples.add((node, SH.focusNode, URIRef(result.focus)))
        triples.add((node, SH.resultSeverity, SEVERITIES[result.severity]))
        triples.add((node, SH.sourceConstraintComponent, URIRef(result.component)))
        triples.add((node, SH.resultMessage, Literal(result.message, lang="en")))
        if result.path:
            triples.add((node, SH.resultPath, URIRef(result.path)))
        if result.value:
            triples.add((node, SH.value, Literal(result.value)))
        if result.shape:
            triples.add((node, SH.sourceShape, URIRef(result.shape)))
    return triples


def turtle(results: Iterable[Result]) -> str:
    """The validation report as Turtle."""
    return report(results).serialize(format="turtle")
