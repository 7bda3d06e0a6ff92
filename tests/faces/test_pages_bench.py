"""The bench's pages: a core taken in, what was found, photos, and sign-offs; what is wrong writes nothing."""

import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from api.app import create_app
from graph.desk import Desk
from graph.desk.sheeting import sheet_asked
from graph.desk.signing import signing
from graph.errors import BadQuestion, Stale
from graph.index.store import Store
from graph.ledger.keys import Keys
from graph.model.routing import SheetBlock
from graph.model.signing import UNREAD, sheet_mark
from graph.publish import enter, enter_found, sign, take_back

DAY = "2026-11-20"
PLAN = {"core": "HB-017", "build": "larger-wheels", "engine": "BR6-C", "plan": "1", "as_of": DAY}
HERE: dict[str, Any] = {"base_url": "http://127.0.0.1", "client": ("127.0.0.1", 5000)}


@pytest.fixture
def client(tmp_path: Path, demo_folder: Path) -> Iterator[TestClient]:
    shutil.copytree(demo_folder, tmp_path / "store")
    with TestClient(create_app(tmp_path / "store", demo=True), **HERE) as opened:
        yield opened


def token(client: TestClient, path: str = "/intake") -> str:
    found = re.search(r'name="token" value="(\w+)"', client.get(path).text)
    assert found
    return found[1]


def shot() -> bytes:
    exif = Image.Exif()
    exif[274], exif[0x010E] = 6, "the yard behind the church"
    out = BytesIO()
    Image.new("RGB", (40, 30), (90, 60, 30)).save(out, "JPEG", exif=exif)
    return out.getvalue()


def changes(client: TestClient) -> int:
    return len(client.get("/v1/history").json())


def test_a_core_is_taken_in_with_a_photo_of_its_plate(client: TestClient) -> None:
    form = {
        "token": token(client), "tag": "HB-901", "unit": "OV46-140", "serial": "S-77", "customer": "the ferry",
        "place": "rack 9", "plate": "OV46 140", "deposit": "120", "currency": "EUR", "who": "counter",
    }  # fmt: skip
    answer = client.post("/intake", data=form, files={"photo": ("plate.jpg", shot(), "image/jpeg")})
    assert answer.status_code == 200, answer.text
    assert answer.url.path == "/core/HB-901"
    record = client.get("/v1/cores/HB-901").json()
    assert (record["serial"], record["customer"], record["place"]) == ("S-77", "the ferry", "rack 9")
    assert record["deposit"] == 12000
    source = re.search(r'<img src="(/photo/[0-9a-f]{32}\.jpg)"', answer.text)
    assert source
    got = client.get(source[1])
    assert got.headers["content-type"] == "image/jpeg"
    assert b"church" not in got.content
    assert Image.open(BytesIO(got.content)).size == (40, 30)
    assert record["photos"] == [source[1].removeprefix("/photo/")]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"tag": "HB-017"}, "there is a core"),
        ({"tag": "hb_017"}, "The core HB-017 has this tag but for case, spaces or dashes"),
        ({"tag": ""}, "the core has no tag"),
        ({"unit": "OV99-999"}, "OV99-999"),
        ({"deposit": "plenty"}, "deposit"),
        ({"who": ""}, "nobody is named"),
        ({"token": "0"}, "did not come from this page"),
    ],
)
def test_a_faulty_intake_writes_nothing_and_keeps_what_was_typed(
    client: TestClient, change: dict[str, str], said: str
) -> None:
    form = {"token": token(client), "tag": "HB-902", "plate": "as read here", "currency": "EUR", "who": "counter"}
    before = changes(client)
    answer = client.post("/intake", data={**form, **change})
    assert answer.status_code == 422
    assert said in answer.text
    assert "as read here" in answer.text
    assert changes(client) == before


@pytest.mark.parametrize("data", [b"GIF89a", b"%PDF-1.7", b"<svg onload='x'/>", shot()[:-20], b""])
def test_what_is_no_photo_is_kept_nowhere(client: TestClient, data: bytes) -> None:
    form = {"token": token(client, "/core/HB-017"), "who": "bench"}
    before = changes(client)
    answer = client.post("/core/HB-017/photos", data=form, files={"photo": ("it.jpg", data, "image/jpeg")})
    assert answer.status_code == 422
    assert "Nothing was written" in answer.text
    assert changes(client) == before


