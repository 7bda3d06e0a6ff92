"""What is seen of a core is read as it is said, or refused."""

import pytest
from asked_shop import Book, Shop, added, book, changed

from graph.desk.bench import Bench
from graph.desk.desk import Desk
from graph.errors import BadQuantity


def told_apart() -> Book:
    """Two units that differ by their wheels, and a feature by which units are told."""
    rows = changed(book(), "features", {"feature": "exducer"})
    rows["features"][0].append("identity_reliability")
    for row in rows["features"][1:]:
        row.append("0.9")
    rows = added(rows, "units", maker="Ostrel", unit="U-2", layout="wg")
    for seat, part in [(r[2], r[4]) for r in book()["unit_seats"][1:]]:
        new = "W-2" if seat == "wheel" else "A-2" if seat == "actuator" else part
        rows = added(rows, "unit_seats", maker="Ostrel", unit="U-2", seat=seat, part_maker="Ostrel", part_number=new)
    rows = added(rows, "parts", maker="Ostrel", number="A-2", kind="actuator")
    rows = added(
        rows, "features", feature="lever", label="lever angle", type="angle", unit="°", identity_reliability="0.9"
    )
    for part, angle, slack in (("A-1", "-2", "2"), ("A-2", "-1", "1")):
        rows = added(
            rows,
            "values",
            maker="Ostrel",
            number=part,
            feature="lever",
            value=angle,
            tolerance=slack,
            unit="°",
            source="dwg",
        )
    return rows


def first(shop: Shop, *seen: str) -> str | None:
    desk = Desk.over(shop.store)
    best = Bench(desk).identify(seen).candidates[0]
    return best.unit


def test_the_size_in_either_measure_names_the_unit() -> None:
    with Shop(told_apart()) as shop:
        assert first(shop, "wheel.exducer=62") == first(shop, "wheel.exducer=2.441 in") == "unit/Ostrel/U-2"
        assert first(shop, "wheel.exducer=58") == first(shop, "wheel.exducer=2.2835 in") == "unit/Ostrel/U-1"


@pytest.mark.parametrize("seen", ["wheel.exducer=-58", "wheel.exducer=58 ± -1", "wheel.exducer=58 bar"])
def test_a_size_below_zero_or_in_another_unit_is_refused(seen: str) -> None:
    with Shop(told_apart()) as shop, pytest.raises(BadQuantity):
        first(shop, seen)


def test_an_angle_whose_span_ends_at_zero_is_read() -> None:
    with Shop(told_apart()) as shop:  # spans of -4 to 0 and of -2 to 0 degrees are one value
        assert first(shop, "wheel.exducer=62", "actuator.lever=-1") == "unit/Ostrel/U-2"


def test_what_a_person_corrected_is_no_sign_of_another_unit() -> None:
    first = {
        "tag": "K1",
        "seat": "wheel",
        "feature": "exducer",
        "unit": "mm",
        "uncertainty": "0.1",
        "source": "gauge",
    }
    rows = added(
        told_apart(), "readings", **first, value="62.0", who="Rao", instrument="micrometer", date="2026-02-01"
    )
    again = added(rows, "readings", **first, value="58.0", who="Rao", instrument="micrometer", date="2026-02-02")
    other = added(rows, "readings", **first, value="58.0", who="Bo", instrument="caliper", date="2026-02-02")
    with Shop(again) as own, Shop(other) as two:
        seen = Bench(Desk.over(own.store)).identify(core="K1")
        assert not any("look again" in remark for remark in seen.remarks)
        both = Bench(Desk.over(two.store)).identify(core="K1")
        assert any("both are left open, look again" in remark for remark in both.remarks)
