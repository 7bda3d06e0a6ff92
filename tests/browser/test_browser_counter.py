"""The counter in a real browser, as a person uses it: typing, keyboard alone, phone width, no JavaScript, print.

Runs where Debian's chromium is; where it is missing, every test here is skipped and says so.
Accessibility is judged by axe-core (tests/data/axe), an outside checker: WCAG 2.2 A and AA rules.
"""

from typing import Any
from urllib.parse import urlsplit

import pytest
from counter import AXE, CHROMIUM, DAY, JUDGE, RULES, click, enter, tab_to

if not CHROMIUM:
    pytest.skip(
        "BROWSER TESTS NOT RUN: chromium is not installed (apt-get install chromium)", allow_module_level=True
    )
pytest.importorskip("playwright.sync_api", reason="BROWSER TESTS NOT RUN: playwright is not installed")

pytestmark = pytest.mark.slow
SIDEWAYS = (
    "() => { document.querySelectorAll('details').forEach(one => one.open = true);"
    " const found = [...document.querySelectorAll('*')].filter(e => e.scrollWidth > e.clientWidth + 1"
    " && ['auto', 'scroll'].includes(getComputedStyle(e).overflowX) && !e.matches('figure'))"
    ".map(e => [e.outerHTML.slice(0, 80), e.clientWidth, e.scrollWidth]);"
    " return [...found, ...(document.documentElement.scrollWidth > 375 ? ['the page'] : [])]; }"
)
"""What must be scrolled sideways once all is unfolded: nothing but a drawing, which would be too small to read."""
HEAVIEST = 150_000
"""Bytes of a page with its style sheet, uncompressed, without pictures (the issue's budget)."""
PLAN = f"core=HB-017&build=larger-wheels&engine=BR6-C&as_of={DAY}"
PAGES = {
    "ask": "/",
    "offers": "/ask?q=OV64-220",
    "sentence": "/ask?q=Will+OV64-220+fit+FW-12+2012",
    "machine": "/machine?q=FW-12+2012",
    "part": "/thing?name=46-50-310",
    "fits": f"/fits?unit=OV46-220&engine=BR6-C&both=yes&as_of={DAY}",
    "not known": f"/fits?unit=QN48-25&engine=BR6-F&as_of={DAY}",
    "with work": f"/fits?unit=OT38-104&engine=BR5-A&as_of={DAY}",
    "others": f"/others?unit=OV46-220&engine=BR6-C&as_of={DAY}",
    "plan": f"/plan?{PLAN}&best=3",
    "wished": f"/plan?{PLAN}&best=2&wish=keep:turbine-housing&wish=no-part:46-20-262",
    "why": f"/why?core=HB-017&build=largest-own-cover&as_of={DAY}",
    "interchange": "/interchange?part=46-20-140",
    "settle": f"/settle?unit=QN48-25&engine=BR6-F&as_of={DAY}",
    "identify": "/identify",
    "cores": "/cores",
    "core": "/core/HB-017",
    "pick": f"/pick?{PLAN}&plan=1",
    "label": "/label?job=HB-017~larger-wheels~BR6-C~1",
    "quote": f"/quote?{PLAN}&plan=1&tax=19",
    "credit": "/credit?core=HB-017&rule=A:100,B:75",
    "claim": "/claim?core=HB-012&complaint=it+whistles",
    "map": "/map",
    "rank": f"/rank?build=larger-wheels&as_of={DAY}",
    "reach": f"/reach?core=HB-001&as_of={DAY}",
    "sheet": f"/sheet?{PLAN}&plan=1",
    "sign": f"/sign?{PLAN}&plan=1",
    "shop": f"/shop?as_of={DAY}",
    "intake": "/intake",
    "changes": "/changes",
    "history": "/history",
    "conflicts": "/conflicts",
    "trouble": "/plan?core=HB-999&build=larger-wheels",
}


def test_a_sentence_typed_is_answered_at_an_address_of_its_own(person: Any) -> None:
    person.goto("/")
    tab_to(person, "#q")
    person.keyboard.type("Will OV46-220 fit BR6-C?")
    enter(person)
    assert urlsplit(person.url).path == "/fits"
    assert person.locator(".say .word").first.inner_text() == "Does not fit."
    again = person.url
    person.goto("/")
    assert person.get_by_role("link", name="Will Ostrel OV46-220 fit Brackmoor BR6-C?").get_attribute("href") in again


