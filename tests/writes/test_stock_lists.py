"""The whole stock and the whole price list, page by page, held against the rows of the export."""

import csv
import io
import json
import re
from collections.abc import Iterator
from typing import Any

import openpyxl
import pytest
from starlette.testclient import TestClient
from writing_desk import problem

from api.http.forms import MEDIA


def exported(client: TestClient, sheet: str) -> list[dict[str, Any]]:
    lines = [json.loads(line) for line in client.get("/v1/export").text.splitlines()]
    return [line["fields"] for line in lines if line.get("sheet") == sheet]


def pages(client: TestClient, address: str) -> Iterator[list[dict[str, Any]]]:
    while address:
        page = client.get(address)
        assert page.status_code == 200, page.text
        told = page.json()
        assert told["truncated"] is bool(told["next"]) is ('rel="next"' in page.headers["link"])
        yield told["items"]
        address = told["next"]


@pytest.mark.parametrize("limit", [1, 2, 3, 1000])
def test_every_line_is_told_once_whatever_a_page_holds(here: TestClient, limit: int) -> None:
    stock = [one for page in pages(here, f"/v1/shelf/stock?limit={limit}") for one in page]
    keys = [(one["maker"], one["number"], one["place"]) for one in stock]
    rows = exported(here, "stock")
    assert len(set(keys)) == len(keys) == len(rows) > 3
    assert {(*key, one["quantity"]) for key, one in zip(keys, stock, strict=True)} == {
        (row["maker"], row["number"], row.get("place", ""), int(row["quantity"])) for row in rows
    }
    prices = [one for page in pages(here, f"/v1/shelf/prices?limit={limit}") for one in page]
    priced = [(one["maker"], one["number"], one["condition"]) for one in prices]
    rows = exported(here, "prices")
    assert len(set(priced)) == len(priced) == len(rows) > 3
    assert set(priced) == {(row["maker"], row["number"], row.get("condition") or "new") for row in rows}


def test_lines_are_by_part_and_place_and_carry_the_version_that_a_change_takes(counter: TestClient) -> None:
    def put(place: str, quantity: int, fields: dict[str, str]) -> Any:
        said = {"part": "OS-201", "place": place}
        return counter.put("/v1/stock", params=said, json={"quantity": quantity, "author": "i"}, headers=fields)

    for place in ("B2", "B10", ""):
        assert put(place, 2, {"If-None-Match": "*"}).status_code == 200
    before = counter.get("/v1/shelf/stock")
    lines = [one for one in before.json()["items"] if one["number"] == "OS-201"]
    assert [one["place"] for one in lines] == ["", "A3", "B10", "B2"]
    single = [one for page in pages(counter, "/v1/shelf/stock?limit=1") for one in page]
    assert single == before.json()["items"]
    for one in lines:
        assert put(one["place"], 7, {"If-Match": f'"{one["version"]}"'}).status_code == 200
    after = counter.get("/v1/shelf/stock", headers={"If-None-Match": before.headers["etag"]})
    assert after.status_code == 200 and after.headers["etag"] != before.headers["etag"]
    assert {one["quantity"] for one in after.json()["items"] if one["number"] == "OS-201"} == {7}
    assert counter.get("/v1/shelf/stock", headers={"If-None-Match": after.headers["etag"]}).status_code == 304
    then = counter.get(f"/v1/shelf/stock?as-of={before.json()['snapshot']['shelf']}").json()
    assert then["items"] == before.json()["items"]


def test_the_lists_are_tables_too(here: TestClient) -> None:
    for name in ("stock", "prices"):
        whole = here.get(f"/v1/shelf/{name}?limit=1000").json()["items"]
        table = list(csv.DictReader(io.StringIO(here.get(f"/v1/shelf/{name}?limit=1000&format=csv").text)))
        assert [(row["maker"], row["number"]) for row in table] == [(one["maker"], one["number"]) for one in whole]
        sheet = here.get(f"/v1/shelf/{name}?format=xlsx")
        assert sheet.content[:2] == b"PK"


