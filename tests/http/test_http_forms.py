"""Machines, cores, search, supersession and interchange in every form: held against the workbook, rdflib and pyld."""

import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import openpyxl
import pytest
import rdflib
from http_store import copied
from pyld import jsonld
from rdflib.compare import isomorphic
from starlette.testclient import TestClient

from api.app import create_app
from demo_graph.data import workbook
from graph import publish as writer
from graph.index.store import Store
from graph.model.statement import Evidence, Statement, subject

ID = "https://spoolwright.example/id/"
DAY = "2026-11-20"


def sheet(name: str) -> list[dict[str, str]]:
    with (workbook() / f"{name}.csv").open(newline="", encoding="utf-8-sig") as file:
        return list(csv.DictReader(file))


FITMENT = sheet("fitments")[0]
STEP = sheet("supersession")[0]
SWAP = sheet("interchange")[0]
MACHINE = f"/v1/machines/{quote(FITMENT['machine_maker'], safe='')}/{quote(FITMENT['machine'], safe='')}"
CORE = "/v1/cores/HB-017"
LEADS = f"/v1/supersession?part={quote(STEP['maker'] + ' ' + STEP['old'])}&day={DAY}"
STANDS_IN = f"/v1/interchange?part={quote(SWAP['maker'] + ' ' + SWAP['number'])}"
CLAIMS = "/v1/claims?about=unit/Ostrel/OV46-220"
GRAPHS = (MACHINE, CORE, LEADS, STANDS_IN, CLAIMS)


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


@pytest.fixture
def own(demo_folder: Path, tmp_path: Path) -> Iterator[TestClient]:
    """A server over a store of its own, which a test may write to."""
    here = {"base_url": "http://127.0.0.1", "client": ("127.0.0.1", 50_000)}
    with TestClient(create_app(copied(demo_folder, tmp_path)), **here) as opened:  # type: ignore[arg-type]
        yield opened


def formed(address: str, form: str) -> str:
    return f"{address}{'&' if '?' in address else '?'}format={form}"


def table(client: TestClient, address: str) -> list[dict[str, str]]:
    told = client.get(formed(address, "csv"))
    assert told.status_code == 200, told.text
    assert told.headers["content-type"] == "text/csv; charset=utf-8"
    return list(csv.DictReader(io.StringIO(told.text)))


def turtle(client: TestClient, address: str) -> rdflib.Graph:
    told = client.get(address, headers={"accept": "text/turtle"})
    assert told.headers["content-type"].startswith("text/turtle"), told.text
    return rdflib.Graph().parse(data=told.text, format="turtle")


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")  # inside the reader of rdflib
@pytest.mark.parametrize("address", GRAPHS)
def test_json_ld_and_turtle_are_the_same_triples_and_those_of_the_export(client: TestClient, address: str) -> None:
    document = client.get(address, headers={"accept": "application/ld+json"})
    assert document.headers["content-type"] == "application/ld+json"
    here = turtle(client, address)
    assert len(here) > 5
    assert isomorphic(here, rdflib.Graph().parse(data=document.text, format="json-ld"))
    quads = jsonld.to_rdf(document.json(), {"format": "application/n-quads"})
    assert isomorphic(here, rdflib.Graph().parse(data=quads, format="nt"))
    whole = rdflib.Graph().parse(data=client.get("/v1/export?format=nt").text, format="nt")
    named = {triple for triple in here if not any(isinstance(node, rdflib.BNode) for node in triple)}
    assert named and named <= set(whole)


@pytest.mark.parametrize("address", GRAPHS)
def test_every_form_is_had_by_accept_as_by_name_and_no_other(client: TestClient, address: str) -> None:
    media = {
        "ttl": "text/turtle",
        "jsonld": "application/ld+json",
        "nt": "application/n-triples",
        "nq": "application/n-quads",
        "csv": "text/csv",
    }
    for form, medium in media.items():
        named, accepted = client.get(formed(address, form)), client.get(address, headers={"accept": medium})
        assert named.content == accepted.content
        assert accepted.headers["content-type"].startswith(medium)
        assert accepted.headers["etag"] and accepted.headers["spoolwright-snapshot"]
    book = openpyxl.load_workbook(io.BytesIO(client.get(formed(address, "xlsx")).content))
    assert book["list"].max_row > 1
    for refused in (client.get(formed(address, "pdf")), client.get(address, headers={"accept": "image/svg+xml"})):
        assert (refused.status_code, refused.json()["code"]) == (406, "not-acceptable")


