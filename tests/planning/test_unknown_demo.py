"""What is said of the demo's missing facts, each case held against the checker's own search, which shares no code.

Completions are drawn inside the cases; the checker plans each as if it had been read so.
"""

import random
from dataclasses import replace

import pytest

from graph.desk import Desk
from graph.desk.depth import question
from graph.index.gather import plan_bundle
from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.depth import Condition, UnknownAnswer
from graph.model.value import Amount
from graph.model.verdict import Verdict
from graph.planning.check.bound import optimum
from graph.planning.unknown import unknown

DAY = "2026-09-01"
MILLIMETRE = 10_000_000
"""Quanta of 100 pm in a millimetre (docs/semantics.md)."""


def asked(desk: Desk, core: str, build: str) -> tuple[Bundle, UnknownAnswer]:
    bundle = plan_bundle(desk.catalogue, desk.shelf, question(desk, core, build, day=DAY))
    return bundle, unknown(bundle)[0]


def read(bundle: Bundle, condition: Condition, size: int) -> Bundle:
    """The bundle with a size read on the core's own part."""
    claims = tuple(
        Claim(f"drawn:{condition.feature}:{p}", condition.part, condition.feature, Amount(size, "length"), "drawn",
              Rank.MEASURED, tolerance=0, position=p)
        for p in condition.positions
    )  # fmt: skip

    def put(before: tuple[Claim, ...]) -> tuple[Claim, ...]:
        mine = (condition.feature, condition.positions)
        return (*(c for c in before if not (c.feature == mine[0] and c.position in mine[1])), *claims)

    found = tuple(replace(f, readings=put(f.readings)) if f.seat == condition.seat else f for f in bundle.core.found)
    return replace(bundle, core=replace(bundle.core, found=found))


def inside(condition: Condition, r: random.Random) -> int:
    low = 0 if condition.low is None else condition.low
    high = low + 5 * MILLIMETRE if condition.high is None else condition.high
    return r.choice((low, high, r.randint(low, high)))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("core", "build"), [("HB-010", "own-rotor-140"), ("HB-023", "own-castings-angled"), ("HB-012", "own-rotor-140")]
)
def test_what_is_said_of_each_case_is_so_of_completions_drawn_in_it(demo_desk: Desk, core: str, build: str) -> None:
    bundle, answer = asked(demo_desk, core, build)
    r = random.Random(f"{core} {build}")
    tried = 0
    for case in answer.cases:
        if not case.settled or any(c.source != "kept" or c.code for c in case.conditions):
            continue
        turned = bundle
        for condition in case.conditions:
            turned = read(turned, condition, inside(condition, r))
        mode = "certain" if case.verdict is Verdict.WITH_WORK else "possible"
        costs = optimum(turned, mode=mode).costs
        if case.verdict is Verdict.NO:
            assert not costs, case.sentence
        else:
            assert costs, case.sentence
            assert case.plan is not None
            assert costs[0] <= case.plan.cost + 4, case.sentence  # cuts start elsewhere, each rounded to a cent
        tried += 1
    assert tried >= 2


def test_two_looks_decide_where_five_facts_are_missing(demo_desk: Desk) -> None:
    """The rotor must stay as it is, so its journals and its groove decide; bores and collars can be replaced."""
    _, answer = asked(demo_desk, "HB-010", "own-rotor-140")
    assert len(answer.answer.open) == 5
    assert [[(m.seat, m.feature) for m in wanted] for wanted in answer.decide] == [
        [("shaft-wheel", "journal"), ("shaft-wheel", "ring_groove")]
    ]
    decided = {(c.seat, c.feature) for case in answer.cases if case.verdict is Verdict.NO for c in case.conditions}
    assert decided == {("shaft-wheel", "journal"), ("shaft-wheel", "ring_groove")}


def test_a_wall_is_too_thin_only_where_no_cut_of_any_wheel_leaves_enough(demo_desk: Desk) -> None:
    """A wall of 6.34 mm was said to rule the build out, since a stretch was judged by its thinnest end alone."""
    bundle, answer = asked(demo_desk, "HB-023", "own-castings-angled")
    thin = next(c for case in answer.cases if case.verdict is Verdict.NO for c in case.conditions)
    assert thin.high is not None
    assert optimum(read(bundle, thin, 63_400_000), mode="possible").costs
    assert thin.high < 63_400_000
    assert not optimum(read(bundle, thin, thin.high), mode="possible").costs


def test_bounds_are_said_as_a_person_would(demo_desk: Desk) -> None:
    _, answer = asked(demo_desk, "HB-010", "own-rotor-140")
    assert answer.sentence.startswith("Look at this first: micrometer on both journals")
    assert "more than 16.005 mm" in answer.sentence
    assert "0001 mm" not in answer.sentence + "".join(case.sentence for case in answer.cases)
    assert not any("part/" in text for text in answer.holds)
