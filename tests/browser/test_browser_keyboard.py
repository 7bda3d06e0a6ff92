"""Every task of the counter and the bench by keyboard alone, without JavaScript: Tab, typing, arrows, Enter."""

from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest
from counter import CHROMIUM, DAY, enter, tab_to
from PIL import Image

if not CHROMIUM:
    pytest.skip(
        "BROWSER TESTS NOT RUN: chromium is not installed (apt-get install chromium)", allow_module_level=True
    )
pytest.importorskip("playwright.sync_api", reason="BROWSER TESTS NOT RUN: playwright is not installed")

pytestmark = pytest.mark.slow
PLAN = f"core=HB-017&build=larger-wheels&engine=BR6-C&as_of={DAY}"


def fill(page: Any, **fields: str) -> None:
    """Type into fields, by their ids, in their order on the page."""
    for name, text in fields.items():
        tab_to(page, "#" + name.replace("_", "-"))
        page.keyboard.press("Control+A")
        page.keyboard.type(text)


def test_from_the_question_to_the_printed_list(person: Any) -> None:
    """Ask, take the second way, its pick list, strike a line out, tick one off, and reserve what is left."""
    person.goto("/")
    fill(person, plan_core="HB-017", plan_build="larger-wheels")
    enter(person)
    tab_to(person, "a:text-is('Way 2')")
    enter(person)
    tab_to(person, "#way a:text-is('Pick list')")
    enter(person)
    assert urlsplit(person.url).path == "/pick"
    tab_to(person, "a:has-text('strike it out')")
    enter(person)
    assert person.locator("tr.struck").count() == 1
    person.keyboard.press("Tab")
    fill(person, scan="46-37-01")
    enter(person)
    assert "46-37-01" in person.locator("tr.got").inner_text()
    fill(person, job_name_1="J-77", job_who="counter")
    enter(person)
    assert "Reserved for J-77." in person.locator("[role=status]").inner_text()


def test_wishes_are_ticked_and_the_papers_keep_them(person: Any) -> None:
    """The cheapest plan takes the wheel 46-20-262 (tests/faces/test_wishes.py), which the customer does not want."""
    person.goto(f"/plan?{PLAN}&best=1")
    tab_to(person, ".wishes summary")
    person.keyboard.press("Enter")
    tab_to(person, ".wishes input[value=no-donor]")
    person.keyboard.press("Space")
    tab_to(person, ".wishes summary:has-text('Keep the core')")
    person.keyboard.press("Enter")
    tab_to(person, ".wishes input[value='keep:turbine-housing']")
    person.keyboard.press("Space")
    fill(person, w_without="46-20-262")
    enter(person)
    said = "Wished: keep the turbine housing; nothing from donor cores; not the part Ostrel 46-20-262."
    assert said in person.locator("main").inner_text()
    assert sorted(text for name, text in parse_qsl(urlsplit(person.url).query) if name == "wish") == [
        "keep:turbine-housing",
        "no-donor",
        "no-part:46-20-262",
    ]
    tab_to(person, ".wishes summary")
    person.keyboard.press("Enter")
    tab_to(person, ".wishes input[value=no-donor]")
    person.keyboard.press("Space")
    tab_to(person, ".wishes button")
    enter(person)
    said = "Wished: keep the turbine housing; not the part Ostrel 46-20-262."
    assert said in person.locator("main").inner_text()
    tab_to(person, "#way a:text-is('Pick list')")
    enter(person)
    assert said in person.locator("main").inner_text()
    assert "46-20-262" not in person.locator("main table").first.inner_text()


def test_a_second_job_is_added_to_the_list(person: Any) -> None:
    person.goto(f"/pick?{PLAN}&plan=1")
    fill(person, new_core="HB-001", new_build="stock-101")
    enter(person)
    assert "HB-001 into stock-101" in person.locator("h1").inner_text()
    assert person.locator("#job-name-2").count() == 1


