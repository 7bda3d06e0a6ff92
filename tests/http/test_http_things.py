"""Every thing at an address of its own: held against the demo's own workbook, rdflib and pyld."""

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import openpyxl
import pytest
import rdflib
from http_store import copied, shelf_row
from pyld import jsonld
from rdflib.compare import isomorphic
from starlette.testclient import TestClient

from api.app import create_app
from demo_graph.data import workbook

WORKBOOK = workbook()
DAY = "2026-11-20"
SMALL = ("builds", "sources", "operations", "kinds", "features", "layouts")


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def sheet(name: str) -> list[dict[str, str]]:
    with (WORKBOOK / f"{name}.csv").open(newline="", encoding="utf-8-sig") as file:
        return list(csv.DictReader(file))


def pages(client: TestClient, address: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    while address:
        response = client.get(address)
        assert response.status_code == 200, response.text
        page = response.json()
        found += page["items"]
        assert page["truncated"] == bool(page["next"])
        assert ('rel="next"' in response.headers["link"]) == page["truncated"]
        if page["next"]:
            assert f'<{page["next"]}>; rel="next"' in response.headers["link"]
        address = page["next"]
    return found


@pytest.mark.parametrize(
    ("address", "name", "key"),
    [
        ("/v1/parts", "parts", ("maker", "number")),
        ("/v1/units", "units", ("maker", "name")),
        ("/v1/engines", "engines", ("maker", "name")),
        ("/v1/cores", "cores", ("tag",)),
        ("/v1/builds", "builds", ("name",)),
        ("/v1/sources", "sources", ("name",)),
        ("/v1/operations", "operations", ("name",)),
        ("/v1/kinds", "kinds", ("name",)),
        ("/v1/features", "features", ("name",)),
    ],
)
def test_pages_together_hold_what_the_workbook_holds(
    client: TestClient, address: str, name: str, key: tuple[str, ...]
) -> None:
    found = pages(client, f"{address}?limit=7")
    columns = {"units": "unit", "engines": "engine", "cores": "tag", "parts": "number"}.get(name, name[:-1])
    wanted = {(row["maker"], row[columns]) if len(key) == 2 else (row[columns],) for row in sheet(name)}
    assert {tuple(one[part] for part in key) for one in found} == wanted
    assert len(found) == len(wanted), "nothing is given twice"


def test_fitments_are_those_of_the_workbook(client: TestClient) -> None:
    rows = sheet("fitments")
    assert len(pages(client, "/v1/fitments?limit=4")) == len({tuple(row.values()) for row in rows})
    engine = rows[0]["engine"]
    own = pages(client, f"/v1/fitments?engine={engine}&limit=1")
    assert {(f["machine"], unquote(f["unit"]).rpartition("/")[2]) for f in own} == {
        (row["machine"], row["unit"]) for row in rows if row["engine"] == engine
    }


def test_a_part_has_all_claims_that_the_workbook_makes_on_it(client: TestClient) -> None:
    number = sheet("values")[0]["number"]
    maker = sheet("values")[0]["maker"]
    said = client.get(f"/v1/parts/{quote(maker, safe='')}/{quote(number, safe='')}").json()
    rows = [row for row in sheet("values") if (row["maker"], row["number"]) == (maker, number)]
    features = {claim["feature"] for claim in said["part"]["claims"]}
    assert {row["feature"] for row in rows} <= features
    for row in rows:
        texts = [c["value"]["text"] for c in said["part"]["claims"] if c["feature"] == row["feature"]]
        assert row["value"] in texts


def test_stock_and_price_come_only_when_asked_for_and_are_read_live(demo_folder: Path, tmp_path: Path) -> None:
    row = next(row for row in sheet("stock") if row["quantity"] not in ("", "0"))
    address = f"/v1/parts/{quote(row['maker'], safe='')}/{quote(row['number'], safe='')}"
    with TestClient(create_app(copied(demo_folder, tmp_path))) as own:
        bare = own.get(address)
        full = own.get(f"{address}?shelf=true&day={DAY}")
        assert bare.json()["shelf"] is None
        assert row["quantity"] in {str(s["quantity"]) for s in full.json()["shelf"]["stock"]}
        shelf_row(own.app.state.current.folder)  # type: ignore[attr-defined]
        assert own.get(address).headers["etag"] == bare.headers["etag"]
        assert own.get(f"{address}?shelf=true&day={DAY}").headers["etag"] != full.headers["etag"]


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")  # inside the reader of rdflib
def test_json_ld_and_turtle_are_the_same_triples_to_two_readers(client: TestClient) -> None:
    for address in ("/v1/units/Ostrel/OV46-220", "/v1/builds/larger-wheels", "/v1/engines/Brackmoor/BR6-C"):
        turtle = rdflib.Graph().parse(data=client.get(f"{address}?format=ttl").text, format="turtle")
        document = client.get(address, headers={"accept": "application/ld+json"})
        assert document.headers["content-type"] == "application/ld+json"
        linked = rdflib.Graph().parse(data=document.text, format="json-ld")
        quads = jsonld.to_rdf(document.json(), {"format": "application/n-quads"})
        other = rdflib.Graph().parse(data=quads, format="nt")
        assert len(turtle) > 5
        assert isomorphic(turtle, linked), address
        assert isomorphic(turtle, other), address


def test_a_table_of_a_list_reads_back_and_says_that_there_is_more(client: TestClient) -> None:
    whole = client.get("/v1/sources?limit=1000").json()["items"]
    rows = list(csv.DictReader(io.StringIO(client.get("/v1/sources?format=csv").text)))
    assert [row["name"] for row in rows] == [one["name"] for one in whole]
    cut = client.get("/v1/sources?format=csv&limit=2")
    assert cut.text.splitlines()[-1].startswith("not all: the next page is /v1/sources?")
    book = openpyxl.load_workbook(io.BytesIO(client.get("/v1/sources?format=xlsx").content))
    cells = [[cell.value for cell in row] for row in book["list"].iter_rows(min_row=2)]
    assert [row[0] for row in cells] == [one["name"] for one in whole]


def test_a_name_leads_to_its_thing_in_every_form(client: TestClient) -> None:
    part = client.get("/v1/parts?limit=1").json()["items"][0]["key"]
    for key in (part, "unit/Ostrel/OV46-220", "engine/Brackmoor/BR6-C", "core/HB-017", "build/larger-wheels"):
        lead = client.get(f"/id/{key}", follow_redirects=False)
        assert lead.status_code == 303
        assert client.get(lead.headers["location"]).status_code == 200, key
    turtle = client.get("/id/unit/Ostrel/OV46-220", headers={"accept": "text/turtle"})
    graph = rdflib.Graph().parse(data=turtle.text, format="turtle")
    assert (rdflib.URIRef("https://spoolwright.example/id/unit/Ostrel/OV46-220"), None, None) in graph
    assert client.get("/id/ghost/1", follow_redirects=False).status_code == 404


def test_claims_lead_to_their_rows_and_back(client: TestClient) -> None:
    claims = client.get("/v1/claims", params={"about": "unit/Ostrel/OV46-220"}).json()
    assert claims
    for claim in claims[:3]:
        row = client.get(f"/v1/claims/{claim['id']}").json()
        assert (row["fields"], row["held"], row["from_change_set"]) == (claim["fields"], True, 1)
    assert client.get("/v1/claims/s" + "0" * 24).status_code == 404


def test_a_number_leads_where_the_supersession_sheet_says(client: TestClient) -> None:
    rows = sheet("supersession")
    news = {row["old"] for row in rows}
    plain = next(
        r
        for r in rows
        if not any(r[c] for c in ("from_serial", "condition", "from_date"))
        and r["new"] not in news
        and [x["old"] for x in rows].count(r["old"]) == 1
    )
    said = client.get("/v1/supersession", params={"part": f"{plain['maker']} {plain['old']}", "day": DAY}).json()
    assert unquote(said["latest"]).endswith(plain["new"])
    assert [unquote(step["new"]).rpartition("/")[2] for step in said["steps"]][-1] == plain["new"]


def test_what_was_can_be_asked_again(demo_folder: Path, tmp_path: Path) -> None:
    with TestClient(create_app(copied(demo_folder, tmp_path))) as own:
        address = "/v1/cores?limit=1000"
        before = own.get(address)
        shelf_row(own.app.state.current.folder)  # type: ignore[attr-defined]
        now = own.get("/v1/snapshot").json()["shelf"]
        then = own.get(f"{address}&as-of={now - 1}")
        assert then.json() == before.json()
        assert own.get(f"/v1/snapshot?as-of={now - 1}").json()["shelf"] == now - 1
        assert own.get(f"/v1/snapshot?as-of={now + 1}").status_code == 404
        assert own.get("/v1/snapshot?as-of=yesterday").status_code == 422
        part = own.get("/v1/plans", params={"core": "HB-017", "build": "larger-wheels", "as-of": now - 1})
        assert part.json()["answer"]["snapshot"]["shelf"] == now - 1


def lines(response: Any) -> list[dict[str, Any]]:
    assert response.headers["content-type"] == "application/x-ndjson"
    return [json.loads(line) for line in response.text.splitlines()]


def test_a_batch_answers_line_by_line_and_says_that_it_is_whole(client: TestClient) -> None:
    asked = [
        {"unit": "OV46-220", "engine": "BR6-D", "as_of": DAY},
        {"unit": "no such unit", "engine": "BR6-D"},
        {"unit": "OV46-220", "discount": 3},
        {"unit": "OV46-220", "engine": "BR6-C", "as_of": DAY},
    ]
    body = "\n".join(json.dumps(one) for one in asked) + "\nno json at all\n"
    got = lines(client.post("/v1/batch/fits", content=body, headers={"content-type": "application/x-ndjson"}))
    assert [one.get("status") for one in got] == [200, 404, 422, 200, 422, None]
    assert [one.get("line") for one in got[:-1]] == [1, 2, 3, 4, 5]
    assert (got[-1]["complete"], got[-1]["lines"], got[-1]["failed"]) == (True, 5, 3)
    single = client.post("/v1/fits", json=asked[0]).json()
    assert got[0]["answer"] == single
    assert got[1]["problem"]["code"] == "not-found"


def test_a_batch_of_plans_is_the_plans_without_their_evidence(client: TestClient) -> None:
    asked = {"core": "HB-017", "build": "larger-wheels", "as_of": DAY}
    got = lines(client.post("/v1/batch/plans", content=json.dumps(asked)))
    single = client.post("/v1/plans", json=asked).json()["answer"]
    assert got[0]["answer"] == {**single, "bundle": None}
    assert got[1]["complete"] is True


def test_a_batch_of_more_than_a_thousand_is_refused_whole(client: TestClient) -> None:
    one = json.dumps({"unit": "OV46-220", "engine": "BR6-D"}) + "\n"
    refused = client.post("/v1/batch/fits", content=one * 1001)
    assert (refused.status_code, refused.json()["code"]) == (422, "bad-request")
    assert client.post("/v1/batch/fits", content="\n").status_code == 422


def test_the_export_is_every_row_and_its_last_line_says_so(client: TestClient) -> None:
    got = lines(client.get("/v1/export"))
    rows = sum(1 for name in ("parts", "units", "cores", "operations") for _ in sheet(name))
    assert got[-1]["complete"] is True
    assert got[-1]["rows"] == len(got) - 1 > rows
    quads = client.get("/v1/export?format=nq").text
    assert quads.splitlines()[-1].startswith(f"# complete: {got[-1]['rows']} rows")