def test_photos_are_added_to_those_that_are_there(client: TestClient) -> None:
    before = client.get("/v1/cores/HB-017").json()["photos"]
    form = {"token": token(client, "/core/HB-017"), "who": "bench"}
    for colour in ((1, 2, 3), (200, 10, 10)):
        out = BytesIO()
        Image.new("RGB", (20, 20), colour).save(out, "PNG")
        answer = client.post("/core/HB-017/photos", data=form, files={"photo": ("it.png", out.getvalue())})
        assert answer.status_code == 200, answer.text
    after = client.get("/v1/cores/HB-017").json()["photos"]
    assert after[: len(before)] == before
    assert len(after) == len(before) + 2
    assert client.get("/photo/" + "0" * 32 + ".jpg").status_code == 404


def test_a_photo_comes_off_only_after_being_asked_for_once_more(client: TestClient) -> None:
    form = {"token": token(client, "/core/HB-017"), "who": "bench"}
    client.post("/core/HB-017/photos", data=form, files={"photo": ("it.jpg", shot(), "image/jpeg")})
    held = client.get("/v1/cores/HB-017").json()["photos"]
    (link,) = re.findall(r'href="(/core/HB-017/photos/[^"]+/off)"', client.get("/core/HB-017").text)
    before = changes(client)
    asking = client.get(link)
    assert "Take photo 1 off core HB-017?" in asking.text
    assert changes(client) == before  # asking writes nothing
    nobody = client.post(link, data={"token": token(client, link)})
    assert nobody.status_code == 422
    assert "Nothing was written" in nobody.text
    foreign = client.post(link, data={"token": "0", "who": "bench"})
    assert foreign.status_code == 422
    assert client.get("/v1/cores/HB-017").json()["photos"] == held
    done = client.post(link, data={"token": token(client, link), "who": "Ada"})
    assert done.status_code == 200
    assert "none yet" in done.text
    assert client.get("/v1/cores/HB-017").json()["photos"] == held[:-1]
    assert client.get("/v1/history").json()[0]["author"] == "Ada"
    assert client.get(link).status_code == 404


def test_what_is_found_in_a_seat_is_judged_at_once(client: TestClient) -> None:
    """A cracked rotating part is scrap (docs/bench.md)."""
    form = {"token": token(client, "/core/HB-030"), "who": "bench", "seat": "compressor-wheel", "state": "cracked"}
    answer = client.post("/core/HB-030/found", data=form)
    assert answer.status_code == 200, answer.text
    decisions = client.get("/v1/cores/HB-030/inspection").json()["decisions"]
    assert {d["seat"]: d["outcome"] for d in decisions}["compressor-wheel"] == "scrap"
    wrong = client.post("/core/HB-030/found", data={**form, "part": "99-99-99"})
    assert wrong.status_code == 422
    assert 'value="99-99-99"' in wrong.text


HIDDEN = re.compile(r'<input type="hidden" name="([\w-]+)" value="([^"]*)">')


def sign_form(client: TestClient, record: str) -> dict[str, str]:
    """What the page's form for this record carries beside what is typed."""
    html = client.get("/sign", params=PLAN).text
    (section,) = re.findall(rf'<section id="{record}".*?</section>', html, re.DOTALL)
    found = dict(HIDDEN.findall(section))
    found.pop("back", None)
    return {**found, "who": "Ada"}


def signed(client: TestClient, record: str, **entries: str) -> Any:
    return client.post("/sign", data={**sign_form(client, record), **entries})


def test_a_record_is_signed_once_it_is_whole_and_within_its_window(client: TestClient) -> None:
    sheet = client.get("/v1/sheets", params=PLAN).json()
    record = next(
        r for r in sheet["records"] if any(f["low"] is not None and f["quantity"] == "length" for f in r["fields"])
    )
    field = next(f for f in record["fields"] if f["quantity"] == "length")
    # lengths are stored in 0.1 nm
    inside, beyond = (f"{amount / 1e7:.4f} mm" for amount in (field["low"], field["high"] + 1_000_000))
    before = changes(client)
    assert "is blank" in signed(client, record["code"]).text
    assert "is above" in signed(client, record["code"], **{field["name"]: beyond}).text
    assert changes(client) == before
    answer = signed(client, record["code"], **{field["name"]: inside})
    assert answer.status_code == 200, answer.text
    assert "Signed by Ada" in answer.text
    assert inside in answer.text
    assert changes(client) == before + 1
    assert client.get("/v1/history").json()[0]["title"].endswith("signed")
    back = signed(client, record["code"], back="yes")
    assert "Signed by Ada" not in back.text
    assert changes(client) == before + 2


