"""The conventions of every HTTP answer, held against RFC 9110, 9457, 8288, 8594, 9745 and the RateLimit draft."""

import gzip
import json
import re
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

import pytest
from fastapi import FastAPI
from http_store import copied, shelf_row
from starlette.testclient import TestClient

import api.app
from api import problems
from api.app import create_app
from api.http.addresses import Addresses
from api.http.conditions import Answers, Conditions
from api.http.crew import Crew, Inline, Worker, WorkerFault
from api.http.forms import chosen
from api.http.metrics import Metrics
from api.http.refusals import Busy, QueryStopped
from api.http.retired import retired
from api.settings import Serving
from api.work import Asked
from graph.errors import NotAcceptable, SpoolwrightError

DAY = "2026-11-20"
FITS = {"unit": "OV46-220", "engine": "BR6-D", "as_of": DAY}


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


@pytest.fixture
def own(demo_folder: Path, tmp_path: Path) -> Iterator[TestClient]:
    """A server over a store of its own, which a test may write to."""
    with TestClient(create_app(copied(demo_folder, tmp_path))) as opened:
        yield opened


def test_an_answer_that_the_asker_has_is_not_sent_again(client: TestClient) -> None:
    first = client.get("/v1/fits", params=FITS)
    etag = first.headers["etag"]
    assert etag.startswith('W/"')
    for given in (etag, f'"other", {etag}', "*", etag.removeprefix("W/")):
        again = client.get("/v1/fits", params=FITS, headers={"if-none-match": given})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["etag"] == etag
    assert client.get("/v1/fits", params=FITS, headers={"if-none-match": '"other"'}).status_code == 200


def test_head_says_what_get_would(client: TestClient) -> None:
    got, head = client.get("/v1/fits", params=FITS), client.head("/v1/fits", params=FITS)
    assert head.content == b""
    for name in ("etag", "content-type", "content-length", "spoolwright-snapshot"):
        assert head.headers[name] == got.headers[name]


def test_every_get_answers_head_and_says_so(client: TestClient) -> None:
    for path, item in client.get("/v1/openapi.json").json()["paths"].items():
        if "get" in item and "{" not in path:
            assert client.head(path).status_code != 405, path
            assert {"GET", "HEAD"} <= set(client.delete(path).headers.get("allow", "GET, HEAD").split(", "))


def test_the_etag_moves_only_with_the_clocks_that_the_answer_read(own: TestClient) -> None:
    part = own.get("/v1/show", params={"name": "OV46-220", "as_of": DAY}).headers
    price = own.get("/v1/show", params={"name": "HB-017"}).headers
    shelf_row(own.app.state.current.folder)  # type: ignore[attr-defined]
    part_after = own.get("/v1/show", params={"name": "OV46-220", "as_of": DAY}).headers
    price_after = own.get("/v1/show", params={"name": "HB-017"}).headers
    assert part["spoolwright-snapshot"] != part_after["spoolwright-snapshot"]
    assert price["etag"] != price_after["etag"], "a core is read from the shelf"
    fits, fits_after = (own.get("/v1/fits", params=FITS).headers["etag"] for _ in range(2))
    shelf_row(own.app.state.current.folder, "B")  # type: ignore[attr-defined]
    assert own.get("/v1/fits", params=FITS).headers["etag"] == fits == fits_after, "no shelf was read"


def test_an_answer_given_again_is_of_the_snapshot_that_holds(own: TestClient) -> None:
    before = own.get("/v1/snapshot").json()["shelf"]
    assert own.get("/v1/snapshot").json()["shelf"] == before
    shelf_row(own.app.state.current.folder)  # type: ignore[attr-defined]
    assert own.get("/v1/snapshot").json()["shelf"] == before + 1


def test_every_answer_names_its_snapshot(client: TestClient) -> None:
    snapshot = client.get("/v1/snapshot").json()
    told = f'"{snapshot["catalogue"]}";shelf={snapshot["shelf"]}'
    for address in ("/v1/snapshot", "/v1/show?name=HB-017", "/v1/show?name=nothing", "/v1/calc", "/v1/no-such"):
        assert client.get(address).headers["spoolwright-snapshot"] == told, address
    assert client.post("/v1/fits", json=FITS).headers["spoolwright-snapshot"] == told


