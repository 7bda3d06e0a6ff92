"""Statements to RDF and back: nothing is lost, other readers see the same, and changes are noticed."""

import json
from collections.abc import Iterable

import pyoxigraph
import pytest
import rdflib
from hypothesis import given, settings
from hypothesis import strategies as st
from random_rows import AMOUNT, ROWS, good_row
from rdflib.compare import isomorphic, to_isomorphic

from graph.errors import BadFile
from graph.model.finding import Finding
from graph.model.sheet import BY_NAME, SHEETS, Sheet
from graph.model.statement import Evidence, Statement
from graph.triples import MEDIA, pieces, serialise, statements, to_triples
from ontology.terms import ID, NS
from ontology.terms import SHEETS as TERMS

RDFLIB = {
    "text/turtle": "turtle",
    "application/n-quads": "nquads",
    "application/n-triples": "nt",
    "application/ld+json": "json-ld",
}
OXIGRAPH = {
    "text/turtle": pyoxigraph.RdfFormat.TURTLE,
    "application/n-quads": pyoxigraph.RdfFormat.N_QUADS,
    "application/n-triples": pyoxigraph.RdfFormat.N_TRIPLES,
    "application/ld+json": pyoxigraph.RdfFormat.JSON_LD,
}
HEAD = """@prefix sw: <https://spoolwright.example/ns#> .
@prefix rdf: <http://www.w3.org/1999/02/22-rdf-syntax-ns#> .
@prefix qudt: <http://qudt.org/schema/qudt/> .
@prefix unit: <http://qudt.org/vocab/unit/> .
@prefix quantitykind: <http://qudt.org/vocab/quantitykind/> .
@prefix x: <https://other.example/> .
"""


def written(rows: Iterable[Statement], media: str, **more: str) -> bytes:
    return b"".join(serialise(rows, media, **more))


def read(text: str) -> list[Statement | Finding]:
    return list(statements(text.encode(), "text/turtle", file="shop.ttl"))


def codes(found: Iterable[Statement | Finding]) -> list[str]:
    return [f.code for f in found if isinstance(f, Finding)]


@pytest.mark.parametrize("media", MEDIA)
@given(st.lists(ROWS, min_size=1, max_size=3))
@settings(max_examples=60, deadline=None)
def test_law_what_is_written_reads_back_with_the_same_ids(media: str, rows: list[Statement]) -> None:
    back = list(statements(written(rows, media), media))
    once = list({row.id: row for row in rows}.values())
    assert back == once
    assert [b.id for b in back if isinstance(b, Statement)] == [row.id for row in once]


@pytest.mark.parametrize("media", MEDIA)
def test_a_full_row_of_every_sheet_reads_back(media: str) -> None:
    rows = [good_row(sheet) for sheet in SHEETS]
    assert list(statements(written(rows, media), media)) == rows


def by_rdflib(data: bytes, media: str) -> rdflib.Graph:
    if media == "application/n-quads":
        whole = rdflib.Dataset(default_union=True)
        whole.parse(data=data, format="nquads")
        flat = rdflib.Graph()
        for s, p, o, _ in whole.quads():
            flat.add((s, p, o))
        return flat
    return rdflib.Graph().parse(data=data, format=RDFLIB[media])


def by_oxigraph(data: bytes, media: str) -> rdflib.Graph:
    lines = "".join(f"{q.triple} .\n" for q in pyoxigraph.parse(input=data, format=OXIGRAPH[media]))
    return rdflib.Graph().parse(data=lines, format="nt")


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # rdflib of its own readers
@pytest.mark.parametrize("media", MEDIA)
def test_two_independent_readers_see_the_triples_that_we_mean(media: str) -> None:
    rows = [good_row(sheet) for sheet in SHEETS]
    meant = to_isomorphic(to_triples(rows))
    data = written(rows, media)
    assert isomorphic(by_rdflib(data, media), meant)
    assert isomorphic(by_oxigraph(data, media), meant)


# rdflib reads neither NUL nor the line ends of other alphabets in every medium, so that it is spared them here.
TAME = ROWS.filter(lambda row: all(c.isprintable() for c in json.dumps(row.content(), ensure_ascii=False)))


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # rdflib of its own readers
@pytest.mark.parametrize("media", ["text/turtle", "application/ld+json"])
@given(TAME)
@settings(max_examples=40, deadline=None)
def test_law_both_readers_agree_on_random_rows(media: str, row: Statement) -> None:
    data = written([row], media)
    assert isomorphic(by_rdflib(data, media), by_oxigraph(data, media))