def test_a_unit_goes_out_only_when_every_record_is_signed(tmp_path: Path, demo_folder: Path) -> None:
    """Every field is filled with what its window allows; only the last signature lets the unit go."""
    shutil.copytree(demo_folder, tmp_path / "store")
    store = Store.open(tmp_path / "store")
    sheet = sheet_asked(Desk.over(store), "HB-017", "larger-wheels", "BR6-C", day=DAY)
    fitting = {"speed": "900 rpm", "unbalance": "0.5 g·mm", "": "as it should be"}
    for at, record in enumerate(sheet.records):
        assert signing(Desk.over(store), sheet, "HB-017").refusals
        told = {
            f.name: f"{((f.low or 0) + (f.high or 0)) / 2e7:.4f} mm"
            if f.quantity == "length"
            else fitting[f.quantity]
            for f in record.fields
            if not f.name.endswith((".by", ".date"))
        }
        when = f"2026-11-20T08:00:{at:02}Z"
        sign(store, sheet, "HB-017", record.code, told, version=0, stood=1, author="Ada", time=when)
    shown = signing(Desk.over(store), sheet, "HB-017")
    assert shown.refusals == ()
    assert {record.by for record in shown.records} == {"Ada"}
    version = next(r.version for r in shown.records if r.code == "leak-test")
    take_back(store, sheet, "HB-017", "leak-test", version=version, author="Ada", time="2026-11-20T09:00:00Z")
    assert {r.code for r in signing(Desk.over(store), sheet, "HB-017").records if not r.by} == {"leak-test"}
    blocked = replace(sheet, blocks=(SheetBlock("crack", "a wheel is cracked"),))
    with pytest.raises(BadQuestion, match="cracked"):
        sign(
            store, blocked, "HB-017", "leak-test", {}, version=version + 1, stood=1, author="Ada",
            time="2026-11-20T09:01:00Z",
        )  # fmt: skip
    store.close()


def whole(client: TestClient, record: str) -> dict[str, str]:
    """The form of a record that needs no size, filled in."""
    names = re.findall(rf'name="({record}\.[\w-]+)"', client.get("/sign", params=PLAN).text)
    return {**sign_form(client, record), **dict.fromkeys(names, "as it should be")}


def test_nothing_is_signed_but_the_sheet_that_was_shown(client: TestClient) -> None:
    """Somebody finds a crack while the page is open at the bench: what was shown before is not signed any more."""
    opened = whole(client, "leak-test")
    found = {"token": token(client, "/core/HB-017"), "who": "bench", "seat": "bearing-housing", "state": "cracked"}
    assert client.post("/core/HB-017/found", data=found).status_code == 200
    before = changes(client)
    answer = client.post("/sign", data=opened)
    assert answer.status_code >= 400
    assert "Signed by Ada" not in answer.text
    assert changes(client) == before
    assert client.post("/sign", data={**opened, "shown": "0" * 32}).status_code >= 400
    assert changes(client) == before


def test_what_no_plan_reads_lets_the_sheet_stand(client: TestClient) -> None:
    first, second = whole(client, "leak-test"), whole(client, "actuator")
    assert "Signed by Ada" in client.post("/sign", data=first).text
    job = {"core": "HB-017", "customer": "the ferry", "author": "ina"}
    assert client.put("/v1/jobs/J-77", json=job, headers={"If-None-Match": "*"}).status_code == 200
    assert client.post("/sign", data=second).text.count("Signed by Ada") == 2


def test_a_record_that_somebody_else_signed_meanwhile_is_not_signed_over(client: TestClient) -> None:
    opened = whole(client, "leak-test")
    assert client.post("/sign", data={**opened, "who": "Bo"}).status_code == 200
    late = client.post("/sign", data=opened)
    assert late.status_code == 422
    assert "somebody wrote into the record" in late.text
    assert "Signed by Bo" in late.text


