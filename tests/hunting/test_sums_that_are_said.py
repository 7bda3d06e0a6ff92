"""Sentences that are read to a customer: a sum that lacks a price is never told as the whole of it.

Every price is of the small book: a bored cover with the larger wheel costs 294.15, of which the wheel is 140 and the
core 40; without the bore's own work, 40.
"""

from dataclasses import replace

import pytest
from asked_shop import DAY, Book, Shop, added, book, changed, cores, without

from graph.desk import Desk
from graph.desk.depth import least, rank, reach
from graph.desk.yard import Yard
from graph.model.depth import OutcomeCase
from graph.model.verdict import Verdict
from graph.model.yard import ShelfQuestion
from graph.planning.problem import Problem
from graph.planning.unknown_said import holds


@pytest.mark.parametrize(
    ("rows", "first", "sum_"),
    [
        (without(book(), "prices", number="W-2"), "K1", "154.15"),
        (changed(cores(book(), "K2"), "cores", {"tag": "K2"}, book_value=""), "K2", "254.15"),
    ],
)
def test_the_best_core_is_not_told_at_a_sum_that_lacks_a_price(rows: Book, first: str, sum_: str) -> None:
    with Shop(rows) as shop:
        said = rank(Desk.over(shop.store), "big", day=DAY).sentence
    assert f"{first}, for at least {sum_} EUR" in said
    assert said.startswith("By the prices on record")


def test_what_a_core_reaches_cheapest_is_told_at_least_where_a_price_is_missing() -> None:
    rows = without(without(book(), "prices", number="W-2"), "builds", build="stock")
    with Shop(rows) as shop:
        said = reach(Desk.over(shop.store), "K1", day=DAY).sentence
    assert said.endswith("; by the prices on record the cheapest is big, for at least 154.15 EUR.")


def test_the_least_change_is_told_at_least_where_a_price_is_missing() -> None:
    """The unit's wheel is too slow for the engine; W-2, which has no price, is the only one that is not."""
    rows = changed(book(), "engine_values", {"feature": "shaft_speed"}, value="115000")
    rows = changed(rows, "values", {"number": "W-1", "feature": "max_speed"}, value="110000")
    rows = changed(rows, "values", {"number": "W-2", "feature": "max_speed"}, value="120000")
    priced, bare = rows, without(rows, "prices", number="W-2")
    with Shop(priced) as shop:
        assert "at least" not in least(Desk.over(shop.store), "U-1", "E1", day=DAY).sentence
    with Shop(bare) as shop:
        found = least(Desk.over(shop.store), "U-1", "E1", day=DAY)
    assert found.answer.plans[0].at_least
    assert "for at least " in found.sentence


def test_what_holds_in_every_case_is_no_ceiling_where_a_price_is_missing() -> None:
    with Shop(without(book(), "prices", number="W-2")) as shop:
        answer = shop.plan(build="big")
    assert answer.bundle is not None
    one = replace(answer.plans[0], seats=())
    more = replace(one, cost=one.cost + 1000)
    cases = [OutcomeCase((), Verdict.WITH_WORK, True, plan, plan.cost, "") for plan in (one, more)]
    assert list(holds(Problem(answer.bundle), cases)) == ["it can be done in every case, for at least 154.15 EUR"]
    whole = [replace(case, plan=replace(case.plan, at_least=False)) for case in cases if case.plan]
    assert list(holds(Problem(answer.bundle), whole)) == ["it can be done in every case, for 164.15 EUR at most"]


def test_a_rush_whose_cost_lacks_a_price_says_so() -> None:
    rows = cores(without(book(), "prices", number="W-2"), "K2")
    listed = b"job,core,build\nA,,stock\nB,,big\n"
    with Shop(rows) as shop:
        yard = Yard(Desk.over(shop.store))
        said = yard.rush(ShelfQuestion(yard.jobs(listed), day=DAY, rush="B")).sentence
    assert "more as far as prices are on record" in said


def test_a_ranked_core_that_is_promised_says_to_whom() -> None:
    rows = added(cores(book(), "K2"), "reservations", job="J-9", tag="K1")
    rows = added(rows, "reservations", job="J-8", tag="K2", until="2026-11-27")
    with Shop(rows) as shop:
        ranking = rank(Desk.over(shop.store), "big", day=DAY)
    assert [(row.name, row.needs.rpartition("; ")[2]) for row in ranking.ranked] == [
        ("K1", "promised to J-9"),
        ("K2", "work: bore the cover (cover)"),  # that promise was over the day before
    ]