def test_n_quads_put_a_row_into_the_graph_of_its_source_or_change_set() -> None:
    row = good_row(BY_NAME["kinds"])
    named = {q.graph_name.value for q in pyoxigraph.parse(input=written([row], MEDIA[1]), format=OXIGRAPH[MEDIA[1]])}
    assert named == {ID + "source/drawing%2012"}
    given_set = written([row], MEDIA[1], change_set="c7")
    named = {q.graph_name.value for q in pyoxigraph.parse(input=given_set, format=OXIGRAPH[MEDIA[1]])}
    assert named == {ID + "change-set/c7"}


def test_a_row_that_stands_in_two_graphs_is_read_once() -> None:
    row = good_row(BY_NAME["rules"])
    twice = written([row], MEDIA[1]) + written([row], MEDIA[1], change_set="c7")
    assert list(statements(twice, MEDIA[1])) == [row]


def test_a_list_that_is_written_twice_is_one_list() -> None:
    row = good_row(BY_NAME["joints"])
    data = written([row], "text/turtle")
    assert list(statements(data + data, "text/turtle")) == [row]


def test_an_amount_carries_its_exact_size_in_a_qudt_unit() -> None:
    # 2 1/16 in = 2.0625 × 25.4 mm = 52.3875 mm, by the definition of the inch (NIST SP 811, B.8)
    row = Statement("values", {"maker": "Ostrel", "number": "1", "feature": "bore", "value": AMOUNT})
    asked = """
        PREFIX qudt: <http://qudt.org/schema/qudt/>
        PREFIX sw: <https://spoolwright.example/ns#>
        SELECT ?n ?u WHERE { ?s sw:value ?v . ?v qudt:numericValue ?n ; qudt:hasUnit ?u }"""
    [[number, unit]] = to_triples([row]).query(asked)
    assert (str(number), str(unit)) == ("52.3875", "http://qudt.org/vocab/unit/MilliM")


def test_the_graph_can_be_walked_from_an_engine_to_the_parts_of_its_units() -> None:
    unit = {"maker": "Ostrel", "unit": "U1"}
    machine = {"machine_maker": "Tarnholt", "machine": "T3", "unit_maker": "Ostrel", "unit": "U1"}
    rows = [
        Statement("kinds", {"kind": "wheel", "label": "wheel"}),
        Statement("parts", {"maker": "Ostrel", "number": "W 1", "kind": "wheel"}),
        Statement("parts", {"maker": "Ostrel", "number": "W 2", "kind": "wheel"}),
        Statement("supersession", {"maker": "Ostrel", "old": "W 1", "new": "W 2"}),
        Statement("unit_seats", unit | {"seat": "hub", "part_maker": "Ostrel", "part_number": "W 1"}),
        Statement("fitments", machine | {"engine_maker": "Brackmoor", "engine": "B6"}),
        Statement("limits", {"maker": "Ostrel", "unit_or_part": "W 1", "feature": "bore"}),
    ]
    store = pyoxigraph.Store()
    store.extend(pyoxigraph.parse(input=written(rows, "text/turtle"), format=pyoxigraph.RdfFormat.TURTLE))
    asked = """
        PREFIX sw: <https://spoolwright.example/ns#>
        SELECT ?engine ?now ?limit WHERE {
            ?unit sw:fittedTo ?engine . ?seat sw:seatOf ?unit ; sw:atSeat "hub" .
            ?part sw:sitsIn ?seat ; sw:ofKind ?kind .
            ?now sw:supersedes ?part . ?part sw:carriesNumber ?item . ?limit sw:about ?item ; a sw:LimitStatement }"""
    [found] = store.query(asked)
    assert found["engine"].value == ID + "engine/Brackmoor/B6"
    assert found["now"].value == ID + "part/Ostrel/W%202"
    assert found["limit"].value.endswith(rows[-1].id)


def test_a_two_way_supersession_is_walked_both_ways() -> None:
    row = Statement("supersession", {"maker": "O", "old": "1", "new": "2", "two_way": True})
    pairs = {(str(s)[-1], str(o)[-1]) for s, o in to_triples([row]).subject_objects(rdflib.URIRef(NS + "supersedes"))}
    assert pairs == {("1", "2"), ("2", "1")}


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda s: s.name)
def test_every_row_says_what_it_is_about(sheet: Sheet) -> None:
    row = good_row(sheet)
    [about] = to_triples([row]).objects(None, rdflib.URIRef(NS + "about"))
    assert str(about).startswith(ID + TERMS[sheet.name].thing + "/")


