"""The HTTP answers: the same as the desk's, problems with stable codes, safe headers."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from alone import judged_alone
from openapi_spec_validator import validate
from starlette.testclient import TestClient

from api.app import create_app
from graph.desk import Desk
from graph.planning.saved import answer_of

DAY = "2026-11-20"
PLAN = {"core": "HB-017", "build": "larger-wheels", "engine": "BR6-C", "as_of": DAY}


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def test_a_plan_over_http_is_the_desks_and_stands(client: TestClient, demo_desk: Desk) -> None:
    response = client.post("/v1/plans", json={**PLAN, "best": 2})
    assert response.status_code == 200
    answer = answer_of(response.content)
    ours = demo_desk.plan("HB-017", "larger-wheels", "BR6-C", best=2, day=DAY)
    assert [plan.identity for plan in answer.plans] == [plan.identity for plan in ours.plans]
    assert [plan.cost for plan in answer.plans] == [plan.cost for plan in ours.plans]
    assert judged_alone(response.content) == []


def test_a_fits_answer_has_one_address(client: TestClient) -> None:
    asked = {"unit": "OV46-220", "engine": "BR6-C", "as_of": DAY}
    got = client.get("/v1/fits", params=asked)
    posted = client.post("/v1/fits", json=asked)
    assert got.status_code == posted.status_code == 200
    assert got.json() == posted.json()
    assert got.json()[0]["verdict"] == "does not fit"


def test_the_other_direction_is_answered_separately(client: TestClient) -> None:
    answers = client.get(
        "/v1/fits", params={"unit": "OV46-220", "engine": "BR6-C", "both": "true", "as_of": DAY}
    ).json()
    assert len(answers) > 1
    assert all(a["question"]["engine"] != answers[0]["question"]["engine"] for a in answers[1:])


@pytest.mark.parametrize(
    ("form", "media"),
    [
        ("json", "application/json"),
        ("csv", "text/csv"),
        ("text", "text/plain"),
        ("xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    ],
)
def test_a_pick_list_comes_in_four_forms(client: TestClient, form: str, media: str) -> None:
    job = {name: PLAN[name] for name in ("core", "build", "engine")}
    response = client.post(f"/v1/picklists?format={form}", json={"jobs": [job], "as_of": DAY})
    assert response.status_code == 200
    assert response.headers["content-type"].startswith(media)
    assert response.content


def test_a_form_that_there_is_not_is_a_406(client: TestClient) -> None:
    response = client.post("/v1/picklists?format=pdf", json={"jobs": [{"core": "HB-017", "build": "larger-wheels"}]})
    assert (response.status_code, response.json()["code"]) == (406, "not-acceptable")


def problem(response: Any) -> tuple[int, str]:
    assert response.headers["content-type"] == "application/problem+json"
    body = response.json()
    assert body["status"] == response.status_code
    assert body["type"].endswith(body["code"])
    return response.status_code, body["code"]


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ({"core": "HB-999", "build": "larger-wheels"}, 404, "not-found"),
        ({"core": "HB-017", "build": "no-such-build"}, 404, "not-found"),
        ({"core": "HB-017"}, 422, "bad-request"),
        ({"core": "HB-017", "build": "larger-wheels", "discount": 10}, 422, "bad-request"),
        ({"core": "HB-017", "build": "larger-wheels", "best": 0}, 422, "bad-request"),
        ({"core": "HB-017", "build": "larger-wheels", "seconds": -1}, 422, "bad-request"),
        ({"core": 17, "build": "larger-wheels"}, 422, "bad-request"),
    ],
)
def test_a_plan_question_with_a_fault_is_a_problem(
    client: TestClient, body: dict[str, Any], status: int, code: str
) -> None:
    assert problem(client.post("/v1/plans", json=body)) == (status, code)


@pytest.mark.parametrize("raw", [b"{", b'{"core": NaN}', b'{"core": "\\ud800", "build": "x"}', b"\xff\xfe", b"[1,2"])
def test_a_body_that_is_no_json_is_a_problem_and_not_a_crash(client: TestClient, raw: bytes) -> None:
    response = client.post("/v1/plans", content=raw, headers={"content-type": "application/json"})
    assert problem(response)[0] in (404, 422)


def test_an_unknown_address_is_a_problem(client: TestClient) -> None:
    assert problem(client.get("/v1/nothing-here")) == (404, "no-such-route")


def test_head_is_answered_wherever_get_is(client: TestClient) -> None:
    response = client.head("/v1/snapshot")
    assert (response.status_code, response.content) == (200, b"")


def test_every_answer_carries_safe_headers(client: TestClient) -> None:
    for address in ("/", "/v1/snapshot", "/v1/nothing-here", "/static/style.css"):
        headers = client.get(address).headers
        assert "script-src" not in headers["content-security-policy"]
        assert headers["content-security-policy"].startswith("default-src 'none'")
        assert headers["x-content-type-options"] == "nosniff"


def test_a_huge_body_is_refused_before_it_is_read(client: TestClient) -> None:
    response = client.post("/v1/verify", content=b"x", headers={"content-length": str(10**9)})
    assert problem(response) == (413, "too-large")


def test_the_openapi_document_validates_and_is_the_committed_one(client: TestClient) -> None:
    document = client.get("/v1/openapi.json").json()
    validate(document)
    committed = Path(__file__).parents[2] / "docs" / "openapi.json"
    assert document == json.loads(committed.read_text()), "make openapi writes docs/openapi.json anew"


def test_verify_over_http_confirms_against_the_store(client: TestClient) -> None:
    answer = client.post("/v1/plans", json=PLAN)
    judged = client.post("/v1/verify", content=answer.content, headers={"content-type": "application/json"}).json()
    assert judged["refusals"] == []
    assert judged["against"] == "store"


def test_search_finds_by_a_piece_of_the_number(client: TestClient) -> None:
    hits = client.get("/v1/search", params={"q": "OV46-140"}).json()["hits"]
    assert hits[0]["key"] == "unit/Ostrel/OV46-140"


def test_search_says_when_there_is_more(client: TestClient) -> None:
    found = client.get("/v1/search", params={"q": "46", "limit": 1}).json()
    assert len(found["hits"]) == 1
    assert found["truncated"] is True
