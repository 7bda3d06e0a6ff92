"""The nodes of a triple as light values: an IRI, a blank node, a literal."""

import re
from typing import Final, NamedTuple

from graph.model.statement import subject
from ontology.terms import ID, NS, PREFIXES, RDF, VALUE, XSD


class Iri(str):
    """An IRI without its angle brackets."""

    __slots__ = ()


class Blank(str):
    """A blank node's label."""

    __slots__ = ()


class Literal(NamedTuple):
    """A text with its datatype's IRI; no language, since every text is kept as written."""

    text: str
    datatype: str = XSD + "string"


Node = Iri | Blank | Literal
Triple = tuple[Iri | Blank, Iri, Node]

TYPE: Final = Iri(RDF + "type")
FIRST: Final = Iri(RDF + "first")
REST: Final = Iri(RDF + "rest")
NIL: Final = Iri(RDF + "nil")
STRING: Final = XSD + "string"
INTEGER: Final = XSD + "integer"
BOOLEAN: Final = XSD + "boolean"
DECIMAL: Final = XSD + "decimal"

_TERMS: dict[str, Iri] = {}


def term(name: str) -> Iri:
    """A term of our namespace, or of another by its prefix.

    >>> term("maker"), term("skos:broader")
    ('https://spoolwright.example/ns#maker', 'http://www.w3.org/2004/02/skos/core#broader')
    """
    found = _TERMS.get(name)
    if found is None:
        prefix, colon, local = name.partition(":")
        found = _TERMS[name] = Iri(PREFIXES[prefix] + local if colon else NS + name)
    return found


def thing(kind: str, *names: str) -> Iri:
    """The IRI of a thing, from the key that the program knows it by.

    >>> thing("part", "Ostrel", "OS 100/2")
    'https://spoolwright.example/id/part/Ostrel/OS%20100%2F2'
    """
    return Iri(ID + subject(kind, *names))


def value_iri(statement_id: str, property_name: str) -> Iri:
    """The IRI of the value in one cell of one statement."""
    return Iri(f"{VALUE}{statement_id}-{property_name}")


# Beyond what the grammar asks: control characters and the line ends of other programs, so that a line stays a line;
# and the first of two angle brackets, since `<<` opens a triple term, which the reader refuses unseen.
_ESCAPED: Final = re.compile(r'["\\\x00-\x1f\x7f\x85\u2028\u2029]|<(?=<)')
_SHORT: Final = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}


def quoted(text: str) -> str:
    """A text in quotes, as N-Triples and Turtle both read it.

    >>> quoted('2 1/16"')
    '"2 1/16\\\\""'
    """
    return '"' + _ESCAPED.sub(lambda m: _SHORT.get(m[0]) or f"\\u{ord(m[0]):04X}", text) + '"'


def nt(node: Node) -> str:
    """A node as N-Triples writes it."""
    if isinstance(node, Iri):
        return f"<{node}>"
    if isinstance(node, Blank):
        return f"_:{node}"
    if node.datatype == STRING:
        return quoted(node.text)
    return f"{quoted(node.text)}^^<{node.datatype}>"
