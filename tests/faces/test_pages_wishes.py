"""The customer's wishes on the pages: filled in, kept in the address, said; every paper finds the same plan."""

import re
from collections.abc import Iterator
from html import unescape
from io import BytesIO
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from api.app import create_app
from api.pages.pick import jobs_of, said_jobs
from api.pages.terms import WISHES
from graph.desk import Desk
from graph.planning.problem import WISHES as KNOWN
from graph.rules import spoken

DAY = "2026-11-20"
Asked = list[tuple[str, str | int | float | bool | None]]
PLAN: Asked = [("core", "HB-017"), ("build", "larger-wheels"), ("engine", "BR6-C"), ("as_of", DAY)]
WHEEL = "46-20-262"
"""In the cheapest plan (tests/faces/test_wishes.py); without it the plan is another one and dearer."""
LEFT_OUT = f"no-part:part/Ostrel/{WHEEL}"
WISHED: Asked = [*PLAN, ("wish", LEFT_OUT), ("wish", "keep:turbine-housing")]
SAID = f"Wished: keep the turbine housing; not the part Ostrel {WHEEL}."


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def links(html: str, path: str) -> list[str]:
    """The addresses of this path that a page leads to."""
    found = [unescape(href) for href in re.findall(r'href="([^"]+)"', html)]
    return [href for href in found if href.startswith(path + "?")]


def wishes_in(address: str) -> list[str]:
    return [text for name, text in parse_qsl(urlsplit(address).query) if name == "wish"]


def test_every_wish_has_its_words_on_the_pages() -> None:
    assert {wish.removesuffix(":") for wish in KNOWN} == set(WISHES) == set(spoken.WISHES)
    assert dict(WISHES) == dict(spoken.WISHES)  # no other language is set in the tests


def test_the_form_offers_what_the_build_has_and_keeps_what_is_wished(client: TestClient, demo_desk: Desk) -> None:
    html = client.get("/plan", params=WISHED).text
    boxes = dict(re.findall(r'name="wish" value="([^"]+)"( checked)?>', html))
    layout = demo_desk.catalogue.layout(demo_desk.catalogue.build("build/larger-wheels").layout)
    for seat in layout.seats:
        assert {f"keep:{seat.name}", f"no-used:{seat.name}"} <= set(boxes)
    assert {"only-stock", "no-new", "no-donor", "no-machining", "no-operation:weld-outlet-flange-76"} <= set(boxes)
    assert {wish for wish, ticked in boxes.items() if ticked} == {LEFT_OUT, "keep:turbine-housing"}
    assert not [
        wish for wish in boxes if "crack-test" in wish or "wall-check" in wish
    ]  # checks are no matter of wish


def test_a_number_that_is_typed_becomes_a_wish_in_the_address(client: TestClient) -> None:
    asked = [*PLAN, ("best", "2"), ("wish", "no-donor"), ("wish", ""), ("without", f" {WHEEL}, 46-20-140 ,")]
    to = client.get("/plan", params=asked, follow_redirects=False).headers["location"]
    assert wishes_in(to) == ["no-donor", f"no-part:{WHEEL}", "no-part:46-20-140"]
    assert [pair for pair in parse_qsl(urlsplit(to).query) if pair[0] != "wish"] == [*PLAN, ("best", "2")]
    empty = client.get("/plan", params=[*PLAN, ("without", "")], follow_redirects=False).headers["location"]
    assert parse_qsl(urlsplit(empty).query) == PLAN
    wrong = client.get("/plan", params=[*PLAN, ("without", "99-99-99, 98-98-98")])
    assert wrong.status_code == 422
    assert "99-99-99" in wrong.text and "98-98-98" in wrong.text  # all faults at once


def test_a_plan_says_its_wishes_and_is_the_one_of_the_desk(client: TestClient, demo_desk: Desk) -> None:
    html = client.get("/plan", params=WISHED).text
    assert SAID in html
    plain = client.get("/plan", params=PLAN).text
    assert "Wished:" not in plain
    wishes = (LEFT_OUT, "keep:turbine-housing")
    ours = demo_desk.plan("HB-017", "larger-wheels", "BR6-C", best=3, wishes=wishes, day=DAY)
    assert unescape(ours.sentence) in unescape(html)
    assert unescape(ours.sentence) not in unescape(plain)


