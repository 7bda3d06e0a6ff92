"""What a route sheet says of a cut, a wheel's speed and a balance: on which side of a limit, in which unit.

By hand from the rows; the units by their definitions (NIST SP 811, Appendix B; the grain is its `gr`).
"""

import pytest
from asked_shop import Book, Shop, added, book, engine, value

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