# ── Turtle that somebody else wrote ───────────────────────────────────────────────────────────────────────────


def test_a_hand_written_row_may_be_a_blank_node_with_a_number_and_a_unit() -> None:
    text = """[] a sw:ValueStatement ; sw:maker "Ostrel" ; sw:number "0012" ; sw:feature "bore" ;
        sw:value [ a sw:Amount ; qudt:hasQuantityKind quantitykind:Length ;
                   qudt:numericValue 2.0625 ; qudt:hasUnit unit:IN ] ."""
    [row] = read(HEAD + text)
    assert isinstance(row, Statement)
    # 2.0625 × 254 000 000 quanta of 100 pm, by the definition of the inch
    value = {"amount": 523_875_000, "quantity": "length", "text": "2.0625", "unit": "in"}
    assert row.fields == {"maker": "Ostrel", "number": "0012", "feature": "bore", "value": value}


def test_a_temperature_has_a_zero_and_its_tolerance_has_none() -> None:
    node = "[ a sw:Amount ; qudt:hasQuantityKind quantitykind:ThermodynamicTemperature ;"
    node += " qudt:numericValue %s ; qudt:hasUnit unit:DEG_C ]"
    text = f'[] a sw:ValueStatement ; sw:maker "O" ; sw:value {node % 20} ; sw:tolerance {node % 5} .'
    [row] = read(HEAD + text)
    assert isinstance(row, Statement)
    # 0 °C is 273.15 K by the definition of the Celsius scale (SI brochure, 2.3.1)
    assert (row.fields["value"]["amount"], row.fields["tolerance"]["amount"]) == (293_150, 5_000)


