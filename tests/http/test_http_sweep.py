"""What a programmer of another system runs into: browsers, misspelled fields, bodies, batches; RFC 9110 and Fetch."""

import gzip
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from http_store import copied, shelf_row
from starlette.testclient import TestClient

from api.app import create_app
from api.http.addresses import Addresses
from api.settings import Serving

DAY = "2026-11-20"
FITS = {"unit": "OV46-220", "engine": "BR6-D", "as_of": DAY}
TILL = "https://till.example"


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


@pytest.fixture(scope="module")
def shared(demo_folder: Path) -> Iterator[TestClient]:
    """A server whose answers the pages of one other origin may read."""
    with TestClient(create_app(demo_folder, serving=Serving(origins=(TILL,), rate="100/minute"))) as opened:
        yield opened


def preflight(client: TestClient, origin: str, method: str = "POST", headers: str = "content-type") -> Any:
    asked = {"origin": origin, "access-control-request-method": method, "access-control-request-headers": headers}
    return client.options("/v1/plans", headers=asked)


# CORS, as the Fetch standard has it (https://fetch.spec.whatwg.org/#http-cors-protocol)


def test_a_browser_learns_beforehand_what_a_page_of_a_named_origin_may_send(shared: TestClient) -> None:
    told = preflight(shared, TILL, "PUT", "content-type,idempotency-key,if-match,spoolwright-at-least,authorization")
    assert 200 <= told.status_code < 300
    assert told.headers["access-control-allow-origin"] == TILL
    assert {"GET", "HEAD", "POST", "PUT", "DELETE"} <= set(told.headers["access-control-allow-methods"].split(", "))
    allowed = told.headers["access-control-allow-headers"].lower().split(", ")
    assert {"content-type", "idempotency-key", "if-match", "spoolwright-at-least", "authorization"} <= set(allowed)
    assert "Origin" in told.headers["vary"]
    assert told.headers["x-request-id"]


@pytest.mark.parametrize(
    ("origin", "method", "headers"),
    [("https://other.example", "POST", "content-type"), (TILL, "BREW", "content-type"), (TILL, "POST", "x-evil")],
)
def test_what_no_page_may_send_is_refused_as_a_problem(
    shared: TestClient, origin: str, method: str, headers: str
) -> None:
    told = preflight(shared, origin, method, headers)
    assert (told.status_code, told.json()["code"]) == (403, "origin-refused")
    assert told.headers.get("access-control-allow-origin") in (None, TILL)
    assert origin == TILL or "access-control-allow-origin" not in told.headers


def test_without_named_origins_no_page_of_another_may_send_or_read(client: TestClient) -> None:
    told = preflight(client, TILL)
    assert (told.status_code, told.headers["allow"]) == (204, "GET, HEAD, OPTIONS, POST")
    assert not [name for name in told.headers if name.startswith("access-control-")]


def test_a_page_may_read_refusals_and_what_stands_in_the_header(demo_folder: Path) -> None:
    serving = Serving(origins=(TILL,), rate="2/minute")
    with TestClient(create_app(demo_folder, serving=serving)) as limited:
        told = [limited.get("/v1/snapshot", headers={"origin": TILL}) for _ in range(3)]
        key = limited.get("/v1/snapshot", headers={"origin": TILL, "authorization": "Bearer sw_none"})
    assert [one.status_code for one in (*told, key)] == [200, 200, 429, 401]
    for one in (*told, key):
        assert one.headers["access-control-allow-origin"] == TILL
        shown = one.headers["access-control-expose-headers"].lower()
        for name in ("etag", "link", "location", "retry-after", "ratelimit", "spoolwright-truncated", "sunset"):
            assert name in shown


# What stands behind the question mark


@pytest.mark.parametrize(
    ("address", "name"),
    [
        ("/v1/parts?makr=Ostrel", "makr"),
        ("/v1/search?q=HB&limt=5", "limt"),
        ("/v1/snapshot?x=", "x"),
        ("/v1/fits?unit=OV46-220&engine=BR6-D&boht=true", "boht"),
        ("/v1/units/Ostrel/OV46-220?units=in", "units"),
        ("/v1/graphs?defautl", "defautl"),
        ("/v1/machines?%E2%80%8Bmaker=Ostrel", "\u200bmaker"),
    ],
)
def test_a_name_that_the_address_does_not_take_is_refused_and_not_passed_over(
    client: TestClient, address: str, name: str
) -> None:
    for _ in range(2):
        told = client.get(address)
        assert (told.status_code, told.json()["code"]) == (422, "bad-request")
        assert told.headers["content-type"] == "application/problem+json"
        assert f"query.{name}" in [one["where"] for one in told.json()["faults"]]
        assert told.headers["spoolwright-snapshot"]


