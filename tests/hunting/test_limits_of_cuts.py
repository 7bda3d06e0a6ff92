"""What a route sheet says of a cut, a wheel's speed and a balance: on which side of a limit, in which unit.

By hand from the rows; the units by their definitions (NIST SP 811, Appendix B; the grain is its `gr`).
"""

from decimal import Decimal

import pytest
from asked_shop import Book, Shop, added, book, changed, engine, value
from hypothesis import given
from hypothesis import strategies as st

from graph.engineering.housing import vane_check
from graph.engineering.stacks import Link, stack, stack_verdict
from graph.model.verdict import Verdict
from graph.routesheet import route_sheet
from ontology.quantities import Unreadable, read_amount


def faced() -> Book:
    """A cover of 100 mm under a bonnet that leaves 104 mm, 5 mm of them free: it must be faced."""
    rows = added(
        engine(book(), "room", value="104"), "operations", operation="face cover", label="face the cover",
        kind="cover", feature="height", effect="reduce_to_suit", tolerance="0.01", setup_minutes="5", minutes="5",
        minutes_per_mm="1", rate="shop", reversible="no",
    )  # fmt: skip
    return value(rows, "C-1", "height", limit_min="98.5", tolerance="0.02")


def test_what_a_faced_part_leaves_to_its_neighbour_is_what_is_left() -> None:
    # The window is 98.51 (the limit and the boring's hundredth) to 98.99 (104 - 5 - 0.01): its middle is 98.75.
    with Shop(faced()) as shop:
        sheet = route_sheet(shop.plan())
    (gap,) = [gap for page in sheet.pages for step in page.steps if step.cut for gap in step.cut.gaps]
    assert (gap.low, gap.high) == (52_400_000, 52_600_000)  # 5.24 to 5.26 mm, in quanta of 100 pm
    assert gap.least == 50_000_000


@pytest.mark.parametrize("text", ["12 gr", "12gr", "12 GR"])
def test_gr_may_be_grams_or_grains_and_is_refused(text: str) -> None:
    """A grain is 64.798 91 mg (NIST SP 811): taken for a gram, a rotor would be fifteen times as heavy."""
    with pytest.raises(Unreadable):
        read_amount(text, "mass")
    assert read_amount("12 g", "mass") == (12 * 10**9, "g")


@pytest.mark.parametrize("wheel", ["64.1", "65.1", "52.3", "70.7"])
def test_a_vane_gap_of_just_the_least_is_kept(wheel: str) -> None:
    """In decimals the gap is exactly 0.5 a side, whatever binary fractions make of it."""
    inside = Decimal(wheel) + 1
    (check,) = vane_check(float(wheel), {"closed": float(inside)}, 0.5)
    assert check.verdict is Verdict.YES
    (less,) = vane_check(float(wheel), {"closed": float(inside - Decimal("0.0002"))}, 0.5)
    assert less.verdict is Verdict.NO


@given(st.lists(st.integers(1, 99_999), min_size=2, max_size=6), st.integers(0, 200), st.integers(-2, 2))
def test_a_stack_at_its_limit_is_on_the_limit_s_side(hundredths: list[int], slack: int, off: int) -> None:
    """Whole numbers of 0.01 mm decide; the same as decimal fractions must not be told otherwise."""
    first, *rest = sorted(hundredths, reverse=True)
    nominal = first - sum(rest)
    links = [Link("a", first / 100, slack / 100, slack / 100)]
    links += [Link(f"b{n}", one / 100, 0.0, 0.0, -1) for n, one in enumerate(rest)]
    low, high = nominal - slack, nominal + slack
    found = stack(links)
    inside = stack_verdict(found, (low + off) / 100, (high + 2) / 100) is Verdict.YES
    assert inside is (off <= 0)
    outside = stack_verdict(found, (high + off) / 100, (high + 500) / 100) is Verdict.NO
    assert outside is (off > 0)


def test_two_equal_parts_that_turn_weigh_twice_in_the_whole_rotor() -> None:
    """By hand: 300 g and 100 g and two of 10 g are 420 g."""
    rows = added(book(), "features", feature="mass", label="mass", type="mass", unit="g")
    for number, mass in (("R-1", "300"), ("W-2", "100"), ("JB-1", "10")):
        rows = added(
            rows, "values", maker="Ostrel", number=number, feature="mass", value=mass, unit="g", source="dwg"
        )
    rows = changed(rows, "kinds", {"kind": "bearing"}, rotating="yes")
    with Shop(rows) as shop:
        sheet = route_sheet(shop.plan(build="big"))
    (whole,) = [one for one in sheet.assembly.balance if one.what == "the whole rotor"]
    assert whole.mass == 420 * 10**9  # in nanograms