def test_a_core_is_taken_in_looked_at_and_measured(person: Any) -> None:
    person.goto("/cores")
    tab_to(person, "a:text-is('Take a core in')")
    enter(person)
    fill(person, i_tag="HB-950", i_unit="OV46-140", i_who="counter")
    enter(person)
    assert urlsplit(person.url).path == "/core/HB-950"
    tab_to(person, "#r-seat")
    person.keyboard.type("bearing h")
    assert person.locator("#r-seat").input_value() == "bearing-housing"
    fill(
        person,
        r_feature="bearing_bore",
        r_value="wide",
        r_position="turbine end",
        r_uncertainty="0.002 mm",
        r_who="bench",
    )
    enter(person)
    assert "value" in person.locator("[role=alert]").inner_text()
    assert person.locator("#r-seat").input_value() == "bearing-housing"
    fill(person, r_value="22.01", r_who="bench")
    enter(person)
    assert person.locator("[role=alert]").count() == 0
    assert "22.01 mm" in person.locator("main").inner_text()
    tab_to(person, "#found summary")
    person.keyboard.press("Enter")
    tab_to(person, "#f-present")
    person.keyboard.press("ArrowDown")
    person.keyboard.press("ArrowDown")
    person.keyboard.press("ArrowDown")
    fill(person, f_who="bench")
    enter(person)
    assert "cracked" in person.locator("main").inner_text()


def test_a_photo_is_sent_and_seen(person: Any, tmp_path: Path) -> None:
    """The chooser of files belongs to the browser; what stands round it is reached by Tab."""
    out = BytesIO()
    Image.new("RGB", (60, 40), (120, 90, 40)).save(out, "JPEG")
    (tmp_path / "core.jpg").write_bytes(out.getvalue())
    person.goto("/core/HB-018")
    tab_to(person, "#p-photo")
    person.locator("#p-photo").set_input_files(tmp_path / "core.jpg")
    fill(person, p_who="bench")
    enter(person)
    shown = person.locator("#photos img").first
    assert shown.get_attribute("alt") == "Photo 1 of core HB-018"
    assert shown.evaluate("e => e.complete && e.naturalWidth") == 60
    tab_to(person, "#photos a:has-text('take it off')")
    enter(person)
    assert person.locator("h1").inner_text() == "Take photo 1 off core HB-018?"
    fill(person, o_who="bench")
    enter(person)
    assert urlsplit(person.url).path == "/core/HB-018"
    assert person.locator("#photos img").count() == 0


def test_a_record_is_signed_and_taken_back(person: Any) -> None:
    person.goto(f"/plan?{PLAN}")
    tab_to(person, "#way a:text-is('Sign-offs')")
    enter(person)
    fill(person, w_step_1="Ada")
    enter(person)
    assert "Signed by Ada" in person.locator("#step-1").inner_text()
    tab_to(person, "#w-step-1")
    person.keyboard.type("Ada")
    enter(person)
    assert "Signed by" not in person.locator("#step-1").inner_text()


def test_a_newcomer_identifies_by_looks(person: Any) -> None:
    person.goto("/identify")
    tab_to(person, ".look.first .choices button")
    enter(person)
    tab_to(person, '.look.first button:has-text("Can\'t tell")')
    enter(person)
    assert person.locator("main li", has_text="take it back").count() == 2
    tab_to(person, "main li a:has-text('take it back')")
    enter(person)
    assert person.locator("main li", has_text="take it back").count() == 1


def test_papers_are_filled_in(person: Any) -> None:
    person.goto(f"/quote?{PLAN}&plan=1")
    fill(person, s_customer="the ferry", s_tax="19")
    enter(person)
    assert "the ferry" in person.locator(".slip").inner_text()
    assert "Total" in person.locator(".slip").inner_text()
    person.goto("/credit?core=HB-017")
    fill(person, s_rule="A: 100, B: 75")
    enter(person)
    assert "75 %" in person.locator(".slip").inner_text()
    person.goto("/claim?core=HB-012")
    fill(person, s_hours="900 h")
    tab_to(person, "#s-complaint")
    person.keyboard.type("it whistles")
    tab_to(person, "main form button")
    enter(person)
    assert "it whistles" in person.locator(".slip .say").inner_text()


def test_the_map_is_drawn_and_a_claim_is_added(person: Any) -> None:
    person.goto("/map")
    fill(person, m_speed="1500 rpm")
    enter(person)
    assert person.locator("svg.map .point, svg.map .off").count() == 2
    person.goto("/thing?name=46-50-310")
    tab_to(person, "#c-feature")
    person.keyboard.type("casting")
    fill(person, c_value="OV46T9")
    tab_to(person, "#c-source")
    person.keyboard.type("HB-NOTE")
    fill(person, c_who="counter")
    enter(person)
    assert "OV46T9" in person.locator("main").inner_text()
