"""The published cases of the W3C SPARQL 1.1 test suite, part protocol, put to our address as they are written.

The suite's graphs stand in for the shop's: the address, its reading of requests and the answering of queries are
ours; only the process that loads the shop's rows is replaced by one place that holds the suite's triples.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyoxigraph
import pytest
import rdflib
from starlette.testclient import TestClient

from api.app import create_app
from api.http.refusals import BadQuery
from api.sparql_worker import SparqlAsked
from graph.errors import BadQuestion
from graph.model.record import Snapshot
from graph.sparql.answer import Result, answer

SUITE = json.loads((Path(__file__).parents[1] / "data" / "sparql_protocol" / "cases.json").read_text())
CASES: dict[str, Any] = {case["name"]: case for case in SUITE["cases"]}
DOCUMENT = pyoxigraph.NamedNode("http://xmlns.com/foaf/0.1/Document")
ADDRESS = "/v1/sparql"
A = pyoxigraph.NamedNode("http://www.w3.org/1999/02/22-rdf-syntax-ns#type")

# W3C SPARQL 1.1 Query Results JSON, XML, CSV and TSV; RDF media as their registrations name them.
MEDIA = {
    "boolean": {"application/sparql-results+json", "application/sparql-results+xml"},
    "tabular": {
        "application/sparql-results+json",
        "application/sparql-results+xml",
        "text/csv",
        "text/tab-separated-values",
    },
    "RDF": {"application/rdf+xml", "text/turtle", "application/n-triples", "application/ld+json"},
}


class Suite:
    """The graphs of the suite, in place of the process that holds the shop's."""

    def __init__(self, snapshot: Snapshot) -> None:
        self._snapshot = snapshot
        self.store = pyoxigraph.Store()

    def hold(self, graphs: list[str]) -> None:
        self.store.clear()
        for name in map(pyoxigraph.NamedNode, graphs):
            self.store.add(pyoxigraph.Quad(name, A, DOCUMENT, name))

    def ask(self, asked: SparqlAsked, _seconds: float) -> tuple[Result, Snapshot]:
        try:
            return answer(self.store, asked.query), self._snapshot
        except BadQuestion as error:
            raise BadQuery(error.message, fix=error.fix) from None

    def close(self) -> None:
        """As the process is closed."""


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    app = create_app(demo_folder, demo=True)
    app.state.sparql.close()
    app.state.sparql = Suite(app.state.current.desk().snapshot)
    with TestClient(app) as opened:
        yield opened


def put(client: TestClient, case: Any, path: str) -> Any:
    request = case["request"]
    client.app.state.answers.forget()  # type: ignore[attr-defined]  # the graphs change and no clock tells it
    client.app.state.sparql.hold(case["graphs"])  # type: ignore[attr-defined]
    headers = {"content-type": request["content-type"]} if request["content-type"] else {}
    body = request["body"].encode(request["encoding"]) if request["body"] is not None else None
    own = ADDRESS + path.removeprefix("/sparql/")  # as the suite tells who runs it to do
    return client.request(request["method"], own, content=body, headers=headers)


def test_the_suite_is_there_whole_but_for_what_changes_a_store() -> None:
    assert len(CASES) == len(SUITE["cases"]) == 27
    assert sum(name.startswith("query_") for name in CASES) == 13
    assert sum(name.startswith("bad_query_") for name in CASES) == 6


@pytest.mark.parametrize("name", CASES)
def test_a_case_of_the_suite_is_answered_as_it_says(client: TestClient, name: str) -> None:
    case = CASES[name]
    told = put(client, case, case["request"]["path"])
    if case["expect"]["status"] == "4xx":
        assert 400 <= told.status_code < 500, told.text
        assert told.headers["content-type"] == "application/problem+json"
        return
    assert told.status_code == 200, told.text
    media = told.headers["content-type"].partition(";")[0]
    assert media in MEDIA[case["expect"]["format"]]
    if case["expect"]["boolean"] is not None:
        if case.get("fault"):
            assert told.json()["boolean"] is False, "the graph that the published path names is not there"
            told = put(client, case, case["meant"])
        assert told.json()["boolean"] is case["expect"]["boolean"]
    if case["expect"]["format"] == "RDF":
        rdflib.Graph().parse(data=told.text, format=media)


def test_a_case_that_needs_its_graphs_is_false_without_them(client: TestClient) -> None:
    needy = [case for case in CASES.values() if case["graphs"]]
    assert len(needy) == 6
    for case in needy:
        told = put(client, {**case, "graphs": []}, case["request"]["path"])
        assert told.json()["boolean"] is False, case["name"]
