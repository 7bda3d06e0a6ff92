"""What is kept for the next question changes no answer: the witness is the same question with nothing kept."""

import random
from typing import Any

from graph.desk import Desk
from graph.index.gather import fits_evidence
from graph.model.bundle import Bundle
from graph.model.fits import FitsQuestion
from graph.rules.kept import Kept
from graph.swap import fits

DAYS = ("", "2014-11-19", "2014-11-20", "2026-11-20")


def no_plan(bundle: Bundle) -> Any:
    raise AssertionError(f"nothing is planned without a bundle: {bundle.question}")


def test_every_pair_in_any_order_is_answered_as_if_it_were_the_first(demo_desk: Desk) -> None:
    draw = random.Random(71)
    catalogue, kept = demo_desk.catalogue, Kept(40)  # so little room that much is thrown away meanwhile
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
