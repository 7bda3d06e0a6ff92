"""Events: in the transaction that made them, signed, retried, replayed, and fed; watched questions."""

import http.client
import json
import socket
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import store_postgres
import uvicorn
from hook_receiver import Receiver, receiver
from standardwebhooks import Webhook
from starlette.testclient import TestClient
from store_rows import money, row, shop
from writing_desk import caller, problem, shop_app

from api.courier import targets
from api.courier.courier import Courier
from graph.errors import EventsGone, TargetRefused
from graph.index.store import Store
from graph.ledger.audit import acts
from graph.ledger.outbox import ANSWER, DELAYS, PUBLISHED, STOCK, Outbox
from graph.ledger.retention import let_go
from graph.model.watch import Question
from graph.publish import publish_statements, put_stock, record

WHEEL = ("Ostrel", "OS-201")
SAID = {"author": "ina", "time": "2026-11-20T10:00:00Z"}
START = 1_700_000_000


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = float(datetime.now(UTC).timestamp())  # the reference library refuses what is older than 5 minutes

    def __call__(self) -> float:
        return self.now


@pytest.fixture(name="store")
def store_fixture(small: Path) -> Iterator[Store]:
    opened = Store.open(small)
    yield opened
    opened.close()


@pytest.fixture(name="listening")
def listening_fixture(store: Store) -> Iterator[Receiver]:
    with receiver() as made:
        made.secret = (
            "whsec_" + "c2VjcmV0IG9mIHRoaXJ0eS10d28gYnl0ZXMgISE="
        )  # base64 of 'secret of thirty-two bytes !!'
        Outbox(store.ledger).make_hook(made.url, (), made.secret, by="Ada", time="t")
        yield made


def courier(store: Store, clock: Clock) -> Courier:
    return Courier(lambda: store, private=lambda: True, now=clock)


def hook_of(store: Store) -> str:
    return Outbox(store.ledger).hooks()[0].id


# ── The reference vectors ─────────────────────────────────────────────────────────────────────────────────────


def test_the_signature_is_that_of_the_reference_vector() -> None:
    """Standard Webhooks: the vector that its reference libraries test with (JavaScript, Python, Rust alike)."""
    key, id_ = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "msg_p5jXN8AQM9LWM0D4loKWxJek"
    moment = datetime.fromtimestamp(1614265330, UTC)
    assert Webhook(key).sign(id_, moment, '{"test": 2432232314}') == (
        "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
    )


def test_a_delivery_carries_the_three_headers_and_verifies(store: Store, listening: Receiver) -> None:
    clock = Clock()
    record(store, [row("rates", name="shop", per_hour=money(1), currency="EUR")], **SAID)
    assert courier(store, clock).turn() == 0  # a rate is neither stock nor catalogue
    put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    assert courier(store, clock).turn() == 1
    ((id_, payload),) = listening.got  # the receiver verified it with the reference library
    assert id_.startswith("msg_")
    assert set(payload) == {"type", "timestamp", "data"}  # as the specification recommends
    assert payload["type"] == STOCK
    assert payload["data"]["keys"] == [{"sheet": "stock", "key": ["Ostrel", "OS-201", "A3"]}]
    assert payload["data"]["author"] == "ina"
    with pytest.raises(Exception, match="signature"):
        listening.secret = "whsec_b3RoZXI="
        body = json.dumps(payload)
        signed = {"webhook-id": id_, "webhook-timestamp": str(int(clock.now)), "webhook-signature": "v1,AAAA"}
        Webhook(listening.secret).verify(body, signed)


# ── The outbox ────────────────────────────────────────────────────────────────────────────────────────────────


