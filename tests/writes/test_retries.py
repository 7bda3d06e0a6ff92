"""Idempotency-Key on every write: what was carried out once is not carried out again.

The behaviour is that of the IETF draft "The Idempotency-Key HTTP Header Field" (section 2: a retry of a completed
request gets its result, a concurrent one 409, another payload 422), from memory.
"""

import threading
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient
from writing_desk import caller, key_for, problem

from graph.index.store import Store
from graph.ledger.replies import Asked, Replies

CORE = {"author": "ina", "tag": "HB-900", "unit": "OV46-140", "customer": "mill"}
KEY = {"Idempotency-Key": "5f0a1c9e-1"}


def changes(client: TestClient) -> int:
    return len(client.get("/v1/history").json())


def test_the_same_request_again_gets_the_same_answer_and_writes_nothing(here: TestClient) -> None:
    first = here.post("/v1/cores", json=CORE, headers=KEY)
    assert first.status_code == 201
    written = changes(here)
    again = here.post("/v1/cores", json=CORE, headers=KEY)
    assert (again.status_code, again.content) == (201, first.content)
    assert again.headers["idempotency-replayed"] == "true"
    assert changes(here) == written
    # Without a key the second is refused: the tag is taken.
    assert problem(here.post("/v1/cores", json=CORE)) == (409, "conflict")


@pytest.mark.parametrize("other", [{**CORE, "customer": "dairy"}, {**CORE, "tag": "HB-901"}])
def test_the_key_with_another_body_is_refused(here: TestClient, other: dict[str, Any]) -> None:
    here.post("/v1/cores", json=CORE, headers=KEY)
    assert problem(here.post("/v1/cores", json=other, headers=KEY)) == (422, "idempotency-key-reused")


def test_the_key_at_another_address_is_refused(here: TestClient) -> None:
    here.post("/v1/cores", json=CORE, headers=KEY)
    found = {"author": "ina", "seat": "compressor-wheel", "state": "cracked"}
    assert problem(here.post("/v1/cores/HB-900/found", json=found, headers=KEY))[1] == "idempotency-key-reused"


def test_a_request_that_was_refused_may_be_mended_under_the_same_key(here: TestClient) -> None:
    assert here.post("/v1/cores", json={**CORE, "book_value": "much"}, headers=KEY).status_code == 422
    assert here.post("/v1/cores", json=CORE, headers=KEY).status_code == 201


def test_two_callers_may_use_the_same_key(app: FastAPI, here: TestClient) -> None:
    one = caller(app, key=key_for(here, "one", "admin"))
    two = caller(app, key=key_for(one, "two", "admin"))
    assert one.post("/v1/cores", json=CORE, headers=KEY).status_code == 201
    assert two.post("/v1/cores", json={**CORE, "tag": "HB-902"}, headers=KEY).status_code == 201


def test_an_answer_lost_between_the_write_and_its_keeping_is_made_anew(
    here: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As after a kill at that moment: the write is there, the answer was never kept."""
    with monkeypatch.context() as patch:
        patch.setattr(Replies, "keep", lambda *_: None)
        first = here.post("/v1/cores", json=CORE, headers=KEY)
    written = changes(here)
    again = here.post("/v1/cores", json=CORE, headers=KEY)
    assert (again.status_code, again.json()) == (201, first.json())
    assert again.headers["idempotency-replayed"] == "true"
    assert changes(here) == written


def test_the_control_a_retry_is_refused_where_the_write_is_not_put_on_record(
    here: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without it the test above would prove nothing."""
    with monkeypatch.context() as patch:
        patch.setattr(Replies, "keep", lambda *_: None)
        patch.setattr(Replies, "noting", lambda *_: nullcontext())
        assert here.post("/v1/cores", json=CORE, headers=KEY).status_code == 201
    assert problem(here.post("/v1/cores", json=CORE, headers=KEY)) == (409, "conflict")


def test_a_request_with_several_writes_goes_on_where_it_stopped(
    here: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    proposals = [p["name"] for p in here.get("/v1/learn").json()["proposals"]][:3]
    assert len(proposals) == 3
    asked = {"author": "ina", "names": proposals}
    from api.routes import bench

    real, calls = bench._accepted, 0

    def stops(*said: Any) -> None:
        nonlocal calls
        calls += 1
        if calls == 2:
            raise RuntimeError("killed")
        real(*said)

    before = changes(here)
    with monkeypatch.context() as patch:
        patch.setattr(bench, "_accepted", stops)
        assert here.post("/v1/learn/accepted", json=asked, headers=KEY).status_code == 500
    assert changes(here) == before + 1
    assert here.post("/v1/learn/accepted", json=asked, headers=KEY).status_code == 200
    assert changes(here) == before + 3


def test_a_request_that_is_being_carried_out_is_not_begun_again(here: TestClient, folder: Path) -> None:
    store = Store.open(folder)
    with Replies(store.ledger, folder).alone(Asked("", KEY["Idempotency-Key"], "", "", "")):
        assert problem(here.post("/v1/cores", json=CORE, headers=KEY)) == (409, "in-flight")
    assert here.post("/v1/cores", json=CORE, headers=KEY).status_code == 201
    store.close()


def test_ten_at_once_with_one_key_write_once(app: FastAPI, here: TestClient) -> None:
    before, seen = changes(here), []
    gate = threading.Barrier(10)

    def write() -> None:
        with caller(app) as client:
            gate.wait()
            seen.append(client.post("/v1/cores", json=CORE, headers=KEY).status_code)

    threads = [threading.Thread(target=write) for _ in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(seen) <= {201, 409}
    assert 201 in seen
    assert changes(here) == before + 1


@pytest.mark.parametrize("key", ["x" * 256, "caf\u00e9"])
def test_a_key_that_is_none_is_refused(here: TestClient, key: str) -> None:
    refused = here.post("/v1/cores", json=CORE, headers={"Idempotency-Key": key.encode("latin-1")})
    assert problem(refused) == (422, "bad-question")


def test_the_secret_of_a_new_key_is_told_once(here: TestClient) -> None:
    asked = {"name": "clerk", "scopes": ["admin"], "author": "Ada"}
    made = here.post("/v1/keys", json=asked, headers=KEY).json()
    chief = {"Authorization": f"Bearer {made['secret']}", **KEY}
    # The same caller must ask: with the new key it is another one. So ask as that one, twice.
    other = {"name": "helper", "scopes": ["stock"]}
    first, again = (here.post("/v1/keys", json=other, headers=chief) for _ in range(2))
    assert first.json()["secret"]
    assert again.json() == {"key": first.json()["key"], "secret": ""}
