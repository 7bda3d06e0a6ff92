"""Statements as bytes in the four media that are read back: a statement at a time, never the whole."""

import json
import re
from collections.abc import Iterable, Iterator
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, Final

from graph.errors import BadFile
from graph.model.statement import Statement
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
    nt,
    quoted,
    thing,
)
from graph.triples.write import triples
from ontology.terms import NS, PREFIXES, VALUE

MEDIA: Final = ("text/turtle", "application/n-quads", "application/n-triples", "application/ld+json")
"""The media that can be written and read."""

CHUNK: Final = 1 << 16
Block = dict[Iri | Blank, dict[tuple[Iri, Node], None]]
"""The pairs of each subject, each pair once, in order."""


def serialise(statements: Iterable[Statement], media: str, *, change_set: str = "") -> Iterator[bytes]:
    """The statements in one of `MEDIA`, in pieces of about 64 KB.

    N-Quads put each statement in the graph of its change set, if one is named, or else of its source.

    Raises
    ------
    BadFile
        A medium that is not written here.
    """
    writers = {
        "text/turtle": lambda: _turtle(statements),
        "application/n-quads": lambda: _quads(statements, change_set),
        "application/n-triples": lambda: _ntriples(statements),
        "application/ld+json": lambda: _json(statements),
    }
    if media not in writers:
        raise BadFile(f"{media!r} is not written here", fix=f"ask for one of {', '.join(MEDIA)}")
    return _chunks(writers[media]())


def _chunks(texts: Iterable[str]) -> Iterator[bytes]:
    waiting: list[str] = []
    size = 0
    for text in texts:
        waiting.append(text)
        size += len(text)
        if size >= CHUNK:
            yield "".join(waiting).encode()
            waiting, size = [], 0
    if waiting:
        yield "".join(waiting).encode()


def _ntriples(statements: Iterable[Statement]) -> Iterator[str]:
    for statement in statements:
        yield "".join(f"{nt(s)} {nt(p)} {nt(o)} .\n" for s, p, o in triples(statement))


def _quads(statements: Iterable[Statement], change_set: str) -> Iterator[str]:
    for statement in statements:
        graph = ""
        if change_set:
            graph = nt(thing("change-set", change_set)) + " "
        elif statement.evidence.source:
            graph = nt(thing("source", statement.evidence.source)) + " "
        yield "".join(f"{nt(s)} {nt(p)} {nt(o)} {graph}.\n" for s, p, o in triples(statement))


def _block(found: Iterable[Triple]) -> Block:
    block: Block = {}
    for s, p, o in found:
        block.setdefault(s, {})[p, o] = None
    return block


def _items(block: Block, head: Node) -> list[Node]:
    items = []
    while isinstance(head, Blank):
        pairs = dict(block[head].keys())
        items.append(pairs[FIRST])
        head = pairs[REST]
    return items


# ── Turtle ───────────────────────────────────────────────────────────────────────────────────────────────────

_LOCAL: Final = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
_NAMESPACES: Final = sorted(PREFIXES.items(), key=lambda pair: -len(pair[1]))


def _turtle(statements: Iterable[Statement]) -> Iterator[str]:
    yield "".join(f"@prefix {prefix}: <{iri}> .\n" for prefix, iri in PREFIXES.items())
    for statement in statements:
        block = _block(triples(statement))
        for s, pairs in block.items():
            if not isinstance(s, Blank):
                said = " ;\n    ".join(f"{_verb(p)} {_turtle_node(o, block)}" for p, o in pairs)
                yield f"\n{_short(s)} {said} .\n"


@cache
def _verb(p: Iri) -> str:
    return "a" if p == TYPE else _short(p)


@cache
def _namespace(start: str) -> str | None:
    return next((prefix for prefix, iri in _NAMESPACES if iri == start), None)


@lru_cache(maxsize=8192)
def _short(iri: str) -> str:
    cut = max(iri.rfind("#"), iri.rfind("/")) + 1
    prefix = _namespace(iri[:cut])
    if prefix is not None and _LOCAL.fullmatch(iri, cut):
        return f"{prefix}:{iri[cut:]}"
    return f"<{iri}>"


def _turtle_node(node: Node, block: Block) -> str:
    if isinstance(node, Blank) or node == NIL:
        return "(" + " ".join(_turtle_node(item, block) for item in _items(block, node)) + ")"
    if isinstance(node, Iri):
        return _short(node)
    if node.datatype in (INTEGER, BOOLEAN, DECIMAL):
        return node.text
    return quoted(node.text)


# ── JSON-LD ──────────────────────────────────────────────────────────────────────────────────────────────────


@cache
def context() -> dict[str, Any]:
    """Our own context, as the file has it; do not change what you get."""
    text = (files("ontology") / "context.jsonld").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)["@context"]
    return found


@cache
def _term(iri: str) -> tuple[str, str]:
    """A property's name in our context, and the type its values are coerced to."""
    for name, entry in context().items():
        if isinstance(entry, dict) and _expanded(entry["@id"]) == iri:
            return name, entry.get("@type", "")
    return _name(iri), ""


def _expanded(compact: str) -> str:
    prefix, _, local = compact.partition(":")
    return PREFIXES[prefix] + local


@cache
def _name(iri: str) -> str:
    """A class or property as one word of ours or with a prefix."""
    if iri.startswith(NS):
        return iri[len(NS) :]
    short = _short(iri)
    return iri if short.startswith("<") else short


def _json(statements: Iterable[Statement]) -> Iterator[str]:
    yield f'{{"@context": {json.dumps(context(), separators=(",", ":"))},\n"@graph": ['
    mark = "\n"
    for statement in statements:
        block = _block(triples(statement))
        for s in block:
            if not isinstance(s, Blank) and not s.startswith(VALUE):
                yield mark + json.dumps(_object(s, block), ensure_ascii=False)
                mark = ",\n"
    yield "\n]}\n"


def _object(s: Iri | Blank, block: Block) -> dict[str, Any]:
    made: dict[str, Any] = {"@id": s}
    for p, o in block[s]:
        if p == TYPE and isinstance(o, Iri):
            name, value = "@type", _name(o)
        else:
            name, coerced = _term(p)
            value = _json_node(o, coerced, block)
        if name not in made:
            made[name] = value
        elif isinstance(made[name], list):
            made[name].append(value)
        else:
            made[name] = [made[name], value]
    return made


def _json_node(node: Node, coerced: str, block: Block) -> Any:
    if isinstance(node, Blank) or node == NIL:
        return [item.text for item in _items(block, node) if isinstance(item, Literal)]
    if isinstance(node, Iri):
        if node.startswith(VALUE):
            return _object(node, block)
        return node if coerced == "@id" else {"@id": node}
    if coerced or node.datatype == STRING:
        return node.text
    return json.loads(node.text)
