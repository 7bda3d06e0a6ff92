"""Claims against each other, from the sheet to the swap and the plan: rank, date, hearsay, what is taken back."""

import pytest
from asked_shop import DAY, Book, Shop, added, book, engine, value, without

from graph.desk.desk import Desk
from graph.model.verdict import Verdict
from graph.publish import undo

BORE = {"maker": "Ostrel", "number": "C-1", "feature": "bore", "unit": "mm"}
"""58.6 is right (drawing `dwg`); 60 leaves a clearance of 2 where 0.8 is the most, and no work closes a bore."""


def against(**cells: str) -> Book:
    return added(book(), "values", **BORE, **cells)


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (against(value="60", source="sup"), Verdict.YES),  # a supplier against the drawing
        (against(value="60", source="cat", date="2026-01-01"), Verdict.YES),  # later, but another source's
        (against(value="60", source="dwg2"), Verdict.UNKNOWN),  # two drawings
        (against(value="58.61", source="dwg2"), Verdict.YES),  # within the drawing's own tolerance
        (against(value="60", source="dwg", date="2025-01-01"), Verdict.NO),  # the same source takes its word back
        (against(value="60", source="gauge"), Verdict.YES),  # one specimen says nothing of its kind
        (against(value="60", source="gossip"), Verdict.YES),
        (value(book(), "C-1", "bore", source="gossip"), Verdict.UNKNOWN),
        (value(book(), "C-1", "bore", source="gossip", value="60"), Verdict.UNKNOWN),  # nor does it rule out
        (value(book(), "C-1", "bore", source="gauge"), Verdict.UNKNOWN),
        (without(book(), "values", number="C-1", feature="bore"), Verdict.UNKNOWN),
        (without(book(), "engine_values", feature="foot"), Verdict.UNKNOWN),
        (engine(book(), "foot", value="T-A6"), Verdict.NO),
    ],
)
def test_the_claim_that_counts_decides(rows: Book, expected: Verdict) -> None:
    with Shop(rows) as shop:
        assert shop.fits().as_it_stands is expected


def test_a_correction_holds_from_its_version_on_and_can_be_taken_back() -> None:
    with Shop(book()) as shop:
        assert shop.fits().verdict is Verdict.YES
        header = [*BORE, "value", "source", "date"]
        shop.publish({"values": [header, [*BORE.values(), "60", "dwg", "2025-05-05"]]})
        assert shop.fits().verdict is Verdict.NO
        then = Desk(shop.store, *shop.store.as_of(1))
        assert then.fits("U-1", "E1", day=DAY)[0].verdict is Verdict.YES
        undo(shop.store, 2, author="Ada", time="2026-11-28T09:00:00Z")
        assert shop.fits().verdict is Verdict.YES
        assert Desk(shop.store, *shop.store.as_of(2)).fits("U-1", "E1", day=DAY)[0].verdict is Verdict.NO


def test_a_pair_opens_one_direction_only() -> None:
    rows = added(
        engine(book(), "signal", value="pwm"), "accepted", set="ctl", left_value="pressure", right_value="pwm"
    )
    back = engine(value(rows, "A-1", "signal", value="duty"), "signal", value="boost line")
    with Shop(rows) as shop, Shop(back) as other:
        assert shop.fits().verdict is Verdict.YES
        assert other.fits().verdict is Verdict.NO
