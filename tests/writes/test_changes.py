"""Change sets over several requests: staged, added to, checked, committed, undone; on the small shop of store_rows.

Expected verdicts follow from the shop's rows: engine B6 has no flange on record, so nothing is known to fit it; the
rule `outlet` admits a4 with a4.
"""

import json
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
import store_postgres
from fastapi import FastAPI
from rdflib import Graph
from starlette.testclient import TestClient
from store_rows import shop
from writing_desk import caller, key_for, problem, shop_app

from graph.desk import Desk
from graph.desk.watching import said, summary
from graph.errors import Stale
from graph.index.store import Store
from graph.ledger.staging import Staging
from graph.ledger.watches import Watches
from graph.model.watch import Question, Said, Turned
from graph.publish import check_staged, commit_staged, publish_statements, tried, verify_store

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
FLANGE = {"maker": "Brackmoor", "engine": "B6", "feature": "flange", "value": "A4", "source": "drawing 7"}


def begin(client: TestClient, title: str = "flange of the B6") -> str:
    made = client.post("/v1/changes", json={"title": title, "author": "ina"})
    assert made.status_code == 201, made.text
    assert made.headers["location"] == f"/v1/changes/{made.json()['id']}"
    id_: str = made.json()["id"]
    return id_


def add(client: TestClient, change: str, sheet: str, *rows: dict[str, str]) -> Any:
    return client.post(f"/v1/changes/{change}/rows", json={"sheet": sheet, "rows": list(rows), "author": "ina"})


def check(client: TestClient, change: str) -> Any:
    done = client.post(f"/v1/changes/{change}/check")
    assert done.status_code == 200, done.text
    return done.json()


def commit(client: TestClient, change: str, version: int, head: int) -> Any:
    return client.post(
        f"/v1/changes/{change}/commit", json={"version": version, "author": "ina"}, headers={"If-Match": f'"{head}"'}
    )


def fits(client: TestClient) -> str:
    word: str = client.get("/v1/fits", params={"unit": "OU 10", "engine": "B6"}).json()[0]["verdict"]
    return word


def test_a_change_is_put_together_checked_and_committed(counter: TestClient, small: Path) -> None:
    change = begin(counter)
    assert add(counter, change, "engine_values", FLANGE).status_code == 201
    assert fits(counter) == "not known"  # nothing is published yet
    found = check(counter, change)
    assert (found["faulty"], found["rows"], found["head"]) == (False, 1, 1)
    done = commit(counter, change, found["version"], found["head"])
    assert done.status_code == 200, done.text
    assert (done.json()["change_set"]["n"], done.json()["change_set"]["author"]) == (2, "ina")
    assert fits(counter) == "fits"
    after = counter.get(f"/v1/changes/{change}").json()
    assert (after["state"], after["n"], after["items"]) == ("committed", 2, [])
    assert problem(add(counter, change, "engine_values", FLANGE)) == (409, "conflict")
    assert [s["id"] for s in counter.get("/v1/changes?state=committed").json()] == [change]
    store = Store.open(small)
    assert verify_store(store) == []
    store.close()


def test_a_check_says_how_watched_answers_would_turn_and_changes_nothing(counter: TestClient, small: Path) -> None:
    store = Store.open(small)
    for unit in ("OU 10", "OU 11"):
        question = Question("fits", unit=unit, engine="B6")
        Watches(store.ledger).make(unit, question, Said("not known", ""), 1, by="ina", time="t")
    Watches(store.ledger).make(
        "own", Question("fits", unit="OU 10", engine="B5"), Said("fits", ""), 1, by="i", time="t"
    )
    change = begin(counter)
    add(counter, change, "engine_values", FLANGE)
    found = check(counter, change)
    assert found["summary"] == ["2 answers turn from not known to fits.", "1 answer stays as it is."]
    assert [q["label"] for q in found["questions"]] == ["OU 10", "OU 11", "own"]
    assert fits(counter) == "not known"
    assert len(counter.get("/v1/history").json()) == 1
    assert list((small / "trials").iterdir()) == []
    store.close()