def test_an_event_is_there_exactly_if_its_change_set_is(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    from graph.publish import writing

    before = Outbox(store.ledger).last()

    def fails(*_: object) -> None:
        raise RuntimeError("killed")

    with monkeypatch.context() as patch:
        patch.setattr(writing, "tell_of", fails)
        with pytest.raises(RuntimeError):
            put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    assert store.snapshot()[1].n == 1
    assert Outbox(store.ledger).last() == before
    publish_statements(store, [row("kinds", kind="nut", label="nut")], **SAID)
    (event,) = Outbox(store.ledger).events(before)
    assert (event.type, event.n, event.data["sheets"]) == (PUBLISHED, 2, {"kinds": 1})


def test_a_failed_delivery_is_tried_again_later_and_later_under_one_id(store: Store, listening: Receiver) -> None:
    clock = Clock()
    listening.answers = [500, 302, 404]
    put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    for tries, delay in enumerate(DELAYS[:3], 1):
        assert courier(store, clock).turn() == 1
        (state,) = Outbox(store.ledger).deliveries(hook_of(store))
        assert (state.state, state.tries, state.due - int(clock.now)) == ("waiting", tries, delay)
        clock.now += delay - 1
        assert courier(store, clock).turn() == 0
        listening.secret = ""  # the reference library goes by the clock of the machine, and ours runs ahead
        clock.now += 1
    assert courier(store, clock).turn() == 1
    (state,) = Outbox(store.ledger).deliveries(hook_of(store))
    assert (state.state, state.last, listening.came) == ("delivered", "answered 204", 4)  # the redirect led nowhere


def test_when_all_tries_are_used_up_a_delivery_is_dead_until_it_is_sent_again(
    store: Store, listening: Receiver
) -> None:
    clock = Clock()
    secret, listening.secret = listening.secret, ""
    listening.answers = [503] * (len(DELAYS) + 1)
    put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    for delay in (*DELAYS, 0):
        assert courier(store, clock).turn() == 1
        clock.now += delay
    (state,) = Outbox(store.ledger).deliveries(hook_of(store), "dead")
    assert (state.tries, state.last) == (10, "answered 503")
    clock.now += 10**7
    assert courier(store, clock).turn() == 0
    fresh = Clock()
    listening.secret = secret
    outbox, (event,) = Outbox(store.ledger), Outbox(store.ledger).events()[-1:]
    assert outbox.replay(hook_of(store), event.at, event.at, now=int(fresh.now), by="Ada", time="t") == 1
    assert courier(store, fresh).turn() == 1
    assert [id_ for id_, _ in listening.got] == [event.id]


def test_what_is_sent_again_has_its_own_id(store: Store, listening: Receiver) -> None:
    clock = Clock()
    put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    courier(store, clock).turn()
    outbox = Outbox(store.ledger)
    outbox.replay(hook_of(store), 1, outbox.last(), now=int(clock.now), by="Ada", time="t")
    while courier(store, clock).turn():
        pass
    ids = [id_ for id_, _ in listening.got]
    assert len(ids) == outbox.last() + 1
    assert len(set(ids)) == outbox.last()
    assert {id_: json.dumps(p, sort_keys=True) for id_, p in listening.got} == {
        id_: json.dumps(p, sort_keys=True) for id_, p in reversed(listening.got)
    }  # the same id, the same words


def test_a_receiver_that_is_gone_is_told_nothing_more(store: Store, listening: Receiver) -> None:
    listening.answers = [410]
    put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    courier(store, Clock()).turn()
    assert Outbox(store.ledger).hooks()[0].ended
    put_stock(store, WHEEL, "A3", 5, version=2, **SAID)
    assert courier(store, Clock()).turn() == 0


def test_a_receiver_that_does_not_answer_is_a_failed_try(store: Store) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{free.getsockname()[1]}/"
    Outbox(store.ledger).make_hook(url, (STOCK,), "whsec_c2VjcmV0", by="Ada", time="t")
    put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    assert courier(store, Clock()).turn() == 1
    (state,) = Outbox(store.ledger).deliveries(hook_of(store))
    assert state.state == "waiting"
    assert "ConnectionRefusedError" in state.last


def test_two_couriers_of_one_store_do_not_both_bring(store: Store, small: Path, listening: Receiver) -> None:
    from graph.errors import InFlight
    from graph.ledger.alone import alone

    put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    other = Store.open(small)
    with alone(other.ledger, small, "courier", "busy"), pytest.raises(InFlight):
        courier(store, Clock()).turn()
    other.close()
    assert courier(store, Clock()).turn() == 1


def test_events_are_kept_alike_on_postgresql(postgres: str, tmp_path: Path) -> None:
    store_postgres.empty(postgres)
    store = Store.create(tmp_path / "shared", postgres)
    publish_statements(store, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    with receiver() as listening:
        listening.secret = "whsec_c2VjcmV0"
        Outbox(store.ledger).make_hook(listening.url, (STOCK,), listening.secret, by="Ada", time="t")
        put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
        assert courier(store, Clock()).turn() == 1
        assert [payload["type"] for _, payload in listening.got] == [STOCK]
    assert [e.at for e in Outbox(store.ledger).events()] == [1, 2, 3]  # published and stocked by the shop's rows
    store.close()


# ── How long they are kept ────────────────────────────────────────────────────────────────────────────────────


def stocked(store: Store, number: int, day: str) -> None:
    """Another count of the wheel on a day: one event."""
    put_stock(store, WHEEL, "A3", number, version=number - 3, author="ina", time=f"{day}T10:00:00Z")


def all_stocked(store: Store) -> list[int]:
    for number, day in ((4, "2026-03-01"), (5, "2026-03-02"), (6, "2026-06-01")):
        stocked(store, number, day)
    return [e.at for e in Outbox(store.ledger).events()]


def test_old_events_go_young_ones_stay_and_no_number_is_given_twice(store: Store) -> None:
    numbers = all_stocked(store)
    assert numbers == list(range(1, len(numbers) + 1))
    outbox, kept = Outbox(store.ledger), numbers[-1]
    done = let_go(store.ledger, "2026-06-01T00:00:00Z", by="Ada", time="2026-06-02T00:00:00Z")
    assert (done.count, done.through) == (kept - 1, kept - 1)
    assert [e.at for e in outbox.events()] == [e.at for e in outbox.events(kept - 1)] == [kept]
    for seen in (0, kept - 2):
        with pytest.raises(EventsGone, match=f"events up to {kept - 1}"):
            outbox.events(seen)
    assert let_go(store.ledger, "2027-01-01T00:00:00Z", by="Ada", time="t").through == kept
    assert outbox.events() == ()
    stocked(store, 7, "2027-01-02")
    assert [e.at for e in outbox.events()] == [kept + 1]
    assert [a.about for a in acts(store.ledger) if a.did == "events let go"][-1].startswith(f"{kept - 1}, up to")


def test_what_is_not_delivered_stays_until_it_is_or_its_webhook_is_ended(store: Store, listening: Receiver) -> None:
    clock = Clock()
    listening.answers = [503] * (len(DELAYS) + 1)
    secret, listening.secret = listening.secret, ""
    first = Outbox(store.ledger).last() + 1
    stocked(store, 4, "2026-03-01")
    for delay in (*DELAYS, 0):
        courier(store, clock).turn()
        clock.now += delay
    numbers = all_stocked_after(store)
    outbox, hook = Outbox(store.ledger), hook_of(store)
    assert [(d.at, d.state) for d in outbox.deliveries(hook, "dead")] == [(first, "dead")]
    let_go(store.ledger, "2027-01-01T00:00:00Z", by="Ada", time="t")
    assert {d.at for d in outbox.deliveries(hook)} == {first, *numbers}, "dead and waiting ones stay"
    with pytest.raises(EventsGone):
        outbox.replay(hook, 1, first, now=0, by="Ada", time="t")
    listening.secret, fresh = secret, Clock()
    assert outbox.replay(hook, first, first, now=int(fresh.now), by="Ada", time="t") == 1
    while courier(store, fresh).turn():
        pass
    assert sorted(p["data"]["change_set"] for _, p in listening.got) == [2, 3, 4]
    assert let_go(store.ledger, "2027-01-01T00:00:00Z", by="Ada", time="t").count == 3
    assert outbox.deliveries(hook) == ()
    stocked(store, 7, "2026-03-01")
    outbox.end_hook(hook, by="Ada", time="t")
    assert let_go(store.ledger, "2027-01-01T00:00:00Z", by="Ada", time="t").count == 1


def all_stocked_after(store: Store) -> list[int]:
    before = Outbox(store.ledger).last()
    for number, day in ((5, "2026-03-02"), (6, "2026-06-01")):
        stocked(store, number, day)
    return [before + 1, before + 2]


def test_the_server_lets_old_events_go_once_a_day(store: Store) -> None:
    all_stocked(store)
    clock = Clock()
    clock.now = datetime(2026, 6, 1, 12, tzinfo=UTC).timestamp()
    ninety = Courier(lambda: store, private=lambda: True, now=clock, kept_days=90)
    ninety.turn()
    assert [e.time[:10] for e in Outbox(store.ledger).events()] == ["2026-06-01"]  # 2 March is 91 days before
    for_ever = Courier(lambda: store, private=lambda: True, now=clock)
    clock.now += 400 * 86_400
    for_ever.turn()
    assert len(Outbox(store.ledger).events()) == 1
    ninety.turn()
    assert Outbox(store.ledger).events() == ()


def test_a_reader_that_comes_back_too_late_is_told_where_to_go_on(counter: TestClient, store: Store) -> None:
    numbers = all_stocked(store)
    assert counter.get("/v1/events").json()["gone"] == 0
    assert problem(counter.delete("/v1/events?author=Ada")) == (422, "bad-request")
    sent = {"Idempotency-Key": "clear-1"}
    stocked(store, 7, datetime.now(UTC).strftime("%Y-%m-%d"))
    done = counter.delete("/v1/events?older_than_days=30&author=Ada", headers=sent)
    through = numbers[-1]
    assert done.json() == {"count": through, "through": through}
    assert counter.delete("/v1/events?older_than_days=30&author=Ada", headers=sent).json() == done.json()
    told = counter.get("/v1/events").json()
    assert ([e["at"] for e in told["events"]], told["gone"]) == ([through + 1], through)
    gone = counter.get("/v1/events?after=1")
    assert problem(gone) == (410, "events-gone")
    assert f"go on after event {through}" in gone.json()["fix"]
    assert problem(counter.get("/v1/events/feed", headers={"Last-Event-ID": "1"})) == (410, "events-gone")
    counter.app.state.private_hooks = True  # type: ignore[attr-defined]
    hook = counter.post("/v1/hooks", json={"url": "http://127.0.0.1:9/", "author": "Ada"}).json()["hook"]["id"]
    asked = {"first": 1, "last": through, "author": "Ada"}
    assert problem(counter.post(f"/v1/hooks/{hook}/replay", json=asked)) == (410, "events-gone")


# ── Watched questions ─────────────────────────────────────────────────────────────────────────────────────────


def watch(client: TestClient, label: str, **question: str) -> Any:
    return client.post("/v1/watches", json={"label": label, "author": "ina", **question})


def test_a_customer_who_waits_for_a_part_is_told_when_it_comes_and_once(
    counter: TestClient, store: Store, listening: Receiver
) -> None:
    made = watch(counter, "sawmill waits", kind="part", part="OS-101")
    assert (made.status_code, made.json()["word"]) == (201, "not on hand")
    put_stock(store, ("Ostrel", "OS-101"), "B2", 1, version=0, **SAID)
    here = courier(store, Clock())
    while here.turn():
        pass
    told = [p["data"] for _, p in listening.got if p["type"] == ANSWER]
    assert [(t["label"], t["before"]["word"], t["after"]["word"]) for t in told] == [
        ("sawmill waits", "not on hand", "on hand")
    ]
    put_stock(store, ("Ostrel", "OS-101"), "B2", 2, version=2, **SAID)
    while here.turn():
        pass
    assert len([1 for _, p in listening.got if p["type"] == ANSWER]) == 1  # it still is on hand
    assert counter.get(f"/v1/watches/{made.json()['id']}").json()["word"] == "on hand"


def test_a_watched_fit_turns_when_the_catalogue_says_more(counter: TestClient, store: Store) -> None:
    made = watch(counter, "B6", kind="fits", unit="OU 10", engine="B6").json()
    assert made["word"] == "not known"
    flange = row(
        "engine_values",
        "drawing 7",
        maker="Brackmoor",
        engine="B6",
        feature="flange",
        value={"code": "a4", "text": "A4"},
    )
    publish_statements(store, [flange], **SAID)
    courier(store, Clock()).turn()
    events = [e for e in Outbox(store.ledger).events() if e.type == ANSWER]
    assert [(e.data["after"]["word"], e.n) for e in events] == [("fits", 2)]
    assert counter.delete(f"/v1/watches/{made['id']}?author=ina").json()["ended"]
    assert counter.get("/v1/watches").json() == []
    assert len(counter.get("/v1/watches?ended=true").json()) == 1


def test_a_question_without_an_answer_is_not_watched(counter: TestClient) -> None:
    assert problem(watch(counter, "x", kind="part", part="OS-999")) == (404, "not-found")


def test_a_watch_survives_a_restart_between_the_change_and_the_asking(store: Store, small: Path) -> None:
    from graph.desk import Desk
    from graph.desk.watching import said
    from graph.ledger.watches import Watches

    question = Question("part", part="OS-101")
    Watches(store.ledger).make("x", question, said(Desk.over(store), question, ""), 1, by="i", time="t")
    put_stock(store, ("Ostrel", "OS-101"), "", 1, version=0, **SAID)
    again = Store.open(small)
    courier(again, Clock()).turn()
    assert [e.type for e in Outbox(again.ledger).events()][-1] == ANSWER
    again.close()


# ── Where events may go ───────────────────────────────────────────────────────────────────────────────────────

PRIVATE = [
    "http://127.0.0.1/", "http://localhost/", "http://10.1.2.3/", "http://192.168.0.1/", "http://172.16.0.1/",
    "http://169.254.169.254/latest", "http://[::1]/", "http://[fe80::1]/", "http://[fd00::1]/", "http://0.0.0.0/",
    "http://[::ffff:127.0.0.1]/", "http://[64:ff9b::7f00:1]/", "http://[2002:7f00:1::]/", "http://100.64.0.1/",
    "http://2130706433/", "http://0x7f.1/", "http://224.0.0.1/", "http://255.255.255.255/",
]  # fmt: skip
"""Loopback, RFC 1918, link-local, unique local, RFC 6598, and the ways of writing them that fool a text filter."""


@pytest.mark.parametrize("url", PRIVATE)
def test_a_private_address_is_refused_unless_the_operator_allows_it(url: str) -> None:
    with pytest.raises(TargetRefused):
        targets.target(url, private=False)


@pytest.mark.parametrize(
    "url",
    ["ftp://192.0.2.1/", "file:///etc/passwd", "javascript:alert(1)", "http://", "//x", "http://u:p@127.0.0.1/",
     "http://127.0.0.1:99999/", "http://127.0.0.1/\r\nx: y", "http://no-such-name.invalid/", "http://[::1"],
)  # fmt: skip
def test_what_is_no_http_address_is_refused_whatever_is_allowed(url: str) -> None:
    with pytest.raises(TargetRefused):
        targets.target(url, private=True)


def test_a_name_that_leads_elsewhere_by_the_time_of_delivery_is_not_followed(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """DNS rebinding: public when the webhook was made, loopback when it is used."""
    with receiver() as listening:
        port = int(listening.url.rpartition(":")[2].strip("/"))

        def rebound(*_: object, **__: object) -> list[Any]:
            return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", ("127.0.0.1", port))]

        Outbox(store.ledger).make_hook(f"http://hook.example:{port}/", (), "whsec_c2VjcmV0", by="A", time="t")
        put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
        monkeypatch.setattr(targets.socket, "getaddrinfo", rebound)
        Courier(lambda: store, private=lambda: False, now=Clock()).turn()
        assert listening.came == 0
    (state,) = Outbox(store.ledger).deliveries(hook_of(store))
    assert "not on the public network" in state.last


def test_a_webhook_is_made_by_admins_its_secret_told_once_and_bad_targets_refused(counter: TestClient) -> None:
    asked = {"url": "http://127.0.0.1:9/", "types": ["stock.changed"], "author": "Ada"}
    assert problem(counter.post("/v1/hooks", json=asked)) == (422, "target-refused")
    assert problem(counter.post("/v1/hooks", json={**asked, "url": "ftp://x.example/"})) == (422, "target-refused")
    counter.app.state.private_hooks = True  # type: ignore[attr-defined]
    sent = {"Idempotency-Key": "h-1"}
    made = counter.post("/v1/hooks", json=asked, headers=sent)
    assert (made.status_code, made.json()["hook"]["types"]) == (201, ["stock.changed"])
    assert made.json()["secret"].startswith("whsec_")
    again = counter.post("/v1/hooks", json=asked, headers=sent).json()
    assert again == {**made.json(), "secret": ""}
    assert made.json()["secret"] not in counter.get("/v1/hooks").text
    assert problem(counter.post("/v1/hooks", json={**asked, "types": ["weather"]})) == (422, "bad-question")
    hook = made.json()["hook"]["id"]
    assert counter.get(f"/v1/hooks/{hook}/deliveries").json()["deliveries"] == []
    assert counter.delete(f"/v1/hooks/{hook}?author=Ada").json()["ended"]
    assert problem(counter.post(f"/v1/hooks/{hook}/replay", json={"first": 1, "last": 9, "author": "A"})) == (
        422, "bad-question",
    )  # fmt: skip


# ── The feed ──────────────────────────────────────────────────────────────────────────────────────────────────


def test_events_are_listed_a_piece_at_a_time(counter: TestClient, store: Store) -> None:
    for number, version in ((4, 1), (5, 2), (6, 3)):
        put_stock(store, WHEEL, "A3", number, version=version, **SAID)
    listed = counter.get("/v1/events?limit=2&type=stock.changed")
    first = listed.json()
    assert (len(first["events"]), first["truncated"]) == (2, True)
    assert f'<{first["next"]}>; rel="next"' in listed.headers["link"]
    assert counter.get(first["next"]).json()["events"][0]["at"] > first["events"][-1]["at"]
    rest = counter.get("/v1/events", params={"after": first["events"][-1]["at"]}).json()
    assert not rest["truncated"]
    assert [e["n"] for e in rest["events"]] == [3, 4]


@pytest.fixture(name="served")
def served_fixture(small: Path) -> Iterator[int]:
    """The application on a port of its own."""
    config = uvicorn.Config(shop_app(small), port=0, log_level="error", http="h11", timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        while not server.started and thread.is_alive():
            threading.Event().wait(0.02)
        yield listener.getsockname()[1]
        server.should_exit = True
        thread.join()


def read_feed(port: int, count: int, headers: dict[str, str], begun: threading.Event) -> list[tuple[str, str, Any]]:
    """So many events of the feed: id, type, data; by the rules of the HTML standard, section 9.2.6."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    connection.request("GET", "/v1/events/feed", headers={"Accept": "text/event-stream", **headers})
    answer = connection.getresponse()
    assert answer.status == 200, answer.read()
    assert answer.headers["content-type"].startswith("text/event-stream")
    found: list[tuple[str, str, Any]] = []
    fields: dict[str, str] = {}
    while len(found) < count:
        line = answer.readline().decode().rstrip("\n")
        begun.set()
        if line.startswith(":"):
            continue
        if line:
            name, _, value = line.partition(":")
            fields[name] = value.removeprefix(" ")
        elif "data" in fields:
            found.append((fields["id"], fields["event"], json.loads(fields["data"])))
            fields = {}
    connection.close()
    return found


def test_the_feed_tells_what_happens_and_goes_on_after_the_last_seen(served: int, small: Path) -> None:
    store = Store.open(small)
    begun, got = threading.Event(), []
    thread = threading.Thread(target=lambda: got.extend(read_feed(served, 1, {}, begun)))
    thread.start()
    assert begun.wait(20)
    put_stock(store, WHEEL, "A3", 4, version=1, **SAID)
    thread.join()
    ((first, type_, event),) = got
    assert (type_, event["n"], int(first)) == (STOCK, 2, event["at"])
    put_stock(store, WHEEL, "A3", 5, version=2, **SAID)
    put_stock(store, WHEEL, "A3", 6, version=3, **SAID)
    missed = read_feed(served, 2, {"Last-Event-ID": first}, threading.Event())
    assert [(int(id_), event["n"]) for id_, _, event in missed] == [(int(first) + 1, 3), (int(first) + 2, 4)]
    store.close()


def test_a_last_event_that_is_none_is_refused(counter: TestClient) -> None:
    assert problem(counter.get("/v1/events/feed", headers={"Last-Event-ID": "x"})) == (422, "bad-question")


def test_the_running_server_brings_events_by_itself(small: Path, store: Store, listening: Receiver) -> None:
    app = shop_app(small)
    app.state.private_hooks = True
    with caller(app) as client:
        body = {"quantity": 7, "author": "ina"}
        done = client.put(
            "/v1/stock", params={"part": "OS-201", "place": "A3"}, json=body, headers={"If-Match": '"1"'}
        )
        assert done.status_code == 200
        for _ in range(200):
            if listening.got:
                break
            threading.Event().wait(0.05)
    assert [p["type"] for _, p in listening.got] == [STOCK]
