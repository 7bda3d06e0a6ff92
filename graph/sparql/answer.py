"""One query over a store in memory: its answer in a form of the SPARQL 1.1 recommendations, cut at a limit."""

import csv
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final
from xml.sax.saxutils import escape, quoteattr

import pyoxigraph

from graph.errors import BadQuestion, NotAcceptable
from graph.sparql.guard import names_graphs
from ontology.terms import ID

BASE: Final = ID
"""What relative IRIs of a query are resolved against; the SPARQL 1.1 Protocol leaves it to the service.

Things then go by their keys, `<unit/MAKER/NUMBER>`, and an answer does not hang on the name a server is called by.
"""

ROWS: Final = 10_000
"""Rows or triples of one answer."""

TABLES: Final = {
    "application/sparql-results+json": "json",
    "application/sparql-results+xml": "xml",
    "text/csv": "csv",
    "text/tab-separated-values": "tsv",
    "application/json": "json",
    "application/xml": "xml",
}
GRAPHS: Final = {
    "text/turtle": pyoxigraph.RdfFormat.TURTLE,
    "application/n-triples": pyoxigraph.RdfFormat.N_TRIPLES,
    "application/rdf+xml": pyoxigraph.RdfFormat.RDF_XML,
    "application/ld+json": pyoxigraph.RdfFormat.JSON_LD,
}
"""Media of tables (SELECT, ASK) and of graphs (CONSTRUCT, DESCRIBE), the usual one first."""


@dataclass(frozen=True, slots=True)
class Query:
    """A query with the graphs that the protocol names, and the media wanted, the best first; none: the usual one."""

    text: str
    default_graphs: tuple[str, ...] = ()
    named_graphs: tuple[str, ...] = ()
    media: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Result:
    """An answer. `truncated`: there were more rows or triples than are given."""

    body: bytes
    media: str
    truncated: bool


def loaded(quads: bytes) -> pyoxigraph.Store:
    """A store in memory that holds these N-Quads."""
    store = pyoxigraph.Store()
    store.bulk_load(input=quads, format=pyoxigraph.RdfFormat.N_QUADS)
    return store


def answer(store: pyoxigraph.Store, query: Query, rows: int = ROWS) -> Result:
    """The answer. Without graphs named by the protocol or the query, the default graph is all graphs together.

    Raises
    ------
    BadQuestion
        It is no SPARQL query.
    NotAcceptable
        No medium that is wanted suits this kind of query.
    """
    try:
        default: list[Any] = [pyoxigraph.NamedNode(name) for name in query.default_graphs]
        named: list[Any] = [pyoxigraph.NamedNode(name) for name in query.named_graphs]
        if default or named:
            found = store.query(query.text, base_iri=BASE, default_graph=default, named_graphs=named)
        else:
            union = not names_graphs(query.text)
            found = store.query(query.text, base_iri=BASE, use_default_graph_as_union=union)
    except (SyntaxError, ValueError) as error:
        raise BadQuestion(f"this is no SPARQL query: {error}", fix="see where the message points") from None
    if isinstance(found, pyoxigraph.QueryTriples):
        media = _chosen(query.media, GRAPHS)
        triples = list(islice(found, rows + 1))
        body = pyoxigraph.serialize(triples[:rows], format=GRAPHS[media])
        return Result(body or b"", media, len(triples) > rows)
    media = _chosen(query.media, TABLES)
    write = {"json": _json, "xml": _xml, "csv": _csv, "tsv": _tsv}[TABLES[media]]
    if isinstance(found, pyoxigraph.QueryBoolean):
        return Result(write((), (), bool(found)).encode(), media, False)
    names = [variable.value for variable in found.variables]
    table = [[row[name] for name in names] for row in islice(found, rows + 1)]
    return Result(write(names, table[:rows], None).encode(), media, len(table) > rows)


def _chosen(wanted: Sequence[str], offered: Iterable[str]) -> str:
    there_are = list(offered)
    for media in wanted:
        if media == "*/*":
            return there_are[0]
        for one in there_are:
            if one == media or (media.endswith("/*") and one.startswith(media[:-1])):
                return one
    if wanted:
        raise NotAcceptable("no form that is wanted suits this query", fix=f"ask for {', '.join(there_are)}")
    return there_are[0]


# The forms of tables: W3C SPARQL 1.1 Query Results JSON Format, XML Format (second edition), CSV and TSV Formats.

Table = Sequence[Sequence[Any]]


def _term(term: Any) -> dict[str, str]:
    if isinstance(term, pyoxigraph.NamedNode):
        return {"type": "uri", "value": term.value}
    if isinstance(term, pyoxigraph.BlankNode):
        return {"type": "bnode", "value": term.value}
    told = {"type": "literal", "value": term.value}
    if term.language:
        told["xml:lang"] = term.language
    elif term.datatype.value != "http://www.w3.org/2001/XMLSchema#string":
        told["datatype"] = term.datatype.value
    return told


def _json(names: Sequence[str], table: Table, truth: bool | None) -> str:
    if truth is not None:
        return json.dumps({"head": {}, "boolean": truth})
    bindings = [
        {name: _term(term) for name, term in zip(names, row, strict=True) if term is not None} for row in table
    ]
    return json.dumps({"head": {"vars": list(names)}, "results": {"bindings": bindings}}, ensure_ascii=False)


def _xml(names: Sequence[str], table: Table, truth: bool | None) -> str:
    out = ['<?xml version="1.0"?>\n<sparql xmlns="http://www.w3.org/2005/sparql-results#"><head>']
    out += [f"<variable name={quoteattr(name)}/>" for name in names]
    out.append("</head>")
    if truth is not None:
        out.append(f"<boolean>{str(truth).lower()}</boolean>")
    else:
        out.append("<results>")
        for row in table:
            cells = (
                f"<binding name={quoteattr(name)}>{_xml_term(_term(term))}</binding>"
                for name, term in zip(names, row, strict=True)
                if term is not None
            )
            out.append(f"<result>{''.join(cells)}</result>")
        out.append("</results>")
    return "".join(out) + "</sparql>\n"


def _xml_term(told: dict[str, str]) -> str:
    kind = told["type"]
    marks = "".join(f" {name}={quoteattr(told[name])}" for name in ("xml:lang", "datatype") if name in told)
    return f"<{kind}{marks}>{escape(told['value'])}</{kind}>"


def _csv(names: Sequence[str], table: Table, truth: bool | None) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    if truth is not None:
        return f"{str(truth).lower()}\r\n"
    writer.writerow(names)
    for row in table:
        writer.writerow(["" if term is None else _bare(term) for term in row])
    return out.getvalue()


def _bare(term: Any) -> str:
    return f"_:{term.value}" if isinstance(term, pyoxigraph.BlankNode) else str(term.value)


def _tsv(names: Sequence[str], table: Table, truth: bool | None) -> str:
    if truth is not None:
        return f"{str(truth).lower()}\n"
    lines = ["\t".join(f"?{name}" for name in names)]
    lines += ["\t".join("" if term is None else str(term).replace("\t", "\\t") for term in row) for row in table]
    return "\n".join(lines) + "\n"
