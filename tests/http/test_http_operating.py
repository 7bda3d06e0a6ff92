"""Running the server: health, readiness, metrics, logs, telemetry's switch, backups that bring everything back."""

import json
import logging
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from http_store import copied, shelf_row
from prometheus_client.parser import text_string_to_metric_families
from starlette.testclient import TestClient

from api.app import create_app
from api.http.shell import JsonLines
from api.settings import Serving
from graph.desk import open_desk
from graph.errors import BadFile, BadQuestion, Conflict
from graph.index.store import Store
from graph.publish.backing import backup, restore


@pytest.fixture
def own(demo_folder: Path, tmp_path: Path) -> Iterator[TestClient]:
    with TestClient(
        create_app(copied(demo_folder, tmp_path), demo=True), base_url="http://127.0.0.1", client=("127.0.0.1", 5000)
    ) as opened:
        yield opened


def test_health_and_readiness_say_different_things(own: TestClient, tmp_path: Path) -> None:
    assert own.get("/health").json() == {"status": "alive"}
    assert own.get("/ready").json()["change_set"] == own.get("/v1/snapshot").json()["shelf"]
    (own.app.state.current.folder / "DAMAGED").write_text("a fault\n")  # type: ignore[attr-defined]
    damaged = own.get("/ready")
    assert (damaged.status_code, damaged.json()["code"]) == (503, "not-ready")
    with TestClient(create_app(tmp_path / "nothing")) as empty:
        assert empty.get("/health").status_code == 200
        assert empty.get("/ready").status_code == 503


def test_metrics_count_answers_by_address_in_prometheus_own_format(own: TestClient) -> None:
    own.get("/v1/sources")
    own.get("/v1/sources")
    own.get("/v1/parts/no/such")
    told = {
        (sample.name, sample.labels.get("address"), sample.labels.get("status")): sample.value
        for family in text_string_to_metric_families(own.get("/metrics").text)
        for sample in family.samples
    }
    assert told["spoolwright_answers_total", "/v1/sources", "200"] == 2
    assert told["spoolwright_answers_total", "/v1/parts/{maker}/{number:path}", "404"] == 1
    assert told["spoolwright_answers_again_total", None, None] == 1
    assert told["spoolwright_change_set", None, None] == own.get("/v1/snapshot").json()["shelf"]


def test_a_request_is_one_line_of_json_in_the_log(own: TestClient, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO, logger="spoolwright.requests"):
        own.get("/v1/search?q=HB-017", headers={"x-request-id": "till-1"})
    line = json.loads(JsonLines().format(caplog.records[-1]))
    assert (line["request"], line["method"], line["path"], line["status"]) == ("till-1", "GET", "/v1/search", 200)
    assert "HB-017" not in json.dumps(line), "what was asked may name a customer"


def test_telemetry_is_off_unless_switched_on_and_says_what_it_lacks(tmp_path: Path) -> None:
    try:
        import opentelemetry.sdk
    except ImportError:
        with pytest.raises(BadQuestion, match="SDK is not installed"):
            create_app(tmp_path, serving=Serving(telemetry=True))
    else:
        assert opentelemetry.sdk
        create_app(tmp_path, serving=Serving(telemetry=True))
    create_app(tmp_path)


def test_a_request_and_its_question_are_spans_that_name_routes_and_no_customer(own: TestClient) -> None:
    """With the SDK itself, by the semantic conventions for HTTP spans: `http.route`, low-cardinality names."""
    sdk = pytest.importorskip("opentelemetry.sdk.trace", reason="NOT TESTED: opentelemetry-sdk is not installed")
    from opentelemetry.sdk.trace.export import SimpleSpanProcessor
    from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter

    folder = own.app.state.current.folder  # type: ignore[attr-defined]
    app = create_app(folder, demo=True, serving=Serving(telemetry=True))
    kept = InMemorySpanExporter()
    app.state.traces.add_span_processor(SimpleSpanProcessor(kept))
    secret = "Widow-Halden-4711"
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as client:
        asked = {"core": "HB-017", "build": "larger-wheels", "as_of": "2026-11-20"}
        assert client.get("/v1/plans", params=asked).status_code == 200
        client.get("/v1/search", params={"q": secret})
        client.get(f"/v1/jobs/{secret}")
        client.post("/v1/watches", json={"label": secret, "kind": "part", "part": secret, "author": secret})
    spans = kept.get_finished_spans()
    assert all(isinstance(span, sdk.ReadableSpan) for span in spans)
    requests = {span.name: span for span in spans if span.parent is None}
    assert list(requests) == [
        "GET /v1/plans", "GET /v1/search", "GET /v1/jobs/{job}", "POST /v1/watches",
    ]  # fmt: skip
    assert [span.attributes["http.response.status_code"] for span in requests.values()] == [200, 200, 404, 404]
    (desk,) = (span for span in spans if span.name == "desk plan")
    assert desk.context.trace_id == requests["GET /v1/plans"].context.trace_id
    assert dict(desk.attributes) == {"spoolwright.question": "plan", "spoolwright.form": "json"}
    told = " ".join(span.to_json() for span in spans)
    assert secret not in told
    assert "HB-017" not in told


