"""Writes docs/vocabulary.md from the vocabulary, the shapes and the model; a test compares it with the file."""

from collections.abc import Iterator
from pathlib import Path

from rdflib import OWL, RDF, RDFS, SKOS, Graph, URIRef

from graph.model.sheet import SHEETS, Column
from graph.model.statement import Evidence, Statement
from graph.triples import serialise
from graph.triples.links import LINKS
from ontology import terms
from ontology.terms import NS, PREFIXES, QUANTITIES, QUDT, UNIT

ONTOLOGY = Path(terms.__file__).parent
PAGE = Path(__file__).resolve().parents[2] / "docs" / "vocabulary.md"

OPENING = """# The vocabulary

What rows become in RDF, term by term. The files are in `ontology/`: `parts.ttl` (classes and properties),
`quantities.ttl` (quantities and units of measure), `shapes.ttl` (what a row must be), `context.jsonld`. This page is
written from them by `python tests/support/vocabulary_page.py`; a test holds the two together.

Terms are in `https://spoolwright.example/ns#` (prefix `sw`), things in `https://spoolwright.example/id/`. Seats,
joints, rules, kinds of part and operations are data: a shop adds them as rows, and the vocabulary stays as it is.

## How a row is written

Each row is a node of its own, a **statement**, named `id/statement/` and the digest of what it says. Its class is its
sheet, its cells are properties, texts stay as written. The evidence (`sw:saidBy`, `sw:rank`, `sw:saidOn`, `sw:note`)
is on the same node. What it speaks of is linked with `sw:about`, its source with `prov:hadPrimarySource`.

```turtle
{example}```

- An **amount** is a node with whole quanta (`sw:quanta`), its quantity by QUDT, and the text and unit as written.
  `qudt:numericValue` and `qudt:hasUnit` say the same size in the stored unit; a file from elsewhere may give these
  two alone, in any unit of `quantities.ttl`, and if both are there they must agree.
- A **code** has its one spelling in `sw:codeWord` and the text in `sw:asWritten`; a **code set** has several.
- **Money** has `sw:minorUnits`; the currency is a cell of the row.
- A **list** is an RDF list, since its order counts. Yes and no are `xsd:boolean`, counts `xsd:integer`.
- Dates stay texts, since a year alone is a date here; ISO dates sort as texts.
- A row from elsewhere may be a blank node or have any IRI. Under a name of ours it must say what the name says:
  a changed row is refused (`id-mismatch`), so that no edit passes for the old row.
- N-Quads keep each row in the graph of its change set or of its source; reading takes no notice of graphs.

Links between things are written beside the rows, so that the graph can be walked, and are passed over when read.

## What reading refuses

Only bytes are read: Turtle, N-Triples, N-Quads and JSON-LD, up to 256 MiB. Each fault is a finding.

| code | what it means |
| --- | --- |
{codes}
"""

CODES = {
    "rdf-media": "another medium; RDF/XML above all, since its entities can expand without end",
    "too-large": "a body or a text beyond the limit",
    "bad-rdf": "a syntax error, with its line; an IRI with a space, bracket or no scheme",
    "rdf-triple-term": "`<<`, which opens a triple term of RDF 1.2; inside a text write `\\u003C` for `<`",
    "json-too-deep": "JSON nested more than 32 deep",
    "json-context": "a context other than our own, or none; nothing is ever fetched",
    "json-keyword": "a keyword of JSON-LD that is not read",
    "json-key-twice": "one key twice in an object, so that a value would be lost",
    "bad-iri": "an IRI that a JSON-LD reader would drop in silence",
    "unknown-sheet": "a class that is no sheet's",
    "unknown-column": "a property of ours that the sheet does not have",
    "two-sheets": "one node as a row of several sheets",
    "several-values": "several values in one cell, or an amount that says two sizes",
    "wrong-type": "a cell that does not hold what its column holds",
    "id-mismatch": "a row that does not say what its name says",
    "not-read": "triples that belong to no row: an error for our own terms, a warning for others",
    "no-statements": "no row at all",
    "shape": "a row that breaks a shape; the message says which cell and how to mend it",
}

HOLDS = {"word": "text", "number": "part number", "yesno": "yes or no", "size": "amount"}

EXAMPLE = Statement(
    "values",
    {
        "maker": "Ostrel",
        "number": "OS 100/2",
        "feature": "inducer",
        "value": {"amount": 523_875_000, "quantity": "length", "text": "2 1/16", "unit": "in"},
    },
    Evidence("drawing 12"),
)


def page() -> str:
    """The whole page."""
    words = Graph().parse(ONTOLOGY / "parts.ttl")
    codes = "\n".join(f"| `{code}` | {text} |" for code, text in CODES.items())
    turtle = b"".join(serialise([EXAMPLE], "text/turtle")).decode()
    example = turtle[turtle.index("\nst:") + 1 :]
    blocks = [OPENING.format(example=example, codes=codes)]
    blocks += _sheets(words)
    blocks += _things(words)
    blocks += _links(words)
    blocks += _lists(words)
    blocks += _measures()
    return "\n".join(blocks)


