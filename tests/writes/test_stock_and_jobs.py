"""Stock, prices, promises, jobs and deposits over HTTP, on the small shop of store_rows.

The stages and what may follow them are common practice, no source.
"""

from pathlib import Path
from typing import Any

import pytest
import store_postgres
from starlette.testclient import TestClient
from store_rows import shop
from writing_desk import caller, problem, shop_app

from graph.desk import Desk
from graph.desk.jobs import job as job_of
from graph.desk.jobs import stock as stock_of
from graph.desk.jobs import stock_lines
from graph.errors import Conflict, Stale
from graph.index.store import Store
from graph.model.jobs import FOLLOWS
from graph.model.sheet import STAGES
from graph.publish import (
    deposit,
    move,
    promise,
    publish_statements,
    put_price,
    put_stock,
    take_on,
    undo,
    verify_store,
)  # fmt: skip

WHEEL = "OS-201"  # one at A3, by store_rows
NEW = {"If-None-Match": "*"}


def at(version: int) -> dict[str, str]:
    return {"If-Match": f'"{version}"'}


def put_quantity(client: TestClient, quantity: int, place: str, version: dict[str, str]) -> Any:
    return client.put(
        "/v1/stock", params={"part": WHEEL, "place": place}, json={"quantity": quantity, "author": "ina"},
        headers=version,
    )  # fmt: skip


def test_stock_is_put_by_part_and_place_on_the_version_that_was_seen(counter: TestClient) -> None:
    seen = counter.get("/v1/stock", params={"part": WHEEL}).json()
    assert [(p["place"], p["quantity"], p["version"]) for p in seen["places"]] == [("A3", 1, 1)]
    done = put_quantity(counter, 4, "A3", at(1))
    assert (done.status_code, done.json()["on_hand"], done.headers["etag"]) == (200, 4, '"2"')
    assert problem(put_quantity(counter, 9, "A3", at(1))) == (412, "version-mismatch")
    assert problem(put_quantity(counter, 9, "A3", NEW)) == (412, "version-mismatch")
    assert problem(put_quantity(counter, 9, "B1", at(2))) == (412, "version-mismatch")
    assert problem(put_quantity(counter, 9, "B1", {})) == (428, "version-wanted")
    assert put_quantity(counter, 2, "B1", NEW).json()["on_hand"] == 6
    # The next question sees it, and the one as of before does not.
    assert counter.get("/v1/stock", params={"part": WHEEL}).json()["on_hand"] == 6


@pytest.mark.parametrize("said", [{"quantity": -1}, {"quantity": 1.5}, {"quantity": "4"}, {"quantity": 10**30}])
def test_a_quantity_that_is_none_is_refused(counter: TestClient, said: dict[str, Any]) -> None:
    refused = counter.put("/v1/stock", params={"part": WHEEL}, json={**said, "author": "x"}, headers=NEW)
    assert problem(refused) == (422, "bad-request")


def test_a_price_is_put_and_the_earlier_one_holds_for_earlier_days(counter: TestClient, small: Path) -> None:
    (new, used) = counter.get("/v1/prices", params={"part": WHEEL}).json()
    assert (new["price"], used["price"]) == (12050, 6000)  # store_rows
    said = {"price": "130.00", "currency": "EUR", "as_of": "2026-05-01", "lead_days": 6, "author": "ina"}
    done = counter.put("/v1/prices", params={"part": WHEEL}, json=said, headers=at(new["version"]))
    assert (done.status_code, done.json()["price"], done.json()["lead_days"]) == (200, 13000, 6)
    stale = counter.put("/v1/prices", params={"part": WHEEL}, json=said, headers=at(new["version"]))
    assert problem(stale) == (412, "version-mismatch")
    store = Store.open(small)
    _, shelf = store.snapshot()
    part = "part/Ostrel/OS-201"
    before, after = shelf.price(part, day="2026-04-30"), shelf.price(part, day="2026-05-01")
    assert before is not None
    assert after is not None
    assert (before.price, after.price) == (12050, 13000)
    store.close()
    assert problem(
        counter.put("/v1/prices", params={"part": WHEEL}, json={**said, "price": "1.005"}, headers=at(2))
    ) == (422, "findings")


