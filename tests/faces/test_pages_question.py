"""The question line: typos, sentences, machines with years and serial numbers. Expected: the workbook."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from api.app import create_app
from api.pages.recent import COOKIE, own_address
from graph.desk import Desk, machines, search


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("OV64-220", "OV46-220"),  # two digits changed over
        ("0V46-220", "OV46-220"),  # nought for O
        ("46-20-I40", "46-20-140"),  # I for 1
        ("HB-17", "HB-017"),
        ("B6R-C", "BR6-C"),
        ("Tarnolt FW-12", "FW-12"),
        ("larger wheel", "larger-wheels"),
    ],
)
def test_a_typo_is_offered_and_not_taken(demo_desk: Desk, typed: str, name: str) -> None:
    best = search.guesses(demo_desk, typed)[0]
    assert (best.name, best.sure) == (name, False)


@pytest.mark.parametrize("typed", ["46-50-310", "ostrel 46 50 310", "4650310"])
def test_a_number_in_any_spelling_is_taken(demo_desk: Desk, typed: str) -> None:
    found = [g.key for g in search.guesses(demo_desk, typed) if g.sure]
    assert found == ["part/Ostrel/46-50-310"]


def test_a_cast_mark_leads_to_all_parts_that_bear_it(demo_desk: Desk) -> None:
    """The workbook says so of both finish machinings of one casting (values, A46-72)."""
    found = {g.key for g in search.guesses(demo_desk, "A46-72") if "mark as cast" in g.why}
    assert found == {"part/Ostrel/46-50-140", "part/Ostrel/46-50-310"}


@pytest.mark.parametrize(
    ("typed", "engines"),
    [
        ("Tarnholt FW-12 2009", ["BR6-C"]),  # BR6-E begins in 2012
        ("FW-12 2012", ["BR6-C", "BR6-E"]),  # to 2012.5 and from 2012
        ("FW-12 T12-2140", ["BR6-C"]),  # the last of its range
        ("FW-12 T12-2141", ["BR6-E"]),  # the first of the next
        ("T12-0150", ["BR6-C"]),
        ("2002 FW 8", ["BR6-A", "BR6-B"]),
        ("FW-7 2006", []),  # no fitment between 2004 and 2009
        ("36 P", ["BR6-D"]),
    ],
)
def test_a_machine_with_its_year_or_serial_leads_to_the_engine(
    demo_desk: Desk, typed: str, engines: list[str]
) -> None:
    found = machines.machine(demo_desk, typed)
    assert found
    assert [e.key.rsplit("/", 1)[1] for e in found.engines] == engines


def test_two_engines_are_told_apart_by_the_serial_or_a_look(demo_desk: Desk) -> None:
    found = machines.machine(demo_desk, "FW-12 2012")
    assert found
    assert found.serials
    assert found.looks
    for look in found.looks:
        assert len({value for _key, value in look.shows}) == 2


def test_a_serial_beyond_every_range_decides_nothing(demo_desk: Desk) -> None:
    found = machines.machine(demo_desk, "FW-12 T12-9999")
    assert found
    assert found.unread == "T12-9999"
    assert len(found.engines) == 2


@pytest.mark.parametrize("typed", ["", "   ", "?", "€", "\0", "'; DROP TABLE thing; --", '"', "a" * 200, "ΟΤ38"])
def test_whatever_is_typed_gets_a_page(demo_folder: Path, typed: str) -> None:
    with TestClient(create_app(demo_folder, demo=True)) as client:
        assert client.get("/ask", params={"q": typed}).status_code == 200


def test_a_sentence_with_a_machine_asks_which_engine(demo_folder: Path) -> None:
    with TestClient(create_app(demo_folder, demo=True)) as client:
        both = client.get("/ask", params={"q": "Will OV46-140 fit FW-12 2012?"}).text
        assert "BR6-C" in both
        assert "BR6-E" in both
        one = client.get("/ask", params={"q": "Will OV46-140 fit FW-12 2009?"}, follow_redirects=False)
        assert one.headers["location"] == "/fits?unit=Ostrel+OV46-140&engine=Brackmoor+BR6-C&both=yes"


def test_questions_asked_last_stay_in_the_browser_and_lead_nowhere_else(demo_folder: Path) -> None:
    with TestClient(create_app(demo_folder, demo=True)) as client:
        client.get("/machine", params={"q": "FW-12 2009"})
        assert '<a href="/machine?q=FW-12+2009">' in client.get("/").text
        client.cookies.set(COOKIE, "W1siaHR0cHM6Ly9lbHNld2hlcmUiLCAieCJdXQ==")  # [["https://elsewhere", "x"]]
        assert "elsewhere" not in client.get("/").text
    assert [own_address(a) for a in ("/fits?unit=x", "//elsewhere", "/\\elsewhere", "javascript:1")] == [
        True,
        False,
        False,
        False,
    ]


def test_an_asserted_interchange_names_both_parts_and_who_says_so(demo_folder: Path) -> None:
    """The demo's sheet `interchange` (demo_graph/workbook/interchange.csv) asserts 46-50-310 for 46-50-140."""
    with TestClient(create_app(demo_folder, demo=True)) as client:
        html = client.get("/interchange", params={"part": "46-50-310"}).text
    assert "Ostrel 46-50-310 in place of Ostrel 46-50-140" in html
    assert "Hollin Beck practice book" in html


def test_a_map_that_cannot_be_drawn_keeps_what_was_typed(demo_folder: Path) -> None:
    with TestClient(create_app(demo_folder, demo=True)) as client:
        answer = client.get("/map", params={"speed": "1400 rpm,2200 rpm"})
    assert answer.status_code == 422
    assert "It cannot be drawn so" in answer.text
    assert 'value="1400 rpm,2200 rpm"' in answer.text