def test_history_and_differences_come_a_page_at_a_time_where_that_is_asked(own: TestClient) -> None:
    folder = own.app.state.current.folder  # type: ignore[attr-defined]
    for place in "ABC":
        shelf_row(folder, place)
    for address in ("/v1/history", "/v1/diff?a=1&b=4"):
        whole = own.get(address)
        assert "spoolwright-truncated" not in whole.headers
        pieces, next_ = [], f"{address}{'&' if '?' in address else '?'}limit=2"
        while next_:
            piece = own.get(next_)
            pieces.append(piece.json())
            found = re.search(r'<([^>]+)>; rel="next"', piece.headers.get("link", ""))
            assert ("spoolwright-truncated" in piece.headers) is bool(found)
            next_ = found[1] if found else ""
        assert [len(p) for p in pieces] == ([2, 2] if "history" in address else [2, 1])
        assert [one for p in pieces for one in p] == whole.json()


def test_a_question_by_post_also_asks_what_was(client: TestClient) -> None:
    paths = client.get("/v1/openapi.json").json()["paths"]
    told = {path for path, item in paths.items() if "as-of" in str(item.get("post", {}).get("parameters"))}
    assert {"/v1/fits", "/v1/plans", "/v1/picklists", "/v1/rank", "/v1/batch/fits"} <= told
    assert "/v1/changes" not in told
    assert client.post("/v1/fits?as-of=1", json=FITS).json() == client.post("/v1/fits", json=FITS).json()
    none_yet = client.post("/v1/fits?as-of=99", json=FITS)
    assert (none_yet.status_code, none_yet.json()["code"]) == (404, "not-found")


def test_a_server_that_is_behind_says_when_to_ask_again(client: TestClient) -> None:
    have = client.get("/v1/snapshot").json()["shelf"]
    assert client.get("/v1/snapshot", headers={"spoolwright-at-least": str(have)}).status_code == 200
    late = client.get("/v1/snapshot", headers={"spoolwright-at-least": str(have + 1)})
    assert (late.status_code, late.json()["code"]) == (503, "behind")
    assert int(late.headers["retry-after"]) > 0
    assert client.get("/v1/snapshot", headers={"spoolwright-at-least": "new"}).status_code == 422


@pytest.mark.parametrize("method", ["DELETE", "PUT", "PATCH"])
def test_a_method_that_is_not_taken_names_all_that_are(client: TestClient, method: str) -> None:
    refused = client.request(method, "/v1/fits")
    assert (refused.status_code, refused.json()["code"]) == (405, "method-not-allowed")
    assert refused.headers["allow"] == "GET, HEAD, OPTIONS, POST"


def test_options_names_the_methods(client: TestClient) -> None:
    told = client.options("/v1/plans")
    assert (told.status_code, told.headers["allow"]) == (204, "GET, HEAD, OPTIONS, POST")


# RFC 9110 section 12.5.1: the most exact range counts, a weight of 0 means never.
@pytest.mark.parametrize(
    ("accept", "asked", "form"),
    [
        ("", "", "json"),
        ("*/*", "", "json"),
        ("text/*", "", "csv"),
        ("text/csv;q=0.5, application/json;q=0.4", "", "csv"),
        ("text/html, application/xhtml+xml, */*;q=0.8", "", "json"),
        ("application/json;q=0, */*", "", "csv"),
        ("application/pdf", "csv", "csv"),
    ],
)
def test_a_form_is_chosen_by_name_then_by_weight(accept: str, asked: str, form: str) -> None:
    assert chosen({"json": "application/json", "csv": "text/csv"}, accept, asked) == form


@pytest.mark.parametrize(("accept", "asked"), [("application/pdf", ""), ("", "pdf"), ("application/json;q=0", "")])
def test_a_form_that_there_is_not_is_refused(accept: str, asked: str) -> None:
    with pytest.raises(NotAcceptable):
        chosen({"json": "application/json"}, accept, asked)