def test_a_signature_plans_nothing_anew(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the page had shown is signed; the planner is not asked again, neither for the record nor for the page."""
    forms = whole(client, "leak-test"), whole(client, "actuator")

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("planned anew")

    monkeypatch.setattr(Desk, "plan", refuse)
    for at, form in enumerate(forms, 1):
        assert client.post("/sign", data=form).text.count("Signed by Ada") == at


def test_what_is_written_between_looking_and_signing_is_noticed_under_the_lock(
    tmp_path: Path, demo_folder: Path
) -> None:
    shutil.copytree(demo_folder, tmp_path / "store")
    store = Store.open(tmp_path / "store")
    sheet = sheet_asked(Desk.over(store), "HB-017", "larger-wheels", "BR6-C", day=DAY)
    told = {f.name: "as it should be" for r in sheet.records if r.code == "leak-test" for f in r.fields}
    when = "2026-11-20T08:00:00Z"
    enter_found(store, {"tag": "HB-021", "seat": "backplate", "state": "scrap"}, author="Bo", time=when)
    with pytest.raises(Stale, match="since this sheet was laid out"):
        sign(store, sheet, "HB-017", "leak-test", told, version=0, stood=1, author="Ada", time=when)
    sign(store, sheet, "HB-017", "leak-test", told, version=0, stood=2, author="Ada", time=when)
    store.close()


def test_rows_that_are_said_to_be_read_by_no_plan_change_no_sheet(tmp_path: Path, demo_folder: Path) -> None:
    shutil.copytree(demo_folder, tmp_path / "store")
    store = Store.open(tmp_path / "store")

    def mark() -> str:
        return sheet_mark(sheet_asked(Desk.over(store), "HB-017", "larger-wheels", "BR6-C", day=DAY))

    before = mark()
    rows: dict[str, dict[str, str]] = {
        "sign_offs": {"tag": "HB-017", "plan": "x", "field": "y", "entry": "z"},
        "jobs": {"job": "J-9", "tag": "HB-017", "build": "larger-wheels"},
        "job_stages": {"job": "J-9", "step": "1", "stage": "cut"},
        "job_deposits": {"job": "J-9", "step": "1", "what": "taken", "amount": "900", "currency": "EUR"},
        "figures": {"figure": "sublet", "of": "core-balance", "price": "1", "currency": "EUR", "as_of": "2026-01-01"},
    }
    assert set(rows) == UNREAD
    for sheet, row in rows.items():
        made = enter(store, sheet, [row], author="Ada", time="2026-11-20T08:00:00Z")
        assert made.change_set is not None, made.findings
    assert mark() == before
    enter_found(
        store, {"tag": "HB-017", "seat": "backplate", "state": "scrap"}, author="Ada", time="2026-11-20T08:00:00Z"
    )
    assert mark() != before
    store.close()


def test_a_signature_takes_a_key_that_opens_sign_off(tmp_path: Path, demo_folder: Path) -> None:
    shutil.copytree(demo_folder, tmp_path / "store")
    app = create_app(tmp_path / "store")  # a shop's own, not the demo
    with TestClient(app, **HERE) as client:
        keys = Keys(app.state.current.store().ledger)
        _, bench = keys.make("tablet", ("bench",), by="lead", time="2026-11-20T08:00:00Z")
        _, signs = keys.make("Ada", ("sign-off",), by="lead", time="2026-11-20T08:00:00Z")
        assert "this takes a key" in signed(client, "step-1").text
        assert "does not open sign-off" in signed(client, "step-1", key_text=bench).text
        assert "Signed by Ada" in signed(client, "step-1", key_text=signs).text


def test_the_sign_page_says_what_a_size_may_be(client: TestClient) -> None:
    """The window of the sheet's own field, in mm (stored in 0.1 nm); what another field bounds is named."""
    sheet = client.get("/v1/sheets", params=PLAN).json()
    html = client.get("/sign", params=PLAN).text
    windows = [
        f for r in sheet["records"] for f in r["fields"] if f["high"] is not None and f["quantity"] == "length"
    ]
    assert windows
    for field in windows:
        low, high = (f"{amount / 1e7:.4f}".rstrip("0").rstrip(".") for amount in (field["low"], field["high"]))
        assert f"accepted: {low} mm to {high} mm" in html
    assert "accepted: no more than what stands under permitted in each plane" in html


def test_a_finding_beside_a_form_is_one_sentence_after_another(client: TestClient) -> None:
    form = {"token": token(client, "/core/HB-017"), "who": "bench", "seat": "backplate", "feature": "nonsense"}
    answer = client.post("/core/HB-017/readings", data={**form, "value": "12", "unit": "mm"})
    assert answer.status_code == 422
    assert "No such entry in features. Add it there" in answer.text
