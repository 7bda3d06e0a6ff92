"""The knowledge graph over HTTP: asked by SPARQLWrapper and rdflib, pushed to a real Oxigraph server."""

import json
import shutil
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import rdflib
import uvicorn
from pyld import jsonld
from rdflib.compare import isomorphic
from rdflib.plugins.stores.sparqlstore import SPARQLStore
from SPARQLWrapper import CSV, JSON, POST, POSTDIRECTLY, TURTLE, XML, SPARQLWrapper
from starlette.testclient import TestClient

from api.app import create_app
from demo_graph.data import workbook
from graph.desk import Desk
from graph.errors import BadQuestion
from graph.sparql.guard import refuse
from graph.sparql.push import push

SW = "https://spoolwright.example/ns#"
PARTS = f"SELECT ?s WHERE {{ ?s a <{SW}PartStatement> }}"
WORKBOOK = workbook()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="module")
def server(demo_folder: Path) -> Iterator[str]:
    port = free_port()
    running = uvicorn.Server(
        uvicorn.Config(create_app(demo_folder, demo=True), port=port, log_level="warning", http="h11")
    )
    thread = threading.Thread(target=running.run)
    thread.start()
    while not running.started:
        time.sleep(0.05)
    yield f"http://127.0.0.1:{port}"
    running.should_exit = True
    thread.join(15)


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def part_count() -> int:
    return len((WORKBOOK / "parts.csv").read_text().splitlines()) - 1


def ask(client: TestClient, query: str, **headers: str) -> Any:
    return client.get("/v1/sparql", params={"query": query}, headers=headers)


@pytest.mark.parametrize("method", ["GET", POST])
def test_sparqlwrapper_counts_the_parts_of_the_workbook(server: str, method: str) -> None:
    wrapper = SPARQLWrapper(f"{server}/v1/sparql")
    wrapper.setMethod(method)
    wrapper.setQuery(PARTS)
    wrapper.setReturnFormat(JSON)
    assert len(wrapper.query().convert()["results"]["bindings"]) == part_count()


def test_sparqlwrapper_reads_every_form(server: str) -> None:
    wrapper = SPARQLWrapper(f"{server}/v1/sparql")
    wrapper.setQuery(PARTS)
    wrapper.setReturnFormat(XML)
    assert len(wrapper.query().convert().getElementsByTagName("result")) == part_count()
    wrapper.setReturnFormat(CSV)
    assert len(wrapper.query().convert().decode().splitlines()) == part_count() + 1
    wrapper.setMethod(POST)
    wrapper.setRequestMethod(POSTDIRECTLY)
    wrapper.setQuery(f"CONSTRUCT {{ ?s ?p ?o }} WHERE {{ ?s a <{SW}PartStatement> ; ?p ?o }}")
    wrapper.setReturnFormat(TURTLE)
    made = rdflib.Graph().parse(data=wrapper.query().convert(), format="turtle")
    assert len(set(made.subjects())) == part_count()


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")
def test_rdflibs_store_walks_the_graph(server: str) -> None:
    graph = rdflib.Graph(SPARQLStore(f"{server}/v1/sparql"))
    unit = rdflib.URIRef("https://spoolwright.example/id/unit/Ostrel/OV46-220")
    engines = set(graph.objects(unit, rdflib.URIRef(SW + "fittedTo")))
    assert rdflib.URIRef("https://spoolwright.example/id/engine/Brackmoor/BR6-D") in engines


# The published cases of the protocol stand in test_sparql_protocol.py; these are what it says beside them.
@pytest.mark.parametrize(
    ("query", "media", "body"),
    [
        ("?query=CLEAR%20ALL", None, None),
        ("", None, None),
        ("?query=ASK%20%7B%7D", "application/sparql-query", b"ASK {}"),
        ("", "application/sparql-query; charset=ISO-8859-1", b"ASK {}"),
        ("?default-graph-uri=no%20iri", "application/sparql-query", b"ASK {}"),
    ],
)
def test_what_is_no_query_of_the_protocol_is_refused(
    client: TestClient, query: str, media: str | None, body: bytes | None
) -> None:
    headers = {"content-type": media} if media else {}
    told = client.request("POST" if media else "GET", f"/v1/sparql{query}", content=body, headers=headers)
    assert (told.status_code, told.json()["code"]) == (400, "bad-query")


def test_a_dataset_named_in_the_address_counts_for_both_kinds_of_body(client: TestClient) -> None:
    query = "SELECT (COUNT(*) AS ?n) { ?s ?p ?o }"
    where = "/v1/sparql?default-graph-uri=https%3A%2F%2Fspoolwright.example%2Fid%2Fsource%2FBR-PUB"
    direct = client.post(where, content=query, headers={"content-type": "application/sparql-query"})
    form = client.post(where, data={"query": query})
    assert form.json() == direct.json() != client.post("/v1/sparql", data={"query": query}).json()


def test_a_relative_name_in_a_query_is_a_key_of_ours(client: TestClient) -> None:
    told = ask(client, f"ASK {{ <unit/Ostrel/OV46-220> <{SW}fittedTo> <engine/Brackmoor/BR6-D> }}")
    assert told.json()["boolean"] is True
    assert ask(client, f"ASK {{ <unit/Ostrel/NONE> <{SW}fittedTo> ?engine }}").json()["boolean"] is False