def test_the_filled_sentence_says_what_it_takes(person: Any) -> None:
    person.goto("/")
    tab_to(person, "#plan-core")
    person.keyboard.type("HB-017")
    person.keyboard.press("Tab")
    person.keyboard.type("larger-wheels")
    enter(person)
    assert urlsplit(person.url).path == "/plan"
    assert "Proved cheapest." in person.locator("main").inner_text()
    click(person, person.get_by_role("link", name="Way 2"))
    assert "Way 2 of 3" in person.locator("main").inner_text()


def test_a_year_with_two_engines_asks_for_the_serial_number(person: Any) -> None:
    person.goto("/")
    person.locator("#q").fill("FW-12 2012")
    enter(person)
    assert "2 engines were put into it" in person.locator(".say").inner_text()
    person.locator("#serial").fill("FW-12 T12-2500")
    enter(person)
    assert "BR6-E" in person.locator(".say").inner_text()


def test_a_newcomer_is_led_look_by_look(person: Any) -> None:
    person.goto("/identify")
    click(person, person.get_by_role("button", name="Can't tell").first)
    assert "can't tell" in person.locator("main").inner_text()
    click(person, person.locator(".look.first .choices button").first)
    assert person.locator("main li", has_text="take it back").count() == 2


def test_a_reading_is_written_down_on_a_phone(browser: Any, base: str) -> None:
    context = browser.new_context(
        java_script_enabled=False, base_url=base, viewport={"width": 375, "height": 812}, has_touch=True
    )
    page = context.new_page()
    page.goto("/core/HB-030#write")
    page.locator("#r-feature").fill("bearing_bore")
    page.locator("#r-seat").select_option("bearing-housing")
    page.locator("#r-value").fill("wide")
    page.locator("#r-position").fill("compressor end")
    page.locator("#r-who").fill("bench")
    click(page, page.get_by_role("button", name="Write it down"))
    assert "value" in page.locator("[role=alert] li").inner_text()  # the column that the workbook's reader names
    assert page.locator("#r-value").input_value() == "wide"
    page.locator("#r-value").fill("17.601")
    page.locator("#r-uncertainty").fill("0.002 mm")
    click(page, page.get_by_role("button", name="Write it down"))
    assert page.locator("[role=alert]").all_inner_texts() == []
    assert "17.601 mm" in page.locator("main").inner_text()
    context.close()


def test_a_form_from_elsewhere_writes_nothing(browser: Any, base: str) -> None:
    context = browser.new_context(base_url=base)
    sent = {"seat": "bearing-housing", "feature": "bearing_bore", "value": "17.7", "who": "somebody"}
    answer = context.request.post("/core/HB-031/readings", form=sent)
    assert answer.status == 422
    assert "17.7" not in context.request.get("/v1/cores/HB-031").text()
    context.close()


def test_a_scanned_number_ticks_its_line_off(person: Any) -> None:
    person.goto(PAGES["pick"])
    waiting = person.locator(".say").inner_text()
    person.locator("#scan").fill("4620262")
    enter(person)
    assert person.locator(".say").inner_text() != waiting
    assert "46-20-262" in person.locator("tr.got").inner_text()
    person.locator("#scan").fill("99-99")
    enter(person)
    assert "is not on this list" in person.locator("[role=alert]").inner_text()


def test_sizes_are_shown_in_inches_with_the_original_beside(person: Any) -> None:
    person.goto(PAGES["plan"])
    click(person, person.get_by_role("link", name="Sizes in inches"))
    # 62.65 mm / 25.4 = 2.46653...
    assert "2.4665 in (62.65 mm)" in person.locator("main").inner_text()
    person.goto(PAGES["core"])
    assert " in (" in person.locator("main").inner_text()


