"""Claims by form, and the map with its points: what is written is shown with its source, what is wrong is said."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from api.app import create_app
from graph.ledger.keys import Keys

CLAIM = {
    "key": "part/Ostrel/46-50-310",
    "feature": "casting",
    "value": "OV46T9",
    "source": "HB-NOTE",
    "note": "read on three",
    "who": "counter",
}


@pytest.fixture
def client(tmp_path: Path, demo_folder: Path) -> Iterator[TestClient]:
    """A browser on this machine, with a store of its own that tests write into."""
    shutil.copytree(demo_folder, tmp_path / "store")
    here = ("127.0.0.1", 5000)
    app = create_app(tmp_path / "store", demo=True)
    with TestClient(app, base_url="http://127.0.0.1", client=here) as opened:
        yield opened


def token(client: TestClient) -> str:
    found = re.search(r'name="token" value="(\w+)"', client.get("/thing", params={"name": "46-50-310"}).text)
    assert found
    return found[1]


def carried(html: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]+)"', html)
    assert found, f"the form carries no {name}"
    return found[1]


def published(client: TestClient, preview: str, **more: str) -> str:
    """Publish what a preview shows; the page that says so."""
    at = re.search(r'action="(/changes/\w+/publish)"', preview)
    assert at, preview
    sent = {name: carried(preview, name) for name in ("token", "once", "version", "head")}
    answer = client.post(at[1], data={**sent, "title": "a casting", "who": "counter", **more})
    assert answer.status_code == 200, answer.text
    return answer.text


def test_a_claim_is_shown_before_it_is_published_beside_the_others_with_its_source(client: TestClient) -> None:
    page = client.get("/thing", params={"name": "46-50-310"}).text
    preview = client.post("/claims", data={**CLAIM, "token": token(client), "once": carried(page, "once")})
    assert preview.status_code == 200, preview.text
    assert len(client.get("/v1/history").json()) == 1
    assert "OV46T9" in preview.text
    assert "OV46T9" in published(client, preview.text)
    assert "OV46T9 (shop, HB-NOTE" in client.get("/thing", params={"name": "46-50-310"}).text
    assert client.get("/v1/history").json()[0]["author"] == "counter"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"source": ""}, "without a source"),
        ({"source": "NOBODY"}, "NOBODY"),
        ({"feature": "contour_exit", "value": "wide"}, "value"),
        ({"who": ""}, "nobody is named"),
        ({"token": "0"}, "did not come from this page"),
    ],
)
def test_a_faulty_claim_writes_nothing_and_keeps_what_was_typed(
    client: TestClient, change: dict[str, str], said: str
) -> None:
    before = len(client.get("/v1/history").json())
    answer = client.post("/claims", data={**CLAIM, "token": token(client), "once": "a1", **change})
    assert answer.status_code == 422
    assert said in answer.text
    assert "read on three" in answer.text
    assert len(client.get("/v1/history").json()) == before
    assert client.get("/v1/changes").json() == []


def test_a_page_of_another_site_cannot_send_the_form(client: TestClient) -> None:
    sent = {**CLAIM, "token": token(client)}
    for headers in ({"origin": "http://elsewhere.example"}, {"sec-fetch-site": "cross-site"}):
        assert client.post("/claims", data=sent, headers=headers).status_code == 422


def test_a_claim_about_nothing_on_record_is_refused(client: TestClient) -> None:
    assert (
        client.post("/claims", data={**CLAIM, "key": "part/Ostrel/none", "token": token(client)}).status_code == 404
    )
    assert client.post("/claims", data={**CLAIM, "key": "machine/x", "token": token(client)}).status_code == 422


def test_the_map_is_drawn_with_a_point_for_each_speed_and_height(client: TestClient) -> None:
    """The demo asks three engine speeds at two heights: six points, and each has its line in figures."""
    html = client.get("/map").text
    assert len(re.findall(r'<circle class="(?:point|off)"', html)) == 6
    assert html.count(": pressure ratio</th>") == 6
    assert "<style" not in html
    faulty = client.get("/map", params={"chart": "no map"})
    assert faulty.status_code == 422


def test_once_there_are_keys_a_form_takes_one_and_writes_under_its_name(tmp_path: Path, demo_folder: Path) -> None:
    shutil.copytree(demo_folder, tmp_path / "store")
    here = ("127.0.0.1", 5000)
    app = create_app(tmp_path / "store")  # a shop's own, not the demo
    with TestClient(app, base_url="http://127.0.0.1", client=here) as client:
        keys = Keys(app.state.current.store().ledger)
        _, text = keys.make("bench tablet", ("edit",), by="lead", time="2026-11-20T08:00:00Z")
        _, signs = keys.make("the lead", ("sign-off",), by="lead", time="2026-11-20T08:00:00Z")
        _, reads = keys.make("wall screen", ("read",), by="lead", time="2026-11-20T08:00:00Z")
        page = client.get("/thing", params={"name": "46-50-310"}).text
        assert 'name="key_text" type="password"' in page
        found = re.search(r'name="token" value="(\w+)"', page)
        assert found
        sent = {**CLAIM, "token": found[1], "once": carried(page, "once")}
        assert "this takes a key" in client.post("/claims", data=sent).text
        assert "does not open edit" in client.post("/claims", data={**sent, "key_text": reads}).text
        assert "opens nothing" in client.post("/claims", data={**sent, "key_text": "sw_none"}).text
        answer = client.post("/claims", data={**sent, "key_text": text})
        assert answer.status_code == 200, answer.text
        assert text not in answer.text
        assert client.get("/v1/changes").json()[0]["made_by"] == "bench tablet"
        at = re.search(r'action="(/changes/\w+/publish)"', answer.text)
        assert at
        sent = {n: carried(answer.text, n) for n in ("token", "once", "version", "head")} | {"title": "a casting"}
        assert "does not open sign-off" in client.post(at[1], data={**sent, "key_text": text}).text
        assert "OV46T9" in published(client, answer.text, key_text=signs)
        assert client.get("/v1/history").json()[0]["author"] == "the lead"