def finished(client: TestClient, response: Any) -> dict[str, Any]:
    assert response.status_code == 202, response.text
    for _ in range(300):
        task: dict[str, Any] = client.get(response.headers["location"]).json()
        if task["state"] != "running":
            return task
        time.sleep(0.1)
    raise AssertionError("the task does not end")


def test_a_backup_is_a_task_and_its_file_brings_everything_back(own: TestClient, tmp_path: Path) -> None:
    made = finished(own, own.post("/v1/backups"))
    assert made["state"] == "done", made
    name = made["result"]["name"]
    assert [one["name"] for one in own.get("/v1/backups").json()] == [name]
    file = tmp_path / "copy.sqlite"
    file.write_bytes(own.get(f"/v1/backups/{name}").content)
    tried = finished(own, own.post(f"/v1/backups/{name}/trial"))
    assert (tried["state"], tried["result"]["change_set"]) == ("done", made["result"]["change_set"])
    restored = restore(file, tmp_path / "again")
    assert restored.sha256 == made["result"]["sha256"]
    with open_desk_of(tmp_path / "again") as again, open_desk_of(own.app.state.current.folder) as before:  # type: ignore[attr-defined]
        assert again.snapshot == before.snapshot
        assert [s.id for s in again.everything()] == [s.id for s in before.everything()]


def test_a_backup_that_is_asked_for_twice_with_one_key_is_made_once(own: TestClient) -> None:
    sent = {"idempotency-key": "nightly-1"}
    first, again = (own.post("/v1/backups?author=Ada", headers=sent) for _ in range(2))
    assert (again.status_code, again.json(), again.headers["idempotency-replayed"]) == (202, first.json(), "true")
    assert again.headers["location"] == first.headers["location"]
    made = finished(own, first)["result"]
    assert [one["name"] for one in own.get("/v1/backups").json()] == [made["name"]]
    other = own.post("/v1/backups?author=Bob", headers=sent)
    assert (other.status_code, other.json()["code"]) == (422, "idempotency-key-reused")
    acts = [(a["who"], a["did"], a["about"]) for a in own.get("/v1/audit").json()["acts"]]
    assert acts[0] == ("Ada", "backup begun", made["name"])


def test_a_backup_whose_answer_got_lost_with_the_server_is_not_made_again(
    own: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    from api.writing import Write

    sent = {"idempotency-key": "nightly-2"}
    with monkeypatch.context() as patch:
        patch.setattr(Write, "keep", lambda *_: None)  # killed between the write and keeping its answer
        made = finished(own, own.post("/v1/backups?author=Ada", headers=sent))["result"]
    found = finished(own, own.post("/v1/backups?author=Ada", headers=sent))
    assert (found["state"], found["result"]) == ("done", made)
    assert len(own.get("/v1/backups").json()) == 1


class open_desk_of:  # noqa: N801 - a context, read as a verb
    def __init__(self, folder: Path) -> None:
        self._desk = open_desk(folder)

    def __enter__(self) -> Any:
        return self._desk

    def __exit__(self, *_: object) -> None:
        self._desk.close()


def test_backups_are_the_administrators(demo_folder: Path, tmp_path: Path) -> None:
    with TestClient(create_app(copied(demo_folder, tmp_path))) as elsewhere:
        assert elsewhere.post("/v1/backups").status_code == 401


def test_a_backup_taken_while_rows_are_written_is_a_whole_version(demo_folder: Path, tmp_path: Path) -> None:
    folder = copied(demo_folder, tmp_path)
    shelf_row(folder, "A")
    store = Store.open(folder)
    made = backup(store, tmp_path / "one.sqlite")
    store.close()
    shelf_row(folder, "B")
    with pytest.raises(Conflict):
        backup(Store.open(folder), tmp_path / "one.sqlite")
    restore(tmp_path / "one.sqlite", tmp_path / "back")
    with open_desk_of(tmp_path / "back") as back:
        assert back.snapshot.shelf == made.change_set == 2


def test_a_damaged_backup_brings_nothing_back_and_a_store_is_never_replaced(
    demo_folder: Path, tmp_path: Path
) -> None:
    store = Store.open(copied(demo_folder, tmp_path))
    backup(store, tmp_path / "one.sqlite")
    store.close()
    data = bytearray((tmp_path / "one.sqlite").read_bytes())
    place = data.index(b"OV46-220")
    data[place : place + 8] = b"OV46-221"
    (tmp_path / "bad.sqlite").write_bytes(data)
    with pytest.raises(BadFile, match="damaged"):
        restore(tmp_path / "bad.sqlite", tmp_path / "back")
    assert not (tmp_path / "back").exists()
    (tmp_path / "text.sqlite").write_text("no database at all")
    with pytest.raises(BadFile):
        restore(tmp_path / "text.sqlite", tmp_path / "back")
    with pytest.raises(Conflict):
        restore(tmp_path / "one.sqlite", tmp_path / "store")
    shutil.rmtree(tmp_path / "store")
