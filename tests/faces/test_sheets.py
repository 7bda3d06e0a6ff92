"""Route sheets on paper, over HTTP, on the page and on the command line: the same words, escaped, the same bytes."""

import io
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
import typer
from fastapi import FastAPI
from openapi_spec_validator import validate
from pypdf import PdfReader
from sheet_cases import filled, with_bundle, with_plan
from starlette.testclient import TestClient
from typer.testing import CliRunner

from api import problems
from api.cli.sheeting import sheet as command
from api.current import Current
from api.documented import document
from api.paper.sheet import sheet_pdf
from api.paper.view import sheet_view
from api.routes import sheets
from api.routes.pages import templates
from api.text.sheet import sheet_lines
from graph.desk import Desk
from graph.desk.sheeting import sheet_asked
from graph.model.codec import to_json
from graph.model.plan import PlanAnswer
from graph.model.routing import RouteSheet
from graph.planning.saved import saved
from graph.routesheet import route_sheet

DAY = "2026-11-20"
ASKED = {"core": "HB-017", "build": "larger-wheels", "engine": "BR6-C", "as_of": DAY}
SITE = {"manifold": "280 kPa", "height": "1600 m"}
EVIL = "<script>alert(1)</script> #pagebreak() $x$ *b* _i_ `c` @ref <label> \\ {{ 7*7 }} {% if %}"


@pytest.fixture(name="answer", scope="module")
def answer_fixture(demo_desk: Desk) -> PlanAnswer:
    return demo_desk.plan("HB-017", "larger-wheels", "BR6-C", day=DAY)


@pytest.fixture(name="sheet", scope="module")
def sheet_fixture(demo_desk: Desk) -> RouteSheet:
    return sheet_asked(demo_desk, "HB-017", "larger-wheels", "BR6-C", day=DAY)


@pytest.fixture(name="client", scope="module")
def client_fixture(demo_folder: Path) -> Iterator[TestClient]:
    app = FastAPI(title="sheets", version="1")
    app.state.current = Current(demo_folder)
    app.state.demo, app.state.shop = True, ""
    problems.install(app)
    app.include_router(sheets.router)
    app.include_router(sheets.pages)
    with TestClient(app) as opened:
        yield opened


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(pdf)).pages).split())