def test_every_name_that_the_document_tells_is_taken(client: TestClient) -> None:
    paths = client.get("/v1/openapi.json").json()["paths"]
    found = 0
    for address in Addresses(client.app).documented():  # type: ignore[arg-type]
        for method, taken in address.taken.items():
            operation = paths.get(address.shown, {}).get(method.lower(), {})
            told = {one["name"] for one in operation.get("parameters", ()) if one.get("in") == "query"}
            assert told <= taken, (method, address.shown)
            found += len(told)
    assert found > 150


@pytest.mark.parametrize("field", ["as_of=2026-13-45", "as_of=2026-02-30", "as_of=today"])
def test_a_day_that_is_none_is_refused(client: TestClient, field: str) -> None:
    for address in (f"/v1/fits?unit=OV46-220&engine=BR6-D&{field}", f"/v1/show?name=OV46-220&{field}"):
        told = client.get(address)
        assert (told.status_code, told.json()["code"]) == (422, "bad-request"), address
    name, _, day = field.partition("=")
    assert client.post("/v1/fits", json={**FITS, name: day}).status_code == 422


def test_the_next_page_is_of_the_same_moment(demo_folder: Path, tmp_path: Path) -> None:
    with TestClient(create_app(copied(demo_folder, tmp_path))) as own:
        then = own.get("/v1/snapshot").json()["shelf"]
        shelf_row(own.app.state.current.folder)  # type: ignore[attr-defined]
        for address in ("/v1/machines?limit=2", "/v1/history?limit=1", "/v1/fitments?limit=2"):
            shelf_row(own.app.state.current.folder, address[-9:])  # type: ignore[attr-defined]
            page = own.get(f"{address}&as-of={then if 'history' not in address else then + 1}")
            next_ = re.search(r'<([^>]+)>; rel="next"', page.headers["link"])
            assert next_ and "as-of=" in next_[1] and page.links["first"]["url"].count("as-of=") == 1
            told = own.get(next_[1])
            assert told.headers["spoolwright-snapshot"] == page.headers["spoolwright-snapshot"]


# Paths


@pytest.mark.parametrize(
    ("path", "code"),
    [
        ("/v1/fits/", "no-such-route"),
        ("/v1/parts/", "no-such-route"),
        ("/v1/parts/Ostrel", "no-such-route"),
        ("/v1/%ff", "no-such-route"),
        ("/v1/parts/%ff%fe/x", "not-found"),
        ("/v1/parts/a%00b/x", "not-found"),
        ("/v1/cores/%F0%9F%94%A7", "not-found"),
        ("/v1/units/Ostrel/OV46%E2%80%91220", "not-found"),  # a non-breaking hyphen is another sign than a hyphen
        ("/v1/units/..%2f..%2fetc/passwd", "not-found"),
    ],
)
def test_a_path_that_leads_nowhere_is_a_problem_whatever_signs_it_has(
    client: TestClient, path: str, code: str
) -> None:
    told = client.get(path, follow_redirects=False)
    assert (told.status_code, told.json()["code"]) == (404, code)
    assert told.json()["fix"]


def test_a_core_and_a_job_with_a_slash_in_their_names_have_addresses(demo_folder: Path, tmp_path: Path) -> None:
    app = create_app(copied(demo_folder, tmp_path))
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50_000)) as own:
        made = own.post("/v1/cores", json={"tag": "SW/4", "unit": "OV46-220", "author": "AB"})
        assert made.status_code == 201, made.text
        for path in ("/v1/cores/SW%2F4", "/v1/cores/SW%2f4", "/id/core/SW%2F4"):
            assert own.get(path).json()["tag"] == "SW/4", path
        assert own.get("/v1/cores/SW%2F4/photos").json()["tag"] == "SW/4"
        found = {"seat": "actuator", "state": "missing", "author": "AB"}
        assert own.post("/v1/cores/SW%2F4/found", json=found).json()["tag"] == "SW/4"
        assert own.get("/v1/cores/SW/4").json()["code"] == "no-such-route"
        refused = own.delete("/v1/cores/SW%2F4")
        assert (refused.status_code, refused.headers["allow"]) == (405, "GET, HEAD, OPTIONS")
        job = own.put("/v1/jobs/J%2F1", json={"core": "SW/4", "author": "AB"}, headers={"if-none-match": "*"})
        assert (job.status_code, job.json()["job"]) == (200, "J/1")
        assert own.get("/v1/jobs/J%2F1").json() == job.json()


