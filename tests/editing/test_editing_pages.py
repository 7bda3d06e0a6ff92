"""Changing the record on pages: what is sent is kept, looked at, published once or not at all; on the small shop.

Expected verdicts follow from the shop's rows: engine B6 has no flange on record, so nothing is known to fit it.
"""

import io
import json
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from store_rows import code, mm, row, shop
from writing_desk import caller, key_for, shop_app

from api.pages import preview
from graph.index.store import Store
from graph.ledger.watches import Watches
from graph.model.watch import Question, Said
from graph.publish import publish_statements, verify_store

TIME = "2026-02-01T00:00:00Z"
FLANGE = b"maker,engine,feature,value,source\nBrackmoor,B6,flange,A4,drawing 7\n"
FAULTY = FLANGE + b"Brackmoor,B7,flange,A4,drawing 7\nBrackmoor,B5,flange,=1+1,drawing 7\n"
FILE = {"files": ("engine_values.csv", FLANGE, "text/csv")}


@pytest.fixture(name="folder")
def folder_fixture(tmp_path: Path) -> Path:
    store = Store.create(tmp_path / "store")
    publish_statements(store, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    store.close()
    return tmp_path / "store"


@pytest.fixture(name="here")
def here_fixture(folder: Path) -> Iterator[TestClient]:
    """A browser on the shop's own machine, before there are keys."""
    with caller(shop_app(folder)) as client:
        yield client


def carried(html: str, *names: str) -> dict[str, str]:
    """What a page's forms carry unseen."""
    found = dict(re.findall(r'name="(\w+)" value="([^"]*)"', html))
    return {name: found[name] for name in names}


def send(client: TestClient, files: Any, **more: str) -> Any:
    page = client.get("/changes").text
    return client.post("/changes", data={**carried(page, "token", "once"), "who": "ina", **more}, files=files)


def publish(client: TestClient, looked: Any, **more: str) -> Any:
    names = ["token", "once", "version", "head", *(["aside"] if 'name="aside"' in looked.text else [])]
    sent = {**carried(looked.text, *names), "title": "flange", "who": "ina", **more}
    return client.post(looked.url.path + "/publish", data=sent)


def sets(client: TestClient) -> int:
    return len(client.get("/v1/history").json())


def words(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_a_file_is_looked_at_published_and_taken_back(here: TestClient, folder: Path) -> None:
    looked = send(here, FILE, title="flange of the B6")
    assert looked.status_code == 200
    assert "2 swap answers turn from not known to fits." in looked.text
    assert looked.text.count('href="/fits?unit=') >= 2
    assert sets(here) == 1  # nothing is published yet
    assert here.get(looked.url.path).text.count("flange of the B6") >= 2  # the address finds it again
    done = publish(here, looked, title="the maker's letter")
    assert done.url.path == "/history/2"
    assert "Published." in done.text
    made = here.get("/v1/history").json()[0]
    assert (made["author"], made["title"]) == ("ina", "the maker's letter")
    undo = here.get("/history/2/undo")
    assert "2 swap answers turn from fits to not known." in undo.text
    sent = {**carried(undo.text, "token", "once", "head"), "who": "ben"}
    back = here.post("/history/2/undo", data=sent)
    assert back.url.path == "/history/3"
    assert "It was taken back." in here.get("/history/2").text
    assert verify_store(Store.open(folder)) == []


def test_every_fault_is_listed_with_its_place_and_nothing_is_published_before_they_are_gone(here: TestClient) -> None:
    looked = send(here, {"files": ("engine_values.csv", FAULTY, "text/csv")})
    text = words(looked.text)
    assert "Not to be published yet." in text
    assert "engine_values, row 3, engine" in text
    assert "engine_values, row 4, value" in text
    assert "The cell holds a formula" in text
    assert "Paste the value instead of the formula." in text
    assert "/publish" not in looked.text
    listed = here.get(f"{looked.url.path}/findings.csv").text.splitlines()
    assert len(listed) == 3
    assert "'=1+1" in listed[2]  # no spreadsheet program computes it
    refused = here.post(
        f"{looked.url.path}/publish",
        data={**carried(looked.text, "token", "once"), "version": "2", "head": "1", "who": "ina"},
    )
    assert refused.status_code == 422
    assert sets(here) == 1


def test_faulty_rows_are_left_out_on_the_persons_word(here: TestClient) -> None:
    looked = send(here, {"files": ("engine_values.csv", FAULTY, "text/csv")})
    rest = here.get(f"{looked.url.path}?aside=yes")
    assert "Left out on your word: 2 faulty rows" in rest.text
    assert publish(here, rest).url.path == "/history/2"
    assert here.get("/v1/diff?a=1&b=2").json()[0]["statement"]["fields"]["engine"] == "B6"
    assert len(here.get("/v1/diff?a=1&b=2").json()) == 1


def test_what_was_published_in_between_is_shown_and_the_change_looked_at_anew(here: TestClient) -> None:
    looked = send(here, FILE)
    other = send(here, {"files": ("kinds.csv", b"kind,label\nring,seal ring\n", "text/csv")})
    assert publish(here, other, title="rings").url.path == "/history/2"
    late = publish(here, looked, title="my own words")
    assert late.status_code == 409
    assert "the record moved on" in late.text
    assert "2 by ina: rings" in late.text
    assert 'value="my own words"' in late.text
    assert sets(here) == 2
    sent = {**carried(late.text, "token", "once", "version", "head"), "title": "my own words", "who": "ina"}
    again = here.post(late.url.path, data=sent)
    assert again.url.path == "/history/3"


def test_a_form_sent_twice_writes_once(here: TestClient) -> None:
    page = here.get("/changes").text
    sent = {**carried(page, "token", "once"), "who": "ina"}
    first = here.post("/changes", data=sent, files=FILE)
    second = here.post("/changes", data=sent, files=FILE)
    assert first.url == second.url
    assert len(here.get("/v1/changes").json()) == 1
    sent = {**carried(first.text, "token", "once", "version", "head"), "title": "flange", "who": "ina"}
    assert here.post(f"{first.url.path}/publish", data=sent).url.path == "/history/2"
    assert here.post(f"{first.url.path}/publish", data=sent).url.path == "/history/2"
    # A second tab that still shows the change has another mark: it is told that it is published.
    told = here.post(f"{first.url.path}/publish", data={**sent, "once": "another"})
    assert "It was published." in told.text
    assert sets(here) == 2
    undo = carried(here.get("/history/2/undo").text, "token", "once", "head")
    assert here.post("/history/2/undo", data={**undo, "who": "ina"}).url.path == "/history/3"
    assert here.post("/history/2/undo", data={**undo, "who": "ina"}).url.path == "/history/3"
    assert sets(here) == 3


def test_a_mark_is_good_for_one_form_only(here: TestClient) -> None:
    page = here.get("/changes").text
    sent = {**carried(page, "token", "once"), "who": "ina"}
    here.post("/changes", data=sent, files=FILE)
    other = here.post("/changes", data=sent, files={"files": ("kinds.csv", b"kind,label\nx,x\n", "text/csv")})
    assert other.status_code == 422
    assert len(here.get("/v1/changes").json()) == 1


def bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"0" * 200_000_000)
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("bomb.xlsx", bomb(), "more than is read safely"),
        ("shop.xlsx", b"%PDF-1.7 not a workbook", "cannot be opened"),
        ("shop.pdf", b"%PDF-1.7", "is not read here"),
        ("shop", b"text", "a file without suffix is not read here"),
        ("parts.csv", b"", "it is empty"),
        ("parts.csv", b"maker,number\n\xff\xfe\x00x", "The text is not UTF-8"),
        ("cars.csv", b"a,b\n1,2\n", "No sheet of that name is known"),
        ("data.ttl", b"no turtle", "cannot be read"),
        ("data.jsonld", b"[" * 5_000, "nested"),
        ("../../etc/passwd.csv", b"a\n1\n", "No sheet of that name is known"),
        ("=cmd|calc.csv", b"a\n1\n", "No sheet of that name is known"),
    ],
)
def test_a_hostile_file_gives_findings_and_never_a_failure(
    here: TestClient, name: str, data: bytes, said: str
) -> None:
    answer = send(here, {"files": (name, data, "application/octet-stream")})
    assert answer.status_code in (200, 422)
    assert said in words(answer.text)
    assert "/publish" not in answer.text
    assert sets(here) == 1