def test_what_is_promised_is_not_promised_again(counter: TestClient) -> None:
    asked = {"job": "J-1", "part": WHEEL, "author": "ina"}
    assert counter.post("/v1/reservations", json=asked).status_code == 201
    assert counter.get("/v1/stock", params={"part": WHEEL}).json()["free"] == 0
    assert problem(counter.post("/v1/reservations", json={**asked, "job": "J-2"})) == (409, "conflict")
    assert counter.post("/v1/reservations", json={"job": "J-1", "tag": "C-2", "author": "i"}).status_code == 201
    for other in ({"tag": "C-2"}, {"tag": "C-2", "seat": "cover"}):
        assert problem(counter.post("/v1/reservations", json={"job": "J-2", **other, "author": "i"})) == (
            409, "conflict",
        )  # fmt: skip
    assert counter.delete("/v1/reservations", params={"job": "J-1", "author": "ina"}).json() == []
    assert counter.post("/v1/reservations", json={**asked, "job": "J-2"}).status_code == 201


def take(client: TestClient, name: str = "J-7") -> Any:
    body = {
        "core": "C-1",
        "build": "stage 1",
        "engine": "B5",
        "customer": "sawmill",
        "due": "2026-12-01",
        "author": "ina",
    }
    return client.put(f"/v1/jobs/{name}", json=body, headers=NEW)


def to(client: TestClient, stage: str, version: int, name: str = "J-7") -> Any:
    return client.post(f"/v1/jobs/{name}/stages", json={"stage": stage, "author": "bea"}, headers=at(version))


def test_a_job_goes_from_stage_to_stage_each_dated_with_its_author(counter: TestClient) -> None:
    made = take(counter)
    assert (made.status_code, made.json()["stage"], made.json()["may"]) == (
        200,
        "received",
        ["stripped", "collected"],
    )
    assert problem(take(counter)) == (412, "version-mismatch")
    version = made.json()["version"]
    for stage in ("stripped", "measured", "cut", "balanced", "tested", "boxed", "collected"):
        done = to(counter, stage, version)
        assert done.status_code == 201, done.text
        version = done.json()["version"]
        assert done.headers["etag"] == f'"{version}"'
    shown = counter.get("/v1/jobs/J-7").json()
    assert [s["stage"] for s in shown["steps"]] == list(STAGES)
    assert [s["who"] for s in shown["steps"]] == ["ina"] + ["bea"] * 7
    assert all(s["time"].startswith("20") for s in shown["steps"])
    assert [s["step"] for s in shown["steps"]] == list(range(1, 9))
    assert counter.get("/v1/jobs?stage=boxed").json() == []
    assert [j["job"] for j in counter.get("/v1/jobs?stage=collected").json()] == ["J-7"]


@pytest.mark.parametrize(("now", "wanted"), [((), "boxed"), ((), "received"), (("stripped", "measured"), "tested")])
def test_a_stage_that_may_not_come_now_is_refused_with_those_that_may(
    counter: TestClient, now: tuple[str, ...], wanted: str
) -> None:
    version = take(counter).json()["version"]
    for stage in now:
        version = to(counter, stage, version).json()["version"]
    refused = to(counter, wanted, version)
    assert problem(refused) == (422, "bad-question")
    assert "after that may come" in refused.json()["fix"]


def test_nothing_is_boxed_untested_nor_tested_unbalanced_whatever_way_is_taken() -> None:
    """Every way through the stages is walked: what is boxed was tested after its last cut, and balanced before."""
    assert set(FOLLOWS) == set(STAGES)
    seen, ways = set(), [("received", False, False)]
    while ways:
        way = ways.pop()
        if way in seen:
            continue
        seen.add(way)
        stage, balanced, tested = way
        for then in FOLLOWS[stage]:
            if then == "tested":
                assert balanced
            if then == "boxed":
                assert tested
                assert balanced
            opened = then in ("stripped", "cut")
            ways.append(
                (then, then == "balanced" or (balanced and not opened), then == "tested" or (tested and not opened))
            )
    assert {stage for stage, _, _ in seen} == set(STAGES)


