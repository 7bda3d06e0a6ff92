"""A machine's year and serial number: what is read off a plate, and the engine that it admits.

The rows are two engines of one machine, whose serial numbers touch and whose years overlap in 2011.
"""

import pytest
from asked_shop import Book, Shop, added, book
from starlette.testclient import TestClient

from api.app import create_app
from graph.desk import Desk
from graph.desk.machines import CLASH, OUTSIDE, MachineAnswer, machine

FITTED = (
    ("E1", "2009", "2011.5", "T12-0100", "T12-2100"),
    ("E2", "2011", "2014", "T12-2101", "T12-4000"),
)


def two(**values: tuple[str, str, str]) -> Book:
    """The second engine with what is said of it."""
    rows = added(book(), "engines", maker="Brackmoor", engine="E2", label="two")
    for feature, (text, unit, tolerance) in values.items():
        rows = added(
            rows, "engine_values", maker="Brackmoor", engine="E2", feature=feature, value=text, unit=unit,
            tolerance=tolerance, source="dwg",
        )  # fmt: skip
    rows["features"] = [
        [*row, "look" if at == 0 else "outside" if row[0] in values else ""]
        for at, row in enumerate(rows["features"])
    ]
    rows["fitments"] = rows["fitments"][:1]
    for engine, year_from, year_to, first, last in FITTED:
        rows = added(
            rows, "fitments", machine_maker="Tarnholt", machine="F8", engine_maker="Brackmoor", engine=engine,
            unit_maker="Ostrel", unit="U-1", year_from=year_from, year_to=year_to, serial_from=first, serial_to=last,
        )  # fmt: skip
    return rows


def asked(shop: Shop, text: str) -> MachineAnswer:
    assert shop.report.published, shop.report.findings
    found = machine(Desk.over(shop.store), text)
    assert found is not None
    return found


def names(found: MachineAnswer) -> list[str]:
    return [one.key.rpartition("/")[2] for one in found.engines]


@pytest.mark.parametrize(
    ("typed", "engines"),
    [
        ("F8 T12-2010", ["E1"]),  # a serial number that looks like a year: 2013 would lead to the other engine
        ("F8 T12-2013", ["E1"]),
        ("F8 T12-2050", ["E1"]),
        ("F8 T12-2100", ["E1"]),
        ("F8 T12-2101", ["E2"]),
        ("F8, 2009", ["E1"]),
        ("F8 (2013)", ["E2"]),
        ("F8 2011", ["E1", "E2"]),
        ("F8 2011 T12-2101", ["E2"]),
    ],
)
def test_a_serial_number_is_no_year(typed: str, engines: list[str]) -> None:
    with Shop(two()) as shop:
        found = asked(shop, typed)
    assert (names(found), found.doubt, found.unread) == (engines, "", "")


def test_a_year_and_a_serial_number_that_contradict_each_other_choose_none() -> None:
    with Shop(two()) as shop:
        found = asked(shop, "F8 2013 T12-0500")
        assert (names(found), found.doubt) == (["E1", "E2"], CLASH)
        with TestClient(create_app(shop.path / "store", demo=True)) as client:
            page = client.get("/machine", params={"q": "F8 2013 T12-0500"}).text
            assert "do not go together" in page and "It has the engine" not in page
            sent = client.get("/ask", params={"q": "Will U-1 fit F8 2013 T12-0500?"}, follow_redirects=False)
            assert sent.status_code == 200


def test_a_serial_number_outside_the_range_of_the_year_s_engine_chooses_none() -> None:
    with Shop(two()) as shop:
        found = asked(shop, "F8 2009 T12-9999")
        assert (names(found), found.doubt) == (["E1"], OUTSIDE)
        with TestClient(create_app(shop.path / "store", demo=True)) as client:
            page = client.get("/machine", params={"q": "F8 2009 T12-9999"}).text
            assert "outside the range" in page and "It has the engine" not in page


def test_a_bare_number_may_be_a_year_and_a_serial_number() -> None:
    rows = two()
    rows["fitments"] = [[cell.replace("T12-", "") for cell in row] for row in rows["fitments"]]
    with Shop(rows) as shop:
        assert names(asked(shop, "F8 2013")) == ["E1", "E2"]  # the year of one, a number of the other


@pytest.mark.parametrize(
    ("feature", "said", "told"),
    [
        ("oil_thread", ("M12 × 1,50-6H", "", ""), False),  # ISO 965-1: the same thread as M12x1.5
        ("oil_thread", ("M12", "", ""), False),  # its pitch is not known
        ("oil_thread", ("M14x1.5", "", ""), True),
        ("room", ("4.3307 in", "in", ""), False),  # 110 mm to a quarter of a micrometre
        ("room", ("110.05", "mm", ""), False),
        ("room", ("125", "mm", ""), True),
        ("opening", ("122", "kPa", "3"), False),  # 120 ± 3
        ("opening", ("140", "kPa", "3"), True),
    ],
)
def test_a_look_decides_only_where_the_engines_differ(feature: str, said: tuple[str, str, str], told: bool) -> None:
    with Shop(two(**{feature: said})) as shop:
        assert bool(asked(shop, "F8 2011").looks) is told


def test_a_serial_number_that_two_ranges_hold_is_not_asked_for_again() -> None:
    rows = two()
    rows["fitments"] = [[cell.replace("T12-2100", "T12-2200") for cell in row] for row in rows["fitments"]]
    with Shop(rows) as shop:
        found = asked(shop, "F8 T12-2150")
        assert (names(found), found.serials) == (["E1", "E2"], False)
        assert asked(shop, "F8 2011").serials


def test_a_range_of_serial_numbers_that_ends_before_it_begins_is_a_fault() -> None:
    rows = two()
    rows["fitments"] = [[cell.replace("T12-0100", "T12-2101") for cell in row] for row in rows["fitments"]]
    with Shop(rows) as shop:
        assert "years-crossed" in shop.codes and not shop.report.published
