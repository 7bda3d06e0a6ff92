"""Papers of the counter: codes decode again (zxing-cpp), money adds up by hand, PDF pages can be rendered."""

import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import typst
import zxingcpp
from PIL import Image
from pypdf import PdfReader
from starlette.testclient import TestClient

from api.app import create_app
from api.paper.codes import code128_svg, for_paper, qr_svg
from api.paper.credit import credit_of, grading_rule, share
from api.paper.quote import Typed, quote_of
from graph.desk import Desk
from graph.desk.figures import shop_figures
from graph.errors import BadQuestion
from graph.model.figures import Figure, ShopFigures
from graph.model.plan import Plan

DAY = "2026-11-20"
QUERY = {"core": "HB-017", "build": "larger-wheels", "engine": "BR6-C", "plan": "1", "as_of": DAY}


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def read(svg: str, folder: Path) -> list[tuple[str, str]]:
    """What zxing-cpp reads in a picture, printed 8 cm wide at 300 dots an inch."""
    (folder / "code.svg").write_text(for_paper(svg))
    source = b'#set page(width: 100mm, height: auto, margin: 10mm)\n#image("code.svg", width: 80mm)'
    (folder / "code.typ").write_bytes(source)
    made = typst.compile(folder / "code.typ", root=folder, format="png", ppi=300)
    assert isinstance(made, bytes)
    return [(r.format.name, r.text) for r in zxingcpp.read_barcodes(Image.open(BytesIO(made)).convert("L"))]


@pytest.mark.parametrize("text", ["HB-017", "46-20-262", "T12-0150", "Q46/20625 R"])
def test_a_code_128_decodes_again(text: str, tmp_path: Path) -> None:
    assert read(code128_svg(text, "bar", "Code 128"), tmp_path) == [("Code128", text)]


@pytest.mark.parametrize("text", ["HB-017", "http://127.0.0.1:8321/plan?core=HB-017&build=larger-wheels&best=3"])
def test_a_qr_code_decodes_again(text: str, tmp_path: Path) -> None:
    assert read(qr_svg(text, "qr", "QR"), tmp_path) == [("QRCode", text)]


def test_every_label_on_the_page_decodes_to_what_it_stands_for(client: TestClient, tmp_path: Path) -> None:
    html = client.get("/label", params={"job": "HB-017~larger-wheels~BR6-C~1", "as_of": DAY}).text
    pictures = re.findall(r'<svg class="picture (?:qr|code128)".*?</svg>', html, re.DOTALL)
    assert len(pictures) > 5
    for svg in pictures:
        told = re.search(r"<desc[^>]*>(.*?)</desc>", svg)
        assert told
        assert [text for _kind, text in read(svg, tmp_path)] == [told[1].replace("&amp;", "&")]


@pytest.mark.parametrize(("path", "words"), [("/pick", "46-20-262"), ("/quote", "Cannot be undone")])
@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_a_paper_is_a_pdf_of_its_size(
    client: TestClient, path: str, words: str, paper: str, size: tuple[int, int]
) -> None:
    """ISO 216: A4 is 210 by 297 mm; US Letter is 8.5 by 11 in; a point is 1/72 in."""
    answer = client.get(path, params={**QUERY, "format": "pdf", "paper": paper})
    assert answer.headers["content-type"] == "application/pdf"
    reader = PdfReader(BytesIO(answer.content))
    box = reader.pages[0].mediabox
    assert (round(box.width), round(box.height)) == size
    assert words in " ".join(page.extract_text() for page in reader.pages)


def test_shares_are_rounded_half_up_to_the_minor_unit() -> None:
    assert share(146240, Decimal(19)) == 27786  # 1462.40 x 0.19 = 277.856
    assert share(150, Decimal(1)) == 2  # 0.015: half goes up
    assert share(149, Decimal(1)) == 1


@pytest.fixture(scope="module")
def way(demo_desk: Desk) -> Plan:
    """The demo's tour: one cheapest way."""
    return demo_desk.plan("HB-017", "larger-wheels", "BR6-C", day=DAY).plans[0]


