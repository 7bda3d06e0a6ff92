"""Who may do what: every route that writes, with and without a key, from here and from elsewhere."""

import base64
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient
from writing_desk import ELSEWHERE, HERE, caller, key_for, problem, shop_app

from api.writing import Writes
from graph.desk import open_desk

READING = {"author": "ina", "seat": "cover", "feature": "bore", "value": "52.61", "uncertainty": "0.01"}
ROUTE = "/v1/cores/C-1/readings"


@pytest.fixture(name="folder")
def folder_fixture(small: Path) -> Path:
    return small


METHODS = ("get", "head", "options", "post", "put", "patch", "delete")


def writing_routes(app: FastAPI) -> dict[tuple[str, str], str]:
    """Method and path of each route under /v1 that changes something, with the scope that its dependency asks for."""
    found, document = {}, app.openapi()
    shared = document["components"].get("parameters", {})
    for path, item in document["paths"].items():
        for method, operation in item.items():
            if method not in METHODS:
                continue
            told = [
                shared[p["$ref"].rpartition("/")[2]] if "$ref" in p else p for p in operation.get("parameters", ())
            ]
            if "idempotency-key" in {p["name"].casefold() for p in told}:
                found[method.upper(), path] = operation["operationId"]
    return found


def test_while_there_is_no_key_every_answer_says_that_all_is_open(here: TestClient) -> None:
    assert here.get("/v1/snapshot").headers["spoolwright-access"].startswith("no key yet")
    key_for(here, "x", "read")
    assert "spoolwright-access" not in here.get("/v1/snapshot").headers


def test_without_keys_this_machine_writes_and_nobody_else(app: FastAPI, here: TestClient) -> None:
    assert here.post(ROUTE, json=READING).status_code == 201
    away = caller(app, at=ELSEWHERE, host="shop.example")
    assert problem(away.post(ROUTE, json=READING)) == (401, "no-key")
    assert away.get("/v1/snapshot").status_code == 200  # reading is open until there are keys


@pytest.mark.parametrize(
    "sent",
    [
        {"x-forwarded-for": "127.0.0.1"},
        {"forwarded": "for=127.0.0.1"},
        {"host": "shop.example"},  # a name of another site that leads here
        {"origin": "http://shop.example"},
        {"sec-fetch-site": "cross-site"},
    ],
    ids=lambda sent: next(iter(sent)),
)
def test_what_only_looks_like_this_machine_does_not_write(here: TestClient, sent: dict[str, str]) -> None:
    assert problem(here.post(ROUTE, json=READING, headers=sent)) == (401, "no-key")


def test_a_server_beyond_loopback_without_keys_refuses_every_write(app: FastAPI) -> None:
    app.state.open_here = False
    assert problem(caller(app).post(ROUTE, json=READING)) == (401, "no-key")


def test_once_there_is_a_key_writing_takes_one_and_its_name_signs(
    app: FastAPI, here: TestClient, folder: Path
) -> None:
    bench = key_for(here, "Bea at the bench", "bench")
    assert problem(here.post(ROUTE, json=READING)) == (401, "no-key")
    assert here.get("/v1/snapshot").status_code == 200  # the counter on this machine goes on reading
    away = caller(app, at=ELSEWHERE, host="shop.example")
    assert problem(away.get("/v1/snapshot")) == (401, "no-key")
    keyed = caller(app, key=bench, at=ELSEWHERE, host="shop.example")
    assert keyed.get("/v1/snapshot").status_code == 200
    assert keyed.post(ROUTE, json={**READING, "author": "somebody else"}).status_code == 201
    newest = here.get("/v1/history").json()[0]
    assert newest["author"] == "Bea at the bench"
    desk = open_desk(folder)
    assert next(desk.history()).author == "Bea at the bench"
    desk.close()


def test_a_key_without_the_scope_is_refused_by_name(app: FastAPI, here: TestClient) -> None:
    keyed = caller(app, key=key_for(here, "clerk", "stock"))
    refused = keyed.post(ROUTE, json=READING)
    assert problem(refused) == (403, "no-scope")
    assert "bench" in refused.json()["detail"]


@pytest.mark.parametrize("sent", ["Bearer sw_nobody00_xyz", "Bearer", "Basic !!!", "Digest a=b", "Bearer a b"])
def test_a_wrong_key_is_refused_even_where_none_is_needed(here: TestClient, sent: str) -> None:
    refused = here.get("/v1/snapshot", headers={"Authorization": sent})
    assert problem(refused) == (401, "no-key")
    # RFC 9110 section 11.6.1: a 401 names at least one challenge.
    assert refused.headers["www-authenticate"].startswith("Bearer")


def test_a_password_of_a_browser_opens_reading_only(app: FastAPI, here: TestClient) -> None:
    secret = key_for(here, "front office", "bench")
    basic = {"Authorization": "Basic " + base64.b64encode(f"counter:{secret}".encode()).decode()}
    away = caller(app, at=ELSEWHERE, host="shop.example")
    assert away.get("/v1/snapshot", headers=basic).status_code == 200
    assert problem(away.post(ROUTE, json=READING, headers=basic)) == (401, "no-key")