def test_several_sheets_sent_together_rest_on_each_other_whatever_their_order(here: TestClient) -> None:
    values = b"maker,engine,feature,value,source\nBrackmoor,B9,flange,A4,drawing 7\n"
    files = [
        ("files", ("engine_values.csv", values, "")),
        ("files", ("engines.csv", b"maker,engine\nBrackmoor,B9\n", "")),
    ]
    looked = send(here, files)
    assert "Ready." in looked.text, words(looked.text)
    assert publish(here, looked).url.path == "/history/2"


def test_files_are_added_taken_out_and_a_change_is_given_up(here: TestClient) -> None:
    looked = send(here, {"files": ("engine_values.csv", FAULTY, "text/csv")})
    at = f"{looked.url.path}/edit"
    sent = {**carried(looked.text, "token", "once"), "who": "ina"}
    both = here.post(at, data={**sent, "do": "add"}, files={"files": ("kinds.csv", b"kind,label\nr,ring\n", "")})
    assert "Sound rows: 2." in both.text
    left = here.post(at, data={**carried(both.text, "token", "once"), "who": "ina", "do": "remove 1"})
    assert "Ready." in left.text
    gone = here.post(at, data={**carried(left.text, "token", "once"), "who": "ina", "do": "drop"})
    assert "It was given up" in gone.text
    assert here.get("/v1/changes").json()[0]["state"] == "dropped"


