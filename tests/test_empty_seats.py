"""A seat that may stay empty does not, where the engine wants what sits in it: planner, checker and swap alike."""

from dataclasses import replace

import pytest

from demo_graph.tours import DAY
from graph.desk import Desk
from graph.model.bundle import Bundle
from graph.model.plan import PlanAnswer
from graph.model.value import Code
from graph.model.verdict import Verdict
from graph.planning.answer import plan
from graph.planning.check import check

SEAT, PLUG = "speed-sensor", "speed_plug"


@pytest.fixture(name="answer", scope="module")
def _answer(demo_desk: Desk) -> PlanAnswer:
    """The engine BR6-E wants the speed signal; the build does not ask for the sensor by itself."""
    return demo_desk.plan("HB-017", "larger-wheels", "BR6-E", day=DAY)


def bundle_of(answer: PlanAnswer) -> Bundle:
    assert answer.bundle is not None
    assert not any(d.seat == SEAT for d in answer.bundle.build.demands)
    return answer.bundle


def sits(answer: PlanAnswer) -> str:
    return next(c.source for c in answer.plans[0].seats if c.seat == SEAT)


def engine_says(bundle: Bundle, *codes: str) -> Bundle:
    """The same question, with other claims on the engine's side of the plug, all of one rank and source apart."""
    claims = bundle.engine.claims
    one = next(c for c in claims if c.feature == PLUG)
    other = [replace(one, value=Code(code, code), source=f"S{n}", id=f"s{n}") for n, code in enumerate(codes)]
    left = tuple(c for c in claims if c.feature != PLUG)
    ranks = {s.name: s for s in bundle.sources}
    sources = [replace(ranks[one.source], name=f"S{n}") for n in range(len(codes))]
    return replace(bundle, engine=replace(bundle.engine, claims=(*left, *other)), sources=(*bundle.sources, *sources))


def test_the_plan_fits_the_sensor_that_the_engine_wants(answer: PlanAnswer) -> None:
    assert sits(answer) != "empty"
    assert answer.verdict is Verdict.WITH_WORK


def test_the_checker_refuses_the_plan_without_it(answer: PlanAnswer) -> None:
    first = answer.plans[0]
    emptied = replace(next(c for c in first.seats if c.seat == SEAT), part="", source="empty", quantity=0, lot="")
    seats = tuple(emptied if c.seat == SEAT else c for c in first.seats)
    without = replace(answer, plans=(replace(first, seats=seats),))
    found = check(without, bundle_of(answer))
    assert any(r.code == "option" and "the engine wants something there" in r.text for r in found)


@pytest.mark.parametrize(
    ("codes", "empty", "verdict"),
    [
        (("none",), True, Verdict.WITH_WORK),
        ((), True, Verdict.WITH_WORK),  # nothing of the kind on record: no rule applies
        (("SS2-A", "none"), False, None),  # disputed: the certain plan has no empty seat
    ],
)
def test_it_stays_empty_where_the_engine_wants_none(
    answer: PlanAnswer, codes: tuple[str, ...], empty: bool, verdict: Verdict | None
) -> None:
    bundle = engine_says(bundle_of(answer), *codes)
    asked = plan(bundle)
    asked = replace(asked, bundle=bundle)
    assert [r for r in check(asked, bundle) if r.code != "optimality-not-confirmed"] == []
    if verdict is not None:
        assert asked.verdict is verdict
    if asked.verdict is not Verdict.UNKNOWN:
        assert (sits(asked) == "empty") is empty


def test_a_unit_without_the_sensor_does_not_fit_as_it_stands(demo_desk: Desk) -> None:
    (answer,) = demo_desk.fits("OV46-140", "BR6-E", day=DAY)
    said = {joint.joint: joint.verdict for joint in answer.joints}
    assert said["speed-plug"] is Verdict.NO
    (other,) = demo_desk.fits("OV46-140", "BR6-C", day=DAY)
    assert "speed-plug" not in {joint.joint for joint in other.joints}
