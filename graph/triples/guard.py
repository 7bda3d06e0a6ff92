"""What is refused before or while bytes are parsed as RDF, so that no input can reach out, hang or crash.

Rule 1: only bytes are read, never a path or an address; RDF/XML is not read at all, since entities in a few
hundred bytes of it can fill the memory.
Rule 2: the parser is pyoxigraph's. Other than rdflib's it checks every IRI, does not recurse over brackets and
never fetches; the two things that can hurt it are kept away: triple terms (RDF 1.2), which it reads recursively,
by refusing `<<` unseen, and deep JSON, by measuring it first.
Rule 3: JSON-LD is held to our own context. What the parser would drop in silence (an unusable IRI, a key without
meaning) is a finding here.
"""

import json
import re
from collections.abc import Iterator
from typing import Any, Final

import pyoxigraph

from graph.model.finding import Finding, Origin
from graph.triples.serial import MEDIA, context
from ontology.terms import CONTEXT

MAX_BODY: Final = 256 * 1024 * 1024
"""The largest body read, in bytes: a statement is about 1 KB of Turtle and 5 KB of N-Quads; cut a longer file by
`graph.triples.pieces`, since reading holds some ten times the body."""

MAX_LITERAL: Final = 64 * 1024
"""The longest text of one cell, in characters."""

MAX_DEPTH: Final = 32
"""The deepest JSON read; our own needs six."""

KEYWORDS: Final = frozenset({"@context", "@id", "@type", "@graph", "@value", "@list", "@set"})
_FORMATS: Final = {
    "text/turtle": pyoxigraph.RdfFormat.TURTLE,
    "application/n-quads": pyoxigraph.RdfFormat.N_QUADS,
    "application/n-triples": pyoxigraph.RdfFormat.N_TRIPLES,
    "application/ld+json": pyoxigraph.RdfFormat.JSON_LD,
}
_BAD_IN_IRI: Final = re.compile(r'[\x00-\x20<>"{}|\\^`\x7f]')


class Refused(Exception):
    """A body that is not read further; carries its findings."""

    def __init__(self, *findings: Finding) -> None:
        super().__init__()
        self.findings = findings


def fault(file: str, code: str, found: object, why: str, mend: str, line: int = 0) -> Finding:
    """A finding about the body as a whole, at a line if one is known."""
    return Finding(code, "error", Origin(file, row=line), str(found)[:200], why, mend)


def quads(data: bytes, media: str, file: str, limit: int) -> Iterator[pyoxigraph.Quad]:
    """The quads of a body, one after another.

    Raises
    ------
    Refused
        With the findings that say why nothing more is read.
    """
    media = media.partition(";")[0].strip().lower()
    if media not in _FORMATS:
        why = (
            "only Turtle, N-Triples, N-Quads and JSON-LD are read; RDF/XML is refused since it can expand without end"
        )
        raise Refused(fault(file, "rdf-media", media, why, f"send one of {', '.join(MEDIA)}"))
    if len(data) > limit:
        why = f"the body is larger than {limit} bytes"
        raise Refused(fault(file, "too-large", f"{len(data)} bytes", why, "send it in several parts"))
    if media == "application/ld+json":
        data = _json(data, file)
    elif b"<<" in data:
        why = "`<<` opens a triple term of RDF 1.2, which is not read here"
        mend = "say it with a statement of its own; inside a text write \\u003C for <"
        raise Refused(fault(file, "rdf-triple-term", "<<", why, mend, data[: data.index(b"<<")].count(b"\n") + 1))
    return _parsed(data, media, file)


def _parsed(data: bytes, media: str, file: str) -> Iterator[pyoxigraph.Quad]:
    parser = pyoxigraph.parse(input=data, format=_FORMATS[media])
    while True:
        try:
            quad = next(parser)
        except StopIteration:
            return
        except SyntaxError as error:
            mend = "mend the place that is named and send it again"
            raise Refused(fault(file, "bad-rdf", error.msg, "it cannot be read", mend, error.lineno or 0)) from error
        except (ValueError, MemoryError, OSError) as error:
            raise Refused(fault(file, "bad-rdf", error, "it cannot be read", "mend it and send it again")) from error
        yield quad