def test_a_job_that_changed_meanwhile_is_not_moved(counter: TestClient) -> None:
    version = take(counter).json()["version"]
    assert to(counter, "stripped", version).status_code == 201
    assert problem(to(counter, "measured", version)) == (412, "version-mismatch")
    assert problem(to(counter, "stripped", 1, "J-99")) == (404, "not-found")


def test_deposits_are_counted_and_no_more_is_returned_than_is_held(counter: TestClient) -> None:
    version = take(counter).json()["version"]

    def say(what: str, amount: str, currency: str = "EUR") -> Any:
        body = {"what": what, "amount": amount, "currency": currency, "author": "ina"}
        return counter.post("/v1/jobs/J-7/deposits", json=body, headers=at(version))

    version = say("taken", "150.00").json()["version"]
    assert problem(say("returned", "150.01")) == (422, "bad-question")
    assert problem(say("returned", "10.00", "SEK")) == (422, "bad-question")
    assert problem(say("taken", "0")) == (422, "bad-question")
    assert problem(say("taken", "1 1/8 in")) == (422, "bad-question")
    after = say("returned", "100.00").json()
    assert (after["held"], after["currency"]) == (5000, "EUR")  # 150.00 - 100.00, in cents
    version = after["version"]
    assert say("kept", "50.00").json()["held"] == 0


def test_a_stage_sent_twice_with_one_key_is_one_step(counter: TestClient) -> None:
    version = take(counter).json()["version"]
    sent = {**at(version), "Idempotency-Key": "s-1"}
    body = {"stage": "stripped", "author": "bea"}
    first, again = (counter.post("/v1/jobs/J-7/stages", json=body, headers=sent) for _ in range(2))
    assert first.json() == again.json()
    assert len(again.json()["steps"]) == 2


def test_the_shelf_is_kept_alike_on_postgresql(postgres: str, tmp_path: Path) -> None:
    store_postgres.empty(postgres)
    store = Store.create(tmp_path / "shared", postgres)
    publish_statements(store, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    said = {"author": "ina", "time": "2026-11-20T10:00:00Z"}
    wheel = ("Ostrel", "OS-201")
    put_stock(store, wheel, "A3", 3, version=1, **said).sound()
    with pytest.raises(Stale):
        put_stock(store, wheel, "A3", 5, version=1, **said)
    price = {"price": "99.00", "currency": "EUR", "as_of": "2026-11-20"}
    put_price(store, wheel, "new", price, version=1, **said).sound()
    cells = {"maker": "Ostrel", "number": "OS-201", "quantity": "3"}
    promise(store, {"job": "J-1", **cells}, **said).sound()
    with pytest.raises(Conflict):
        promise(store, {"job": "J-2", **cells, "quantity": "1"}, **said)
    take_on(store, {"job": "J-1", "tag": "C-1"}, version=0, **said).sound()
    known = job_of(Desk.over(store), "J-1")
    move(store, known, "stripped", version=known.version, note="", **said).sound()
    known = job_of(Desk.over(store), "J-1")
    deposit(
        store, known, {"what": "taken", "amount": "5.00", "currency": "EUR"}, version=known.version, **said
    ).sound()
    last = job_of(Desk.over(store), "J-1")
    assert (last.stage, last.held) == ("stripped", 500)
    desk = Desk.over(store)
    assert stock_of(desk, "OS-201").free == 0
    lines = stock_lines(desk, None, 9)
    singly = [stock_lines(desk, key, 1)[0] for key in (None, *(key for key, _ in lines[:-1]))]
    assert singly == lines and [line.quantity for _, line in lines if line.number == "OS-201"] == [3]
    assert stock_lines(desk, lines[-1][0], 9) == []
    undo(store, last.version, **said)
    assert job_of(Desk.over(store), "J-1").held == 0
    assert verify_store(store) == []
    store.close()


def test_who_has_no_scope_for_stock_may_not_put_it(small: Path) -> None:
    from writing_desk import key_for

    app = shop_app(small)
    with caller(app) as here:
        bench = caller(app, key=key_for(here, "bench", "bench"))
        assert problem(put_quantity(bench, 4, "A3", at(1))) == (403, "no-scope")
        assert take(bench).json()["steps"][0]["who"] == "bench"