def test_a_machine_is_the_rows_that_the_workbook_has_of_it(client: TestClient) -> None:
    wanted = [
        row
        for row in sheet("fitments")
        if (row["machine_maker"], row["machine"]) == (FITMENT["machine_maker"], FITMENT["machine"])
    ]
    told = table(client, MACHINE)
    assert {(row["engine"], row["unit"]) for row in told} == {(row["engine"], row["unit"]) for row in wanted}
    assert len(told) == len({tuple(row.values()) for row in wanted})
    graph = turtle(client, MACHINE)
    machine = rdflib.URIRef(f"{ID}machine/{MACHINE.removeprefix('/v1/machines/')}")
    assert (machine, rdflib.RDF.type, rdflib.URIRef("https://spoolwright.example/ns#Machine")) in graph
    assert client.get("/v1/machines/Nobody/None?format=ttl").status_code == 404


def test_machines_come_a_page_at_a_time_and_are_those_of_the_workbook(client: TestClient) -> None:
    found: list[dict[str, Any]] = []
    address = "/v1/machines?limit=2"
    while address:
        told = client.get(address)
        page = told.json()
        assert ('rel="next"' in told.headers["link"]) == page["truncated"] == bool(page["next"])
        found += page["items"]
        address = page["next"]
    wanted = {(row["machine_maker"], row["machine"]) for row in sheet("fitments")}
    assert {(one["maker"], one["name"]) for one in found} == wanted
    assert [one["key"] for one in found] == sorted({one["key"] for one in found})
    maker = found[0]["maker"]
    of_one = client.get("/v1/machines", params={"maker": maker}).json()["items"]
    assert of_one == [one for one in found if one["maker"] == maker]
    for one in found:
        assert client.get(f"/id/{one['key']}").status_code == 200


def test_a_core_is_the_rows_that_the_workbook_has_of_it(client: TestClient) -> None:
    told = table(client, CORE)
    for name in ("cores", "found_parts", "readings"):
        wanted = [row for row in sheet(name) if row["tag"] == "HB-017"]
        assert sum(row["sheet"] == name for row in told) == len(wanted)
    core = rdflib.URIRef(f"{ID}core/HB-017")
    unit = turtle(client, CORE).value(core, rdflib.URIRef("https://spoolwright.example/ns#builtAs"))
    assert unquote(str(unit)).endswith(next(row["as_built_unit"] for row in sheet("cores") if row["tag"] == "HB-017"))


def test_a_core_as_it_was_is_told_in_every_form(own: TestClient) -> None:
    before = {form: own.get(formed(CORE, form)).content for form in ("json", "ttl", "csv")}
    then = own.get("/v1/snapshot").json()["shelf"]
    reading = {"seat": "bearing-housing", "feature": "shaft-bore", "value": "12", "unit": "mm", "author": "AB"}
    feature = next(row for row in sheet("readings") if row["tag"] == "HB-017")
    reading |= {"seat": feature["seat"], "feature": feature["feature"], "value": feature["value"]}
    written = own.post(f"{CORE}/readings", json={**reading, "unit": feature["unit"], "date": DAY, "who": "AB"})
    assert written.status_code == 201, written.text
    for form, body in before.items():
        assert own.get(formed(CORE, form)).content != body
        assert own.get(formed(f"{CORE}?as-of={then}", form)).content == body