# Forms


def test_a_form_that_is_refused_by_weight_or_not_there_is_not_given(client: TestClient) -> None:
    for address, accept, medium in (
        ("/v1/units?limit=1", "application/json;q=0, text/csv", "text/csv"),
        ("/v1/units?limit=1", "application/json;q=0.1, text/csv", "text/csv"),
        ("/v1/units?limit=1", "application/json, text/csv", "application/json"),
        ("/v1/units?limit=1", "", "application/json"),
        ("/v1/units?limit=1", ",,;", "application/json"),
        ("/v1/context.jsonld", "*/*", "application/ld+json"),
    ):
        told = client.get(address, headers={"accept": accept})
        assert told.status_code == 200 and told.headers["content-type"].startswith(medium), (address, accept)
    for address, accept in (
        ("/v1/units", "application/json;q=0"),
        ("/v1/context.jsonld", "application/json"),
        ("/v1/graphs?default", "application/json"),
    ):
        told = client.get(address, headers={"accept": accept})
        assert (told.status_code, told.json()["code"]) == (406, "not-acceptable"), (address, accept)


def test_a_packed_answer_hangs_on_form_and_key_too(client: TestClient) -> None:
    # RFC 9110 section 12.5.5: a cache between must not give the packed JSON to who asks for a table.
    for packed in ("gzip", "identity"):
        for _ in range(2):
            told = client.get("/v1/units", headers={"accept-encoding": packed})
            vary = [name.strip().lower() for name in told.headers["vary"].split(",")]
            assert sorted(vary) == ["accept", "accept-encoding", "authorization"], packed


# Bodies


@pytest.mark.parametrize(
    "body",
    [
        '{"unit": "é", "engine": "BR6-D"}'.encode("latin-1"),
        b"[" * 100_000,
        b'{"core": "HB-017", "build": "larger-wheels", "best": 1' + b"0" * 5_000 + b"}",
        b'{"unit": "\\ud800", "engine": "BR6-D"}',
        b'{"unit":',
        b"",
        b"\x00\x01\x02",
    ],
)
def test_a_body_that_cannot_be_read_is_told_with_a_code_of_the_page(client: TestClient, body: bytes) -> None:
    told = client.post("/v1/fits", content=body, headers={"content-type": "application/json"})
    assert (told.status_code, told.json()["code"]) == (422, "bad-request")
    assert told.json()["faults"] and told.json()["fix"]


def test_a_body_of_another_kind_says_which_is_taken(client: TestClient) -> None:
    for kind in ("text/plain", "application/xml", "application/x-www-form-urlencoded"):
        told = client.post("/v1/fits", content=json.dumps(FITS), headers={"content-type": kind})
        assert (told.status_code, told.json()["code"]) == (422, "bad-request")
        assert "application/json" in told.json()["fix"]


def test_a_packed_body_is_refused_before_it_is_read(client: TestClient) -> None:
    # RFC 9110 section 15.5.16: 415 for a content coding, with Accept-Encoding to say what is taken.
    packed = gzip.compress(json.dumps(FITS).encode())
    headers = {"content-type": "application/json", "content-encoding": "gzip"}
    told = client.post("/v1/fits", content=packed, headers=headers)
    assert (told.status_code, told.json()["code"]) == (415, "body-encoded")
    assert told.headers["accept-encoding"] == "identity"
    plain = client.post("/v1/fits", json=FITS, headers={"content-encoding": "identity"})
    assert plain.status_code == 200


# Pages


