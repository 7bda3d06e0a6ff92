"""Bodies in JSON: what RFC 8259 calls no JSON, and what RFC 7493 (I-JSON) forbids, is told and never half taken."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.routing import iter_route_contexts
from starlette.testclient import TestClient
from writing_desk import caller

from api.app import create_app
from api.cli.sheeting import _filled
from api.http.bodies import JsonRoute
from api.jsontext import TOLD_MOST, NotJson, read
from graph.errors import BadFile

FITS = '{"unit": "OV46-220", "engine": "BR6-D", "as_of": "2026-11-20"}'
DEEP = 100_000


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with caller(create_app(demo_folder, demo=True)) as opened:
        yield opened


def faults(body: bytes) -> list[tuple[str, str]]:
    with pytest.raises(NotJson) as caught:
        read(body)
    return [(one["where"], one["why"]) for one in caught.value.faults]


# RFC 7493 section 2.3: no member twice, after escapes are read.
def test_every_key_that_stands_twice_is_named_with_its_place() -> None:
    body = rb'{"a": 1, "jobs": [{"core": 1}, {"core": 1, "b": {"x": 1, "\u0078": 2}, "core": 2, "core": 3}], "a": 2}'
    told = faults(body)
    assert [where for where, _ in told] == ["body.a", "body.jobs.1.core", "body.jobs.1.b.x"]
    assert "2 times" in told[0][1] and "3 times" in told[1][1]


# RFC 8259 section 6: Infinity and NaN are no numbers; RFC 7493 section 2.2: none that a double does not hold.
@pytest.mark.parametrize(
    "text", ["NaN", "Infinity", "-Infinity", "1e400", "-1e400", "1" * 101, "-" + "9" * 5000, "0." + "1" * 101]
)
def test_what_is_no_number_is_told_by_its_place(text: str) -> None:
    (told,) = faults(f'{{"a": [0, {{"b": {text}}}]}}'.encode())
    assert told[0] == "body.a.1.b"


def test_all_that_is_wrong_is_told_at_once_and_nothing_is_cut_silently() -> None:
    assert [where for where, _ in faults(b'{"a": NaN, "b": [1e999], "a": 1}')] == ["body.a", "body.a", "body.b.0"]
    many = faults(b"[" + b"NaN," * (TOLD_MOST + 5) + b"NaN]")
    assert len(many) == TOLD_MOST + 1 and many[-1][1].startswith("6 more")


# RFC 8259 sections 2, 7 and 8.1.
@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"{'a': 1}", b'{"a": 1,}', b'{"a": 01}', b'{"a": +1}', b'{"a": .5}', b'{"a": 1.}', b'{"a": 0x1}',
     b'{"a" 1}', b'"a\nb"', b'{"a": 1} x', b"[1,,2]", b'{"a": "\xff"}', b'"\xc0\xaf"', b'"\xed\xa0\x80"',
     '{"a": 1}'.encode("utf-16"), '{"a": 1}'.encode("utf-16-le"), '{"a": 1}'.encode("utf-32"),
     b"\xef\xbb\xbf\xef\xbb\xbf{}", b"[" * DEEP + b"]" * DEEP, b'{"a":' * DEEP + b"1" + b"}" * DEEP],
)  # fmt: skip
def test_what_is_no_json_in_utf8_is_told(body: bytes) -> None:
    ((where, why),) = faults(body)
    assert where == "body" and why


def test_a_byte_order_mark_is_passed_over_and_sound_text_is_read_as_it_is() -> None:
    sound: Any = {"a": [1, -0.5, 1e3, True, None, "é€\u0000"], "b": {"a": {}}, "": "1" * 200, "n": 10**99}
    assert read(b"\xef\xbb\xbf" + json.dumps(sound).encode()) == sound
    assert read(json.dumps(sound, ensure_ascii=False).encode()) == sound


def test_a_question_with_a_key_twice_is_refused_and_the_key_named(client: TestClient) -> None:
    asked = {"content": FITS[:-1] + ', "unit": "OV46-140"}', "headers": {"content-type": "application/json"}}
    for path in ("/v1/fits", "/v1/why", "/v1/shelf/plans", "/v1/identify", "/v1/jobs/J/stages"):
        refused = client.post(path, **asked)  # type: ignore[arg-type]
        assert (refused.status_code, refused.json()["code"]) == (422, "bad-request"), path
        (told,) = refused.json()["faults"]
        assert told["where"] == "body.unit" and "2 times" in told["why"], path
    assert client.post("/v1/fits", content=FITS, headers={"content-type": "application/json"}).status_code == 200


@pytest.mark.parametrize(
    "body", [b"{", b"\xff", b"[" * DEEP, b'{"unit": NaN}', b'{"unit": 1e999}', b'{"unit": ' + b"9" * 5000 + b"}"]
)
def test_a_body_that_cannot_be_read_is_one_problem_document(client: TestClient, body: bytes) -> None:
    for path in ("/v1/fits", "/v1/plans", "/v1/changes", "/v1/keys"):
        refused = client.post(path, content=body, headers={"content-type": "application/json; charset=utf-8"})
        assert (refused.status_code, refused.json()["code"]) == (422, "bad-request"), path
        assert refused.json()["faults"][0]["where"].startswith("body")
        assert refused.headers["content-type"] == "application/problem+json"


def test_a_line_of_a_batch_is_read_as_a_body_is(client: TestClient) -> None:
    lines = [FITS, FITS[:-1] + ', "unit": "OV46-140"}', '{"unit": NaN}', "[" * DEEP, "\xff", '{"unit": 1}', "{", FITS]
    body = b"\xef\xbb\xbf" + b"\n".join(line.encode("latin-1") for line in lines)
    told = [json.loads(line) for line in client.post("/v1/batch/fits", content=body).text.splitlines()]
    assert [one["status"] for one in told[:-1]] == [200, 422, 422, 422, 422, 422, 422, 200]
    assert told[1]["problem"]["faults"] == [
        {"where": "line.unit", "why": "this key stands 2 times in one object; keep one"}
    ]
    assert told[2]["problem"]["faults"][0]["where"] == "line.unit"
    assert told[-1] == {**told[-1], "complete": True, "lines": 8, "failed": 6}


def test_every_address_that_takes_json_reads_it_so(client: TestClient) -> None:
    taken = []
    for route in iter_route_contexts(client.app.routes):  # type: ignore[attr-defined]
        body = getattr(route, "body_field", None)
        if body is not None and getattr(body.field_info, "media_type", "") == "application/json":
            taken.append(route)
    assert len(taken) > 20
    strange = {route.path for route in taken if not isinstance(getattr(route, "original_route", route), JsonRoute)}
    assert not strange


def test_a_record_that_was_written_down_holds_each_field_once(tmp_path: Path) -> None:
    file = tmp_path / "record.json"
    file.write_text('{"step-4.after": "62.66 mm", "step-4.after": "62.60 mm"}')
    with pytest.raises(BadFile, match=r"step-4\.after"):
        _filled(file)
    file.write_text('{"step-4.after": "62.66 mm"}')
    assert _filled(file) == {"step-4.after": "62.66 mm"}
