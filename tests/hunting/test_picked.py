"""Pick lists: nothing is fetched twice, and no number is put in another's place that does not fit there.

What is expected is counted by hand from the rows.
"""

import re
from collections.abc import Mapping

import pytest
from asked_shop import DAY, Book, Shop, added, book, changed, cores
from starlette.testclient import TestClient

from api.app import create_app
from graph.desk import Desk
from graph.errors import BadQuestion, Conflict
from graph.model.picking import PickLine, PickList
from graph.publish import promise, promise_all, put_price

WHEEL = {
    "exducer": ("62.0", "mm"),
    "nose_bore": ("6.000", "mm"),
    "max_speed": ("110000", "rpm"),
    "hand": ("right", ""),
}


def later(rows: Book, number: str, old: str, stock: int, **sizes: str) -> Book:
    """A wheel that takes the old one's place, like W-2 in all that is not said here."""
    rows = added(rows, "parts", maker="Ostrel", number=number, kind="wheel", label="")
    for feature, (usual, unit) in WHEEL.items():
        text = sizes.get(feature, usual)
        tolerance = {"exducer": "0.02", "nose_bore": "0.001"}.get(feature, "")
        rows = added(
            rows, "values", maker="Ostrel", number=number, feature=feature, value=text, unit=unit,
            tolerance=tolerance, source="dwg",
        )  # fmt: skip
    rows = added(rows, "supersession", maker="Ostrel", old=old, new=number)
    rows = added(
        rows, "prices", maker="Ostrel", number=number, price="150", currency="EUR", as_of="2026-01-01", lead_days="9"
    )
    return added(rows, "stock", maker="Ostrel", number=number, place="bin 2", quantity=str(stock))


def picked(shop: Shop, *tags: str, build: str = "big") -> PickList:
    return Desk.over(shop.store).pick([(tag, build, "", 1, ()) for tag in tags], day=DAY)


def line(picks: PickList, number: str) -> PickLine:
    (found,) = [one for one in picks.lines if one.number == number]
    return found


def test_one_core_is_not_fetched_for_two_jobs_even_of_one_name() -> None:
    with Shop(book()) as shop, pytest.raises(BadQuestion, match="both take"):
        picked(shop, "K1", "K1")


def test_two_jobs_that_want_more_of_a_number_than_lies_there_are_led_to_its_successor() -> None:
    rows = later(cores(changed(book(), "stock", {"number": "W-2"}, quantity="1"), "K2"), "W-3", "W-2", 5)
    with Shop(rows) as shop:
        one, both = picked(shop, "K1"), picked(shop, "K1", "K2")
    assert (line(one, "W-2").on_hand, line(one, "W-2").short) == (1, 0)
    found = line(both, "W-3")
    assert (found.quantity, found.on_hand, found.short, found.instead_of) == (2, 5, 0, ("Ostrel W-2",))
    assert "W-2" not in {one.number for one in both.lines}


@pytest.mark.parametrize("sizes", [{"hand": "left"}, {"exducer": "70"}, {"nose_bore": "6.100"}])
def test_a_successor_that_does_not_fit_there_is_not_fetched(sizes: Mapping[str, str]) -> None:
    rows = later(cores(changed(book(), "stock", {"number": "W-2"}, quantity="1"), "K2"), "W-3", "W-2", 5, **sizes)
    with Shop(rows) as shop:
        found = line(picked(shop, "K1", "K2"), "W-2")
    assert (found.quantity, found.short) == (2, 1)
    assert any("W-3, which does not fit here" in note for note in found.notes)
    assert not [one for one in found.substitutes if "W-3" in one.label]


def test_a_later_number_of_both_ways_is_no_substitute_where_the_features_refute_it() -> None:
    rows = later(book(), "W-3", "W-2", 5, hand="left")
    rows = changed(added(rows, "supersession", two_way=""), "supersession", {"new": "W-3"}, two_way="yes")
    rows["supersession"] = [row for row in rows["supersession"] if any(row)]
    same = changed(rows, "values", {"number": "W-3", "feature": "hand"}, value="right")
    with Shop(rows) as shop:
        assert not line(picked(shop, "K1"), "W-2").substitutes
    with Shop(same) as shop:
        assert [one.label for one in line(picked(shop, "K1"), "W-2").substitutes] == ["Ostrel W-3"]


def test_a_substitute_that_another_line_draws_is_not_on_hand() -> None:
    rows = cores(later(book(), "W-3", "W-2", 1), "K2")
    rows["supersession"] = rows["supersession"][:1]
    rows = changed(rows, "prices", {"number": "W-3"}, price="50")
    rows = added(rows, "interchange", maker="Ostrel", number="W-2", other_maker="Ostrel", other_number="W-3")
    with Shop(rows) as shop:
        desk = Desk.over(shop.store)
        mine = ("K1", "big", "", 1, ("no-part:part/Ostrel/W-3",))
        alone, both = desk.pick([mine], day=DAY), desk.pick([mine, ("K2", "big", "", 1, ())], day=DAY)
    assert [(one.label, one.on_hand) for one in line(alone, "W-2").substitutes] == [("Ostrel W-3", 1)]
    assert (line(both, "W-3").quantity, line(both, "W-3").on_hand) == (1, 1)
    assert [(one.label, one.on_hand) for one in line(both, "W-2").substitutes] == [("Ostrel W-3", 0)]