def nothing_set(desk: Desk, *figures: Figure) -> ShopFigures:
    """A shop that has set nothing but these."""
    return ShopFigures(figures, (), DAY, desk.snapshot)


def sublet_at(price: int, currency: str = "EUR") -> Figure:
    return Figure(
        "sublet", "core-balance", "balance the core at speed", "", price, currency, None, "2026-02-16", "ina",
        "2026-02-16T08:00:00Z", 3, 3, "",
    )  # fmt: skip


def test_a_quote_adds_up_and_says_what_it_is_not_told(demo_desk: Desk, way: Plan) -> None:
    away = next(c for c in way.costs if c.what.startswith("balance the core"))
    typed = Typed(tax="19 %", valid="14", sublet=(away.what,), prices={away.what: "95"})
    quote = quote_of(way, nothing_set(demo_desk), typed, day=DAY)
    lines = [*quote.parts, *quote.labour, *quote.sublet]
    assert sum(line.amount or 0 for line in lines) == quote.net
    assert quote.net == way.cost - (away.amount or 0) + 9500  # 95.00 in place of the shop's own hours
    assert [(line.what, line.amount) for line in quote.sublet] == [(away.what, 9500)]
    assert quote.total == quote.net + (quote.tax or 0)
    assert quote.valid_until == "2026-12-04"  # 20 November and 14 days: November has 30
    plain = quote_of(way, nothing_set(demo_desk), Typed(), day=DAY)
    assert (plain.total, plain.valid_until, plain.net, plain.at_least) == (None, "", way.cost, way.at_least)


def test_work_sent_out_without_a_price_is_never_priced_by_the_shops_own_hours(demo_desk: Desk, way: Plan) -> None:
    away = next(c for c in way.costs if c.what.startswith("balance the core"))
    sent = Typed(sublet=(away.what,))
    for figures in (nothing_set(demo_desk), nothing_set(demo_desk, sublet_at(9500, "CHF"))):  # nothing is converted
        quote = quote_of(way, figures, sent, day=DAY)
        assert quote.sublet[0].amount is None
        assert quote.at_least
        assert quote.net == way.cost - (away.amount or 0)
    known = quote_of(way, nothing_set(demo_desk, sublet_at(9500)), sent, day=DAY)
    assert (known.sublet[0].amount, known.sublet[0].as_of, known.at_least) == (9500, "2026-02-16", False)
    assert [one.of for one in known.taken] == ["core-balance"]
    typed = Typed(sublet=(away.what,), prices={away.what: "80.5"})
    over = quote_of(way, nothing_set(demo_desk, sublet_at(9500)), typed, day=DAY)
    assert (over.sublet[0].amount, over.taken, over.typed) == (8050, (), (away.what,))


def test_a_plan_whose_sum_is_the_least_it_can_be_makes_no_surer_quote(demo_desk: Desk, way: Plan) -> None:
    """A plan may be unsure for other reasons than a missing price, such as how deep a cut must go."""
    unsure = replace(way, at_least=True)
    assert quote_of(unsure, shop_figures(demo_desk, DAY), Typed(), day=DAY).at_least


def test_a_quote_takes_the_shops_figures_of_its_day_and_says_which(demo_desk: Desk, way: Plan) -> None:
    """The demo's sheet `figures` (demo_graph/workbook/figures.csv): 19 per cent and 14 days since 5 January."""
    quote = quote_of(way, shop_figures(demo_desk, DAY), Typed(), day=DAY)
    assert (quote.rate, quote.valid_until) == (Decimal(19), "2026-12-04")
    assert quote.total == quote.net + share(quote.net, Decimal(19))
    before = quote_of(way, shop_figures(demo_desk, "2026-01-04"), Typed(), day="2026-01-04")
    assert (before.rate, before.total, before.valid_until) == (None, None, "")
    typed = quote_of(way, shop_figures(demo_desk, DAY), Typed(tax="7", valid="3"), day=DAY)
    assert (typed.rate, typed.valid_until, typed.taken) == (Decimal(7), "2026-11-23", ())


