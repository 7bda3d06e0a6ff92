"""The form of a row: everything about it that the shapes can see, so that one row of a form speaks for all.

pyshacl checks a few hundred rows a second (benchmarks/). But every constraint in `shapes.ttl` looks at one cell of
one row, and sees of it only: whether it is there, what it is made of (text, number, list, amount …), which of the
listed words it is, whether it matches a pattern, is long enough, is not below a bound, and of which quantity it is.
`form` gives exactly these, taken from the shapes themselves. Rows of equal form therefore have equal results, and
only the first has to be validated. `FORM_COMPONENTS` names the constraints for which that holds; a shape with any
other is an error in `limits`, and a test compares both ways on random rows.
"""

import re
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final

from rdflib import RDF, RDFS, Graph, Literal, URIRef
from rdflib.collection import Collection
from rdflib.namespace import SH
from rdflib.term import Node

from ontology.terms import EVIDENCE, NS, SHEETS
from ontology.validate import shapes

FORM_COMPONENTS: Final = frozenset(
    {
        SH.path, SH.message, SH.datatype, SH.minCount, SH.maxCount, SH["in"], SH["class"], SH["or"], SH.nodeKind,
        SH.minLength, SH.pattern, SH.minInclusive, SH.property, SH.targetClass, SH.zeroOrMorePath,
        RDF.type, RDF.first, RDF.rest, RDFS.label,
    }
)  # fmt: skip
"""The constraints of SHACL for which a form says all; the lists of paths and words are among them."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What the shapes ask of one property's texts and numbers, over all shapes that mention it."""

    words: frozenset[str] = frozenset()
    patterns: tuple[re.Pattern[str], ...] = ()
    lengths: tuple[int, ...] = ()
    bounds: tuple[int, ...] = ()
    any_word: bool = True  # nothing is asked but that the text is not empty


@dataclass(slots=True)
class _Gathered:
    words: set[str] = field(default_factory=set)
    patterns: set[str] = field(default_factory=set)
    lengths: set[int] = field(default_factory=set)
    bounds: set[int] = field(default_factory=set)

    def done(self) -> Limits:
        patterns = tuple(re.compile(p) for p in sorted(self.patterns))
        lengths = tuple(sorted(self.lengths))
        any_word = not self.words and not patterns and lengths in ((), (1,))
        return Limits(frozenset(self.words), patterns, lengths, tuple(sorted(self.bounds)), any_word)


@cache
def limits() -> Mapping[str, Limits]:
    """By the local name of each property what the shapes ask of it; `quanta` and the like stand for all values."""
    whole = shapes()
    strangers = {str(p) for p in whole.predicates() if p not in FORM_COMPONENTS}
    if strangers:
        raise ValueError(f"a form does not show what {sorted(strangers)} look at")
    gathered: dict[str, _Gathered] = {}
    for shape, path in whole.subject_objects(SH.path):
        for name in _names(whole, path):
            into = gathered.setdefault(name, _Gathered())
            for words in whole.objects(shape, SH["in"]):
                into.words |= {str(word) for word in Collection(whole, words)}
            into.patterns |= {str(p) for p in whole.objects(shape, SH.pattern)}
            into.lengths |= {int(str(n)) for n in whole.objects(shape, SH.minLength)}
            into.bounds |= {int(str(n)) for n in whole.objects(shape, SH.minInclusive) if isinstance(n, Literal)}
    return {name: found.done() for name, found in gathered.items()}


def _names(whole: Graph, path: Node) -> list[str]:
    steps = [path] if isinstance(path, URIRef) else list(Collection(whole, path))
    return [str(step).removeprefix(NS) for step in steps if isinstance(step, URIRef)]


_NOTHING: Final = Limits()


def form(sheet: str, fields: Mapping[str, Any], evidence: Mapping[str, str]) -> Hashable:
    """The form of a row, from its cells as `graph.model.statement` writes them."""
    known = SHEETS[sheet].columns
    cells = [(column, _cell(known[column], value)) for column, value in fields.items()]
    said = [(EVIDENCE[column], _cell(EVIDENCE[column], text)) for column, text in evidence.items() if text]
    return sheet, frozenset(cells), frozenset(said)


def _cell(name: str, value: Any) -> Hashable:
    asked = limits().get(name, _NOTHING)
    if isinstance(value, str):
        return _text(value, asked)
    if isinstance(value, bool):
        return "yesno"
    if isinstance(value, int):
        return "count", tuple(value >= bound for bound in asked.bounds)
    if isinstance(value, list | tuple):
        return "list", frozenset(_cell(name, item) for item in value)
    if isinstance(value, Mapping):
        return _value(value, asked)
    return "strange", repr(value)


def _text(text: str, asked: Limits) -> Hashable:
    if asked.any_word:
        return bool(text)
    return (
        "text",
        text if text in asked.words else "",
        tuple(len(text) >= n for n in asked.lengths),
        tuple(bool(p.search(text)) for p in asked.patterns),
    )


def _value(value: Mapping[str, Any], asked: Limits) -> Hashable:
    inside = limits()
    if "amount" in value:
        bounds = (*asked.bounds, *inside["quanta"].bounds)
        return "amount", value["quantity"], tuple(value["amount"] >= bound for bound in bounds)
    if "codes" in value:
        return "codes", frozenset(_text(code, inside["codeWord"]) for code in value["codes"])
    if "code" in value:
        return "code", _text(value["code"], inside["codeWord"])
    if "minor" in value:
        return "money", tuple(value["minor"] >= bound for bound in (*asked.bounds, *inside["minorUnits"].bounds))
    return "strange", repr(dict(value))
