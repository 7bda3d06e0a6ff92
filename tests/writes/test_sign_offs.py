"""Sign-offs and photos over HTTP: read, written under their scopes, on the version that was seen, once a retry."""

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from PIL import Image
from starlette.testclient import TestClient
from writing_desk import caller, key_for, problem

PLAN = {"core": "HB-017", "build": "larger-wheels", "engine": "BR6-C", "as_of": "2026-11-20"}
NEW = {"If-None-Match": "*"}
LEAK = "/v1/sign-offs/leak-test"


def at(version: int) -> dict[str, str]:
    return {"If-Match": f'"{version}"'}


def listed(client: TestClient) -> Any:
    answer = client.get("/v1/sign-offs", params=PLAN)
    assert answer.status_code == 200, answer.text
    return answer.json()


def filled(told: Any, code: str = "leak-test") -> dict[str, Any]:
    """What a person who looked at this answer would send."""
    record = next(r for r in told["records"] if r["code"] == code)
    entries = {f["name"]: "as it should be" for f in record["fields"]}
    return {"sheet": told["sheet"], "fields": entries, "author": "Ada"}


def test_a_record_is_signed_read_and_taken_back(here: TestClient) -> None:
    told = listed(here)
    assert told["refusals"]
    assert {r["version"] for r in told["records"]} == {0}
    done = here.put(LEAK, params=PLAN, json=filled(told), headers=NEW)
    assert done.status_code == 200, done.text
    (record,) = done.json()["records"]
    assert (record["by"], done.headers["etag"]) == ("Ada", f'"{record["version"]}"')
    again = here.get(LEAK, params=PLAN)
    assert (again.json()["records"], again.headers["etag"]) == ([record], done.headers["etag"])
    assert len(listed(here)["refusals"]) < len(told["refusals"])
    back = here.delete(LEAK, params={**PLAN, "author": "Ada"}, headers=at(record["version"]))
    assert back.status_code == 200, back.text
    assert (back.json()["records"][0]["by"], back.json()["refusals"]) == ("", told["refusals"])
    titles = [change["title"] for change in here.get("/v1/history").json()[:2]]
    assert [title.rpartition(" ")[2] for title in titles] == ["back", "signed"]


def test_a_signature_rests_on_the_version_and_the_sheet_that_were_seen(here: TestClient) -> None:
    told = listed(here)
    said = filled(told)
    assert problem(here.put(LEAK, params=PLAN, json=said)) == (428, "version-wanted")
    assert problem(here.put(LEAK, params=PLAN, json={**said, "sheet": "0" * 32}, headers=NEW)) == (
        412, "version-mismatch",
    )  # fmt: skip
    signed = here.put(LEAK, params=PLAN, json=said, headers=NEW).json()["records"][0]
    assert problem(here.put(LEAK, params=PLAN, json=said, headers=NEW)) == (412, "version-mismatch")
    wrong = here.delete(LEAK, params={**PLAN, "author": "Ada"}, headers=at(signed["version"] + 1))
    assert problem(wrong) == (412, "version-mismatch")
    found = {"seat": "bearing-housing", "state": "cracked", "author": "bench"}
    assert here.post("/v1/cores/HB-017/found", json=found).status_code == 201
    late = here.put("/v1/sign-offs/actuator", params=PLAN, json=filled(told, "actuator"), headers=NEW)
    assert late.status_code >= 400
    assert here.get("/v1/history").json()[0]["title"].endswith("looked at")


def test_what_is_not_whole_is_not_signed(here: TestClient) -> None:
    told = listed(here)
    before = here.get("/v1/history").json()
    blank = here.put(LEAK, params=PLAN, json={**filled(told), "fields": {}}, headers=NEW)
    assert problem(blank) == (422, "bad-question")
    assert "is blank" in blank.json()["detail"]
    assert problem(here.put("/v1/sign-offs/none", params=PLAN, json=filled(told), headers=NEW)) == (404, "not-found")
    assert problem(here.get("/v1/sign-offs/none", params=PLAN)) == (404, "not-found")
    assert here.get("/v1/history").json() == before