LENGTH = "[] a sw:ValueStatement ; sw:value [ a sw:Amount ; qudt:hasQuantityKind quantitykind:Length"
LUMINANCE = LENGTH.replace("Length", "Luminance")
CODE = "[] a sw:ValueStatement ; sw:value [ a sw:Code ; sw:codeWord"
KIND = '[] a sw:KindStatement ; sw:kind "x"'
FAULTS = {
    "an unknown column": (f'{KIND} ; sw:colour "red" .', ["unknown-column"]),
    "a column of another sheet": (f'{KIND} ; sw:tag "x" .', ["unknown-column"]),
    "an unknown sheet": ('[] a sw:ColourStatement ; sw:kind "x" .', ["unknown-sheet"]),
    "two sheets": ('[] a sw:KindStatement, sw:PartStatement ; sw:kind "x" .', ["two-sheets"]),
    "no sheet": ('[] sw:kind "x" .', ["not-read", "no-statements"]),
    "nothing": ("", ["no-statements"]),
    "two labels": (f'{KIND} ; sw:label "x", "y" .', ["several-values"]),
    "a language": (f'{KIND} ; sw:label "x"@en .', ["wrong-type"]),
    "a number as text": (f"{KIND} ; sw:label 12 .", ["wrong-type"]),
    "a text as yes": (f'{KIND} ; sw:oneTime "yes" .', ["wrong-type"]),
    "a fraction as count": ("[] a sw:StockStatement ; sw:quantity 1.5 .", ["wrong-type"]),
    "a count without end": (f"[] a sw:StockStatement ; sw:quantity {'9' * 10_000} .", ["wrong-type"]),
    "a text as amount": ('[] a sw:ValueStatement ; sw:value "52" .', ["wrong-type"]),
    "an amount without number": (f"{LENGTH} ] .", ["wrong-type"]),
    "an amount without unit": (f"{LENGTH} ; qudt:numericValue 1.0 ] .", ["wrong-type"]),
    "an amount in a unit of mass": (f"{LENGTH} ; qudt:numericValue 1.0 ; qudt:hasUnit unit:GM ] .", ["wrong-type"]),
    "an amount of two sizes": (
        f"{LENGTH} ; sw:quanta 5 ; qudt:numericValue 1.0 ; qudt:hasUnit unit:IN ] .",
        ["several-values"],
    ),
    "an amount that is right only in another unit": (
        f"{LENGTH} ; sw:quanta 10000000 ; qudt:numericValue 1.0 ; qudt:hasUnit unit:IN ] .",
        ["several-values"],
    ),
    "an unknown quantity": (f"{LUMINANCE} ; sw:quanta 5 ] .", ["wrong-type"]),
    "a code in another spelling": (f'{CODE} "M12" ] .', ["wrong-type"]),
    "a code of two words": (f'{CODE} "a", "b" ] .', ["several-values"]),
    "a value with more": (f'{CODE} "a" ; sw:note "b" ] .', ["unknown-column"]),
    "a list without end": (
        '[] a sw:JointStatement ; sw:seats _:l . _:l rdf:first "a" ; rdf:rest _:l .',
        ["wrong-type"],
    ),
    "a broken list": ('[] a sw:JointStatement ; sw:seats [ rdf:first "a" ] .', ["wrong-type"]),
    "a foreign property": (f'{KIND} ; x:p "y" .', ["not-read"]),
    "a foreign node": (f'{KIND} . x:s x:p "y" .', ["not-read"]),
    "broken Turtle": ("[] a sw:KindStatement ; sw:kind .", ["bad-rdf"]),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_in_foreign_turtle_is_found_and_said_once(name: str) -> None:
    text, expected = FAULTS[name]
    found = read(HEAD + text)
    assert codes(found) == expected
    assert all(f.why and f.mend and f.origin.file == "shop.ttl" for f in found if isinstance(f, Finding))
    warned = all(f.severity == "warning" for f in found if isinstance(f, Finding))
    assert any(isinstance(f, Statement) for f in found) == warned


def test_all_faults_of_a_row_are_found_at_once() -> None:
    text = '[] a sw:KindStatement ; sw:label 12 ; sw:oneTime "yes" ; sw:colour "red" .'
    assert sorted(codes(read(HEAD + text))) == ["unknown-column", "wrong-type", "wrong-type"]


def test_a_syntax_error_names_its_line() -> None:
    [found] = read(HEAD + "\n\n[] a sw:KindStatement ; sw:kind .")
    assert isinstance(found, Finding)
    assert found.origin.row == HEAD.count("\n") + 3


def test_a_row_changed_after_export_is_noticed() -> None:
    data = written([good_row(BY_NAME["prices"])], "text/turtle").replace(b"12050", b"11050")
    assert codes(statements(data, "text/turtle")) == ["id-mismatch"]


def test_a_row_that_lost_a_cell_is_noticed() -> None:
    data = written([good_row(BY_NAME["prices"])], MEDIA[2]).splitlines(keepends=True)
    kept = b"".join(line for line in data if b"leadDays" not in line)
    assert codes(statements(kept, MEDIA[2])) == ["id-mismatch"]


def test_a_medium_that_is_not_written_is_refused() -> None:
    with pytest.raises(BadFile, match="rdf\\+xml"):
        serialise([], "application/rdf+xml")


def test_evidence_is_kept_apart_from_a_sheets_own_date_and_source() -> None:
    row = Statement("sources", {"source": "a", "kind": "heard", "date": "2001"}, Evidence("b", "shop", "2002", "n"))
    [back] = statements(written([row], "text/turtle"), "text/turtle")
    assert back == row


def test_a_long_file_is_cut_between_rows_and_loses_nothing() -> None:
    rows = [good_row(sheet) for sheet in SHEETS]
    for media in ("application/n-quads", "application/n-triples"):
        data = written(rows, media)
        cut = list(pieces(data.splitlines(keepends=True), 2_000))
        assert len(cut) > 10
        assert b"".join(cut) == data
        assert [row for piece in cut for row in statements(piece, media)] == rows


def test_a_foreign_row_is_never_cut_in_two() -> None:
    x = "<https://other.example/1>"
    begin, end = f"{x} a:t <{NS}KindStatement> .\n", f'{x} <{NS}kind> "x" .\n'
    begin = begin.replace("a:t", "<http://www.w3.org/1999/02/22-rdf-syntax-ns#type>")
    ours = written([good_row(sheet) for sheet in SHEETS], "application/n-triples")
    cut = list(pieces((ours + begin.encode() + ours + end.encode()).splitlines(keepends=True), 2_000))
    assert len(cut) > 10
    assert Statement("kinds", {"kind": "x"}) in list(statements(cut[-1], "application/n-triples"))