def statement_of(client: TestClient, sheet: str, **fields: str) -> str:
    for line in client.get("/v1/export").text.splitlines()[:-1]:
        said = json.loads(line)
        if said["sheet"] == sheet and all(said["fields"].get(n) == v for n, v in fields.items()):
            return str(said["id"])
    raise AssertionError(f"no row of {sheet} with {fields}")


def test_a_claim_is_put_right_from_its_own_page(here: TestClient) -> None:
    id_ = statement_of(here, "engine_values", engine="B5")
    page = here.get(f"/statement/{id_}")
    assert "drawing 7" in page.text
    sent = {**carried(page.text, "token", "once"), "who": "ina", "way": "wrong", "cell-value": "x9",
            "cell-source": "drawing 7", "cell-date": "2026-02-01"}  # fmt: skip
    looked = here.post(f"/statement/{id_}", data=sent)
    # The rule admits a4 with a4 alone, and both turbochargers have a cover with a4.
    assert "2 swap answers turn from fits to does not fit." in looked.text
    assert publish(here, looked).url.path == "/history/2"
    held = here.get(f"/statement/{id_}").text
    assert "It does not hold any more." in held
    assert (
        "/statement/" in here.get("/fits", params={"unit": "OU 10", "engine": "B5"}).text
    )  # one click from an answer


def test_a_newer_word_of_the_same_source_stands_beside_and_counts(here: TestClient) -> None:
    id_ = statement_of(here, "engine_values", engine="B5")
    page = here.get(f"/statement/{id_}")
    sent = {**carried(page.text, "token", "once"), "who": "ina", "way": "newer", "cell-value": "x9",
            "cell-source": "bench", "cell-date": "2026-02-01"}  # fmt: skip
    refused = here.post(f"/statement/{id_}", data=sent)
    assert refused.status_code == 422
    assert "of the same source" in refused.text
    assert 'value="x9"' in refused.text
    sent = {**sent, **carried(refused.text, "token", "once"), "cell-source": "drawing 7"}
    assert publish(here, here.post(f"/statement/{id_}", data=sent)).url.path == "/history/2"
    assert "It does not hold any more." not in here.get(f"/statement/{id_}").text
    assert here.get("/v1/fits", params={"unit": "OU 10", "engine": "B5"}).json()[0]["verdict"] == "does not fit"


def test_a_claim_is_taken_back_after_a_look(here: TestClient) -> None:
    id_ = statement_of(here, "engine_values", engine="B5")
    page = here.get(f"/statement/{id_}")
    sent = {**carried(page.text, "token", "once"), "who": "ina", "way": "back", "why": "read off another engine"}
    looked = here.post(f"/statement/{id_}", data=sent)
    assert "2 swap answers turn from fits to not known." in looked.text
    assert "read off another engine" in looked.text
    assert publish(here, looked).url.path == "/history/2"


def test_a_row_that_others_rest_on_is_put_right_and_not_taken_back(here: TestClient) -> None:
    id_ = statement_of(here, "kinds", kind="cover")
    page = here.get(f"/statement/{id_}")
    assert "Take it back" not in page.text
    sent = {**carried(page.text, "token", "once"), "who": "ina", "way": "wrong", "cell-label": "outer cover"}
    looked = here.post(f"/statement/{id_}", data=sent)
    assert "outer cover" in looked.text
    assert "compressor cover" in looked.text  # what it was stands beside
    assert here.post(f"/statement/{id_}", data={**sent, "once": "b", "way": "back"}).status_code == 422


