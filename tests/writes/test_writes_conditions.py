"""Writes under If-Match and If-None-Match, by RFC 9110 section 13.1: carried out where what is there meets them."""

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from writing_desk import problem

PLACE = "/v1/stock?part=OS-201&place=A3"  # one there, by store_rows, said in change set 1
EMPTY = "/v1/stock?part=OS-201&place=B9"
MISMATCH = (412, "version-mismatch")
Fields = list[tuple[str, str]]


def put(client: TestClient, address: str, fields: Fields, quantity: int = 4) -> Any:
    return client.put(address, json={"quantity": quantity, "author": "ina"}, headers=fields)


def on_hand(client: TestClient) -> dict[str, int]:
    places = client.get("/v1/stock?part=OS-201").json()["places"]
    return {place["place"]: place["quantity"] for place in places}


@pytest.mark.parametrize(
    "fields",
    [
        [("If-Match", '"1"')],
        [("If-Match", '"7", "1", "9"')],
        [("If-Match", '"7"'), ("If-Match", '"1"')],
        [("If-Match", 'W/"1","1"')],
        [("If-Match", "*")],
        [("If-None-Match", '"7"')],
        [("If-Match", "*"), ("If-None-Match", '"7", W/"8"')],
    ],
)
def test_what_there_is_may_be_one_of_several(counter: TestClient, fields: Fields) -> None:
    done = put(counter, PLACE, fields)
    assert (done.status_code, done.headers["etag"], on_hand(counter)) == (200, '"2"', {"A3": 4})


@pytest.mark.parametrize(
    "fields",
    [
        [("If-Match", '"2"')],
        [("If-Match", '"2", "3"')],
        [("If-Match", 'W/"1"')],  # the strong comparison never takes a weak tag
        [("If-Match", '"01"')],
        [("If-Match", '"1,"')],
        [("If-Match", "")],
        [("If-None-Match", "*")],
        [("If-None-Match", '"1"')],
        [("If-None-Match", 'W/"7", W/"1"')],  # the weak one does
        [("If-Match", '"1"'), ("If-None-Match", '"1"')],
        [("If-Match", "*"), ("If-None-Match", "*")],
    ],
)
def test_nothing_is_written_where_the_condition_does_not_hold(counter: TestClient, fields: Fields) -> None:
    refused = put(counter, PLACE, fields)
    assert problem(refused) == MISMATCH
    assert on_hand(counter) == {"A3": 1}


def test_a_weak_tag_is_told_what_is_wrong_with_it(counter: TestClient) -> None:
    assert "W/" in put(counter, PLACE, [("If-Match", 'W/"1"')]).json()["fix"]


@pytest.mark.parametrize("fields", [[("If-Match", "*")], [("If-Match", '"0"')], [("If-Match", '"1", "0"')]])
def test_where_there_is_nothing_no_tag_matches(counter: TestClient, fields: Fields) -> None:
    assert problem(put(counter, EMPTY, fields)) == MISMATCH
    assert put(counter, EMPTY, [("If-None-Match", "*")]).status_code == 200
    assert on_hand(counter) == {"A3": 1, "B9": 4}


@pytest.mark.parametrize("fields", [[], [("If-None-Match", "")], [("If-None-Match", " , ")]])
def test_a_change_that_names_no_version_is_asked_for_one(counter: TestClient, fields: Fields) -> None:
    assert problem(put(counter, PLACE, fields)) == (428, "version-wanted")


def test_a_retry_finds_its_own_version_and_passes_over_it(counter: TestClient) -> None:
    fields = [("If-Match", '"1", "7"'), ("Idempotency-Key", "k-1")]
    first, again = put(counter, PLACE, fields), put(counter, PLACE, fields)
    assert (first.status_code, again.status_code) == (200, 200)
    assert again.headers["idempotency-replayed"] == "true" and again.content == first.content
    assert problem(put(counter, PLACE, fields[:1])) == MISMATCH


