"""What is kept for the next question changes no answer: the witness is the same question with nothing kept."""

import random
from typing import Any

import pytest

from graph.desk import Desk
from graph.index.gather import fits_evidence
from graph.model.bundle import Bundle
from graph.model.fits import FitsQuestion
from graph.model.record import Engine, Part, Unit
from graph.rules.facts import settle
from graph.rules.judge import operand_of
from graph.rules.kept import Kept
from graph.rules.settled import Settled
from graph.rules.spoken import fact_text
from graph.swap import fits

DAYS = ("", "2014-11-19", "2014-11-20", "2026-11-20")


def no_plan(bundle: Bundle) -> Any:
    raise AssertionError(f"nothing is planned without a bundle: {bundle.question}")


@pytest.mark.parametrize("kept", [Kept(40), Kept(40, Kept(25)), Kept(10_000)], ids=["narrow", "two rooms", "wide"])
def test_every_pair_in_any_order_is_answered_as_if_it_were_the_first(demo_desk: Desk, kept: Kept) -> None:
    """In narrow rooms much is thrown away meanwhile."""
    draw = random.Random(71)
    catalogue = demo_desk.catalogue
    asked = [
        FitsQuestion(unit.key, engine, day=draw.choice(DAYS))
        for unit in catalogue.units()
        for engine in ("", *(e.key for e in catalogue.engines()))
    ]
    for unit in catalogue.units():
        seat, _ = draw.choice(unit.parts)
        for part in draw.sample(catalogue.keys("part", most=10_000), 6):
            engine = draw.choice(catalogue.engines()).key
            asked.append(FitsQuestion(unit.key, engine, seat, part, draw.choice(DAYS)))
    draw.shuffle(asked)
    for question in asked:
        evidence = fits_evidence(catalogue, demo_desk.shelf, question, mend=False)
        assert fits(evidence, no_plan, kept) == fits(evidence, no_plan), question


def test_what_two_things_come_to_is_the_same_object_on_another_day(demo_desk: Desk) -> None:
    """So that its bytes are written once."""
    catalogue, kept = demo_desk.catalogue, Kept(1_000, Kept(1_000))
    one, other = (
        fits(fits_evidence(catalogue, demo_desk.shelf, question, mend=False), no_plan, kept)
        for question in (FitsQuestion("unit/Ostrel/OV46-220", "engine/Brackmoor/BR6-D", day=day) for day in DAYS[1:3])
    )
    assert one != other and len(one.joints) > 20 and len(one.match) > 10
    assert [*map(id, one.joints + one.match)] == [*map(id, other.joints + other.match)]


def test_every_fact_is_a_side_of_a_rule_as_if_it_were_made_for_that_rule(demo_desk: Desk) -> None:
    catalogue = demo_desk.catalogue
    features = {feature.name: feature for feature in catalogue.features}
    seen = set()
    things: list[Part | Unit | Engine] = [*catalogue.units(), *catalogue.engines()]
    for thing in (*things, *catalogue.parts(catalogue.keys("part", most=10_000))):
        facts = Settled(thing.key, thing.claims)
        for name in facts.features:
            fact = settle(thing.claims, features[name], subject=thing.key)
            for seat in ("here", "there"):
                assert facts.operand(seat, features[name]) == operand_of(seat, name, thing.key, fact)
            assert facts.text(features[name]) == fact_text(fact)
            seen.add((fact.status, min(len(fact.alternatives), 2)))
    assert {("known", 1), ("heard", 1), ("disputed", 2)} <= seen


def test_what_is_used_stays_and_the_rest_is_thrown_away() -> None:
    kept = Kept(10)
    kept.put("used", "here")
    for n in range(1_000):
        kept.put(n, n)
        assert kept.get("used") == "here"
        assert kept.get(n) == n
    assert kept.get(0) is None
    assert sum(kept.get(n) is not None for n in range(1_000)) <= 20


def test_an_empty_answer_is_an_answer_that_is_kept() -> None:
    kept = Kept(2)
    kept.put("none", ())
    assert kept.get("none") == ()