PROMISED = added(
    added(book(), "reservations", job="J-9", tag="K1"),
    "reservations", job="J-9", maker="Ostrel", number="W-2", quantity="2",
)  # fmt: skip


def test_a_list_says_what_of_it_is_promised() -> None:
    with Shop(PROMISED) as shop:
        picks = picked(shop, "K1")
    assert line(picks, "W-2").notes == ("2 on hand promised to J-9",)
    assert line(picks, "C-1").notes == ("core K1 is promised to J-9",)


def test_what_is_promised_to_one_job_is_not_reserved_for_another_from_a_list() -> None:
    with Shop(PROMISED) as shop:
        app = create_app(shop.path / "store", demo=True)
        with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as client:
            asked = {"job": "K1~big~~1"}
            token = re.search(r'name="token" value="(\w+)"', client.get("/pick", params=asked).text)
            assert token
            form = {**asked, "who": "counter", "token": token[1]}
            before = client.get("/v1/shelf/promises").json()
            refused = client.post("/pick/reserve", data={**form, "name": "J-1"}, follow_redirects=False)
            assert refused.status_code == 409
            assert "K1 is promised to J-9" in refused.text and "2 promised to others" in refused.text
            assert client.get("/v1/shelf/promises").json() == before
            assert (
                client.post("/pick/reserve", data={**form, "name": "J-9"}, follow_redirects=False).status_code == 303
            )


def test_promises_made_at_once_are_held_against_each_other() -> None:
    rows = [{"job": job, "maker": "Ostrel", "number": "W-2", "quantity": "2"} for job in ("J-1", "J-2")]
    with Shop(book()) as shop:
        with pytest.raises(Conflict):
            promise_all(shop.store, rows, author="Ada", time="2026-11-28T09:00:00Z", title="both")
        halved = [{**row, "quantity": "1"} for row in rows]
        promise_all(shop.store, halved, author="Ada", time="2026-11-28T09:00:00Z", title="both").sound()


@pytest.mark.parametrize("written", ["new", ""])
def test_a_price_set_for_a_later_day_leaves_the_day_s_price(written: str) -> None:
    rows = added(book(), "prices", condition="")
    rows["prices"] = [row for row in rows["prices"] if any(row)]
    rows = changed(rows, "prices", {"maker": "Ostrel"}, condition=written)
    cells = {"price": "150", "currency": "EUR", "as_of": "2027-01-01"}
    with Shop(rows) as shop:
        put_price(
            shop.store, ("Ostrel", "W-2"), "new", cells, version=1, author="Ada", time="2026-11-28T09:00:00Z"
        ).sound()
        assert line(picked(shop, "K1"), "W-2").unit_price == 14000
        after = Desk.over(shop.store).pick([("K1", "big", "", 1, ())], day="2027-01-01")
        assert line(after, "W-2").unit_price == 15000


def test_a_deposit_is_laid_down_for_what_is_bought_alone_as_the_plan_says() -> None:
    """What a donor of the shop's own gives is not bought: its transfer price has no deposit to lay down."""
    rows = added(
        book(), "prices", maker="Ostrel", number="W-2", price="30", currency="EUR", as_of="2026-01-01",
        condition="used", deposit="5",
    )  # fmt: skip
    rows = changed(cores(rows, "D1"), "cores", {"tag": "D1"}, may_donate="yes")
    rows = added(rows, "found_parts", tag="D1", seat="wheel", part_maker="Ostrel", part_number="W-2", state="present")
    with Shop(rows) as shop:
        plan = shop.plan(build="big").plans[0]
        picks = picked(shop, "K1")
    assert [one.source for one in plan.seats if one.seat == "wheel"] == ["donor"]
    assert (line(picks, "W-2").price, picks.total) == (3000, 3000)
    assert picks.deposits == plan.deposits == 0


@pytest.mark.parametrize(
    "named",
    [
        {},
        {"seat": "wheel"},
        {"tag": "K1", "maker": "Ostrel", "number": "W-2"},  # the part was passed over, the core promised
        {"tag": "K1", "seat": "whel"},
        {"tag": "K1", "seat": "wheel"},  # it is missing
    ],
)
def test_a_promise_of_no_one_thing_is_refused(named: dict[str, str]) -> None:
    rows = added(book(), "found_parts", tag="K1", seat="wheel", state="missing")
    with Shop(rows) as shop:
        assert shop.report.published, shop.report.findings
        with pytest.raises(BadQuestion):
            promise(shop.store, {"job": "J-1", **named}, author="Ada", time="2026-11-28T09:00:00Z")
        cover = {"job": "J-1", "tag": "K1", "seat": "cover"}
        promise(shop.store, cover, author="Ada", time="2026-11-28T09:00:00Z").sound()
