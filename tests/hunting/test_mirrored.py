"""Left hand and right hand: what is mirrored is never told to be the same as the original.

The second unit is the first with its rotor and wheel of the other hand: they fit each other, and no rule of the
engine looks at the hand, so that only the match line can tell it.
"""

from asked_shop import Book, Shop, added, book, changed
from starlette.testclient import TestClient

from api.app import create_app
from graph.model.verdict import Verdict


def pair(hand: str = "left") -> Book:
    rows = book()
    rows["features"] = [row for row in rows["features"] if row[0] != "blades"]
    for new, old, kind in (("W-9", "W-1", "wheel"), ("R-9", "R-1", "rotor")):
        rows = added(rows, "parts", maker="Ostrel", number=new, kind=kind)
        for _maker, number, feature, text, unit, slack, *_rest in book()["values"][1:]:
            if number == old:
                rows = added(
                    rows, "values", maker="Ostrel", number=new, feature=feature, unit=unit, tolerance=slack,
                    value=hand if feature == "hand" else text, source="dwg",
                )  # fmt: skip
    rows = added(rows, "units", maker="Ostrel", unit="U-9", layout="wg")
    for _maker, _unit, seat, maker, old, quantity in book()["unit_seats"][1:]:
        number = {"W-1": "W-9", "R-1": "R-9"}.get(old, old)
        rows = added(
            rows, "unit_seats", maker="Ostrel", unit="U-9", seat=seat, part_maker=maker, part_number=number,
            quantity=quantity,
        )  # fmt: skip
    return rows


def test_a_mirrored_unit_is_told_to_be_different_from_the_original() -> None:
    with Shop(pair()) as shop:
        said = shop.fits("U-9")
        own = shop.fits("U-1")
    assert said.verdict is Verdict.YES  # nothing on record forbids it
    assert "Rotor hand, wheel hand different from original." in said.sentence
    assert "Against original: same." in own.sentence
    with Shop(pair("right")) as shop:
        assert "Against original: same." in shop.fits("U-9").sentence


def test_each_of_two_originals_is_named() -> None:
    """An engine that left the factory with either: each is the same as one and different from the other."""
    rows = added(
        pair(), "fitments", machine_maker="Tarnholt", machine="F8", engine_maker="Brackmoor", engine="E1",
        unit_maker="Ostrel", unit="U-9", year_from="2009", year_to="2011.5",
    )  # fmt: skip
    with Shop(rows) as shop:
        said = shop.fits("U-9").sentence
    assert "Against Ostrel U-1: different rotor hand, wheel hand. Against Ostrel U-9: same." in said


def test_a_quote_says_what_is_another_than_the_original_s() -> None:
    rows = changed(pair(), "cores", {"tag": "K1"}, as_built_unit="U-9")
    asked = {"core": "K1", "build": "stock", "as_of": "2026-11-28"}
    with Shop(rows) as shop, TestClient(create_app(shop.path / "store", demo=True)) as client:
        page = client.get("/quote", params=asked).text
    assert "rotor hand is another than the Ostrel U-1&#39;s: left against right" in page
