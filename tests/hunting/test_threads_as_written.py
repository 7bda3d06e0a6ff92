"""Threads written in the ways that their standards allow; two readers of them that share no code say the same.

Expected: ISO 965-1 (metric designations, tolerance classes, LH), ASME B1.1 and B1.20.1, ISO 228-1, from memory.
"""

import pytest
from asked_shop import Shop, book, engine, value
from hypothesis import given
from hypothesis import strategies as st

from graph.model.verdict import Verdict
from graph.planning.check.threads import agree
from graph.rules.threads import same_thread

ONE = [
    ("M12x1.5", "M12 × 1,5"),
    ("M12x1.5", "m12X1.50"),
    ("M12x1.5-6H", "M12x1.5-6g"),
    ("M20x2-5g6g", "M20x2-6H"),
    ("M10*1.25", "M10x1.25"),
    ("M10-1.25", "M10x1.25"),
    ("M14x1.5 LH", "M14x1.5-LH"),
    ("M14x1.5 RH", "M14x1.5"),
    ("7/16-20 UNF", "7/16-20UNF-2B"),
    ('7/16"-20 UNF', "7/16″-20 unf"),
    ("1 1/4-12 UNF", "1-1/4-12 UNF-2A"),
    ("1/8-27 NPT", "1/8 NPT"),
    ("NPT 1/8", '1/8" NPT'),
    ("G1/8", "1/8 BSPP"),
    ("G 1/8 A", "g1/8"),
    ("K4 fine", "k4  FINE"),
]
TWO = [
    ("M12x1.5", "M12x1.25"),
    ("M12x1.5", "1/2-20 UNF"),
    ("M12x1.5", "M12x1.5 LH"),
    ("M12x1.5", "M14x1.5"),
    ("M12", "M14x1.5"),
    ("M12", "M12x1.5 LH"),
    ("7/16-20 UNF", "7/16-14 UNC"),
    ("7/16-20 UNF", "7/16-20 UNJF"),
    ("1/8 NPT", "1/8 NPTF"),
    ("1/8 NPT", "G1/8"),
    ("1/8-28 NPT", "1/8 NPT"),
    ("R1/8", "G1/8"),
    ("1 1/4-12 UNF", "1/4-12 UNF"),
    ("none", "M12x1.5"),
    ("K4 fine", "K4 coarse"),
]
OPEN = [("M12", "M12x1.75"), ("M12", "M12x1.5"), ("M12 LH", "M12x1.5 LH"), ("7/16-20", "7/16-20 UNF")]


@pytest.mark.parametrize("same", [same_thread, agree])
def test_a_thread_is_known_again_however_it_is_written(same) -> None:  # type: ignore[no-untyped-def]
    for pairs, expected in ((ONE, True), (TWO, False), (OPEN, None)):
        for a, b in pairs:
            assert (same(a, b), same(b, a)) == (expected, expected), (a, b)


SIZES = st.sampled_from(
    ["M12", "m12", "M 10", "1/2", "7/16", "1 1/4", "1-1/4", "1", "#10", "G1/8", "G 1", "1/8", "x"]
)
MIDDLES = st.sampled_from(
    ["", "x1.5", " × 1,50", "-1.25", "-20", '"-20', "″ - 20", "-27", "-6H", " ", "*1", "-11.5", "''"]
)
ENDS = st.sampled_from(
    ["", " UNF", "unc", "UN-2A", " UNF-2B", "-6g", "-5g6g", " LH", "-LH", " left hand", " RH", "NPT", " npt", "NPTF",
     " BSPP", "A", " B", "-", "-LH-", "LEFT"]
)  # fmt: skip
WRITTEN = st.one_of(
    st.tuples(SIZES, MIDDLES, ENDS).map("".join), st.text(alphabet="M1/2x.-5 GLHUNFA\"'", min_size=1, max_size=9)
)


@given(WRITTEN, WRITTEN)
def test_the_planner_and_its_checker_read_any_two_threads_alike(one: str, other: str) -> None:
    assert same_thread(one, other) is agree(one, other)
    assert same_thread(one, one) is agree(one, one) is True


def test_a_pitch_left_out_is_asked_for_and_never_filled_in() -> None:
    rows = value(book(), "BH-1", "oil_thread", value="M12x1.75")
    with Shop(engine(rows, "oil_thread", value="M12")) as shop:
        for said in (shop.fits(), shop.plan()):
            assert said.verdict is Verdict.UNKNOWN
            assert ("engine", "oil_thread") in {(m.seat, m.feature) for m in said.open}
        assert any("without its pitch" in m.why for m in shop.fits().open)


@pytest.mark.parametrize(
    ("part", "side", "expected"),
    [
        ("M12x1.5-6H", "M12 x 1,50 -6g", Verdict.YES),
        ("1/8-27 NPT", "1/8 NPT", Verdict.YES),
        ("M12x1.5", "1/2-20 UNF", Verdict.NO),
        ("M12x1.5", "M12x1.25", Verdict.NO),
        ("M12x1.5", "M12x1.5 LH", Verdict.NO),
    ],
)
def test_swap_and_plan_say_the_same_of_two_threads(part: str, side: str, expected: Verdict) -> None:
    with Shop(engine(value(book(), "BH-1", "oil_thread", value=part), "oil_thread", value=side)) as shop:
        assert shop.fits().verdict is shop.plan().verdict is expected
