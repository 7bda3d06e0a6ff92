"""A seat that may stay empty does not, where the engine wants what sits in it: planner, checker and swap alike."""

from dataclasses import replace

import pytest

from demo_graph.tours import DAY
from graph.desk import Desk
from graph.index.gather import fits_evidence
from graph.model.bundle import Bundle
from graph.model.fits import FitsQuestion
from graph.model.plan import PlanAnswer
from graph.model.value import Code
from graph.model.verdict import Verdict
from graph.planning.answer import plan
from graph.planning.check import check
from graph.planning.unknown import unknown
from graph.swap.answer import fits


def never(_: Bundle) -> PlanAnswer:
    raise AssertionError("nothing is asked to be mended")


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
        ((), True, Verdict.UNKNOWN),  # nothing on record: nobody knows whether the engine wants it
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
    else:
        assert ("engine", PLUG) in {(m.seat, m.feature) for m in asked.open}


def test_the_checker_refuses_an_empty_seat_whose_open_fact_is_not_named(answer: PlanAnswer) -> None:
    bundle = engine_says(bundle_of(answer))
    asked = replace(plan(bundle), bundle=bundle)
    other = replace(asked.open[0], feature="downpipe_angle")
    assert any(r.code == "open" and PLUG in r.where for r in check(replace(asked, open=(other,)), bundle))


def test_a_silent_engine_is_looked_at_and_each_plug_has_its_case(answer: PlanAnswer) -> None:
    said, _ = unknown(engine_says(bundle_of(answer)))
    assert [[m.feature for m in looks] for looks in said.decide] == [[PLUG]]
    found = {c.conditions[0].code: c for c in said.cases}
    assert [found[code].verdict for code in ("none", "ss2-a", "*")] == [
        Verdict.WITH_WORK,
        Verdict.WITH_WORK,
        Verdict.NO,
    ]
    sits_at = {
        code: next(c.source for c in case.plan.seats if c.seat == SEAT) for code, case in found.items() if case.plan
    }
    assert sits_at["none"] == "empty" and sits_at["ss2-a"] != "empty"


def test_a_swap_onto_a_silent_engine_is_not_known(demo_desk: Desk) -> None:
    (said,) = demo_desk.fits("OV46-140", "BR6-C", day=DAY)
    unit, engine = said.question.unit, said.question.engine
    evidence = fits_evidence(demo_desk.catalogue, demo_desk.shelf, FitsQuestion(unit, engine, day=DAY), mend=False)
    assert evidence.engine is not None
    claims = tuple(c for c in evidence.engine.claims if c.feature != PLUG)
    silent = replace(evidence, engine=replace(evidence.engine, claims=claims))
    plug = next(joint for joint in fits(silent, never).joints if joint.joint == "speed-plug")
    assert plug.verdict is Verdict.UNKNOWN
    assert [(m.seat, m.feature) for rule in plug.rules for m in rule.missing] == [("engine", PLUG)]


def test_a_unit_without_the_sensor_does_not_fit_as_it_stands(demo_desk: Desk) -> None:
    (answer,) = demo_desk.fits("OV46-140", "BR6-E", day=DAY)
    said = {joint.joint: joint.verdict for joint in answer.joints}
    assert said["speed-plug"] is Verdict.NO
    (other,) = demo_desk.fits("OV46-140", "BR6-C", day=DAY)
    assert "speed-plug" not in {joint.joint for joint in other.joints}