def test_where_a_number_leads_is_a_table_of_the_workbooks_rows(client: TestClient) -> None:
    *told, last = table(client, LEADS)
    said = client.get(LEADS).json()
    assert last["old"] == said["sentence"]
    rows = {(subject("part", row["maker"], row["old"]), row["new"]) for row in sheet("supersession")}
    assert {(row["old"], unquote(row["new"].rpartition("/")[2])) for row in told} <= rows
    steps = [row["said"] for row in told if row["standing"].startswith("step")]
    assert steps == [one["said"] for one in said["steps"]]
    assert {row["said"] for row in told if row["standing"] == "held back"} == {one["said"] for one in said["held"]}
    assert {row["said"] for row in told} == {one["said"] for one in said["all"]}
    supersedes = rdflib.URIRef("https://spoolwright.example/ns#supersedes")
    assert len(set(turtle(client, LEADS).subject_objects(supersedes))) >= len(told)


def test_what_may_stand_in_is_a_table_and_as_triples_only_what_somebody_asserts(client: TestClient) -> None:
    *told, last = table(client, STANDS_IN)
    said = client.get(STANDS_IN).json()
    assert last["relation"] == said["sentence"]
    for relation, name in (("instead", "instead"), ("stands in", "stands_in")):
        rows = [row for row in told if row["relation"] == relation]
        assert [(row["part"], row["other"], row["verdict"]) for row in rows] == [
            (one["part"], one["other"], one["verdict"]) for one in said[name]
        ]
        for row, one in zip(rows, said[name], strict=True):
            assert all(condition in row["conditions"] for condition in one["conditions"])
            assert all(fact["measure"] in row["missing"] for fact in one["missing"])
    asserted = [row for row in told if row["relation"] == "asserted"]
    mine = [r for r in sheet("interchange") if SWAP["number"] in (r["number"], r["other_number"])]
    assert len(asserted) == len(mine) > 0
    link = rdflib.URIRef("https://spoolwright.example/ns#mayStandInFor")
    edges = set(turtle(client, STANDS_IN).subject_objects(link))
    assert {(str(a), str(b)) for a, b in edges} == {(ID + row["other"], ID + row["part"]) for row in asserted}


def test_the_whole_report_on_interchange_is_a_table(client: TestClient) -> None:
    told, said = table(client, "/v1/interchange/report"), client.get("/v1/interchange/report").json()
    assert sum(row["relation"] == "asserted" for row in told) == len(said["asserted"]) == len(sheet("interchange"))
    assert sum(row["relation"] == "derived" for row in told) == len(said["unasserted"])
    assert client.get("/v1/interchange/report?format=ttl").status_code == 406


def test_what_a_search_finds_is_a_table_that_says_that_there_is_more(client: TestClient) -> None:
    told, said = table(client, "/v1/search?q=HB-017"), client.get("/v1/search?q=HB-017").json()
    assert told == [{name: str(text) for name, text in hit.items()} for hit in said["hits"]]
    cut = client.get("/v1/search?q=O&limit=1&format=csv").text.splitlines()
    assert cut[-1].startswith("not all") or '"not all' in cut[-1]
    assert client.get("/v1/search?q=HB-017&format=ttl").status_code == 406


def test_no_cell_of_any_table_is_a_formula(own: TestClient) -> None:
    store = Store.open(own.app.state.current.folder)  # type: ignore[attr-defined]
    evil = '=HYPERLINK("http://x.example","x")'
    row = Statement("cores", {"tag": "@HB-666", "plate": evil, "serial": "+1", "customer": "-2"}, Evidence(date=DAY))
    writer.record(store, [row], author="test", time=f"{DAY}T08:00:00Z")
    store.close()
    for address in ("/v1/cores/@HB-666", "/v1/cores?limit=1000", "/v1/search?q=@HB-666"):
        found = own.get(formed(address, "csv"))
        assert found.status_code == 200 and "HB-666" in found.text
        for cells in csv.reader(io.StringIO(found.text)):
            assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
        book = openpyxl.load_workbook(io.BytesIO(own.get(formed(address, "xlsx")).content))
        assert not [cell for row in book["list"].iter_rows() for cell in row if cell.data_type == "f"]


@pytest.mark.parametrize("name", ["parts", "units", "engines", "machines"])
def test_a_table_of_nothing_still_has_its_columns(client: TestClient, name: str) -> None:
    some = client.get(f"/v1/{name}?format=csv&limit=1").text.splitlines()[0]
    none = client.get(f"/v1/{name}?format=csv&maker=nobody").text.splitlines()
    assert none == [some]
