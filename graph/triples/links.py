"""Links between things, derived from statements so that the graph can be walked: nothing is read back from them."""

from collections.abc import Callable, Iterator
from typing import Any, Final

from graph.model.statement import Fields, Statement
from graph.triples.node import TYPE, Iri, Literal, Triple, term, thing
from ontology.terms import RULE_CLASSES, SHEETS

LABEL: Final = term("rdfs:label")
ON_STATEMENTS: Final = frozenset({term("about"), term("prov:hadPrimarySource")})
"""Links whose subject is a statement."""


def links(statement: Statement, node: Iri) -> Iterator[Triple]:
    """What the statement speaks of, whom it rests on, and the links between things that follow from it."""
    known = SHEETS[statement.sheet]
    names = [_text(statement.fields.get(column)) for column in known.thing_columns]
    if names[-1]:
        about = thing(known.thing, *names)
        yield node, term("about"), about
        make = _MAKERS.get(statement.sheet)
        if make is not None:
            yield from make(about, statement.fields)
    if statement.evidence.source:
        yield node, term("prov:hadPrimarySource"), thing("source", statement.evidence.source)


def _text(cell: Any) -> str:
    return cell if isinstance(cell, str) else ""


def _words(fields: Fields, column: str) -> list[str]:
    cell = fields.get(column)
    return [word for word in cell if word] if isinstance(cell, list) else []


def _get(fields: Fields, *columns: str) -> tuple[str, ...] | None:
    """The cells' texts; None if the last one is empty, so that no link leads to nothing."""
    found = tuple(_text(fields.get(column)) for column in columns)
    return found if found[-1] else None


def _named(about: Iri, kind: str, fields: Fields, name_property: str = "rdfs:label") -> Iterator[Triple]:
    yield about, TYPE, term(kind)
    if label := _text(fields.get("label")):
        yield about, term(name_property), Literal(label)


def _to(about: Iri, link: str, kind: str, fields: Fields, *columns: str) -> Iterator[Triple]:
    if names := _get(fields, *columns):
        yield about, term(link), thing(kind, *names)


def _numbered(about: Iri, fields: Fields, column: str) -> Iterator[Triple]:
    if names := _get(fields, "maker", column):
        yield about, term("schema:manufacturer"), thing("maker", names[0])
        yield about, term("schema:mpn"), Literal(names[1])
        yield about, term("carriesNumber"), thing("item", *names)


def _source(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield about, TYPE, term("Source")
    if title := _text(fields.get("title")):
        yield about, term("dcterms:title"), Literal(title)


def _kind(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield from _named(about, "Kind", fields, "skos:prefLabel")
    yield from _to(about, "skos:broader", "kind", fields, "parent")


def _seat(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield about, TYPE, term("Seat")
    yield from _to(about, "inLayout", "layout", fields, "layout")
    yield from _to(about, "takesKind", "kind", fields, "kind")


def _joint(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield from _named(about, "Joint", fields)
    yield from _to(about, "inLayout", "layout", fields, "layout")
    layout = _text(fields.get("layout"))
    for seat in _words(fields, "seats"):
        yield about, term("mates"), thing("seat", layout, seat)


def _rule(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield about, TYPE, term(RULE_CLASSES.get(_text(fields.get("type")), "FitRule"))
    yield from _to(about, "decides", "joint", fields, "layout", "joint")


def _feature(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield from _named(about, "Feature", fields)


def _part(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield from _named(about, "Part", fields)
    yield from _numbered(about, fields, "number")
    yield from _to(about, "ofKind", "kind", fields, "kind")


def _supersession(about: Iri, fields: Fields) -> Iterator[Triple]:
    if names := _get(fields, "maker", "new"):
        new = thing("part", *names)
        yield new, term("supersedes"), about
        if fields.get("two_way") is True:
            yield about, term("supersedes"), new


def _interchange(about: Iri, fields: Fields) -> Iterator[Triple]:
    if names := _get(fields, "other_maker", "other_number"):
        yield thing("part", *names), term("mayStandInFor"), about


def _unit(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield from _named(about, "Unit", fields)
    yield from _numbered(about, fields, "unit")
    yield from _to(about, "inLayout", "layout", fields, "layout")


def _unit_seat(about: Iri, fields: Fields) -> Iterator[Triple]:
    part, names = _get(fields, "part_maker", "part_number"), _get(fields, "maker", "unit", "seat")
    if part and names:
        seat = thing("unit-seat", *names)
        yield seat, TYPE, term("UnitSeat")
        yield seat, term("seatOf"), about
        yield seat, term("atSeat"), Literal(names[2])
        yield thing("part", *part), term("sitsIn"), seat


def _engine(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield from _named(about, "Engine", fields)


def _fitment(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield about, TYPE, term("Machine")
    if names := _get(fields, "engine_maker", "engine"):
        engine = thing("engine", *names)
        yield engine, term("engineOf"), about
        if unit := _get(fields, "unit_maker", "unit"):
            yield thing("unit", *unit), term("fittedTo"), engine


def _operation(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield from _named(about, "Operation", fields)
    yield from _to(about, "worksOn", "kind", fields, "kind")
    yield from _to(about, "modifies", "feature", fields, "feature")
    for other in (*_words(fields, "needs"), *_words(fields, "follows")):
        yield about, term("bringsAlong"), thing("operation", other)


def _core(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield about, TYPE, term("Core")
    yield from _to(about, "builtAs", "unit", fields, "as_built_maker", "as_built_unit")


def _build(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield from _named(about, "Build", fields)
    yield from _to(about, "inLayout", "layout", fields, "layout")
    yield from _to(about, "wantedFor", "engine", fields, "engine_maker", "engine")


def _kit(about: Iri, fields: Fields) -> Iterator[Triple]:
    yield about, TYPE, term("Kit")
    yield from _to(about, "contains", "part", fields, "maker", "number")


_MAKERS: Final[dict[str, Callable[[Iri, Fields], Iterator[Triple]]]] = {
    "sources": _source,
    "kinds": _kind,
    "layouts": _seat,
    "joints": _joint,
    "rules": _rule,
    "features": _feature,
    "parts": _part,
    "supersession": _supersession,
    "interchange": _interchange,
    "units": _unit,
    "unit_seats": _unit_seat,
    "engines": _engine,
    "fitments": _fitment,
    "operations": _operation,
    "cores": _core,
    "builds": _build,
    "kits": _kit,
}

LINKS: Final = frozenset(
    term(name)
    for name in (
        "rdf:type", "rdfs:label", "skos:prefLabel", "skos:broader", "dcterms:title", "schema:manufacturer",
        "schema:mpn", "carriesNumber", "inLayout", "takesKind", "mates", "decides", "ofKind", "supersedes",
        "mayStandInFor", "seatOf", "atSeat", "sitsIn", "engineOf", "fittedTo", "worksOn", "modifies",
        "bringsAlong", "builtAs", "wantedFor", "contains",
    )
)  # fmt: skip
"""The properties of things that are derived here; a reader passes over them."""