def test_the_neighbourhood_can_be_walked_from_the_keyboard(person: Any) -> None:
    person.goto("/thing?name=46-50-310")
    first = person.locator("svg.bonds a").first
    to = first.get_attribute("href")
    first.focus()
    enter(person)
    assert to
    assert person.url.endswith(to)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_light_readable_and_keeps_to_its_host(browser: Any, base: str, name: str) -> None:
    """On a dark phone and a light desk: axe finds nothing, nothing leaves the host, nothing is too wide."""
    context = browser.new_context(
        base_url=base, viewport={"width": 375, "height": 812}, color_scheme="dark", bypass_csp=True, is_mobile=True,
        has_touch=True,
    )  # fmt: skip
    page = context.new_page()
    page.set_default_timeout(120_000)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    answer = page.goto(PAGES[name])
    style = context.request.get("/static/style.css").body()
    if name == "sheet":
        style += context.request.get("/static/sheet.css").body()
    assert len(answer.body()) + len(style) < HEAVIEST
    assert page.evaluate("document.documentElement.scrollWidth") <= 375
    assert page.evaluate("innerWidth") == 375  # a telephone zooms out when something is wider
    assert page.evaluate(SIDEWAYS) == []
    assert {urlsplit(url).netloc for url in asked} == {urlsplit(base).netloc}
    page.evaluate(AXE.read_text())
    assert page.evaluate(JUDGE, list(RULES)) == []
    page.emulate_media(color_scheme="light")
    assert page.evaluate(JUDGE, list(RULES)) == []
    page.set_viewport_size({"width": 1100, "height": 900})
    assert page.evaluate(JUDGE, list(RULES)) == []
    context.close()


@pytest.mark.parametrize(
    "name", ["ask", "fits", "plan", "core", "pick", "identify", "intake", "sign", "cores", "sheet", "shop", "quote"]
)
def test_targets_are_large_enough_for_a_greasy_finger(browser: Any, base: str, name: str) -> None:
    """44 px: WCAG 2.2, success criterion 2.5.5, which like 2.5.8 excepts links within a sentence or table text."""
    context = browser.new_context(base_url=base, viewport={"width": 375, "height": 812})
    page = context.new_page()
    page.goto(PAGES[name])
    small = page.evaluate(
        "() => [...document.querySelectorAll('button, select, input:not([type=hidden]):not([type=checkbox])"
        ":not([type=radio]), .go, .reach, .home, nav a, .list a, .tick a, summary')].filter(e => e.checkVisibility())"
        ".map(e => [e.outerHTML.slice(0, 80), Math.round(e.getBoundingClientRect().height)]).filter(e => e[1] < 44)"
    )
    assert small == []
    context.close()


def test_printed_pages_leave_the_controls_out(browser: Any, base: str) -> None:
    context = browser.new_context(base_url=base)
    page = context.new_page()
    page.goto(PAGES["quote"])
    page.emulate_media(media="print")
    assert not page.locator("nav").is_visible()
    assert not page.get_by_role("button").first.is_visible()
    assert page.locator(".slip").is_visible()
    assert page.pdf(format="A4").startswith(b"%PDF")
    context.close()


def test_the_browser_reports_no_breach_of_the_content_policy(browser: Any, base: str) -> None:
    context = browser.new_context(base_url=base)
    page = context.new_page()
    told: list[str] = []
    page.on("console", lambda message: told.append(message.text))
    for name in ("ask", "plan", "part", "identify", "pick", "label", "quote"):
        page.goto(PAGES[name])
    assert told == []
    context.close()


def test_a_figure_that_the_shop_sets_stands_in_the_next_quote(person: Any) -> None:
    """Without JavaScript: a tax rate set by form, a price typed in, and the quote that takes both."""
    person.goto("/shop")
    form = person.locator("#set-tax")
    form.get_by_label("Rate in per cent").fill("7.5")
    form.get_by_label("Holds from").fill(DAY)
    form.get_by_label("Your name").fill("ina")
    click(person, form.get_by_role("button"))
    assert person.get_by_text("Written.").is_visible()
    assert person.get_by_role("row", name="Tax rate").get_by_text("7.5 %").is_visible()
    person.goto(PAGES["quote"].removesuffix("&tax=19"))
    assert "Tax rate: 7.5 %, the shop's figure as of 2026-11-20, set by ina" in person.locator("article").inner_text()
    person.get_by_label("wash the stripped parts", exact=True).check()
    person.get_by_label("price not set wash the stripped parts").fill("31.50")
    click(person, person.get_by_role("button", name="Make it"))
    away = person.locator("section", has=person.get_by_role("heading", name="Work done elsewhere"))
    assert "31.50 EUR" in away.inner_text()
    assert "wash the stripped parts: price typed in at the counter." in person.locator("article").inner_text()