def test_a_retry_signs_once(here: TestClient) -> None:
    said = filled(listed(here))
    first, again = (
        here.put(LEAK, params=PLAN, json=said, headers={**NEW, "Idempotency-Key": "sign-1"}) for _ in range(2)
    )
    assert first.status_code == again.status_code == 200
    assert again.headers["Idempotency-Replayed"] == "true"
    assert len(here.get("/v1/history").json()) == 2


def test_signing_takes_sign_off_and_photographing_takes_bench(app: FastAPI, here: TestClient) -> None:
    said = filled(listed(here))
    boss = caller(app, key=key_for(here, "boss", "admin"))
    bench = caller(app, key=key_for(boss, "tablet", "bench"))
    chief = caller(app, key=key_for(boss, "Ada", "sign-off"))
    assert problem(here.put(LEAK, params=PLAN, json=said, headers=NEW)) == (401, "no-key")
    assert problem(bench.put(LEAK, params=PLAN, json=said, headers=NEW)) == (403, "no-scope")
    assert problem(bench.delete(LEAK, params=PLAN, headers=at(2))) == (403, "no-scope")
    assert chief.put(LEAK, params=PLAN, json=said, headers=NEW).json()["records"][0]["by"] == "Ada"
    assert problem(chief.post(PHOTOS, content=shot())) == (403, "no-scope")
    assert bench.post(PHOTOS, content=shot(), headers=JPEG).status_code == 201


PHOTOS = "/v1/cores/HB-017/photos"
JPEG = {"Content-Type": "image/jpeg"}


def shot(colour: tuple[int, int, int] = (90, 60, 30)) -> bytes:
    exif = Image.Exif()
    exif[0x010E] = "the yard behind the church"
    out = BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG", exif=exif)
    return out.getvalue()


def test_a_photo_is_put_listed_and_read(here: TestClient) -> None:
    before = here.get(PHOTOS).json()["photos"]
    assert {p["address"] for p in before} == {""}  # the demo's are names of files that the shop keeps elsewhere
    done = here.post(PHOTOS, params={"author": "ina"}, content=shot(), headers=JPEG)
    assert done.status_code == 201, done.text
    assert done.json()["photos"][:-1] == before
    last = done.json()["photos"][-1]
    assert re.fullmatch(r"/v1/photos/[0-9a-f]{32}\.jpg", last["address"])
    got = here.get(last["address"])
    assert got.headers["content-type"] == "image/jpeg"
    assert b"church" not in got.content
    assert Image.open(BytesIO(got.content)).size == (40, 30)
    same = here.post(PHOTOS, params={"author": "ina"}, content=shot(), headers=JPEG)
    assert same.json()["photos"] == done.json()["photos"]
    assert problem(here.get("/v1/photos/" + "0" * 32 + ".jpg")) == (404, "not-found")
    assert problem(here.get("/v1/cores/HB-999/photos")) == (404, "not-found")


