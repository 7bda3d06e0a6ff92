"""What comes after a plan, as addresses: GET says what POST says, in every form, by every convention."""

import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from starlette.testclient import TestClient

from api.app import create_app

DAY = "2026-11-20"
PLAN = {"core": "HB-017", "build": "larger-wheels", "as_of": DAY}
ASKED: dict[str, dict[str, Any]] = {
    "least": {"unit": "OV46-220", "engine": "BR6-C", "as_of": DAY},
    "why": {**PLAN, "wishes": ["no-new"]},
    "weigh": {**PLAN, "by": ["time"]},
    "unknown": {**PLAN, "seconds": 50},
    "rank": {"build": "larger-wheels", "best": 1, "as_of": DAY},
    "reach": {"core": "HB-017", "wishes": ["no-new", "no-machining", "no-donor"], "as_of": DAY},
}
"""Sound questions; keep-in-stock looks at every core for every build and is left to its own tests."""


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def in_address(asked: dict[str, Any]) -> dict[str, Any]:
    """In an address a list is a field that comes several times; wishes are `wish` there."""
    return {("wish" if name == "wishes" else name): value for name, value in asked.items()}


@pytest.mark.slow
@pytest.mark.parametrize("kind", ASKED)
def test_an_address_says_what_the_body_says_and_is_not_sent_twice(client: TestClient, kind: str) -> None:
    got = client.get(f"/v1/{kind}", params=in_address(ASKED[kind]))
    assert got.status_code == 200, got.text
    posted = client.post(f"/v1/{kind}", json=ASKED[kind])
    assert got.content == posted.content
    etag = got.headers["etag"]
    known = client.get(f"/v1/{kind}", params=in_address(ASKED[kind]), headers={"if-none-match": etag})
    assert (known.status_code, known.content) == (304, b"")
    head = client.head(f"/v1/{kind}", params=in_address(ASKED[kind]))
    assert (head.status_code, head.content, head.headers["etag"]) == (200, b"", etag)


@pytest.mark.parametrize("kind", [*ASKED, "keep-in-stock"])
def test_methods_forms_and_faults_are_told_before_anything_is_worked_out(client: TestClient, kind: str) -> None:
    address = f"/v1/{kind}"
    assert client.delete(address).headers["allow"] == "GET, HEAD, OPTIONS, POST"
    asked = in_address(ASKED.get(kind, {"most": 1}))
    refused = client.get(address, params={**asked, "format": "pdf"})
    assert (refused.status_code, refused.json()["code"]) == (406, "not-acceptable")
    strange = client.get(address, params={**asked, "colour": "red"})
    assert (strange.status_code, strange.json()["code"]) == (422, "bad-request")
    assert [fault["where"] for fault in strange.json()["faults"]] == ["query.colour"]


def test_names_that_lead_nowhere_are_404(client: TestClient) -> None:
    missing = client.get("/v1/rank", params={"build": "no-such-build"})
    assert (missing.status_code, missing.json()["code"]) == (404, "not-found")


@pytest.mark.slow
def test_a_ranking_is_a_table_a_workbook_and_a_text(client: TestClient) -> None:
    asked = in_address(ASKED["rank"])
    told = client.get("/v1/rank", params=asked).json()
    table = client.get("/v1/rank", params=asked, headers={"accept": "text/csv"})
    assert table.headers["content-type"] == "text/csv; charset=utf-8"
    header, *rows, last = list(csv.reader(io.StringIO(table.text)))
    assert header == ["name", "verdict", "cost", "not below", "needs"]
    assert [row[0] for row in rows] == [one["name"] for one in told["ranked"]]
    best = told["ranked"][0]
    cents = int(rows[0][2].removesuffix(f" {told['currency']}").replace(",", "").replace(".", ""))
    assert cents == best["cost"]
    assert rows[1][2] == "", "only bounded: no price is made up"
    assert last == [f"1 of {len(rows)} worked out exactly"]
    book = client.get("/v1/rank", params={**asked, "format": "xlsx"}).content
    sheet = openpyxl.load_workbook(io.BytesIO(book)).active
    assert sheet is not None
    assert [cell.value for cell in sheet["A"]][1:-1] == [row[0] for row in rows]
    text = client.get("/v1/rank", params={**asked, "format": "text"}).text
    assert best["name"] in text


@pytest.mark.slow
def test_what_was_known_then_is_asked_by_address(client: TestClient) -> None:
    asked = in_address(ASKED["least"])
    assert client.get("/v1/least", params={**asked, "as-of": 1}).json()["changes"] == 1
    none_yet = client.get("/v1/least", params={**asked, "as-of": 99})
    assert (none_yet.status_code, none_yet.json()["code"]) == (404, "not-found")