def test_turns_are_counted_in_words() -> None:
    def turn(before: str, after: str, *costs: int | None) -> Turned:
        first, second = costs or (None, None)
        return Turned("", "", Said(before, "", first), Said(after, "", second))

    turns = [turn("not known", "fits")] * 3 + [turn("fits", "does not fit")] + [turn("fits", "fits")] * 2
    assert summary(turns) == [
        "3 answers turn from not known to fits.",
        "1 answer turns from fits to does not fit.",
        "2 answers stay as they are.",
    ]
    assert summary([turn("fits", "fits", 100, 90)]) == ["1 plan comes to another price."]
    assert summary([]) == ["No question is kept."]


def test_all_faults_of_all_items_are_found_at_once_and_nothing_is_committed(counter: TestClient) -> None:
    change = begin(counter)
    add(counter, change, "prices", {"maker": "Ostrel", "number": "OS-999", "price": "x", "currency": "EUR"})
    add(counter, change, "engine_values", {**FLANGE, "feature": "colour"})
    found = check(counter, change)
    assert found["faulty"]
    assert {(f["origin"]["file"], f["origin"]["sheet"]) for f in found["findings"]} == {
        ("item 1", "prices"),
        ("item 2", "engine_values"),
    }
    assert problem(commit(counter, change, found["version"], found["head"])) == (422, "findings")
    assert len(counter.get("/v1/history").json()) == 1
    # One item is taken out; what is left has the other's fault.
    left = counter.delete(f"/v1/changes/{change}/items/1?author=ina").json()
    assert [i["number"] for i in left["items"]] == [2]
    assert {f["origin"]["file"] for f in check(counter, change)["findings"]} == {"item 2"}


def test_an_item_may_rest_on_the_items_before_it(counter: TestClient) -> None:
    change = begin(counter, "a new cover and its price")
    part = {"maker": "Ostrel", "number": "OS-150", "kind": "cover", "label": "cover"}
    price = {"maker": "Ostrel", "number": "OS-150", "price": "80.00", "currency": "EUR", "as_of": "2026-01-01"}
    add(counter, change, "prices", price)
    assert check(counter, change)["faulty"]  # the price alone points nowhere
    counter.delete(f"/v1/changes/{change}/items/1?author=ina")
    add(counter, change, "parts", part)
    add(counter, change, "prices", price)
    found = check(counter, change)
    assert found["findings"] == []
    assert commit(counter, change, found["version"], found["head"]).status_code == 200


def send(client: TestClient, change: str, data: bytes, media: str, name: str = "") -> Any:
    return client.post(
        f"/v1/changes/{change}/files", params={"author": "ina", "name": name}, content=data,
        headers={"Content-Type": media},
    )  # fmt: skip


