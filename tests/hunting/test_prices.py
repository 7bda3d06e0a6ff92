"""What a plan costs, held against sums done by hand, and sums of money that can be read in two ways."""

from decimal import Decimal

import pytest
from asked_shop import Shop, added, book, changed, findings, without

from graph.model.verdict import Proof


@pytest.mark.parametrize(
    ("text", "found"), [("1.400", True), ("1,400", True), ("12.500", True), ("140.00", False), ("1400", False)]
)
def test_a_mark_before_three_digits_is_asked_about(text: str, found: bool) -> None:
    assert ("ambiguous-number" in findings(changed(book(), "prices", {"number": "W-2"}, price=text))) is found


def test_a_bored_cover_with_a_larger_wheel_costs_what_its_sums_come_to() -> None:
    # The cover is at 58.6 ± 0.02, the wheel at 62.0 ± 0.02, the least clearance 0.4, the boring holds 0.01:
    # the least cut is 62.0 + 0.02 + 0.4 + 0.01 = 62.43, from 58.6. 60 an hour is 1 a minute.
    boring = 20 + 30 + 5 * (Decimal("62.43") - Decimal("58.6"))
    balance = 5 + 40
    with Shop(book()) as shop:
        said = shop.plan(build="big")
    assert said.plans[0].cost == 100 * (40 + 140 + boring + balance)
    assert said.proof is Proof.CHEAPEST


def test_two_bearings_cost_twice_one() -> None:
    rows = added(
        book(), "found_parts", tag="K1", seat="bearing", part_maker="Ostrel", part_number="JB-1", state="scrap"
    )
    with Shop(rows) as shop:
        assert shop.plan().plans[0].cost == 100 * (40 + 2 * 8)


@pytest.mark.parametrize(("sheet", "where"), [("prices", {"number": "W-2"}), ("rates", {"name": "shop"})])
def test_a_price_that_is_not_there_makes_it_at_least_and_never_cheapest(sheet: str, where: dict[str, str]) -> None:
    with Shop(without(book(), sheet, **where)) as shop:
        said = shop.plan(build="big")
    assert said.plans[0].at_least
    assert said.proof is not Proof.CHEAPEST


def test_a_price_of_another_day_is_not_the_day_s() -> None:
    with Shop(changed(book(), "prices", {"number": "W-2"}, as_of="2027-05-01")) as shop:
        assert shop.plan(build="big").plans[0].at_least


def test_a_price_of_zero_and_a_customer_s_core_that_gives_parts_are_doubted() -> None:
    assert "price-of-zero" in findings(changed(book(), "prices", {"number": "W-2"}, price="0"))
    assert "price-of-zero" in findings(changed(book(), "rates", {"name": "shop"}, per_hour="0"))
    assert "customers-core-donates" in findings(changed(book(), "cores", {"tag": "K1"}, own="yes", may_donate="yes"))


def test_deposits_of_one_job_in_two_currencies_are_not_added_up() -> None:
    rows = added(book(), "jobs", job="J-1", tag="K1", build="big", engine_maker="Brackmoor", engine="E1")
    for step, currency in (("1", "EUR"), ("2", "USD")):
        rows = added(
            rows,
            "job_deposits",
            job="J-1",
            step=step,
            what="taken",
            amount="50",
            currency=currency,
            date="2026-01-01",
        )
    assert "deposit-currency" in findings(rows)
    assert "deposit-currency" not in findings(changed(rows, "job_deposits", {"step": "2"}, currency="EUR"))