@pytest.mark.parametrize("after", ["x", "InN0b2NrIg", "WzEsMl0", "WyJhIl0", "bnVsbA=="])
def test_a_place_that_is_none_of_the_list_is_refused(counter: TestClient, after: str) -> None:
    told = counter.get("/v1/shelf/stock", params={"after": after})
    assert told.status_code == 200 if after == "bnVsbA==" else problem(told) == (422, "bad-request")


def test_what_the_shelf_says_has_an_etag_and_may_be_asked_as_of_then(counter: TestClient) -> None:
    paths = counter.get("/v1/openapi.json").json()["paths"]
    for path, query in (
        ("/v1/jobs", ""), ("/v1/stock", "?part=OS-201"), ("/v1/prices", "?part=OS-201"), ("/v1/shop/figures", ""),
    ):  # fmt: skip
        first = counter.get(path + query)
        told = {one.get("$ref", "").rpartition("/")[2] for one in paths[path]["get"]["parameters"]}
        assert {"as-of", "known", "at-least"} <= told
        assert counter.get(path + query, headers={"If-None-Match": first.headers["etag"]}).status_code == 304
        job = {"customer": "Moor", "author": "ina"}
        assert counter.put(f"/v1/jobs/J{len(path)}", json=job, headers={"If-None-Match": "*"}).status_code == 200
        assert counter.get(path + query, headers={"If-None-Match": first.headers["etag"]}).status_code == 200
        mark = "&" if query else "?"
        n = first.headers["spoolwright-snapshot"].rpartition("=")[2]
        assert counter.get(f"{path}{query}{mark}as-of={n}").json() == first.json()


def test_what_keeps_no_history_refuses_to_tell_what_was(counter: TestClient) -> None:
    paths = counter.get("/v1/openapi.json").json()["paths"]
    refusing = {
        path for path, item in paths.items()
        if path.startswith("/v1/") and "{" not in path and "get" in item and "feed" not in path
        and "#/components/parameters/as-of" not in {one.get("$ref") for one in item["get"].get("parameters", [])}
    }  # fmt: skip
    assert {"/v1/events", "/v1/backups", "/v1/keys", "/v1/changes", "/v1/head"} <= refusing
    assert not refusing & {"/v1/jobs", "/v1/stock", "/v1/parts", "/v1/shelf/prices", "/v1/shop/figures"}
    for path in refusing:
        told = counter.get(f"{path}?as-of=1")
        assert problem(told) == (422, "bad-request") and "as-of" in told.json()["fix"], path


def test_jobs_are_given_whole_or_a_page_at_a_time_and_as_tables(counter: TestClient) -> None:
    names = ["J-3", "J-1", "J-10", "J-2"]
    for name in names:
        done = counter.put(
            f"/v1/jobs/{name}", json={"customer": "Moor", "author": "i"}, headers={"If-None-Match": "*"}
        )
        assert done.status_code == 200
    whole = counter.get("/v1/jobs")
    listed = [job["job"] for job in whole.json()]
    assert sorted(listed) == sorted(names) and "link" not in whole.headers
    found, address, told = [], "/v1/jobs?limit=3&stage=received", []
    while address:
        page = counter.get(address)
        found += page.json()
        told.append("spoolwright-truncated" in page.headers)
        link = re.search(r'<([^>]+)>; rel="next"', page.headers.get("link", ""))
        address = link[1] if link else ""
    assert (found, told) == (whole.json(), [True, False])
    table = list(csv.DictReader(io.StringIO(counter.get("/v1/jobs?format=csv").text)))
    assert [(row["job"], row["customer"]) for row in table] == [(name, "Moor") for name in listed]
    cut = counter.get("/v1/jobs?format=csv&limit=3").text.splitlines()
    assert len(cut) == 5 and cut[-1].startswith("not all")
    xlsx = counter.get("/v1/jobs", headers={"Accept": MEDIA["xlsx"]})
    assert openpyxl.load_workbook(io.BytesIO(xlsx.content)).active.max_row == 5
    assert problem(counter.get("/v1/jobs?after=WzEsMl0")) == (422, "bad-request")
