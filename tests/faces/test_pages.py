"""The pages: one line to ask, answers with their reasons, and trouble said in words."""

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from api.app import create_app

DAY = "2026-11-20"
QUERY = {"core": "HB-017", "build": "larger-wheels", "engine": "BR6-C", "as_of": DAY}
VOID = {"meta", "link", "input", "br", "img", "hr"}
FIELDS = {"input", "select", "textarea"}


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


class Outline(HTMLParser):
    """Checks that tags nest, ids are unique, every field has a label, and nothing is styled or scripted inline."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.labelled: set[str] = set()
        self.fields: list[str] = []
        self.links: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        assert tag not in ("script", "style", "iframe")
        assert not {name for name in named if name == "style" or name.startswith("on")}
        if tag not in VOID:
            self.open.append(tag)
        if named.get("id"):
            self.ids.append(str(named["id"]))
        if tag == "label":
            self.labelled.add(str(named["for"]))
        if tag == "a" and named.get("href"):
            self.links.append(str(named["href"]))
        if tag in FIELDS and named.get("type") != "hidden":
            self.fields.append(str(named["id"]))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> closes another element"

    def handle_data(self, data: str) -> None:
        self.text += data


def outline(html: str) -> Outline:
    parsed = Outline()
    parsed.feed(html)
    assert parsed.open == []
    assert len(parsed.ids) == len(set(parsed.ids))
    assert set(parsed.fields) <= parsed.labelled
    return parsed


def said(client: TestClient, path: str, **query: str) -> Outline:
    response = client.get(path, params=query)
    assert response.status_code == 200, response.text
    return outline(response.text)


def test_the_first_page_asks_the_questions(client: TestClient) -> None:
    text = said(client, "/").text
    assert all(words in text for words in ("Will it fit?", "What would it take?", "What do I fetch?"))


def test_the_plan_page_says_the_price_and_the_work(client: TestClient) -> None:
    text = said(client, "/plan", **QUERY).text
    assert "Work, in this order" in text
    assert "EUR" in text


def test_one_way_is_shown_in_full_and_the_others_lead_to_it(client: TestClient) -> None:
    first = said(client, "/plan", **QUERY, best="3")
    assert "Way 1 of 3" in first.text
    second = next(link for link in first.links if "way=2" in link)
    assert "Way 2 of 3" in outline(client.get(second).text).text


def test_a_way_that_there_is_not_is_no_page(client: TestClient) -> None:
    response = client.get("/plan", params={"core": "HB-017", "build": "largest-own-cover", "way": 2, "as_of": DAY})
    assert response.status_code == 422


def test_the_fits_page_starts_with_the_verdict(client: TestClient) -> None:
    text = said(client, "/fits", unit="OV46-220", engine="BR6-C", both="yes", as_of=DAY).text
    assert text.index("Does not fit.") < text.index("Joints that decide it")
    assert "The other way round" in text


def test_what_is_not_known_leads_to_the_measurement(client: TestClient) -> None:
    page = said(client, "/fits", unit="QN48-25", engine="BR6-F", as_of=DAY)
    assert "Not known: measure this" in page.text
    settle = next(link for link in page.links if link.startswith("/settle?"))
    assert "contour diameter at the wheel outlet" in outline(client.get(settle).text).text


def test_the_pick_page_is_the_list_and_its_files(client: TestClient) -> None:
    assert "Pick list" in said(client, "/pick", **QUERY, plan="1").text
    assert client.get("/pick", params={**QUERY, "format": "csv"}).headers["content-type"].startswith("text/csv")


def test_trouble_is_a_page_that_says_what_to_do(client: TestClient) -> None:
    response = client.get("/plan", params={"core": "HB-999", "build": "larger-wheels"})
    assert response.status_code == 404
    assert "HB-999" in outline(response.text).text


def test_what_was_typed_is_shown_as_text(client: TestClient) -> None:
    for path in ("/fits?unit=<script>alert(1)</script>&engine=BR6-C", "/ask?q=<script>alert(1)</script>"):
        assert "<script>" not in client.get(path).text


def test_no_page_asks_another_host_for_anything(client: TestClient) -> None:
    for address in ("/", "/static/style.css"):
        text = client.get(address).text
        assert "http://" not in text
        assert "https://" not in text