def test_accept_chooses_the_form_of_a_route_that_knows_only_format(client: TestClient) -> None:
    asked = {"core": "HB-017", "build": "larger-wheels", "as_of": DAY}
    sheet = client.get("/v1/sheets", params=asked, headers={"accept": "text/plain"})
    assert sheet.headers["content-type"].startswith("text/plain")
    refused = client.get("/v1/snapshot", headers={"accept": "text/turtle"})
    assert (refused.status_code, refused.json()["code"]) == (406, "not-acceptable")
    assert client.get("/v1/snapshot?format=xml").status_code == 406


def test_a_request_id_is_made_or_taken_over(client: TestClient) -> None:
    assert re.fullmatch(r"[0-9a-f]{32}", client.get("/v1/snapshot").headers["x-request-id"])
    assert client.get("/v1/snapshot", headers={"x-request-id": "till-7.4"}).headers["x-request-id"] == "till-7.4"
    assert client.get("/v1/snapshot", headers={"x-request-id": "a b"}).headers["x-request-id"] != "a b"
    assert client.get("/nothing").headers["x-request-id"]


def test_answers_are_packed_for_those_who_take_that(client: TestClient) -> None:
    plain = client.get("/v1/fits", params=FITS, headers={"accept-encoding": "identity"})
    assert "content-encoding" not in plain.headers
    for _ in range(2):
        with client.stream("GET", "/v1/fits", params=FITS, headers={"accept-encoding": "gzip"}) as packed:
            raw = b"".join(packed.iter_raw())
        assert packed.headers["content-encoding"] == "gzip"
        assert gzip.decompress(raw) == plain.content
        assert "Accept-Encoding" in packed.headers["vary"]


def test_no_other_origin_may_read_unless_it_is_named(demo_folder: Path) -> None:
    origin = {"origin": "https://till.example"}
    with TestClient(create_app(demo_folder)) as closed:
        assert "access-control-allow-origin" not in closed.get("/v1/snapshot", headers=origin).headers
    with TestClient(create_app(demo_folder, serving=Serving(origins=("https://till.example",)))) as opened:
        told = opened.get("/v1/snapshot", headers=origin).headers
        assert told["access-control-allow-origin"] == "https://till.example"
        assert (
            "access-control-allow-origin"
            not in opened.get("/v1/snapshot", headers={"origin": "https://other.example"}).headers
        )


def test_a_caller_who_asks_too_often_is_told_how_long_to_wait(demo_folder: Path) -> None:
    with TestClient(create_app(demo_folder, serving=Serving(rate="3/minute"))) as limited:
        answers = [limited.get("/v1/snapshot") for _ in range(4)]
        assert [one.status_code for one in answers] == [200, 200, 200, 429]
        assert answers[0].headers["ratelimit-policy"] == '"caller";q=3;w=60'
        # A structured field (RFC 9651): a string with the parameters r and t.
        remaining = [re.fullmatch(r'"caller";r=(\d+);t=(\d+)', one.headers["ratelimit"]) for one in answers]
        assert [int(one[1]) for one in remaining if one] == [2, 1, 0, 0]
        assert 0 < int(answers[3].headers["retry-after"]) <= 60
        assert answers[3].json()["code"] == "too-many"