def test_a_wrong_photo_is_taken_off_and_undoing_puts_it_back(here: TestClient) -> None:
    """The core stays what it was, the rest of its photos too, and the history says who did it."""
    core = "/v1/cores/HB-901"
    made = here.post("/v1/cores", json={"tag": "HB-901", "place": "rack 9", "serial": "S-7", "author": "ina"})
    assert made.status_code == 201, made.text
    plain = here.get(core).json()
    names = []
    for colour in ((1, 2, 3), (4, 5, 6)):
        sent = here.post(f"{core}/photos", params={"author": "ina"}, content=shot(colour), headers=JPEG).json()
        names.append(sent["photos"][-1]["name"])
    for left in ([names[1]], []):  # the last one too: the row is then as it was before any
        gone = next(name for name in names if name not in left)
        names = left
        done = here.delete(f"{core}/photos/{gone}", params={"author": "ben"})
        assert done.status_code == 200, done.text
        assert [one["name"] for one in done.json()["photos"]] == left
        assert here.get(core).json()["photos"] == left
        last = here.get("/v1/history").json()[0]
        assert (last["author"], last["title"]) == ("ben", f"photo {gone} taken off core HB-901")
        assert here.get(f"/v1/photos/{gone}").status_code == 200  # the record keeps its bytes
    now = here.get(core).json()
    assert {k: v for k, v in now.items() if k != "snapshot"} == {k: v for k, v in plain.items() if k != "snapshot"}
    assert problem(here.delete(f"{core}/photos/{gone}", params={"author": "ben"})) == (404, "not-found")
    assert problem(here.delete("/v1/cores/HB-999/photos/x.jpg", params={"author": "ben"})) == (404, "not-found")
    assert here.get("/v1/history").json()[0] == last
    assert problem(here.delete(f"{core}/photos/{gone}")) == (422, "bad-question")  # nobody is named
    undone = here.post(f"/v1/history/{last['n']}/undo", json={"author": "ina"}, headers=at(last["n"]))
    assert undone.status_code < 300, undone.text
    assert here.get(core).json()["photos"] == [gone]


def test_taking_a_photo_off_takes_bench_and_a_retry_does_it_once(app: FastAPI, here: TestClient) -> None:
    name = here.post(PHOTOS, params={"author": "ina"}, content=shot(), headers=JPEG).json()["photos"][-1]["name"]
    boss = caller(app, key=key_for(here, "boss", "admin"))
    bench = caller(app, key=key_for(boss, "tablet", "bench"))
    stock = caller(app, key=key_for(boss, "store", "stock"))
    assert problem(here.delete(f"{PHOTOS}/{name}")) == (401, "no-key")
    assert problem(stock.delete(f"{PHOTOS}/{name}")) == (403, "no-scope")
    before = len(boss.get("/v1/history").json())
    first, again = (bench.delete(f"{PHOTOS}/{name}", headers={"Idempotency-Key": "off-1"}) for _ in range(2))
    assert first.status_code == 200, first.text
    assert (again.json(), again.headers["Idempotency-Replayed"]) == (first.json(), "true")
    history = boss.get("/v1/history").json()
    assert (len(history), history[0]["author"]) == (before + 1, "tablet")


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"<svg onload='x'/>", shot()[:-20], b"\xff\xd8" + b"x" * 100])
def test_what_is_no_photo_is_refused_and_kept_nowhere(here: TestClient, data: bytes) -> None:
    before = here.get(PHOTOS).json()
    refused = here.post(PHOTOS, params={"author": "ina"}, content=data, headers=JPEG)
    assert 400 <= refused.status_code < 500
    assert here.get(PHOTOS).json() == before
    assert len(here.get("/v1/history").json()) == 1


def test_a_retry_puts_a_photo_once(here: TestClient) -> None:
    sent = {**JPEG, "Idempotency-Key": "photo-1"}
    first, again = (here.post(PHOTOS, params={"author": "ina"}, content=shot(), headers=sent) for _ in range(2))
    assert first.json() == again.json()
    assert again.headers["Idempotency-Replayed"] == "true"
    assert len(here.get("/v1/history").json()) == 2


def test_a_photo_that_no_one_signs_is_refused(here: TestClient) -> None:
    assert problem(here.post(PHOTOS, content=shot(), headers=JPEG)) == (422, "bad-question")


def test_another_site_may_not_make_a_browser_sign(app: FastAPI, here: TestClient, tmp_path: Path) -> None:
    """A page of another site makes a browser send with its own origin: nobody at this machine, then (api.access)."""
    said = filled(listed(here))
    for foreign in ({"Origin": "https://other.example"}, {"Sec-Fetch-Site": "cross-site"}):
        assert problem(here.put(LEAK, params=PLAN, json=said, headers={**NEW, **foreign})) == (401, "no-key")
        assert problem(here.post(PHOTOS, content=shot(), headers={**JPEG, **foreign})) == (401, "no-key")
    assert len(here.get("/v1/history").json()) == 1
