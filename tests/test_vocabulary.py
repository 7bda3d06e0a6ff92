"""The vocabulary against the model: no sheet, column, word or unit without a term, and no term without its words."""

import json
import re
from fractions import Fraction
from pathlib import Path

import pint
import pytest
from rdflib import OWL, RDF, RDFS, SKOS, Graph, URIRef
from vocabulary_page import CODES, PAGE, page

from graph.model.sheet import DEMAND_TYPES, EFFECTS, EVIDENCE, RANK_CHOICE, RULE_TYPES, SHEETS, Sheet
from graph.model.value import QUANTITIES as KEPT
from graph.model.verdict import Verdict
from graph.triples import check, guard, read
from graph.triples.links import LINKS, ON_STATEMENTS
from graph.triples.serial import context
from ontology import quantities, terms
from ontology.terms import NS, PREFIXES, QUANTITIES, QUANTITYKIND, QUDT, UNIT

ONTOLOGY = Path(terms.__file__).parent
WORDS = Graph().parse(ONTOLOGY / "parts.ttl")
MEASURES = Graph().parse(ONTOLOGY / "quantities.ttl")
SHAPES = Graph().parse(ONTOLOGY / "shapes.ttl")
LABELS = (RDFS.label, SKOS.prefLabel)


def ours(triples: Graph) -> set[URIRef]:
    """Every term of our namespace that a graph mentions, in whatever place."""
    return {t for triple in triples for t in triple if isinstance(t, URIRef) and t.startswith(NS)}


def test_the_sheets_have_the_same_names_in_the_model_and_in_the_vocabulary() -> None:
    assert [sheet.name for sheet in SHEETS] == list(terms.SHEETS)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda s: s.name)
def test_every_column_has_a_property_of_its_own_with_label_and_definition(sheet: Sheet) -> None:
    known = terms.SHEETS[sheet.name]
    assert [c.name for c in sheet.columns] == list(known.columns)
    assert len(set(known.columns.values()) | set(terms.EVIDENCE.values())) == len(known.columns) + len(EVIDENCE)
    assert set(known.thing_columns) <= set(sheet.key)
    assert (URIRef(known.iri), RDF.type, OWL.Class) in WORDS
    for name in known.columns.values():
        assert WORDS.value(URIRef(NS + name), RDFS.label), name
        assert WORDS.value(URIRef(NS + name), SKOS.definition), name


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda s: s.name)
def test_a_ranked_sheet_is_a_claim_and_a_settled_one_is_not(sheet: Sheet) -> None:
    upper = WORDS.value(URIRef(terms.SHEETS[sheet.name].iri), RDFS.subClassOf)
    assert upper == URIRef(NS + ("Claim" if sheet.settled == "ranked" else "Statement"))


def test_the_evidence_columns_have_properties() -> None:
    assert [c.name for c in EVIDENCE] == list(terms.EVIDENCE)


RANGES = {
    "yesno": "xsd:boolean",
    "count": "xsd:integer",
    "list": "rdf:List",
    "value": "sw:Value",
    "money": "sw:Money",
    "size": "sw:Amount",
    "amount": "sw:Amount",
}


def test_the_range_of_a_property_is_what_its_columns_hold() -> None:
    for sheet in SHEETS:
        for column in sheet.columns:
            name = terms.SHEETS[sheet.name].columns[column.name]
            prefix, _, local = RANGES.get(column.type, "xsd:string").partition(":")
            assert WORDS.value(URIRef(NS + name), RDFS.range) == URIRef(PREFIXES[prefix] + local), name


@pytest.mark.parametrize("triples", [WORDS, MEASURES], ids=["parts", "quantities"])
def test_every_term_has_a_label_and_an_english_definition(triples: Graph) -> None:
    for subject in set(triples.subjects()):
        assert any(triples.value(subject, label) for label in LABELS), subject
        definition = triples.value(subject, SKOS.definition)
        assert definition is not None, subject
        assert definition.language == "en"  # type: ignore[attr-defined]
        assert str(definition).endswith("."), subject


def test_no_two_terms_have_the_same_definition() -> None:
    definitions = [str(d) for d in WORDS.objects(None, SKOS.definition)]
    assert len(definitions) == len(set(definitions))


def test_every_term_that_is_used_is_defined() -> None:
    defined = set(WORDS.subjects()) | set(MEASURES.subjects())
    written = {URIRef(p) for p in LINKS | ON_STATEMENTS if p.startswith(NS)}
    named = {URIRef(NS + e) for e in terms.RULE_CLASSES.values()}
    entries = [e["@id"] if isinstance(e, dict) else str(e) for key, e in context().items() if key not in PREFIXES]
    in_context = {URIRef(NS + iri.removeprefix("sw:")) for iri in entries if iri.startswith("sw:")}
    for used in (ours(WORDS), ours(MEASURES), ours(SHAPES), written, named, in_context):
        assert used - defined == set()


def test_every_property_stands_in_the_json_context() -> None:
    kinds = (OWL.DatatypeProperty, OWL.ObjectProperty, RDF.Property)
    properties = {str(s).removeprefix(NS) for kind in kinds for s in WORDS.subjects(RDF.type, kind)}
    assert properties <= set(context())