FORM = {"content-type": "application/x-www-form-urlencoded"}
BROWSER = {"accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}


def test_a_person_gets_a_page_where_a_page_is_refused(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.http.shell.MAX_BODY", 10_000)
    refusals = [
        client.post("/changes", content=b"x" * 20_000, headers=BROWSER),
        client.post("/changes", content=(b"x" * 4_000 for _ in range(4)), headers=BROWSER | FORM),
        client.get("/no-such-page", headers=BROWSER),
        client.delete("/", headers=BROWSER),
        client.get("/plan", params={"core": "x" * 300}, headers=BROWSER),
    ]
    assert [one.status_code for one in refusals] == [413, 413, 404, 405, 422]
    for one in refusals:
        assert one.headers["content-type"] == "text/html; charset=utf-8"
        assert int(one.headers["content-length"]) == len(one.content)
        assert 'role="alert"' in one.text and "</html>" in one.text
        assert "Accept" in one.headers["vary"] and one.headers["content-security-policy"]
    assert refusals[3].headers["allow"] == "GET, HEAD, OPTIONS"
    assert client.head("/no-such-page", headers=BROWSER).content == b""


def test_a_program_gets_a_problem_there_and_a_browser_one_from_the_addresses_of_programs(client: TestClient) -> None:
    for told in (client.get("/no-such-page"), client.get("/v1/no-such", headers=BROWSER)):
        assert (told.status_code, told.headers["content-type"]) == (404, "application/problem+json")


def test_what_a_page_tells_of_an_address_is_no_markup(client: TestClient) -> None:
    told = client.get("/plan?core=" + "x" * 300 + "&%3Cscript%3E=1", headers=BROWSER)
    assert "<script" not in told.text


def test_a_person_who_asks_too_often_gets_a_page(demo_folder: Path) -> None:
    with TestClient(create_app(demo_folder, serving=Serving(rate="1/minute"))) as limited:
        told = [limited.get("/", headers=BROWSER) for _ in range(2)][1]
    assert told.status_code == 429 and told.headers["content-type"].startswith("text/html")
    assert int(told.headers["retry-after"]) > 0


# Batches


BAD_LINES = [
    b'{"unit":',
    b"[1]",
    b'"x"',
    b"null",
    b"\xff\xfe",
    b'{"unit": "OV46-220", "engine": "\xe9"}',
    b'{"unit": "\\ud800", "engine": "BR6-D"}',
    b'{"unit": "nobody", "engine": "BR6-D"}',
    b'{"unit": "OV46-220", "engine": "BR6-D", "x": 1}',
    b'{"unit": 5}',
    b"[" * 5_000,
    b'{"unit": "OV46-220", "engine": "BR6-D", "as_of": "2026-13-45"}',
    '{"unit": "OV46-220\u2028x", "engine": "BR6-D"}'.encode(),
    b'{"unit": "OV46-220\x0b", "engine": "BR6-D"}',
]


def test_a_thousand_lines_keep_their_order_and_bad_ones_lose_none(client: TestClient) -> None:
    units = [one["name"] for one in client.get("/v1/units?limit=1000").json()["items"]]
    lines: list[bytes] = []
    sent: list[str] = []
    for number in range(1000):
        unit = units[number % len(units)]
        bad = number % 9 == 4
        lines.append(BAD_LINES[number // 9 % len(BAD_LINES)] if bad else json.dumps({**FITS, "unit": unit}).encode())
        sent.append("" if bad else unit)
    kind = {"content-type": "application/x-ndjson"}
    told = client.post("/v1/batch/fits", content=b"\r\n".join(lines), headers=kind)
    *answers, last = (json.loads(line) for line in told.text.split("\n")[:-1])
    assert [one["line"] for one in answers] == list(range(1, 1001))
    for one, unit in zip(answers, sent, strict=True):
        if unit:
            assert one["answer"][0]["question"]["unit"].endswith(unit)
        else:
            assert one["status"] in (404, 422) and one["problem"]["status"] == one["status"] and "answer" not in one
    assert (last["complete"], last["lines"], last["failed"]) == (True, 1000, sent.count(""))


def test_a_batch_of_plans_keeps_its_order_too(client: TestClient) -> None:
    good = [{"core": core, "build": "larger-wheels", "as_of": DAY} for core in ("HB-017", "HB-016", "HB-017")]
    mixed = [json.dumps(good[0]).encode(), *BAD_LINES[:4], json.dumps(good[1]).encode(), b"", b"  ", BAD_LINES[9]]
    mixed += [json.dumps(good[2]).encode()]
    told = client.post("/v1/batch/plans", content=b"\xef\xbb\xbf" + b"\n".join(mixed) + b"\n\n")
    *answers, last = (json.loads(line) for line in told.text.splitlines())
    assert [one["line"] for one in answers] == list(range(1, 9)), "blank lines are no questions and do not count"
    assert [one["status"] == 200 for one in answers] == [True, False, False, False, False, True, False, True]
    assert answers[0]["answer"] == answers[7]["answer"] != answers[5]["answer"]
    assert (last["lines"], last["failed"]) == (8, 5)