def test_a_dataset_of_one_graph_holds_only_what_that_source_says(client: TestClient) -> None:
    count = "SELECT (COUNT(*) AS ?n) {{ {} ?s ?p ?o {} }}"
    sizes = {}
    for source in ("BR-PUB", "HB-NOTE"):
        graph = f"https://spoolwright.example/id/source/{source}"
        asked = {"query": count.format("", ""), "default-graph-uri": graph}
        sizes[source] = int(client.get("/v1/sparql", params=asked).json()["results"]["bindings"][0]["n"]["value"])
        own = ask(client, count.format(f"GRAPH <{graph}> {{", "}"))
        assert int(own.json()["results"]["bindings"][0]["n"]["value"]) == sizes[source]
        told = client.get("/v1/graphs", params={"graph": graph, "format": "nt"})
        assert len(set(told.text.splitlines())) == sizes[source] > 0
    assert sizes["BR-PUB"] != sizes["HB-NOTE"]


def test_service_is_refused_in_every_spelling(client: TestClient) -> None:
    for query in (
        "SELECT * { SERVICE <http://127.0.0.1:1/> { ?s ?p ?o } }",
        "select * { service silent <http://127.0.0.1:1/> { ?s ?p ?o } }",
        "SELECT * {#\nSERVICE<http://127.0.0.1:1/>{ ?s ?p ?o } }",
    ):
        refused = ask(client, query)
        assert (refused.status_code, refused.json()["code"]) == (400, "bad-query")
    for sound in (
        "SELECT * { ?service ?p 'SERVICE' }",
        'PREFIX service: <urn:x> ASK { service:service ?p """SERVICE""" }',
    ):
        refuse(sound)
    with pytest.raises(BadQuestion):
        refuse("SELECT * " + "{" * 3000)


def test_a_query_that_takes_too_long_is_stopped_and_the_next_is_answered(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.routes.graph.SECONDS", 0.7)
    ask(client, "ASK {}")
    began = time.monotonic()
    stopped = ask(client, "SELECT (COUNT(*) AS ?n) { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i }")
    assert (stopped.status_code, stopped.json()["code"]) == (503, "query-stopped")
    assert stopped.headers["retry-after"]
    assert time.monotonic() - began < 10
    assert ask(client, "ASK { ?s ?p ?o }").json()["boolean"] is True


def test_rows_beyond_the_limit_are_left_off_and_it_is_said(client: TestClient) -> None:
    whole = ask(client, PARTS)
    cut = ask(client, "SELECT * { ?s ?p ?o }")
    assert "spoolwright-truncated" not in whole.headers
    assert cut.headers["spoolwright-truncated"]
    assert len(cut.json()["results"]["bindings"]) == 10_000


def test_an_answer_of_the_graph_is_asked_for_again_with_its_etag(client: TestClient) -> None:
    etag = ask(client, PARTS).headers["etag"]
    assert ask(client, PARTS, **{"if-none-match": etag}).status_code == 304


def test_each_form_of_an_answer_is_given_to_who_accepts_it_also_the_second_time(client: TestClient) -> None:
    media = (
        "application/sparql-results+json",
        "application/sparql-results+xml",
        "text/csv",
        "text/tab-separated-values",
    )
    for _ in range(2):
        told = [ask(client, PARTS, accept=one).headers["content-type"].partition(";")[0] for one in media]
        assert told == list(media)
        assert ask(client, PARTS, accept="application/x-zzz").status_code == 406


def test_the_context_has_an_etag_of_its_own_bytes(client: TestClient) -> None:
    first = client.get("/v1/context.jsonld")
    assert first.headers["etag"].startswith('"')
    assert "@context" in first.json()
    assert client.get("/v1/context.jsonld", headers={"if-none-match": first.headers["etag"]}).status_code == 304


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")
def test_the_description_reads_alike_as_turtle_and_json_ld_and_counts_right(client: TestClient) -> None:
    turtle = rdflib.Graph().parse(data=client.get("/v1/dataset").text, format="turtle")
    linked = client.get("/v1/dataset?format=jsonld").json()
    other = rdflib.Graph().parse(data=jsonld.to_rdf(linked, {"format": "application/n-quads"}), format="nt")
    assert isomorphic(turtle, other)
    void = rdflib.Namespace("http://rdfs.org/ns/void#")
    part = turtle.value(predicate=void["class"], object=rdflib.URIRef(SW + "PartStatement"))
    assert int(turtle.value(part, void.entities)) == part_count()  # type: ignore[arg-type]
    assert client.get("/.well-known/void", follow_redirects=False).headers["location"] == "/v1/dataset"


def test_the_whole_graph_goes_to_another_server_and_is_the_same_there(demo_desk: Desk, tmp_path: Path) -> None:
    program = shutil.which("oxigraph", path=str(Path(sys.executable).parent)) or "oxigraph"
    port = free_port()
    other = subprocess.Popen(
        [program, "serve", "--location", str(tmp_path / "ox"), "--bind", f"127.0.0.1:{port}"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        for _ in range(100):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=1).close()
                break
            except OSError:
                time.sleep(0.1)
        pushed = dict(push(demo_desk.everything(), f"http://127.0.0.1:{port}/store"))
        assert sum(pushed.values()) == sum(1 for _ in demo_desk.everything())
        again = dict(push(demo_desk.everything(), f"http://127.0.0.1:{port}/store"))
        assert again == pushed
        query = urllib.parse.urlencode({"query": PARTS, "union-default-graph": ""})
        asked = urllib.request.Request(
            f"http://127.0.0.1:{port}/query?{query}", headers={"Accept": "application/sparql-results+json"}
        )
        with urllib.request.urlopen(asked) as answer:
            assert len(json.load(answer)["results"]["bindings"]) == part_count()
    finally:
        other.terminate()
        other.wait(15)