def test_a_revoked_key_is_refused_at_once_by_the_server_that_revoked_it(app: FastAPI, here: TestClient) -> None:
    chief = caller(app, key=key_for(here, "chief", "admin"))
    clerk = key_for(chief, "clerk", "bench")
    keyed = caller(app, key=clerk)
    assert keyed.post(ROUTE, json=READING).status_code == 201
    shown = chief.get("/v1/keys").json()
    id_ = next(k["id"] for k in shown if k["name"] == "clerk")
    assert clerk.split("_", 2)[2] not in chief.get("/v1/keys").text
    assert chief.delete(f"/v1/keys/{id_}").json()["revoked"]
    assert problem(keyed.post(ROUTE, json={**READING, "value": "52.68"})) == (401, "no-key")
    acts = chief.get("/v1/audit").json()["acts"]
    assert [(a["who"], a["did"]) for a in acts] == [
        ("chief", "key revoked"),
        ("chief", "key made"),
        ("Ada", "key made"),
    ]
    first = chief.get("/v1/audit?limit=2")
    assert (len(first.json()["acts"]), first.json()["truncated"]) == (2, True)
    assert f'<{first.json()["next"]}>; rel="next"' in first.headers["link"]
    rest = chief.get(first.json()["next"]).json()
    assert [(a["who"], rest["truncated"]) for a in rest["acts"]] == [("Ada", False)]


def test_a_renewed_key_opens_under_its_name_by_its_new_secret_alone(app: FastAPI, here: TestClient) -> None:
    chief = caller(app, key=key_for(here, "chief", "admin"))
    old = key_for(chief, "clerk", "bench")
    assert caller(app, key=old).post(ROUTE, json=READING).status_code == 201
    id_ = old.split("_")[1]
    assert problem(caller(app, key=old).post(f"/v1/keys/{id_}/secret")) == (403, "no-scope")
    sent = {"Idempotency-Key": "r-1"}
    renewed = chief.post(f"/v1/keys/{id_}/secret", headers=sent).json()
    new = renewed["secret"]
    assert new.split("_")[:2] == ["sw", id_] and new != old
    assert (renewed["key"]["name"], renewed["key"]["scopes"]) == ("clerk", ["bench"])
    assert problem(caller(app, key=old).get("/v1/snapshot")) == (401, "no-key")
    assert caller(app, key=new).post(ROUTE, json={**READING, "value": "52.68"}).status_code == 201
    assert [c["author"] for c in chief.get("/v1/history").json()].count("clerk") == 2, "both are signed by one name"
    # A retry whose answer got lost makes no other secret, and tells this one to nobody.
    assert chief.post(f"/v1/keys/{id_}/secret", headers=sent).json()["secret"] == ""
    assert caller(app, key=new).get("/v1/snapshot").status_code == 200
    assert chief.get("/v1/audit").json()["acts"][0]["did"] == "key given a new secret"
    chief.delete(f"/v1/keys/{id_}")
    assert problem(chief.post(f"/v1/keys/{id_}/secret")) == (409, "conflict")
    assert problem(chief.post("/v1/keys/nobody00/secret")) == (404, "not-found")


@pytest.mark.parametrize("path", ["/v1/keys", "/v1/audit"])
def test_keys_and_acts_are_told_to_admins_alone(app: FastAPI, here: TestClient, path: str) -> None:
    keyed = caller(app, key=key_for(here, "clerk", "stock", "edit", "sign-off", "bench"))
    assert problem(keyed.get(path)) == (403, "no-scope")
    assert problem(here.get(path)) == (401, "no-key")


def test_the_demo_is_open_on_this_machine_alone_and_says_so(folder: Path) -> None:
    app = shop_app(folder, demo=True)
    with caller(app) as here:
        said = here.get("/v1/snapshot").headers["spoolwright-access"]
        assert said.startswith("demo")
        assert here.post(ROUTE, json=READING).status_code == 201
        key_for(here, "x", "read")
        assert here.post(ROUTE, json={**READING, "value": "52.68"}).status_code == 201  # still open here
        away = caller(app, at=ELSEWHERE, host="shop.example")
        assert problem(away.post(ROUTE, json=READING)) == (401, "no-key")


def test_nobody_without_a_key_writes_through_any_route(app: FastAPI, here: TestClient) -> None:
    """RELIABILITY T8: the table of routes is made from the application; each that writes is refused without a key."""
    key_for(here, "x", "read")
    routes = writing_routes(app)
    assert ("POST", "/v1/cores") in routes
    for method, path in routes:
        said: dict[str, Any] = {"json": {}} if method != "DELETE" else {}
        address = path.replace("{", "").replace("}", "")
        assert problem(here.request(method, address, **said)) == (401, "no-key"), (method, path)


ASKING = {
    "/v1/fits", "/v1/plans", "/v1/picklists", "/v1/verify", "/v1/identify", "/v1/settle", "/v1/why", "/v1/unknown",
    "/v1/weigh", "/v1/rank", "/v1/reach", "/v1/least", "/v1/keep-in-stock",
    "/v1/sheets", "/v1/shelf/plans", "/v1/shelf/rush",
}  # fmt: skip
"""POSTs that ask and write nothing."""


def test_every_route_that_is_no_question_is_marked_as_writing(app: FastAPI) -> None:
    marked = writing_routes(app)
    rest = {
        (method.upper(), path)
        for path, item in app.openapi()["paths"].items()
        for method in item
        if method in ("post", "put", "patch", "delete") and (method.upper(), path) not in marked
    }
    strangers = {
        (m, p)
        for m, p in rest
        if not (
            p in ASKING or p.startswith(("/v1/calc", "/v1/batch", "/v1/sparql")) or p.endswith(("/batch", ":ask"))
        )
    }
    assert strangers == set()
    assert isinstance(Writes("stock"), Writes)


def test_who_is_at_this_machine_is_told_by_address(app: FastAPI) -> None:
    assert caller(app, at=("::1", 1), host="[::1]").post(ROUTE, json=READING).status_code == 201
    assert (
        caller(app, at=HERE, host="localhost:8321").post(ROUTE, json={**READING, "value": "52.67"}).status_code == 201
    )