def test_the_context_is_one_object_in_a_file_of_its_own() -> None:
    assert list(json.loads((ONTOLOGY / "context.jsonld").read_text(encoding="utf-8"))) == ["@context"]


@pytest.mark.parametrize(
    ("scheme", "prefix", "words"),
    [
        ("ranks", "rank-", RANK_CHOICE),
        ("effects", "effect-", EFFECTS),
        ("demandTypes", "demand-", DEMAND_TYPES),
        ("states", "state-", ("present", "missing", "scrap", "cracked")),
        ("verdicts", "verdict-", tuple(v.value.replace(" ", "_") for v in Verdict)),
    ],
)
def test_a_list_of_words_is_the_one_of_the_model(scheme: str, prefix: str, words: tuple[str, ...]) -> None:
    found = {str(s).removeprefix(NS + prefix) for s in WORDS.subjects(SKOS.inScheme, URIRef(NS + scheme))}
    assert found == set(words)


def test_every_type_of_rule_is_a_class_below_fit_rule() -> None:
    assert tuple(terms.RULE_CLASSES) == RULE_TYPES
    classes = {str(s).removeprefix(NS) for s in WORDS.subjects(RDFS.subClassOf, URIRef(NS + "FitRule"))}
    assert classes == set(terms.RULE_CLASSES.values())


# ── Quantities and units ──────────────────────────────────────────────────────────────────────────────────────

PINT = pint.UnitRegistry()
# The quanta as the table of graph/model/value.py prints them, in the spelling of pint, which stands as witness.
QUANTA = {
    "length": "100 pm", "area": "1 um**2", "angle": f"{1 / 3_600_000_000!r} degree", "mass": "1 ng",
    "speed": "0.001 revolution/minute", "velocity": "1 um/s", "pressure": "1 mPa", "temperature": "1 mK",
    "time": "1 ms", "torque": "1 uN*m", "power": "1 mW", "flow": "1 mg/s",
    "unbalance": "1 ug*mm", "count": "1", "ratio": "0.000001",
    "volume": "1 mm**3",
}  # fmt: skip
STORED = {"MilliM": "mm", "MilliM2": "mm**2", "ARCSEC": "arcsecond", "GM": "g", "REV-PER-MIN": "revolution/minute",
          "M-PER-SEC": "m/s", "PA": "Pa", "K": "K", "SEC": "s", "N-M": "N*m", "W": "W", "KiloGM-PER-SEC": "kg/s",
          "GM-MilliM": "g*mm", "NUM": "", "UNITLESS": "", "MilliM3": "mm**3"}  # fmt: skip


@pytest.mark.parametrize("name", KEPT)
def test_a_quantum_is_as_large_as_the_table_says(name: str) -> None:
    known = QUANTITIES[name]
    subject = URIRef(f"{NS}quantity-{name}")
    assert MEASURES.value(subject, URIRef(QUDT + "hasQuantityKind")) == URIRef(QUANTITYKIND + known.kind)
    assert MEASURES.value(subject, URIRef(NS + "storedIn")) == URIRef(UNIT + known.unit)
    size = Fraction(str(MEASURES.value(subject, URIRef(NS + "quantumSize"))))
    assert size == Fraction(1, 10**known.decimals)
    witness = PINT.Quantity(QUANTA[name]).to(STORED[known.unit]).magnitude
    assert float(size) == pytest.approx(witness, rel=1e-12)


def test_the_quantities_are_those_of_the_model_each_with_a_kind_of_its_own() -> None:
    assert tuple(QUANTITIES) == KEPT
    assert len({known.kind for known in QUANTITIES.values()}) == len(KEPT)


def test_the_units_are_those_that_are_read_with_the_same_numbers() -> None:
    found = {}
    for subject in MEASURES.subjects(RDF.type, URIRef(QUDT + "Unit")):
        quantity = str(MEASURES.value(subject, URIRef(NS + "inQuantity"))).removeprefix(NS + "quantity-")
        names = frozenset(str(n) for n in MEASURES.objects(subject, URIRef(NS + "writtenAs")))
        numbers = [Fraction(str(MEASURES.value(subject, URIRef(NS + p)))) for p in ("quantaEach", "zeroAt")]
        iri = str(subject) if subject.startswith(UNIT) else ""
        found[quantity, names] = (*numbers, iri)
    for unit in quantities.UNITS:
        scale, offset, iri = found.pop((unit.quantity, frozenset((unit.symbol, *unit.names))))
        assert (scale, offset) == (unit.scale, unit.offset)
        assert iri == unit.iri or not unit.iri
    assert not found


def test_the_page_says_what_the_vocabulary_says() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python tests/support/vocabulary_page.py"


def test_the_page_lists_every_code_that_reading_may_give() -> None:
    source = "".join(Path(str(module.__file__)).read_text(encoding="utf-8") for module in (check, guard, read))
    told = re.findall(r'(?:fault\(\s*(?:self\.)?file,|_Wrong\(|Finding\()\s*"([a-z-]+)"', source)
    told += re.findall(r'code = "([a-z-]+)" if ours else "([a-z-]+)"', source)[0]
    assert set(told) == set(CODES)