def test_a_body_without_a_length_is_refused_once_it_is_too_long(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.http.shell.MAX_BODY", 10_000)
    refused = client.post("/v1/verify", content=(b"x" * 4_000 for _ in range(4)))
    assert (refused.status_code, refused.json()["code"]) == (413, "too-large")


def test_a_retired_address_says_since_when_until_when_and_where_to_go(tmp_path: Path) -> None:
    app = FastAPI(openapi_url=None)

    @app.get("/v1/old", **retired(date(2027, 1, 4), until=date(2028, 1, 4), instead="/v1/new"))
    def old() -> dict[str, int]:
        return {"a": 1}

    current = create_app(tmp_path / "none").state.current
    app.add_middleware(Conditions, current=current, addresses=Addresses(app), metrics=Metrics(), answers=Answers())
    told = TestClient(app).get("/v1/old").headers
    # 4 January 2027 0:00 UTC is 20,822 days after 1 January 1970; 2028-01-04 is a Tuesday (RFC 9110 date form).
    assert told["deprecation"] == f"@{20_822 * 86_400}"
    assert told["sunset"] == "Tue, 04 Jan 2028 00:00:00 GMT"
    assert told["link"] == '</v1/new>; rel="successor-version"'


def test_every_error_code_is_explained_once() -> None:
    assert api.app  # every error is defined by what the application imports
    known = {"bad-request": 422, "internal": 500}
    known |= {code: status for status, code in problems.HTTP_CODES.items()}
    waiting = [SpoolwrightError]
    while waiting:
        error = waiting.pop()
        waiting += error.__subclasses__()
        if error.__module__.partition(".")[0] in ("api", "graph", "ontology"):
            known[error.code] = error.status_hint
    page = (Path(__file__).parents[2] / "docs" / "errors.md").read_text()
    rows = re.findall(r"^\| `([a-z-]+)` \| (\d{3}) \| .+ \|$", page, re.MULTILINE)
    assert {code: int(status) for code, status in rows} == known
    assert len(rows) == len(dict(rows)), "a code stands once"


def test_a_full_house_is_refused_and_not_queued_without_end() -> None:
    class Waits:
        def __init__(self) -> None:
            self.inner = ""

        def __call__(self, asked: int) -> str:
            if asked:
                try:
                    return inline.ask(asked - 1, 1)
                except Busy as error:
                    self.inner = error.code
            return "done"

    waits = Waits()
    inline = Inline(waits, places=2)
    assert inline.ask(2, 1) == "done"
    assert waits.inner == "busy"
    assert inline.ask(0, 1) == "done", "places are free again"


def test_a_worker_that_takes_too_long_is_killed_and_replaced(demo_folder: Path) -> None:
    crew = Crew("api.worker", [str(demo_folder)], workers=1)
    try:
        question = Asked("fits", {"unit": "OV46-220", "engine": "BR6-D", "day": DAY})
        with pytest.raises(QueryStopped):
            crew.ask(question, 0.0)
        assert json.loads(crew.ask(question, 60).body)[0]["verdict"] == "fits"
        with pytest.raises(SpoolwrightError, match="no turbocharger"):
            crew.ask(Asked("fits", {"unit": "NOTHING", "engine": "BR6-D"}), 60)
    finally:
        crew.close()


def test_a_program_that_breaks_on_a_question_is_told_as_that_and_its_worker_goes_on(demo_folder: Path) -> None:
    crew = Crew("api.worker", [str(demo_folder)], workers=1)
    try:
        with pytest.raises(WorkerFault, match="TypeError in a worker"):
            crew.ask(Asked("fits", {"no such argument": 1}), 60)
        question = Asked("fits", {"unit": "OV46-220", "engine": "BR6-D", "day": DAY})
        assert json.loads(crew.ask(question, 60).body)[0]["verdict"] == "fits"
    finally:
        crew.close()


def test_workers_that_were_started_early_are_the_ones_that_answer(
    demo_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[Worker] = []

    class Counted(Worker):
        def __init__(self, module: str, arguments: Sequence[str]) -> None:
            started.append(self)
            super().__init__(module, arguments)

    monkeypatch.setattr("api.http.crew.Worker", Counted)
    crew = Crew("api.worker", [str(demo_folder)], workers=2)
    try:
        crew.start()
        crew.start()
        assert len(started) == 2 and all(worker.alive for worker in started)
        question = Asked("fits", {"unit": "OV46-220", "engine": "BR6-D", "day": DAY})
        assert json.loads(crew.ask(question, 60).body)[0]["verdict"] == "fits"
        assert len(started) == 2
    finally:
        crew.close()
    assert not any(worker.alive for worker in started)


def test_plans_from_workers_are_those_of_the_desk(demo_folder: Path) -> None:
    asked = {"core": "HB-017", "build": "larger-wheels", "as_of": DAY}
    with (
        TestClient(create_app(demo_folder)) as here,
        TestClient(create_app(demo_folder, serving=Serving(workers=1))) as there,
    ):
        assert here.get("/v1/plans", params=asked).content == there.get("/v1/plans", params=asked).content
        assert there.get("/v1/plans", params={**asked, "core": "NOTHING"}).json()["code"] == "not-found"
