"""A statement as triples: the node that carries its cells, the values in them, and the links that follow.

A statement's node has one property a cell (`ontology.terms`), with texts as written. An amount is a node of its
own with whole quanta, its quantity, the number in the unit it is stored in, and the text and unit as written. A
list is an RDF list, since its order counts. Links (`graph.triples.links`) are derived: nobody reads them back.
"""

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

import rdflib

from graph.errors import BadQuantity
from graph.model.statement import Statement
from graph.triples.links import links
from graph.triples.node import (
    BOOLEAN,
    DECIMAL,
    FIRST,
    INTEGER,
    NIL,
    REST,
    STRING,
    TYPE,
    Blank,
    Iri,
    Literal,
    Node,
    Triple,
    term,
    value_iri,
)
from ontology.terms import EVIDENCE, QUANTITIES, SHEETS, STATEMENT


def triples(statement: Statement) -> Iterator[Triple]:
    """Every triple of one statement: its own first, its values' next, the links last.

    Raises
    ------
    BadQuantity
        A cell that is none of the forms of `graph.model.statement`.
    """
    known = SHEETS[statement.sheet]
    name = statement.id
    node = Iri(STATEMENT + name)
    yield node, TYPE, Iri(known.iri)
    values: list[Triple] = []
    said = statement.evidence
    for column, value in statement.fields.items():
        property_name = known.columns[column]
        yield node, term(property_name), _object(name, property_name, value, values)
    for column, property_name in EVIDENCE.items():
        if text := getattr(said, column):
            yield node, term(property_name), Literal(text)
    yield from values
    yield from links(statement, node)


def _object(name: str, property_name: str, value: Any, values: list[Triple]) -> Node:
    if isinstance(value, str):
        return Literal(value)
    if isinstance(value, bool):
        return Literal("true" if value else "false", BOOLEAN)
    if isinstance(value, int):
        return Literal(str(value), INTEGER)
    if isinstance(value, list | tuple) and all(isinstance(item, str) for item in value):
        return _listed(name, property_name, value, values)
    if isinstance(value, Mapping):
        node = value_iri(name, property_name)
        values.extend((node, p, o) for p, o in _value(value))
        return node
    raise BadQuantity(f"{value!r} cannot be written as RDF", fix="keep cells in the forms that statements have")


def _listed(name: str, property_name: str, items: list[str] | tuple[str, ...], values: list[Triple]) -> Node:
    heads = [Blank(f"{name}-{property_name}-{i}") for i in range(len(items))]
    rests: list[Node] = [*heads[1:], NIL]
    for head, item, rest in zip(heads, items, rests[: len(heads)], strict=True):
        values.append((head, FIRST, Literal(item)))
        values.append((head, REST, rest))
    return heads[0] if heads else NIL


def _value(value: Mapping[str, Any]) -> Iterator[tuple[Iri, Node]]:
    if "amount" in value:
        yield from _amount(value)
    elif "codes" in value:
        yield TYPE, term("CodeSet")
        for code in value["codes"]:
            yield term("codeWord"), Literal(code)
    elif "code" in value:
        yield TYPE, term("Code")
        yield term("codeWord"), Literal(value["code"])
    elif "minor" in value:
        yield TYPE, term("Money")
        yield term("minorUnits"), Literal(str(value["minor"]), INTEGER)
    else:
        raise BadQuantity(f"{dict(value)!r} cannot be written as RDF", fix="keep values as amount, code or money")
    yield term("asWritten"), Literal(value.get("text", ""))


def _amount(value: Mapping[str, Any]) -> Iterator[tuple[Iri, Node]]:
    quantity = QUANTITIES.get(value["quantity"])
    if quantity is None:
        raise BadQuantity(f"{value['quantity']!r} is no quantity known here", fix="use one of quantities.ttl")
    yield TYPE, term("Amount")
    yield term("quanta"), Literal(str(value["amount"]), INTEGER)
    yield term("qudt:hasQuantityKind"), term("quantitykind:" + quantity.kind)
    yield term("qudt:numericValue"), Literal(decimal(value["amount"], quantity.decimals), DECIMAL)
    yield term("qudt:hasUnit"), term("unit:" + quantity.unit)
    yield term("unitAsWritten"), Literal(value.get("unit", ""))


def decimal(quanta: int, decimals: int) -> str:
    """Quanta as an exact decimal in the stored unit, in the canonical form of XML Schema.

    >>> decimal(523_875_000, 7), decimal(-3, 0)
    ('52.3875', '-3.0')
    """
    text = f"{Decimal(quanta).scaleb(-decimals):f}"
    if "." not in text:
        return text + ".0"
    whole, _, part = text.partition(".")
    return f"{whole}.{part.rstrip('0') or '0'}"


def to_triples(statements: Iterable[Statement]) -> rdflib.Graph:
    """All triples of the statements in one rdflib graph; for batches, since rdflib keeps about 1 KB a triple."""
    found = rdflib.Graph(bind_namespaces="none")
    for statement in statements:
        for s, p, o in triples(statement):
            found.add((_rdflib(s), rdflib.URIRef(p), _rdflib(o)))
    return found


def _rdflib(node: Node) -> rdflib.term.Node:
    if isinstance(node, Iri):
        return rdflib.URIRef(node)
    if isinstance(node, Blank):
        return rdflib.BNode(node)
    if node.datatype == STRING:
        return rdflib.Literal(node.text)
    return rdflib.Literal(node.text, datatype=rdflib.URIRef(node.datatype), normalize=False)
