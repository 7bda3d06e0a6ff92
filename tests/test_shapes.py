"""The shapes: every one has a sentence, passes a good row, and catches each bad cell; forms say what shapes say."""

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyshacl import validate as pyshacl_validate
from random_rows import AMOUNT, ROWS, good_cell, good_row
from rdflib import RDF, RDFS, Graph, URIRef
from rdflib.namespace import SH

from graph.model.finding import Finding, Origin
from graph.model.sheet import BY_NAME, SHEETS, Column, Sheet
from graph.model.statement import Statement
from graph.triples import to_triples
from graph.triples.check import Checker, batches, findings, result
from ontology.forms import FORM_COMPONENTS
from ontology.report import report, sentences
from ontology.terms import NS
from ontology.terms import SHEETS as TERMS
from ontology.validate import shapes, validate

WHOLE = shapes()


def column_of(found: Finding) -> str:
    return found.origin.column


def test_every_shape_and_every_property_of_it_has_a_plain_sentence() -> None:
    nodes = set(WHOLE.subjects(RDF.type, SH.NodeShape))
    cells = set(WHOLE.objects(None, SH.property)) | set(WHOLE.subjects(SH.path))
    assert len(nodes) == len(SHEETS) + 4
    for shape in nodes | cells:
        [message] = WHOLE.objects(shape, SH.message)
        assert message.language == "en"  # type: ignore[attr-defined]
        assert str(message).endswith(".")
        assert ": " in str(message), "what is wrong, a colon, how to mend it"


def test_every_sheet_and_every_column_has_a_shape() -> None:
    for sheet in SHEETS:
        known = TERMS[sheet.name]
        [shape] = WHOLE.subjects(SH.targetClass, URIRef(known.iri))
        assert WHOLE.value(shape, RDFS.label)
        paths = {WHOLE.value(p, SH.path) for p in WHOLE.objects(shape, SH.property)}
        assert {URIRef(NS + name) for name in known.columns.values()} <= paths
        for column in sheet.columns:
            of = [p for p in WHOLE.objects(shape, SH.property)
                  if WHOLE.value(p, SH.path) == URIRef(NS + known.columns[column.name])]  # fmt: skip
            assert len(of) == 1
            assert (WHOLE.value(of[0], SH.minCount) is not None) == column.needed, (sheet.name, column.name)


def test_the_shapes_use_nothing_that_a_form_does_not_show() -> None:
    assert set(WHOLE.predicates()) <= FORM_COMPONENTS


def test_no_shape_refers_to_another_node_shape() -> None:
    # pyshacl cuts recursion off in silence, so that there must be none
    nodes = set(WHOLE.subjects(RDF.type, SH.NodeShape))
    assert not any(o in nodes for o in WHOLE.objects())


@pytest.mark.parametrize("pattern", sorted({str(p) for p in WHOLE.objects(None, SH.pattern)}))
def test_every_pattern_is_linear(pattern: str) -> None:
    # No repeat inside a repeat, and no two repeats side by side that could share a character: a backtracking engine
    # then has one way to go at each place.
    assert not re.search(r"[+*]\)[+*]|[+*][+*]|\.\*|\.\+", pattern)
    assert pattern.startswith("^")
    assert pattern.endswith("$")


@pytest.mark.parametrize("full", [True, False], ids=["full", "short"])
@pytest.mark.parametrize("sheet", SHEETS, ids=lambda s: s.name)
def test_a_good_row_of_every_sheet_conforms(sheet: Sheet, full: bool) -> None:
    assert list(findings([good_row(sheet, full=full)])) == []


def bad_cells(column: Column) -> list[Any]:
    """Cells that the column must not hold; each breaks another constraint."""
    money = {"minor": -1, "text": "-0.01"}
    match column.type:
        case "choice":
            return ["sideways", 5]
        case "yesno":
            return ["yes", 1]
        case "count":
            return [-1, "three"]
        case "date":
            return ["20.11.2026", "soon", 5]
        case "list":
            return [["a", ""], "a|b"]
        case "value":
            return ["52", money, {"code": "", "text": ""}, {"codes": ["", "a"], "text": ""}]
        case "size":
            below = (
                [dict(AMOUNT) | {"amount": -1}] if column.name in ("tolerance", "uncertainty", "core_shift") else []
            )
            return ["52", {"code": "a", "text": "a"}, *below]
        case "amount":
            other = {"amount": 1_000_000_000, "quantity": "mass", "text": "1", "unit": "g"}
            return ["52", other, good_cell(column) | {"amount": -1}]
        case "money":
            return ["52", money, dict(AMOUNT)]
        case _:
            return ["", 5, *(["euro"] if column.name == "currency" else [])]


