"""What the dataset is and how it came to be, as triples of VoID, DCAT and PROV."""

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any, Final

from graph.desk import Desk
from graph.triples.node import INTEGER, STRING, TYPE, Iri, Literal, Triple, nt
from ontology.terms import ID, NS, SHEETS, XSD

VOID: Final = "http://rdfs.org/ns/void#"
DCAT: Final = "http://www.w3.org/ns/dcat#"
DCT: Final = "http://purl.org/dc/terms/"
PROV: Final = "http://www.w3.org/ns/prov#"
MEDIA: Final = "https://www.iana.org/assignments/media-types/"


def described(desk: Desk, base: str) -> Iterator[Triple]:
    """The dataset at `base`, its distributions and endpoints, and a PROV activity for each change set."""
    this = Iri(f"{base}/v1/dataset#all")
    for kind in (VOID + "Dataset", DCAT + "Dataset", PROV + "Entity"):
        yield this, TYPE, Iri(kind)
    yield this, Iri(DCT + "title"), Literal("Parts, units, engines, rules and the shelf of this shop")
    held = desk.snapshot
    yield this, Iri(DCT + "identifier"), Literal(f"{held.catalogue}.{held.shelf}")
    yield this, Iri(VOID + "sparqlEndpoint"), Iri(f"{base}/v1/sparql")
    yield this, Iri(VOID + "uriSpace"), Literal(ID)
    yield this, Iri(VOID + "vocabulary"), Iri(NS)
    yield this, Iri(VOID + "uriLookupEndpoint"), Iri(f"{base}/v1/search?q=")
    rows = Counter(said.sheet for said in desk.everything())
    for sheet, count in sorted(rows.items()):
        part = Iri(f"{base}/v1/dataset#{sheet}")
        yield this, Iri(VOID + "classPartition"), part
        yield part, Iri(VOID + "class"), Iri(SHEETS[sheet].iri)
        yield part, Iri(VOID + "entities"), Literal(str(count), INTEGER)
    for form, media in (("nq", "application/n-quads"), ("ttl", "text/turtle"), ("jsonld", "application/ld+json")):
        one = Iri(f"{base}/v1/dataset#{form}")
        yield this, Iri(DCAT + "distribution"), one
        yield one, TYPE, Iri(DCAT + "Distribution")
        yield one, Iri(DCAT + "downloadURL"), Iri(f"{base}/v1/export?format={form}")
        yield one, Iri(DCAT + "mediaType"), Iri(MEDIA + media)
        yield this, Iri(VOID + "dataDump"), Iri(f"{base}/v1/export?format={form}")
    yield from _history(desk, this)


def _history(desk: Desk, this: Iri) -> Iterator[Triple]:
    for change in desk.history():
        if change.n > desk.snapshot.shelf:
            continue
        activity = Iri(f"{ID}change-set/{change.n}")
        yield this, Iri(PROV + "wasGeneratedBy"), activity
        yield activity, TYPE, Iri(PROV + "Activity")
        yield activity, Iri(PROV + "endedAtTime"), Literal(change.time, XSD + "dateTime")
        yield activity, Iri(DCT + "identifier"), Literal(change.hash)
        if change.title:
            yield activity, Iri(DCT + "title"), Literal(change.title)
        if change.author:
            agent = Iri(f"{this.partition('#')[0]}#by-{change.n}")
            yield activity, Iri(PROV + "wasAssociatedWith"), agent
            yield agent, TYPE, Iri(PROV + "Agent")
            yield agent, Iri("http://www.w3.org/2000/01/rdf-schema#label"), Literal(change.author)


def lines(triples: Iterable[Triple]) -> str:
    """The triples as N-Triples, which is Turtle too."""
    return "".join(f"{nt(s)} {nt(p)} {nt(o)} .\n" for s, p, o in triples)


def expanded(triples: Iterable[Triple]) -> list[dict[str, Any]]:
    """The triples as expanded JSON-LD, which needs no context."""
    nodes: dict[str, dict[str, Any]] = {}
    for s, p, o in triples:
        node = nodes.setdefault(s, {"@id": str(s)})
        if p == TYPE:
            node.setdefault("@type", []).append(str(o))
        elif isinstance(o, Literal):
            value = {"@value": o.text} | ({} if o.datatype == STRING else {"@type": o.datatype})
            node.setdefault(str(p), []).append(value)
        else:
            node.setdefault(str(p), []).append({"@id": str(o)})
    return list(nodes.values())