def run(folder: Path, *words: str) -> tuple[int, str]:
    app = typer.Typer()
    app.command()(command)
    result = CliRunner().invoke(app, [*words, "--store", str(folder)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout


def test_the_pdf_has_a_page_a_part_and_the_sizes_of_every_cut(sheet: RouteSheet) -> None:
    pdf = sheet_pdf(sheet)
    pages = [" ".join(one.extract_text().split()) for one in PdfReader(io.BytesIO(pdf)).pages]
    for page in sheet_view(sheet)["pages"]:
        title = f"{page['title'][0].upper()}{page['title'][1:]}: {page['part']}"
        (own,) = [text for text in pages if title in text]
        for step in page["steps"]:
            assert step["label"] in own and step["target"] in own and step["window"] in own
            assert all(value in own for _, value in step["facts"])
        for wall in page["walls"]:
            assert all(cell in own for row in wall["rows"] for cell in row)
        assert own.count(" by ") >= len(page["steps"])


def test_the_same_sheet_gives_the_same_bytes(sheet: RouteSheet) -> None:
    assert sheet_pdf(sheet) == sheet_pdf(sheet)
    assert sheet_pdf(replace(sheet, day="")) == sheet_pdf(replace(sheet, day=""))


def test_the_pdf_holds_only_fonts_that_come_with_typst(sheet: RouteSheet) -> None:
    fonts = set()
    for page in PdfReader(io.BytesIO(sheet_pdf(sheet))).pages:
        for font in page["/Resources"].get("/Font", {}).values():
            fonts.add(str(font.get_object()["/BaseFont"]))
    assert fonts
    assert all(re.search(r"Libertinus|DejaVuSansMono|NewCM", name) for name in fonts), fonts


def test_hostile_words_stay_words_on_paper_and_page(answer: PlanAnswer) -> None:
    assert answer.bundle is not None
    build = replace(answer.bundle.build, label=EVIL)
    steps = tuple(replace(s, caution=EVIL, equipment=EVIL) for s in answer.plans[0].steps)
    made = route_sheet(with_plan(with_bundle(answer, build=build), steps=steps))
    pages = len(PdfReader(io.BytesIO(sheet_pdf(made))).pages)
    said = text_of(sheet_pdf(made))
    assert "<script>alert(1)</script> #pagebreak() $x$ *b* _i_ `c` @ref <label> \\ {{ 7*7 }}" in said
    assert pages < 30  # none of the page breaks in the words was made
    html = templates.get_template("sheet.html").render(sheet=sheet_view(made), pdf_href="", plan_href="", demo=True)
    assert "<script>" not in html and "&lt;script&gt;" in html and "{{ 7*7 }}" in html


def test_get_and_post_give_the_same_sheet(client: TestClient, answer: PlanAnswer) -> None:
    got = client.get("/v1/sheets", params={**ASKED, **SITE})
    posted = client.post("/v1/sheets", params=SITE, content=saved(answer))
    assert got.status_code == posted.status_code == 200
    assert got.json() == posted.json()
    assert [one["seat"] for one in got.json()["pages"]].count("turbine-housing") == 1


def test_a_sheet_leaves_as_pdf_and_text(client: TestClient) -> None:
    pdf = client.get("/v1/sheets", params={**ASKED, "format": "pdf"})
    assert pdf.headers["content-type"] == "application/pdf" and pdf.content.startswith(b"%PDF-")
    text = client.get("/v1/sheets", params={**ASKED, "format": "text"})
    assert text.headers["content-type"].startswith("text/plain") and "Ø 68.05 mm" in text.text


@pytest.mark.parametrize(
    ("params", "status", "code"),
    [
        ({**ASKED, "format": "docx"}, 406, "not-acceptable"),
        ({**ASKED, "build": "own-rotor-140"}, 422, "bad-question"),
        ({**ASKED, "core": "HB-999"}, 404, "not-found"),
        ({**ASKED, "manifold": "280"}, 422, "bad-quantity"),
        ({**ASKED, "manifold": "280 kg", "height": "0"}, 422, "bad-quantity"),
        ({**ASKED, "manifold": "280 kPa", "height": "90000 m"}, 422, "out-of-range"),
    ],
)
def test_what_cannot_be_answered_is_a_problem(
    client: TestClient, params: dict[str, str], status: int, code: str
) -> None:
    response = client.get("/v1/sheets", params=params)
    assert (response.status_code, response.json()["code"]) == (status, code)
    assert response.json()["detail"] or response.json()["title"]


def test_a_wish_narrows_the_plan_of_the_sheet(client: TestClient) -> None:
    got = client.get("/v1/sheets", params={**ASKED, "build": "stock-140", "wish": ["no-machining"]})
    assert got.status_code == 200, got.text
    assert all(step["cut"] is None for step in got.json()["route"])


def test_an_altered_answer_is_refused_over_http(client: TestClient, answer: PlanAnswer) -> None:
    altered = saved(answer).replace(b'"target":680500000', b'"target":690500000')
    assert altered != saved(answer)
    response = client.post("/v1/sheets", content=altered)
    assert response.status_code == 422 and response.json()["code"] == "saved-refused"


def test_the_routes_are_described(client: TestClient) -> None:
    found = document(client.app)  # type: ignore[arg-type]
    validate(found)
    assert set(found["paths"]["/v1/sheets"]) == {"get", "post"}


class Tags(HTMLParser):
    """Whether tags nest, and which words there are."""

    VOID = frozenset({"meta", "link", "input", "br", "img", "hr"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text = ""
        self.styled = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.styled = self.styled or any(name == "style" for name, _ in attrs)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.styled = self.styled or any(name == "style" for name, _ in attrs)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_print_page_nests_and_says_what_the_paper_says(client: TestClient, sheet: RouteSheet) -> None:
    response = client.get("/sheet", params=ASKED)
    assert response.status_code == 200
    tags = Tags()
    tags.feed(response.text)
    assert tags.open == [] and not tags.styled  # styles in attributes are against the pages' own policy
    words = " ".join(tags.text.split())
    for page in sheet_view(sheet)["pages"]:
        assert f"{page['title']}: {page['part']}" in words
        assert all(step["label"] in words and step["window"] in words for step in page["steps"])
    assert "/v1/sheets?" in response.text and "format=pdf" in response.text


def test_trouble_on_the_page_is_said_in_words(client: TestClient) -> None:
    response = client.get("/sheet", params={**ASKED, "core": "HB-999"})
    assert response.status_code == 404 and "HB-999" in response.text


@pytest.mark.slow
def test_the_command_line_writes_the_pdf_and_prints_the_same_sheet(
    demo_folder: Path, tmp_path: Path, answer: PlanAnswer, client: TestClient
) -> None:
    plan = tmp_path / "plan.json"
    plan.write_bytes(saved(answer))
    code, text = run(demo_folder, str(plan), "--json")
    assert code == 0 and json.loads(text) == client.get("/v1/sheets", params=ASKED).json()
    out = tmp_path / "out.pdf"
    code, text = run(demo_folder, str(plan), "--pdf", str(out))
    assert (code, text) == (0, "")
    assert out.read_bytes() == client.get("/v1/sheets", params={**ASKED, "format": "pdf"}).content
    assert run(demo_folder, str(plan), "--plan", "2")[0] == 2
    assert run(demo_folder, str(plan), "--pdf", str(tmp_path / "no" / "out.pdf"))[0] == 2
    assert run(demo_folder, str(tmp_path / "none.json"))[0] == 2


@pytest.mark.slow
def test_the_command_line_says_what_keeps_a_unit_in_the_shop(
    demo_folder: Path, tmp_path: Path, answer: PlanAnswer, sheet: RouteSheet
) -> None:
    plan, record = tmp_path / "plan.json", tmp_path / "record.json"
    plan.write_bytes(saved(answer))
    record.write_text(json.dumps(filled(sheet)), encoding="utf-8")
    code, text = run(demo_folder, str(plan), "--record", str(record))
    assert code == 0 and "Nothing is blank" in text
    record.write_text(json.dumps(filled(sheet) | {"leak-test.oil": ""}), encoding="utf-8")
    code, text = run(demo_folder, str(plan), "--record", str(record))
    assert code == 1 and "leak-test.oil" in text and "Not released: 1 thing" in text
    for bad in ("[1]", "{", '{"a": 1}'):
        record.write_text(bad, encoding="utf-8")
        assert run(demo_folder, str(plan), "--record", str(record))[0] == 2


def test_text_says_the_blocks_first(answer: PlanAnswer, sheet: RouteSheet) -> None:
    lines = sheet_lines(sheet)
    assert lines[0] == sheet.title
    assert to_json(sheet)["title"] == sheet.title
    assert "Blocked" not in lines