CELLS = [(sheet, column) for sheet in SHEETS for column in sheet.columns]


def test_every_bad_cell_of_every_sheet_is_caught_at_its_column() -> None:
    rows: list[Statement] = []
    expected: set[tuple[int, str]] = set()

    def add(good: Statement, fields: dict[str, Any], column: str) -> None:
        expected.add((len(rows), column))
        rows.append(replace(good, fields=fields, origin=Origin("f", good.sheet, len(rows))))

    for sheet, column in CELLS:
        good = good_row(sheet)
        for bad in bad_cells(column):
            add(good, {**good.fields, column.name: bad}, column.name)
        if column.needed:
            add(good, {name: cell for name, cell in good.fields.items() if name != column.name}, column.name)
    assert {(f.origin.row, f.origin.column) for f in findings(rows)} == expected


@pytest.mark.parametrize(("name", "text"), [("rank", "sideways"), ("date", "soon"), ("date", "20.11.2026")])
def test_bad_evidence_is_caught(name: str, text: str) -> None:
    good = good_row(BY_NAME["kinds"])
    bad = replace(good, evidence=replace(good.evidence, **{name: text}))
    assert [column_of(f) for f in findings([bad])] == [name]


def test_a_rule_must_name_a_seat_and_a_feature() -> None:
    good = good_row(BY_NAME["rules"])
    for left in ("bore", ".bore", "wheel.", "a\n.b"):
        assert [column_of(f) for f in findings([replace(good, fields={**good.fields, "left": left})])] == ["left"]


PREFIXES = """@prefix sw: <https://spoolwright.example/ns#> .
@prefix qudt: <http://qudt.org/schema/qudt/> .
@prefix quantitykind: <http://qudt.org/vocab/quantitykind/> .
"""
AN_AMOUNT = "[] a sw:Amount ; qudt:hasQuantityKind quantitykind:Length"
A_LIGHT = "[] a sw:Amount ; qudt:hasQuantityKind quantitykind:Luminance ; sw:quanta 1 ."
A_RATE = '[] a sw:RateStatement ; sw:rateName "a" ; sw:perHour [ a sw:Money ; sw:minorUnits 1 ] ; sw:currency "EUR"'
NODES = {
    "an amount without quanta": (f"{AN_AMOUNT} .", "quanta"),
    "an amount with two": (f"{AN_AMOUNT} ; sw:quanta 1, 2 .", "quanta"),
    "an amount with half a quantum": (f"{AN_AMOUNT} ; sw:quanta 1.5 .", "quanta"),
    "an amount of nothing": ("[] a sw:Amount ; sw:quanta 1 .", "hasQuantityKind"),
    "an amount of light": (A_LIGHT, "hasQuantityKind"),
    "an amount with a number as text": (f"{AN_AMOUNT} ; sw:quanta 1 ; sw:asWritten 1 .", "asWritten"),
    "an amount with two units": (f'{AN_AMOUNT} ; sw:quanta 1 ; sw:unitAsWritten "a", "b" .', "unitAsWritten"),
    "a code without a word": ("[] a sw:Code .", "codeWord"),
    "a code with two texts": ('[] a sw:Code ; sw:codeWord "a" ; sw:asWritten "a", "A" .', "asWritten"),
    "a code set with an empty word": ('[] a sw:CodeSet ; sw:codeWord "a", "" .', "codeWord"),
    "a code set with two texts": ('[] a sw:CodeSet ; sw:asWritten "a", "A" .', "asWritten"),
    "money without a sum": ("[] a sw:Money .", "minorUnits"),
    "money below nothing": ("[] a sw:Money ; sw:minorUnits -1 .", "minorUnits"),
    "money with two texts": ('[] a sw:Money ; sw:minorUnits 1 ; sw:asWritten "a", "A" .', "asWritten"),
    "a row with two notes": (f'{A_RATE} ; sw:note "a", "b" .', "note"),
    "a row with two sources": (f'{A_RATE} ; sw:saidBy "a", "b" .', "saidBy"),
    "a row with two days": (f'{A_RATE} ; sw:saidOn "2025", "2026" .', "saidOn"),
    "a row with two ranks": (f'{A_RATE} ; sw:rank "shop", "heard" .', "rank"),
}


@pytest.mark.parametrize("name", NODES)
def test_a_bad_node_is_caught_at_its_property(name: str) -> None:
    text, expected = NODES[name]
    found = validate(Graph().parse(data=PREFIXES + text, format="turtle"))
    assert {r.path.rpartition("#")[2].rpartition("/")[2] for r in found} == {expected}
    assert all(r.message and r.component.startswith(str(SH)) for r in found)


# ── The report ────────────────────────────────────────────────────────────────────────────────────────────────


