"""Clocking: angles on a circle. Common practice, no source; the zero and the view are the shop's own."""

import pytest
from asked_shop import Book, Shop, added, book, changed
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from graph.desk import Desk
from graph.desk.yard import Yard
from graph.model.fact import Alternative, Fact
from graph.model.record import Rule
from graph.model.verdict import Verdict
from graph.rules.decide import TURN, decide

DEGREE = TURN // 360
RULE = Rule("turned", "drain", "same", ("bearing_housing", "drain"), (("engine", "drain"),), max=10 * DEGREE)


def clocked(part: str, side: str, slack: str = "") -> Book:
    rows = added(book(), "features", feature="drain", label="drain angle", type="angle", unit="°")
    rows = added(rows, "joints", layout="wg", joint="turned", seats="bearing_housing|engine", label="clocking")
    rows = added(
        rows, "rules", layout="wg", joint="turned", rule="drain", type="same", left="bearing_housing.drain",
        right="engine.drain", max="10", unit="°",
    )  # fmt: skip
    rows = added(
        rows,
        "values",
        maker="Ostrel",
        number="BH-1",
        feature="drain",
        value=part,
        unit="°",
        tolerance=slack,
        source="dwg",
    )
    return added(
        rows, "engine_values", maker="Brackmoor", engine="E1", feature="drain", value=side, unit="°", source="dwg"
    )


@pytest.mark.parametrize(
    ("part", "side", "expected"),
    [
        ("358", "2", Verdict.YES),
        ("2", "358", Verdict.YES),
        ("-5", "355", Verdict.YES),
        ("179", "-179", Verdict.YES),
        ("180", "180", Verdict.YES),
        ("349", "2", Verdict.NO),
        ("180", "0", Verdict.NO),
        ("0", "35", Verdict.NO),
        ("-170", "170", Verdict.NO),
    ],
)
def test_angles_are_compared_around_the_circle_by_swap_and_plan(part: str, side: str, expected: Verdict) -> None:
    with Shop(clocked(part, side)) as shop:
        said = shop.fits()
        assert said.as_it_stands is expected, said.sentence
        assert shop.plan().verdict is expected
        (rule,) = next(j for j in said.joints if j.joint == "turned").rules
        assert "356" not in rule.reason and "360" not in rule.reason


def test_a_slack_across_the_limit_is_not_known() -> None:
    with Shop(clocked("350", "2", "3")) as shop:
        assert shop.fits().verdict is shop.plan().verdict is Verdict.UNKNOWN


def known(*ends: tuple[int, int]) -> Fact:
    spans = tuple(Alternative(low * DEGREE // 10, high * DEGREE // 10, (), "", (str(low),), "") for low, high in ends)
    return Fact("x", "drain", "known" if len(ends) == 1 else "disputed", "angle", spans)


TENTHS = st.tuples(st.integers(-7200, 7200), st.integers(0, 150)).map(lambda p: (p[0], p[0] + p[1]))


@given(st.lists(TENTHS, min_size=1, max_size=2), TENTHS, st.integers(-2, 2))
@settings(max_examples=300, phases=[Phase.generate])
def test_a_whole_turn_more_says_nothing_new(ends: list[tuple[int, int]], side: tuple[int, int], turns: int) -> None:
    turned = [(a + 3600 * turns, b + 3600 * turns) for a, b in ends]
    assert decide(RULE, [known(*turned), known(side)])[0] is decide(RULE, [known(*ends), known(side)])[0]
    # In tenths of a degree, each and every one of both spans tried: the shorter way round is at most 10°.
    near = {
        min((a - b) % 3600, (b - a) % 3600) <= 100
        for low, high in ends for a in (low, high, *range(low, high, 7)) for b in (*side, *range(*side, 7))
    }  # fmt: skip
    said = decide(RULE, [known(*ends), known(side)])[0]
    assert said is not Verdict.YES or near == {True}
    assert said is not Verdict.NO or near == {False}


def turned(first: str, second: str) -> Book:
    """Two bearing housings that differ in what is written of their drain; one is asserted for the other."""
    rows = added(clocked(first, first), "parts", maker="Ostrel", number="BH-2", kind="bearing_housing")
    for feature, text, unit, slack in (
        ("bearing_bore", "16.100", "mm", "0.005"),
        ("oil_thread", "M12x1.5", "", ""),
        ("drain", second, "°", ""),
    ):
        rows = added(
            rows, "values", maker="Ostrel", number="BH-2", feature=feature, value=text, unit=unit, tolerance=slack,
            source="dwg",
        )  # fmt: skip
    rows = changed(rows, "features", {"feature": "drain"}, duty="yes", better="same")
    return added(rows, "interchange", maker="Ostrel", number="BH-1", other_maker="Ostrel", other_number="BH-2")


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        ("-90", "270", True),
        ("0", "360", True),
        ("180", "-180", True),
        ("358", "-2", True),
        ("358", "2", False),  # suits an engine at 349, which the other does not
        ("90", "-90", False),
    ],
)
def test_an_angle_written_the_other_way_round_is_no_other_part(first: str, second: str, same: bool) -> None:
    with Shop(turned(first, second)) as shop:
        desk = Desk.over(shop.store)
        found = Yard(desk).interchange("BH-1")
        report = Yard(desk).interchange_report()
        line = next(
            line
            for line in desk.fits("U-1", "E1", seat="bearing_housing", part="BH-2")[0].match
            if line.feature == "drain"
        )
    assert (
        [one.how for one in found.asserted]
        == [one.how for one in report.asserted]
        == ["agrees" if same else "refuted"]
    )
    assert [one.other for one in found.instead] == (["part/Ostrel/BH-2"] if same else [])
    backwards = {(one.part, one.other) for one in report.unasserted}
    assert (("part/Ostrel/BH-2", "part/Ostrel/BH-1") in backwards) is same
    assert (line.compared == "same") is same