@pytest.mark.parametrize("tax", ["-1", "101", "nan", "Infinity", "a fifth"])
def test_a_tax_rate_that_is_none_is_refused(demo_desk: Desk, way: Plan, tax: str) -> None:
    with pytest.raises(BadQuestion):
        quote_of(way, nothing_set(demo_desk), Typed(tax=tax), day=DAY)


def test_everything_that_was_typed_wrong_is_named_at_once(demo_desk: Desk, way: Plan) -> None:
    away = next(c.what for c in way.costs if c.what.startswith("balance the core"))
    typed = Typed(tax="much", valid="0", sublet=(away, "polish"), prices={away: "a lot"})
    with pytest.raises(BadQuestion) as told:
        quote_of(way, nothing_set(demo_desk), typed, day=DAY)
    for wrong in ("'much'", "'0'", "'polish'", f"the price of {away}"):
        assert wrong in told.value.message


def test_a_core_credit_follows_the_rule_and_assumes_nothing() -> None:
    rule = grading_rule("A: 100, B: 75; C=40 %")
    assert credit_of("b", 12000, rule).amount == 9000  # three quarters of 120.00
    assert credit_of("D", 12000, rule).amount is None
    assert credit_of("", 12000, rule).amount is None
    assert "deposit" in credit_of("A", None, rule).sentence
    for wrong in ("A", "A: 120", "A: 100, A: 50", "A: -1"):
        with pytest.raises(BadQuestion):
            grading_rule(wrong)


def test_several_jobs_make_one_list(client: TestClient) -> None:
    jobs: list[tuple[str, Any]] = [("job", "HB-017~larger-wheels~BR6-C~1"), ("job", "HB-001~stock-101~~1")]
    html = client.get("/pick", params=[*jobs, ("as_of", DAY)]).text
    assert "HB-017 into larger-wheels" in html
    assert "HB-001 into stock-101" in html


def test_a_job_that_is_none_is_refused_with_what_to_do(client: TestClient) -> None:
    answer = client.get("/pick", params={"job": "HB-017"})
    assert answer.status_code == 422
    assert "is no job" in answer.text


def test_a_line_is_ticked_off_alone_and_by_its_number(client: TestClient) -> None:
    """Parts that stay in the core carry numbers of their own; one scan ticks one line."""
    before = client.get("/pick", params=QUERY).text
    after = client.get("/pick", params={**QUERY, "scan": "46 37 01"}).text
    assert before.count("☐") - after.count("☐") == 1
    assert after.count("☑") == 1


def test_a_line_struck_out_changes_what_the_list_comes_to(client: TestClient, demo_desk: Desk) -> None:
    picks = demo_desk.pick([("HB-017", "larger-wheels", "BR6-C", 1, ())], day=DAY)
    wheel = next(line for line in picks.lines if line.number == "46-20-262")
    left = picks.total - (wheel.price or 0)
    html = client.get("/pick", params={**QUERY, "out": "46-20-262"}).text
    assert f"without what was struck out {left // 100:,}.{left % 100:02d} EUR" in html


def test_what_lies_on_the_shelf_is_reserved_once_for_the_job(tmp_path: Path, demo_folder: Path) -> None:
    shutil.copytree(demo_folder, tmp_path / "store")
    here = ("127.0.0.1", 5000)
    with TestClient(create_app(tmp_path / "store", demo=True), base_url="http://127.0.0.1", client=here) as client:
        token = re.search(r'name="token" value="(\w+)"', client.get("/pick", params=QUERY).text)
        assert token
        form = {"job": "HB-017~larger-wheels~BR6-C~1", "name": "J-9001", "who": "counter", "as_of": DAY}
        assert client.post("/pick/reserve", data=form).status_code == 422  # without the page's token
        assert "Reserved for J-9001" in client.post("/pick/reserve", data={**form, "token": token[1]}).text
        promised = [p for p in client.get("/v1/shelf/promises").json() if p["job"] == "J-9001"]
        assert [p["tag"] for p in promised if p["tag"] and not p["seat"]] == ["HB-017"]
        assert ("HB-021", "shaft-wheel") in {(p["tag"], p["seat"]) for p in promised}