def bad_row() -> Statement:
    return replace(good_row(BY_NAME["kinds"]), fields={"kind": "", "label": "x", "one_time": "yes"})


def test_the_report_has_what_the_standard_asks_for() -> None:
    """W3C SHACL (2017), 3.6: one report with conforms, and for each result focus, severity and component once."""
    found = validate(to_triples([bad_row()]))
    triples = report(found)
    [top] = triples.subjects(RDF.type, SH.ValidationReport)
    assert [str(v) for v in triples.objects(top, SH.conforms)] == ["false"]
    nodes = list(triples.objects(top, SH.result))
    assert len(nodes) == len(found) == 2
    for node in nodes:
        for once in (SH.focusNode, SH.resultSeverity, SH.sourceConstraintComponent, SH.resultMessage):
            assert len(list(triples.objects(node, once))) == 1
    assert all(p == RDF.type or p.startswith(str(SH)) for p in triples.predicates())


def test_our_report_agrees_with_the_one_of_pyshacl() -> None:
    triples = to_triples([bad_row()])
    _, theirs, _ = pyshacl_validate(triples, shacl_graph=shapes(), inference="none", advanced=False)
    ours = report(validate(to_triples([bad_row()])))
    what = (SH.focusNode, SH.resultPath, SH.sourceConstraintComponent, SH.resultSeverity)

    def rows(triples: Graph) -> set[tuple[object, ...]]:
        results = triples.subjects(RDF.type, SH.ValidationResult)
        return {tuple(triples.value(r, p) for p in what) for r in results}

    assert rows(ours) == rows(theirs)


def test_an_empty_report_conforms() -> None:
    triples = report([])
    [top] = triples.subjects(RDF.type, SH.ValidationReport)
    assert [str(v) for v in triples.objects(top, SH.conforms)] == ["true"]


def test_a_finding_of_plain_code_goes_into_the_report() -> None:
    origin = Origin("shop.xlsx", "kinds", 7, "label")
    found = result(Finding("missing-cell", "warning", origin, "", "This cell must not be empty.", "Fill it in."))
    triples = report([found])
    assert str(next(triples.objects(None, SH.focusNode))).endswith("/id/row/shop.xlsx/kinds/7")
    assert next(triples.objects(None, SH.resultPath)) == URIRef(NS + "label")
    assert next(triples.objects(None, SH.resultSeverity)) == SH.Warning
    assert sentences([found]) == [f"This cell must not be empty. Fill it in. (at {found.focus})"]


def test_the_shapes_are_fresh_for_every_call() -> None:
    before = len(shapes())
    validate(to_triples([bad_row()]))
    shapes().remove((None, None, None))
    assert len(shapes()) == before


# ── Forms ─────────────────────────────────────────────────────────────────────────────────────────────────────


def in_full(rows: list[Statement]) -> set[tuple[str, str]]:
    """What SHACL itself says of every single row: the statement's id and the sentence."""
    said = validate(to_triples(rows))
    return {(r.focus.rpartition("/")[2].partition("-")[0], r.message) for r in said}


@given(st.lists(ROWS, min_size=2, max_size=6))
@settings(max_examples=25, deadline=None)
def test_law_forms_say_of_every_row_what_shacl_says_of_it(rows: list[Statement]) -> None:
    marked = [replace(row, origin=Origin(row.id)) for row in rows]
    # twice: first the forms are learnt, then they are only remembered
    checker = Checker()
    for _ in range(2):
        said = {(f.origin.file, f"{f.why}: {f.mend}") for f in checker.findings(marked)}
        assert said == in_full(rows)


def test_rows_that_differ_only_in_names_and_sizes_go_through_shacl_once() -> None:
    good = good_row(BY_NAME["values"])
    rows = [replace(good, fields={**good.fields, "number": f"N {i}"}) for i in range(50)]
    checker = Checker()
    assert list(checker.findings(rows, size=7)) == []
    assert checker.validated == 1


def test_the_one_bad_row_among_many_is_found_wherever_it_stands() -> None:
    good = good_row(BY_NAME["values"])
    rows = [replace(good, fields={**good.fields, "number": f"N {i}"}) for i in range(50)]
    for place in (0, 6, 7, 49):
        bad = replace(
            good, fields={**good.fields, "tolerance": dict(AMOUNT) | {"amount": -1}}, origin=Origin("f", "", place)
        )
        [found] = findings([*rows[:place], bad, *rows[place:]], size=7)
        assert (found.origin.row, found.origin.column) == (place, "tolerance")


def test_batches_keep_order_and_lose_nothing() -> None:
    assert [len(b) for b in batches(range(10), 4)] == [4, 4, 2]
    assert [n for b in batches(range(10), 4) for n in b] == list(range(10))