def _said(words: Graph, name: str) -> tuple[str, str]:
    subject = URIRef(NS + name)
    label = words.value(subject, RDFS.label) or words.value(subject, SKOS.prefLabel)
    return str(label), str(words.value(subject, SKOS.definition))


def _holds(column: Column) -> str:
    if column.type == "choice":
        return "one of " + ", ".join(column.of)
    if column.type == "amount":
        return f"amount of {column.of[0]}, usually in {column.of[1]}"
    return {"word": "text", "number": "part number", "yesno": "yes or no", "size": "amount"}.get(
        column.type, column.type
    )


def _sheets(words: Graph) -> Iterator[str]:
    yield "## Rows: a class a sheet\n"
    yield "**Bold** columns are the key; a star marks a cell that must be filled.\n"
    for sheet in SHEETS:
        known = terms.SHEETS[sheet.name]
        label, definition = _said(words, known.statement)
        kind = "a claim: every row counts by rank and date" if sheet.settled == "ranked" else "the latest row governs"
        yield f"### `sw:{known.statement}`: {label}\n"
        yield f"{definition} Sheet `{sheet.name}`; about `id/{known.thing}/…`; {kind}.\n"
        yield "| column | property | holds | meaning |\n| --- | --- | --- | --- |"
        for column in sheet.columns:
            name = known.columns[column.name]
            shown = f"**{column.name}**" if column.key else column.name
            star = " *" if column.needed else ""
            yield f"| {shown}{star} | `sw:{name}` | {_holds(column)} | {_said(words, name)[1]} |"
        yield ""


def _things(words: Graph) -> Iterator[str]:
    yield "## Things\n"
    yield "| class | is a | meaning |\n| --- | --- | --- |"
    statements = {known.statement for known in terms.SHEETS.values()}
    for name in _names(words, OWL.Class):
        if name not in statements:
            upper = ", ".join(f"`{_short(u)}`" for u in sorted(words.objects(URIRef(NS + name), RDFS.subClassOf)))
            yield f"| `sw:{name}` | {upper} | {_said(words, name)[1]} |"
    yield ""


def _names(words: Graph, kind: URIRef) -> list[str]:
    return sorted(str(s).removeprefix(NS) for s in words.subjects(RDF.type, kind))


def _short(iri: object) -> str:
    for prefix, start in PREFIXES.items():
        if str(iri).startswith(start) and prefix not in ("id", "st", "val"):
            return f"{prefix}:{str(iri)[len(start) :]}"
    return f"<{iri}>"


def _links(words: Graph) -> Iterator[str]:
    yield "## Links and parts of values\n"
    yield "| property | from | to | meaning | |\n| --- | --- | --- | --- | --- |"
    cells = {p for known in terms.SHEETS.values() for p in known.columns.values()} | set(terms.EVIDENCE.values())
    for name in sorted(_names(words, OWL.ObjectProperty) + _names(words, OWL.DatatypeProperty)):
        if name not in cells:
            ends = [words.value(URIRef(NS + name), end) for end in (RDFS.domain, RDFS.range)]
            shown = " | ".join(f"`{_short(end)}`" if end else "" for end in ends)
            derived = "derived" if NS + name in LINKS or name == "about" else ""
            yield f"| `sw:{name}` | {shown} | {_said(words, name)[1]} | {derived} |"
    others = ", ".join(f"`{_short(p)}`" for p in sorted(LINKS) if not p.startswith(NS))
    yield f"\nAlso derived, in the terms of others: {others}, `prov:hadPrimarySource`.\n"


def _lists(words: Graph) -> Iterator[str]:
    yield "## Fixed lists of words\n"
    for scheme in _names(words, SKOS.ConceptScheme):
        label, definition = _said(words, scheme)
        yield f"### {label[0].upper()}{label[1:]}\n\n{definition}\n"
        yield "| concept | word | meaning |\n| --- | --- | --- |"
        for concept in sorted(words.subjects(SKOS.inScheme, URIRef(NS + scheme))):
            name = str(concept).removeprefix(NS)
            yield f"| `sw:{name}` | {_said(words, name)[0]} | {_said(words, name)[1]} |"
        yield ""


def _measures() -> Iterator[str]:
    measures = Graph().parse(ONTOLOGY / "quantities.ttl")
    yield "## Quantities and units of measure\n"
    yield "| quantity | QUDT kind | stored in | one quantum | units that are read |\n| --- | --- | --- | --- | --- |"
    for name, known in QUANTITIES.items():
        subject = URIRef(f"{NS}quantity-{name}")
        size = measures.value(subject, URIRef(NS + "quantumSize"))
        units = measures.subjects(URIRef(NS + "inQuantity"), subject)
        shown = ", ".join(sorted(str(measures.value(u, RDFS.label)) for u in units))
        yield f"| {name} | `quantitykind:{known.kind}` | `unit:{known.unit}` | {size} | {shown} |"
    yield f"\nUnits have their QUDT names (`{UNIT}…`, terms `{QUDT}…`); the few that QUDT lacks have names of ours.\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