def test_prices_jobs_figures_and_rates_take_a_list(counter: TestClient) -> None:
    prices = {p["condition"]: p["version"] for p in counter.get("/v1/prices?part=OS-201").json()}
    told = {"price": "130.00", "currency": "EUR", "as_of": "2026-05-01", "author": "ina"}
    job, stage = {"customer": "Moor", "author": "ina"}, {"stage": "stripped", "author": "ina"}
    paid = {"what": "taken", "amount": "10.00", "currency": "EUR", "author": "ina"}
    days, rate = {"days": 30, "author": "ina"}, {"per_hour": "80.00", "currency": "EUR", "author": "ina"}

    def listed(*tags: int) -> dict[str, str]:
        return {"If-Match": ", ".join(f'"{tag}"' for tag in (999, *tags))}

    def made(method: str, path: str, body: dict[str, Any]) -> None:
        """Made, changed under a list with its version, refused under one without."""
        first = counter.request(method, path, json=body, headers={"If-None-Match": "*"})
        assert first.status_code == 200, first.text
        tag = int(first.headers["etag"].strip('"'))
        assert problem(counter.request(method, path, json=body | {"note": "n"}, headers=listed(tag + 1))) == MISMATCH
        assert counter.request(method, path, json=body | {"note": "n"}, headers=listed(tag)).status_code == 200

    done = counter.put("/v1/prices?part=OS-201", json=told, headers=listed(prices["new"]))
    assert done.status_code == 200
    made("PUT", "/v1/jobs/J-1", job)
    made("PUT", "/v1/shop/figures?figure=validity", days)
    made("PUT", "/v1/shop/rates?name=bench", rate)
    for path, body in (("stages", stage), ("deposits", paid)):
        tag = int(counter.get("/v1/jobs/J-1").headers["etag"].strip('"'))
        assert problem(counter.post(f"/v1/jobs/J-1/{path}", json=body, headers=listed(tag + 1))) == MISMATCH
        assert counter.post(f"/v1/jobs/J-1/{path}", json=body, headers=listed(tag)).status_code == 201


def test_a_commit_and_an_undo_take_a_list(counter: TestClient) -> None:
    change = counter.post("/v1/changes", json={"title": "a source", "author": "ina"}).json()["id"]
    rows = {"sheet": "sources", "rows": [{"source": "drawing 8", "kind": "drawing"}], "author": "ina"}
    version = counter.post(f"/v1/changes/{change}/rows", json=rows).json()["version"]
    asked = {"version": version, "author": "ina"}
    path = f"/v1/changes/{change}/commit"
    assert problem(counter.post(path, json=asked, headers={"If-Match": '"7", "8"'})) == MISMATCH
    done = counter.post(path, json=asked, headers={"If-Match": '"7", "1"'})
    assert (done.status_code, done.headers["etag"]) == (200, '"2"'), done.text
    sent = {"If-Match": '"2", "1"', "Idempotency-Key": "u-1"}
    undone = counter.post("/v1/history/2/undo", json={"author": "ina"}, headers=sent)
    assert (undone.status_code, undone.json()["change_set"]["n"]) == (200, 3), undone.text


def test_what_is_staged_is_held_to_a_version_where_one_is_sent(counter: TestClient) -> None:
    begun = counter.post("/v1/changes", json={"title": "two at once", "author": "ina"})
    path, tag = begun.headers["location"], begun.headers["etag"]
    rows = {"sheet": "sources", "rows": [{"source": "drawing 8", "kind": "drawing"}], "author": "ina"}
    first = counter.post(f"{path}/rows", json=rows, headers={"If-Match": tag})
    assert first.status_code == 201 and first.headers["etag"] != tag
    for method, below, sent in (
        ("POST", "/rows", {"json": rows}),
        ("POST", "/back", {"json": {"rows": ["s" + "0" * 24], "author": "ina"}}),
        ("POST", "/files?author=ina", {"content": b"name\nx\n"}),
        ("DELETE", "/items/1?author=ina", {}),
        ("DELETE", "?author=ina", {}),
    ):
        fields = {"If-Match": tag} | ({"Content-Type": "text/csv"} if "content" in sent else {})
        refused = counter.request(method, path + below, headers=fields, **sent)
        assert problem(refused) == MISMATCH, below
    held = counter.get(path)
    assert (held.headers["etag"], len(held.json()["items"])) == (first.headers["etag"], 1)
    assert counter.post(f"{path}/rows", json=rows).status_code == 201, "without a condition it is added"
    now = counter.get(path).headers["etag"]
    dropped = counter.delete(f"{path}?author=ina", headers={"If-Match": f'"0", {now}'})
    assert dropped.json()["state"] == "dropped"


def test_a_condition_on_what_has_no_versions_is_not_passed_over(counter: TestClient, small: Path) -> None:
    watch = {"label": "x", "kind": "part", "part": "OS-201", "author": "ina"}
    for fields in ({"If-Match": '"1"'}, {"If-None-Match": "*"}):
        assert problem(counter.post("/v1/watches", json=watch, headers=fields)) == MISMATCH
    assert counter.get("/v1/watches").json() == []
    assert counter.post("/v1/watches", json=watch, headers={"If-Match": "*"}).status_code == 201