def test_disputes_stand_in_order_of_what_hangs_on_them_and_are_settled_on_the_spot(
    here: TestClient, folder: Path
) -> None:
    store = Store.open(folder)
    rows = [
        row("sources", source="maker A", kind="maker"),
        row("sources", source="maker B", kind="maker"),
        row("engine_values", "maker A", maker="Brackmoor", engine="B6", feature="flange", value=code("a4")),
        row("engine_values", "maker B", maker="Brackmoor", engine="B6", feature="flange", value=code("b4")),
        row("values", "maker A", maker="Ostrel", number="OS-300", feature="bore", value=mm(9)),
        row("values", "maker B", maker="Ostrel", number="OS-300", feature="bore", value=mm(8)),
    ]
    publish_statements(store, rows, author="ina", time=TIME)
    question = Question("fits", unit="OU 11", engine="B6")
    Watches(store.ledger).make("sawmill waits", question, Said("not known", ""), 2, by="ina", time=TIME)
    store.close()
    page = here.get("/conflicts").text
    assert page.index("Brackmoor B6") < page.index("Ostrel OS-300")
    assert "maker A" in page
    assert "Kept questions that hang on it: 1. Turbochargers: 1." in page
    forms = carried(page, "token", "once")
    sent = {**forms, "key": "engine/Brackmoor/B6", "feature": "flange", "value": "A4", "source": "drawing 7",
            "who": "ina"}  # fmt: skip
    looked = here.post("/claims", data=sent)
    assert "turns from not known to fits." in looked.text or "turn from not known to fits." in looked.text
    assert "sawmill waits" in looked.text
    publish(here, looked)
    assert "Brackmoor B6" not in here.get("/conflicts").text


def test_keys_open_what_their_scopes_say(here: TestClient) -> None:
    admin = key_for(here, "lead", "admin")
    with_key = caller(here.app, key=admin)
    edits, signs = key_for(with_key, "front", "edit"), key_for(with_key, "chief", "sign-off")
    assert 'name="key_text"' in here.get("/changes").text
    assert "this takes a key" in send(here, FILE).text
    looked = send(here, FILE, key_text=edits)
    assert "Ready." in looked.text
    assert "does not open sign-off" in publish(here, looked, key_text=edits).text
    assert publish(here, here.get(looked.url.path), key_text=signs).url.path == "/history/2"
    made = here.get("/v1/history").json()[0]
    assert made["author"] == "chief"


def test_someone_elsewhere_only_reads(folder: Path) -> None:
    with caller(shop_app(folder, demo=True), at=("192.0.2.7", 5000)) as elsewhere:
        answer = send(elsewhere, FILE)
        assert answer.status_code == 422
        assert "takes a key" in answer.text
        assert elsewhere.get("/v1/changes").json() == []


def test_a_form_of_another_site_writes_nothing(here: TestClient) -> None:
    page = here.get("/changes").text
    sent = {**carried(page, "token", "once"), "who": "ina"}
    for headers in ({"origin": "http://elsewhere.example"}, {"sec-fetch-site": "cross-site"}):
        assert here.post("/changes", data=sent, files=FILE, headers=headers).status_code == 422
    assert here.post("/changes", data={**sent, "token": "0"}, files=FILE).status_code == 422
    assert here.get("/v1/changes").json() == []


def test_a_change_that_a_later_one_built_on_is_taken_back_after_it(here: TestClient) -> None:
    for label in ("ring", "seal ring"):
        looked = send(here, {"files": ("kinds.csv", f"kind,label\nring,{label}\n".encode(), "text/csv")})
        publish(here, looked)
    refused = here.get("/history/2/undo")
    assert refused.status_code == 409
    assert "undo 3 first" in refused.text
    assert here.get("/history/3/undo").status_code == 200


def test_sizes_that_come_are_shown_in_inches_with_the_original_beside(here: TestClient) -> None:
    sheet = b"maker,number,feature,value,unit,source\nOstrel,OS-300,bore,25.4,mm,drawing 7\n"
    looked = send(here, {"files": ("values.csv", sheet, "text/csv")})
    assert "25.4 mm" in looked.text
    # 25.4 mm to the inch: the international yard agreement of 1959
    assert "1.0000 in (25.4 mm)" in here.get(f"{looked.url.path}?units=in").text


def test_what_is_too_large_for_a_page_is_said_with_what_to_do(
    here: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(preview, "ROWS_MOST", 1)
    two = FLANGE + b"Brackmoor,B5,flange,A4,drawing 7\n"
    looked = send(here, {"files": ("engine_values.csv", two, "text/csv")})
    assert "Too large for a page." in looked.text
    assert "/publish" not in looked.text
    assert "spoolwright diff 0 1" in here.get("/history/1").text
    assert "spoolwright undo 1" in here.get("/history/1/undo").text


def test_what_is_not_there_is_said(here: TestClient) -> None:
    for address in ("/changes/c0", "/history/9", "/history/9/undo", "/statement/s0", f"/statement/{'x' * 300}"):
        assert here.get(address).status_code == 404, address