@pytest.mark.parametrize("path", ["/pick", "/quote", "/sheet", "/sign", "/rank", "/reach"])
def test_what_is_made_from_the_plan_has_its_wishes(client: TestClient, path: str) -> None:
    html = client.get("/plan", params=WISHED).text
    (address, *_more) = links(html, path)
    assert set(wishes_in(address)) == {LEFT_OUT, "keep:turbine-housing"}
    page = client.get(address)
    assert page.status_code == 200
    assert SAID in page.text
    if path in ("/pick", "/quote", "/sheet"):
        assert WHEEL not in page.text.replace(SAID, "").replace(f"no-part:part/Ostrel/{WHEEL}", "").replace(
            f"no-part%3Apart%2FOstrel%2F{WHEEL}", ""
        )
        assert WHEEL in client.get(address.partition("&wish=")[0]).text  # as it is without the wishes


def test_a_wish_about_a_seat_that_other_builds_lack_does_not_bar_the_way_to_them(client: TestClient) -> None:
    """Units with a fixed wastegate have no vane ring (demo_graph/workbook/layouts.csv)."""
    asked = [*PLAN, ("wish", "keep:vane-ring"), ("wish", "keep:turbine-housing")]
    (address,) = links(client.get("/plan", params=asked).text, "/reach")
    assert wishes_in(address) == ["keep:turbine-housing"]
    assert client.get(address).status_code == 200


def test_papers_lead_back_to_the_same_plan_and_to_one_another(client: TestClient) -> None:
    wanted = {LEFT_OUT, "keep:turbine-housing"}
    picks = client.get("/pick", params=[*WISHED, ("plan", "1")]).text
    for path in ("/plan", "/quote"):
        assert set(wishes_in(links(picks, path)[0])) == wanted
    for form in ("pdf", "csv"):
        (address,) = (a for a in links(picks, "/pick") if a.endswith(f"format={form}"))
        data = client.get(address).content
        told = " ".join(page.extract_text() for page in PdfReader(BytesIO(data)).pages) if form == "pdf" else ""
        assert (SAID if form == "pdf" else "") in " ".join(told.split())
        assert form == "pdf" or WHEEL.encode() not in data
    sheet = client.get("/sheet", params=[*WISHED, ("plan", "1")]).text
    for path in ("/plan", "/sign", "/v1/sheets"):
        assert set(wishes_in(links(sheet, path)[0])) == wanted
    pdf = client.get(links(sheet, "/v1/sheets")[0]).content
    told = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())
    assert SAID in told
    quote = client.get("/quote", params=[*WISHED, ("plan", "1"), ("format", "pdf")]).content
    told = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(quote)).pages).split())
    assert SAID in told
    hidden = client.get("/quote", params=[*WISHED, ("plan", "1")]).text
    assert set(re.findall(r'type="hidden" name="wish" value="([^"]+)"', hidden)) == wanted


def test_a_record_is_signed_on_the_wished_plan_alone(client: TestClient) -> None:
    """The sheet under wishes is another sheet than the one without (its mark stands in every form)."""
    marks = set()
    for asked in (PLAN, WISHED):
        html = client.get("/sign", params=[*asked, ("plan", "1")]).text
        (mark,) = set(re.findall(r'name="shown" value="(\w+)"', html))
        marks.add(mark)
        data = client.get("/v1/sign-offs", params=[*asked, ("plan", "1")]).json()
        assert data["sheet"] == mark
    assert len(marks) == 2
    fields = re.findall(r'type="hidden" name="wish" value="([^"]+)"', html)
    assert set(fields) == {LEFT_OUT, "keep:turbine-housing"}


def test_a_job_of_a_list_keeps_its_wishes_in_the_address() -> None:
    text = f"HB-017~larger-wheels~BR6-C~2~{LEFT_OUT}~no-donor"
    jobs = jobs_of([text, "HB-001~stock-101"])
    assert jobs[0] == ("HB-017", "larger-wheels", "BR6-C", 2, (LEFT_OUT, "no-donor"))
    assert jobs[1] == ("HB-001", "stock-101", "", 1, ())
    assert said_jobs(jobs)[0] == ("job", text)


def test_an_impossible_wish_leads_to_why(client: TestClient) -> None:
    """The build's wheels are larger than the core's: to keep the wheel and to have a larger one clash."""
    html = client.get("/plan", params=[*PLAN, ("wish", "keep:compressor-wheel")]).text
    assert "Does not fit." in html
    (address,) = links(html, "/why")
    why = client.get(address)
    assert "the customer&#39;s wish: keep the compressor wheel" in why.text or (
        "the customer's wish: keep the compressor wheel" in why.text
    )