def test_papers_say_what_is_on_record_and_what_was_typed(client: TestClient) -> None:
    """The rates and figures are those of the demo's sheets (demo_graph/workbook/rates.csv, figures.csv)."""
    quote = client.get("/quote", params={**QUERY, "tax": "7"}).text
    for rate in ("81.50 EUR for an hour of balance", "74.00 EUR for an hour of machine"):
        assert f"{rate}, the shop&#39;s figure as of 2026-11-20, set by demo on 2026-11-20 (change 1)" in quote
    assert "Tax rate: typed in at the counter." in quote
    own = client.get("/quote", params=QUERY).text
    assert "Tax rate: 19 %, the shop&#39;s figure as of 2026-01-05, set by counter on 2026-11-20 (change 1)" in own
    assert "Tax rate: typed in" not in own
    credit = client.get("/credit", params={"core": "HB-017", "rule": "A: 100"}).text
    assert "typed in at the counter: A: 100" in credit
    ours = client.get("/credit", params={"core": "HB-017", "as_of": DAY}).text
    assert "grade B: 75 %, the shop&#39;s figure as of 2026-01-05" in ours
    assert (
        "not set, and none was typed in"
        in client.get("/credit", params={"core": "HB-017", "as_of": "2025-12-31"}).text
    )
    claim = client.get("/claim", params={"core": "HB-017", "as_of": DAY}).text
    assert "365 days from the hand-over, the shop&#39;s figure as of 2026-01-05" in claim
    assert "The day of the hand-over is not on record" in claim


def test_a_price_typed_for_work_done_elsewhere_stands_in_the_quote(client: TestClient) -> None:
    away = "balance the core at speed"
    asked = {**QUERY, "sublet": away, f"price:{away}": "101.01"}
    assert "101.01 EUR" in client.get("/quote", params=asked).text
    assert "95.00 EUR" in client.get("/quote", params={**QUERY, "sublet": away}).text  # the shop's figure
    wash = "wash the stripped parts"
    bare = client.get("/quote", params={**QUERY, "sublet": wash}).text
    assert f"{wash}, done elsewhere: its price is not set; it is not in this sum." in bare
    assert "price not known" in bare


def test_the_second_way_tells_its_own_sum_on_quote_and_sheet(client: TestClient, demo_desk: Desk) -> None:
    """The answer's own sentence is about the first way; a paper of the second must not read it out."""
    first, second = demo_desk.plan("HB-017", "larger-wheels", "BR6-C", best=2, day=DAY).plans
    told = {n: f"{plan.cost // 100:,}.{plan.cost % 100:02d} EUR" for n, plan in ((1, first), (2, second))}
    assert told[1] != told[2]
    quote = client.get("/quote", params={**QUERY, "plan": "2"}).text
    said = re.search(r'<p class="say">(.*?)</p>', quote, re.DOTALL)
    assert said
    assert told[2] in said[1]
    assert told[1] not in said[1]
    sheet = client.get("/v1/sheets", params={**QUERY, "plan": "2"}).json()["sentence"]
    assert told[2] in sheet
    assert told[1] not in sheet


def test_an_offer_that_hangs_on_a_measurement_says_so_first(client: TestClient) -> None:
    quote = client.get("/quote", params={"core": "HB-023", "build": "own-castings-angled", "engine": "BR6-D"}).text
    said = re.search(r'<p class="say">(.*?)</p>', quote, re.DOTALL)
    assert said
    assert said[1].startswith("Not known yet whether it can be done: measure wall at 6h")
