"""The pages: three questions, their answers, and trouble said in words."""

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from api.app import create_app

DAY = "2026-11-20"
QUERY = {"core": "HB-017", "build": "larger-wheels", "engine": "BR6-C", "as_of": DAY}
VOID = {"meta", "link", "input", "br", "img", "hr"}


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


class Outline(HTMLParser):
    """Checks that tags nest, ids are unique, and every input has a label."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.labelled: set[str] = set()
        self.inputs: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if tag not in VOID:
            self.open.append(tag)
        if named.get("id"):
            self.ids.append(str(named["id"]))
        if tag == "label":
            self.labelled.add(str(named["for"]))
        if tag == "input":
            self.inputs.append(str(named["id"]))

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
    assert set(parsed.inputs) <= parsed.labelled
    return parsed


def test_the_first_page_asks_the_three_questions(client: TestClient) -> None:
    text = outline(client.get("/").text).text
    assert all(words in text for words in ("Will it fit?", "What would it take?", "What do I fetch?"))


def test_the_plan_page_says_the_price_and_the_work(client: TestClient) -> None:
    response = client.get("/plan", params=QUERY)
    assert response.status_code == 200
    text = outline(response.text).text
    assert "Work, in this order" in text
    assert "EUR" in text


def test_the_fits_page_starts_with_the_verdict(client: TestClient) -> None:
    response = client.get("/fits", params={"unit": "OV46-220", "engine": "BR6-C", "both": "yes", "as_of": DAY})
    text = outline(response.text).text
    assert "does not fit" in text
    assert "The other way round" in text


def test_the_pick_page_is_the_list_and_its_files(client: TestClient) -> None:
    response = client.get("/pick", params={**QUERY, "plan": 1})
    assert "Pick list" in outline(response.text).text
    assert client.get("/pick", params={**QUERY, "format": "csv"}).headers["content-type"].startswith("text/csv")


def test_trouble_is_a_page_that_says_what_to_do(client: TestClient) -> None:
    response = client.get("/plan", params={"core": "HB-999", "build": "larger-wheels"})
    assert response.status_code == 404
    assert "HB-999" in outline(response.text).text


def test_what_was_typed_is_shown_as_text(client: TestClient) -> None:
    response = client.get("/fits", params={"unit": "<script>alert(1)</script>", "engine": "BR6-C"})
    assert "<script>" not in response.text


def test_no_page_asks_another_host_for_anything(client: TestClient) -> None:
    for address in ("/", "/static/style.css"):
        text = client.get(address).text
        assert "http://" not in text
        assert "https://" not in text