def _json(data: bytes, file: str) -> bytes:
    """JSON-LD that holds nothing but what is read here, with our context in place of its name."""
    found: list[Finding] = []

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        made = dict(items)
        if len(made) != len(items):
            twice = sorted({key for key, _ in items if sum(other == key for other, _ in items) > 1})
            why = "a key stands twice in one object, so that one value would be lost"
            found.append(fault(file, "json-key-twice", ", ".join(twice), why, "keep one of them, or write a list"))
        return made

    def refuse(text: str) -> None:
        raise ValueError(f"{text} is no number")

    try:
        document = json.loads(data.decode("utf-8-sig"), object_pairs_hook=pairs, parse_constant=refuse)
    except RecursionError:
        raise Refused(_deep(file)) from None
    except ValueError as error:  # bad UTF-8, bad JSON, a number with thousands of digits
        line = getattr(error, "lineno", 0)
        mend = "mend the place that is named and send it again"
        raise Refused(fault(file, "bad-rdf", error, "it is not JSON in UTF-8", mend, line)) from error
    if _depth(document) > MAX_DEPTH:
        raise Refused(_deep(file))
    _walk(document, False, file, found)
    if found:
        raise Refused(*found)
    try:
        return json.dumps(document, ensure_ascii=False, allow_nan=False).encode()
    except ValueError as error:  # a lone surrogate, a number beyond every range
        why = "a text or number in it cannot be kept"
        raise Refused(fault(file, "bad-rdf", error, why, "remove half characters and endless numbers")) from error


def _deep(file: str) -> Finding:
    why = f"objects and lists are nested more than {MAX_DEPTH} deep"
    return fault(file, "json-too-deep", f"more than {MAX_DEPTH}", why, "write statements side by side in @graph")


def _depth(document: Any) -> int:
    deepest, level = 0, [document]
    while level and deepest <= MAX_DEPTH:
        inside: list[Any] = []
        for item in level:
            if isinstance(item, dict):
                inside.extend(item.values())
            elif isinstance(item, list):
                inside.extend(item)
        level = inside
        deepest += 1
    return deepest


def _walk(item: Any, scoped: bool, file: str, found: list[Finding]) -> None:
    """Replace our context's name by the context itself; collect what would be dropped or reach out."""
    if isinstance(item, list):
        for entry in item:
            _walk(entry, scoped, file, found)
        return
    if not isinstance(item, dict):
        return
    if "@context" in item:
        _own_context(item, file, found)
        scoped = True
    for key, value in item.items():
        if key == "@context":
            continue
        if key.startswith("@"):
            if key not in KEYWORDS:
                why = "this keyword of JSON-LD is not read here"
                found.append(fault(file, "json-keyword", key, why, "leave it out"))
        elif not key or _BAD_IN_IRI.search(key):
            found.append(fault(file, "bad-iri", key, "no property can have this name", "use a name of our context"))
        elif not scoped and ":" not in key:
            why = "without our context this key has no meaning"
            found.append(fault(file, "json-context", key, why, f'write "@context": "{CONTEXT}" at the top'))
        if key in ("@id", "@type") or _is_link(key):
            for name in value if isinstance(value, list) else [value]:
                _usable(name, key, file, found)
        _walk(value, scoped, file, found)


def _is_link(key: str) -> bool:
    entry = context().get(key)
    return isinstance(entry, dict) and entry.get("@type") == "@id"


def _usable(name: Any, key: str, file: str, found: list[Finding]) -> None:
    if isinstance(name, dict) and key not in ("@id", "@type"):
        return
    if not isinstance(name, str) or _BAD_IN_IRI.search(name) or (key != "@type" and ":" not in name):
        why = f"{key} holds what is no absolute IRI"
        found.append(fault(file, "bad-iri", name, why, "write a whole IRI without spaces and brackets"))


def _own_context(item: dict[str, Any], file: str, found: list[Finding]) -> None:
    given = item["@context"]
    entries = given if isinstance(given, list) else [given]
    if entries and all(entry in (CONTEXT, context()) for entry in entries):
        rest = {key: value for key, value in item.items() if key != "@context"}
        item.clear()
        item.update({"@context": context()} | rest)
        return
    shown = given if isinstance(given, str) else json.dumps(given)
    why = "only our own context is read: no other is fetched or taken in"
    found.append(fault(file, "json-context", shown, why, f'write "@context": "{CONTEXT}"'))