def test_a_workbook_csv_and_turtle_are_added_as_they_are(counter: TestClient, small: Path, tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "kinds"
    sheet.append(["kind", "label"])
    sheet.append(["clamp", "band clamp"])
    book.save(tmp_path / "kinds.xlsx")
    csv = b"maker,number,kind,label\nOstrel,OS-160,clamp,clamp\n"
    # Turtle as somebody else may write it: a row of no name yet, with another label.
    exported = tmp_path / "all.ttl"
    from graph.desk import open_desk

    desk = open_desk(small)
    desk.export(exported, "ttl")
    desk.close()
    turtle = exported.read_text()
    statement = next(s for s in turtle.split("\n\n") if '"compressor cover"' in s)
    prefixes = "\n".join(line for line in turtle.splitlines() if line.startswith("@prefix"))
    nameless = "_:row " + statement.strip().partition(" ")[2]
    changed = f"{prefixes}\n\n{nameless}\n".replace('"compressor cover"', '"cover of the compressor"')
    assert len(Graph().parse(data=changed, format="turtle")) > 3
    change = begin(counter, "three files")
    assert send(counter, change, (tmp_path / "kinds.xlsx").read_bytes(), XLSX, "kinds.xlsx").status_code == 201
    assert send(counter, change, csv, "text/csv", "parts.csv").status_code == 201
    assert send(counter, change, changed.encode(), "text/turtle", "cover.ttl").status_code == 201
    found = check(counter, change)
    assert [f for f in found["findings"] if f["severity"] == "error"] == []
    assert found["counts"] == {"kinds": 2, "parts": 1}
    assert commit(counter, change, found["version"], found["head"]).status_code == 200
    shown = counter.get("/v1/diff", params={"a": 1, "b": 2}).json()
    assert sorted((d["op"], d["statement"]["fields"].get("label")) for d in shown) == [
        ("+", "band clamp"),
        ("+", "clamp"),
        ("+", "cover of the compressor"),
        ("-", "compressor cover"),
    ]


@pytest.mark.parametrize(("media", "data"), [("image/png", b"x"), ("", b"x"), ("text/turtle", b"")])
def test_a_file_of_no_known_kind_is_refused(counter: TestClient, media: str, data: bytes) -> None:
    assert problem(send(counter, begin(counter), data, media)) == (422, "bad-file")


def test_a_hostile_workbook_is_a_finding_and_no_crash(counter: TestClient) -> None:
    change = begin(counter)
    assert send(counter, change, b"PK\x03\x04 no zip", XLSX, "../../etc/passwd.xlsx").status_code == 201
    found = check(counter, change)
    assert found["faulty"]
    assert "/" not in found["findings"][0]["origin"]["file"]


def test_a_commit_rests_on_the_head_and_on_the_version_that_was_checked(counter: TestClient) -> None:
    change = begin(counter)
    add(counter, change, "engine_values", FLANGE)
    found = check(counter, change)
    assert problem(counter.post(f"/v1/changes/{change}/commit", json={"version": 2, "author": "x"})) == (
        428, "version-wanted",
    )  # fmt: skip
    add(counter, change, "kinds", {"kind": "nut", "label": "nut"})  # slipped in after the check
    assert problem(commit(counter, change, found["version"], found["head"])) == (412, "version-mismatch")
    again = check(counter, change)
    other = begin(counter, "faster")
    add(counter, other, "kinds", {"kind": "washer", "label": "washer"})
    first = check(counter, other)
    assert commit(counter, other, first["version"], first["head"]).status_code == 200
    assert problem(commit(counter, change, again["version"], again["head"])) == (412, "version-mismatch")
    last = check(counter, change)
    assert commit(counter, change, last["version"], last["head"]).status_code == 200


def test_an_undo_takes_back_and_the_answer_is_the_earlier_one(counter: TestClient) -> None:
    change = begin(counter)
    add(counter, change, "engine_values", FLANGE)
    found = check(counter, change)
    commit(counter, change, found["version"], found["head"])
    assert fits(counter) == "fits"
    head = counter.get("/v1/head")
    assert head.headers["etag"] == '"2"'
    stale = counter.post("/v1/history/2/undo", json={"author": "ina"}, headers={"If-Match": '"1"'})
    assert problem(stale) == (412, "version-mismatch")
    done = counter.post("/v1/history/2/undo", json={"author": "ina"}, headers={"If-Match": head.headers["etag"]})
    assert done.json()["change_set"]["n"] == 3
    assert fits(counter) == "not known"


# ── Taking claims back ────────────────────────────────────────────────────────────────────────────────────────


def back(client: TestClient, change: str, *rows: str) -> Any:
    return client.post(f"/v1/changes/{change}/back", json={"rows": list(rows), "author": "ina"})


def claim_of(client: TestClient, about: str, sheet: str) -> str:
    """The id of the one row of that sheet about a thing, as the list of claims shows it."""
    (found,) = (c for c in client.get("/v1/claims", params={"about": about}).json() if c["sheet"] == sheet)
    id_: str = found["id"]
    return id_


def test_a_claim_is_taken_back_beside_rows_and_the_check_says_what_turns(counter: TestClient, small: Path) -> None:
    """Without the flange of the B5 nothing is known to fit it; with B6's, what fitted B5 by its flange fits B6."""
    store = Store.open(small)
    for engine, word in (("B5", "fits"), ("B6", "not known")):
        question = Question("fits", unit="OU 10", engine=engine)
        Watches(store.ledger).make(engine, question, Said(word, ""), 1, by="ina", time="t")
    taken = claim_of(counter, "engine/Brackmoor/B5", "engine_values")
    change = begin(counter, "the flange was read off the wrong engine")
    assert back(counter, change, taken).status_code == 201
    assert [(i["form"], i["number"]) for i in counter.get(f"/v1/changes/{change}").json()["items"]] == [("back", 1)]
    add(counter, change, "engine_values", FLANGE)
    found = check(counter, change)
    assert not found["faulty"]
    assert (found["shift"]["come"], found["shift"]["go"], found["shift"]["truncated"]) == (1, 1, False)
    shown = [(d["op"], d["statement"]["fields"]["engine"]) for d in found["shift"]["rows"]]
    assert shown == [("-", "B5"), ("+", "B6")]
    words = {q["label"]: (q["before"]["word"], q["after"]["word"]) for q in found["questions"]}
    assert words == {"B5": ("fits", "not known"), "B6": ("not known", "fits")}
    turns = {s["label"]: (s["before"]["word"], s["after"]["word"]) for s in found["swaps"]}
    assert turns["Ostrel OU 11 on Brackmoor B6"] == ("not known", "fits")  # kept by nobody; it left the factory there
    assert fits(counter) == "not known", "nothing is published by a check"
    assert commit(counter, change, found["version"], found["head"]).status_code == 200
    listed = counter.get("/v1/claims", params={"about": "engine/Brackmoor/B5"}).json()
    assert "engine_values" not in {c["sheet"] for c in listed}
    shelved = counter.get(f"/v1/claims/{taken}").json()
    assert (shelved["from_change_set"], shelved["to_change_set"]) == (1, 2), "nothing is forgotten"
    then = counter.get("/v1/fits", params={"unit": "OU 10", "engine": "B5", "as-of": "1"}).json()[0]
    assert then["verdict"] == "fits"
    undone = counter.post("/v1/history/2/undo", json={"author": "ina"}, headers={"If-Match": '"2"'})
    assert undone.status_code == 200, undone.text
    assert claim_of(counter, "engine/Brackmoor/B5", "engine_values") == taken
    assert verify_store(store) == []
    store.close()


def test_what_others_rest_on_is_not_taken_back_and_what_is_gone_is_said(counter: TestClient) -> None:
    cover = claim_of(counter, "part/Ostrel/OS-100", "parts")
    change = begin(counter, "no cover")
    back(counter, change, cover, "s" + "0" * 24)
    found = check(counter, change)
    codes = [(f["code"], f["severity"], f["origin"]["row"]) for f in found["findings"]]
    assert sorted(codes) == [("nothing-to-take-back", "warning", 2), ("others-rest-on-it", "error", 1)]
    assert found["faulty"] and found["shift"] is None
    assert problem(commit(counter, change, found["version"], found["head"])) == (422, "findings")
    assert problem(back(counter, change, "cover")) == (422, "bad-request")
    assert problem(back(counter, "nobody", cover)) == (404, "not-found")
    other = begin(counter, "gone already")
    back(counter, other, "s" + "0" * 24)
    told = check(counter, other)
    assert (told["faulty"], told["shift"]["rows"]) == (False, [])
    done = commit(counter, other, told["version"], told["head"])
    assert (done.status_code, done.json()["change_set"]) == (200, None)


def test_faulty_rows_are_set_aside_only_where_that_is_asked(counter: TestClient) -> None:
    change = begin(counter)
    add(counter, change, "engine_values", FLANGE, {**FLANGE, "engine": "B9"})
    assert check(counter, change)["faulty"]
    aside = counter.post(f"/v1/changes/{change}/check?set_aside=true").json()
    assert (aside["faulty"], aside["shift"]["come"]) == (False, 1)
    assert [f["origin"]["row"] for f in aside["findings"] if f["severity"] == "error"]
    assert problem(commit(counter, change, aside["version"], aside["head"])) == (422, "findings")
    asked = {"version": aside["version"], "author": "ina", "set_aside": True}
    done = counter.post(f"/v1/changes/{change}/commit", json=asked, headers={"If-Match": f'"{aside["head"]}"'})
    assert (done.status_code, done.json()["change_set"]["count"]) == (200, 1)


def test_who_edits_may_not_sign_off(small: Path) -> None:
    app: FastAPI = shop_app(small)
    with caller(app) as here:
        admin = caller(app, key=key_for(here, "owner", "admin"))
        editor = caller(app, key=key_for(admin, "editor", "edit"))
        chief = caller(app, key=key_for(admin, "chief", "sign-off"))
        change = begin(editor)
        add(editor, change, "engine_values", FLANGE)
        found = check(editor, change)
        assert problem(commit(editor, change, found["version"], found["head"])) == (403, "no-scope")
        assert problem(add(chief, change, "engine_values", FLANGE)) == (403, "no-scope")
        assert commit(chief, change, found["version"], found["head"]).json()["change_set"]["author"] == "chief"


def test_a_commit_sent_twice_with_one_key_is_one_change_set(counter: TestClient) -> None:
    change = begin(counter)
    add(counter, change, "engine_values", FLANGE)
    found = check(counter, change)
    sent = {"If-Match": f'"{found["head"]}"', "Idempotency-Key": "c-1"}
    body = {"version": found["version"], "author": "ina"}
    first, again = (counter.post(f"/v1/changes/{change}/commit", json=body, headers=sent) for _ in range(2))
    assert (first.status_code, again.json()) == (200, first.json())
    assert len(counter.get("/v1/history").json()) == 2


def test_a_dropped_change_stays_on_record_without_its_items(counter: TestClient) -> None:
    change = begin(counter)
    add(counter, change, "engine_values", FLANGE)
    dropped = counter.delete(f"/v1/changes/{change}?author=ina").json()
    assert (dropped["state"], dropped["items"]) == ("dropped", [])
    assert problem(counter.get("/v1/changes/nobody")) == (404, "not-found")


def test_a_change_is_tried_and_committed_alike_on_postgresql(postgres: str, tmp_path: Path) -> None:
    store_postgres.empty(postgres)
    store = Store.create(tmp_path / "shared", postgres)
    publish_statements(store, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    staging = Staging(store.ledger)
    change = staging.make("flange", by="ina", time="2026-01-02T00:00:00Z").id
    staging.add(change, "rows", "engine_values", json.dumps([FLANGE]).encode(), by="ina", time="2026-01-02T00:00:00Z")
    question = Question("fits", unit="OU 10", engine="B6")
    with ExitStack() as stack:
        report, spool = check_staged(store, change, stack)
        assert not report.faulty
        with tried(store, spool.changes(), time="2026-01-02T00:00:00Z") as (after, _):
            words = [said(Desk.over(one), question, "2026-01-02").word for one in (store, after)]
    assert words == ["not known", "fits"]
    said_by = {"author": "ina", "time": "2026-01-02T00:00:00Z"}
    with pytest.raises(Stale):
        commit_staged(store, change, 2, head=0, **said_by)
    assert staging.get(change).state == "open"
    assert commit_staged(store, change, 2, head=1, **said_by).change_set is not None
    assert (staging.get(change).state, staging.get(change).n) == ("committed", 2)
    assert verify_store(store) == []
    store.close()
