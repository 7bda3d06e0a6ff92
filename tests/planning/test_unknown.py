"""The cases of missing facts: every completion lies in one, and what is said of it holds there, by trying everything.

Facts of small random questions are struck out; completions are drawn and tried by tests/support/pump_witness.py.
"""

import random
from collections import Counter
from dataclasses import replace

import pump
import pytest
from depth_random import TooMany, tried
from pump_random import CODES, OF_KIND, amount, random_bundle

from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.depth import Condition, OutcomeCase, UnknownAnswer
from graph.model.record import Core
from graph.model.value import Code
from graph.model.verdict import Verdict
from graph.planning.check.bound import optimum
from graph.planning.unknown import unknown
from graph.planning.unknown_gap import OTHER

ONE = {"length": 1}


def struck(seed: int) -> Bundle:
    """A question of which one feature or two of one part are not known, in no way."""
    bundle = replace(random_bundle(seed, best=1), donors=())
    r = random.Random(f"struck {seed}")
    found = [f for f in bundle.core.found if f.state == "present"]
    for _ in range(r.choice((1, 1, 1, 2))):
        if not found:
            break
        one = r.choice(found)
        kind = next(p.kind for p in bundle.parts if p.key == one.part)
        feature = r.choice([f for f in OF_KIND[kind] if f != "max-bore"])

        def without(claims: tuple[Claim, ...], gone: str = feature) -> tuple[Claim, ...]:
            return tuple(c for c in claims if c.feature != gone)

        parts = tuple(replace(p, claims=without(p.claims)) if p.key == one.part else p for p in bundle.parts)
        seats = tuple(
            replace(f, readings=without(f.readings)) if f.part == one.part else f for f in bundle.core.found
        )
        bundle = replace(bundle, parts=parts, core=replace(bundle.core, found=seats))
    return bundle


Fact = tuple[str, str, str, str, str]


def fact_of(c: Condition) -> Fact:
    return (c.seat, c.feature, c.part, c.source, ",".join(c.positions))


def facts_of(answer: UnknownAnswer) -> dict[Fact, Condition]:
    return {
        (c.seat, c.feature, c.part, c.source, ",".join(c.positions)): c
        for case in answer.cases
        for c in case.conditions
    }


def sizes(answer: UnknownAnswer, fact: Fact) -> list[int]:
    """Sizes at and beside the ends of the cases; beyond the outermost only where that is left open."""
    mine = [c for case in answer.cases for c in case.conditions if fact_of(c) == fact]
    ends = [e for c in mine for e in (c.low, c.high) if e is not None]
    if not ends:
        return [pump.mm(1), pump.mm(20)]
    low = min(ends) - 1 if any(c.low is None for c in mine) else min(ends)
    high = max(ends) + 1 if any(c.high is None for c in mine) else max(ends)
    return [x for e in ends for x in (e - 1, e, e + 1) if max(low, 0) <= x <= high]


def holds(case: OutcomeCase, drawn: dict[Fact, int | str], codes: dict[Fact, set[str]]) -> bool:
    for c in case.conditions:
        fact = fact_of(c)
        value = drawn[fact]
        if isinstance(value, str):
            if value != c.code and not (c.code == OTHER and value not in codes[fact]):
                return False
        elif (c.low is not None and value < c.low) or (c.high is not None and value > c.high):
            return False
    return True


def filled(bundle: Bundle, drawn: dict[Fact, int | str | tuple[int, int]]) -> Bundle:
    """The bundle with the drawn values (or between two) as read, or as a drawing says."""
    for n, ((seat, feature, part, source, places), value) in enumerate(drawn.items()):
        low, high = value if isinstance(value, tuple) else (value, value)
        slack = 0 if isinstance(low, str) or isinstance(high, str) else (high - low) // 2
        worth = Code(low, low) if isinstance(low, str) else amount(low + slack)
        rank = Rank.DRAWING if source in ("new", "engine") else Rank.MEASURED
        made = tuple(
            Claim(f"z{n}{p}", part, feature, worth, "drawn", rank, tolerance=slack, position=p)
            for p in places.split(",")
        )

        def put(claims: tuple[Claim, ...], fresh: tuple[Claim, ...] = made) -> tuple[Claim, ...]:
            gone = {(c.feature, c.position) for c in fresh}
            return (*(c for c in claims if (c.feature, c.position) not in gone), *fresh)

        if source == "engine":
            bundle = replace(bundle, engine=replace(bundle.engine, claims=put(bundle.engine.claims)))
        elif source == "new":
            parts = tuple(replace(p, claims=put(p.claims)) if p.key == part else p for p in bundle.parts)
            bundle = replace(bundle, parts=parts)
        else:
            seats = tuple(replace(f, readings=put(f.readings)) if f.seat == seat else f for f in bundle.core.found)
            bundle = replace(bundle, core=replace(bundle.core, found=seats))
    return bundle


@pytest.mark.slow
def test_law_every_completion_lies_in_a_case_and_what_is_said_of_it_holds() -> None:
    seen = judged()
    assert seen["questions"] >= 8, seen
    assert seen["can"] >= 5, seen
    assert seen["cannot"] >= 5, seen
    assert seen["can"] + seen["cannot"] + seen["large"] >= 2 * seen["open"], seen  # large: settled, not tried


@pytest.mark.slow
def test_law_of_an_answer_that_ends_early_what_is_said_holds_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("graph.planning.unknown_looks.MOST_WORK", 300)
    seen = judged()
    assert seen["skipped"] >= 5, seen
    assert seen["can"] + seen["cannot"] >= 1, seen


def judged() -> Counter[str]:
    """What is said of random questions, each against drawn completions that are tried by brute force."""
    seen: Counter[str] = Counter()
    for seed in range(60):
        bundle = struck(seed)
        answer, _ = unknown(bundle, resolution=ONE)
        facts = facts_of(answer)
        skipped = [case for case in answer.cases if case.sentence.endswith("not worked out")]
        assert not any(case.settled or case.plan is not None for case in skipped)
        assert answer.complete is all(case.settled for case in answer.cases)
        assert not skipped or (answer.holds == () and answer.decide == () and "not worked out" in answer.sentence)
        seen["skipped"] += len(skipped)
        if not facts:
            continue
        seen["questions"] += 1
        codes = {
            fact: {c.code for case in answer.cases for c in case.conditions if c.feature == fact[1] and c.code}
            for fact in facts
        }
        r = random.Random(seed)
        for _ in range(4):
            drawn: dict[Fact, int | str] = {}
            for fact in facts:
                if fact[1] in CODES:
                    drawn[fact] = r.choice(("four", "six", "none", "plug", "odd"))
                else:
                    drawn[fact] = r.choice(sizes(answer, fact))
            mine = [case for case in answer.cases if holds(case, drawn, codes)]
            assert mine, (seed, drawn, [c.sentence for c in answer.cases])
            settled = [case for case in mine if case.settled]
            assert len({case.verdict for case in settled}) < 2, (seed, drawn, [c.sentence for c in settled])
            ruleless = any(not m.feature for m in answer.beyond)
            seen["ruleless" if ruleless else "open"] += not settled
            for case in settled:
                try:
                    seen[borne_out(case, filled(bundle, dict(drawn)), (seed, drawn))] += 1
                except TooMany:
                    seen["large"] += 1
    return seen


def borne_out(case: OutcomeCase, turned: Bundle, at: object) -> str:
    """Fails unless trying everything finds what the case says; which of the two it says."""
    if case.verdict is Verdict.WITH_WORK:
        costs = tried(turned, certain=True, most=60)
        assert costs, (at, case.sentence)
        assert case.plan is not None
        assert case.least is None or case.least - 4 <= costs[0], (at, case.sentence, costs[0])
        assert costs[0] <= case.plan.cost + 4, (at, case.sentence, costs[0])
        return "can"
    assert not tried(turned, certain=False, most=60), (at, case.sentence)
    return "cannot"


@pytest.mark.slow
def test_law_no_fact_that_is_asked_for_is_needless() -> None:
    """With its facts as the first case has them a certain plan exists; with one of them left out there is none.

    By the checker's own search, since trying every size between wide bounds takes too long.
    """
    needed = 0
    for seed in range(60):
        bundle = struck(seed)
        answer, _ = unknown(bundle, resolution=ONE)
        able = [case for case in answer.cases if case.verdict is Verdict.WITH_WORK and case.conditions]
        if not able:
            continue
        between: dict[Fact, int | str | tuple[int, int]] = {
            fact_of(c): c.code or (c.low or 0, 1_000_000_000 if c.high is None else c.high)
            for c in able[0].conditions
        }
        assert optimum(filled(bundle, between), mode="certain").costs, (seed, able[0].sentence)
        for fact in between:
            fewer = {other: value for other, value in between.items() if other != fact}
            assert not optimum(filled(bundle, fewer), mode="certain").costs, (seed, fact, able[0].sentence)
            needed += 1
    assert needed >= 10


def worn(low: float, high: float) -> Core:
    """The pump's core with a shaft whose journal was read only roughly."""
    middle, slack = (low + high) / 2, (high - low) / 2
    rough = (pump.reading(pump.SHAFT.key, "journal", middle, slack),)
    parts = (pump.CASING, pump.IMPELLER, pump.SHAFT, pump.SEAL)
    return replace(pump.CORE, found=pump.found(*parts, readings={"shaft": rough}))


def test_a_rough_reading_has_the_cases_that_a_pencil_finds() -> None:
    """Eye 20.015 to 20.025, clearance 0 to 0.05: the journal fits from 19.975 to 20.015."""
    bundle = pump.pump(core=worn(19.9, 20.1), wishes=("keep:impeller", "keep:shaft"))
    answer, cases = unknown(bundle, resolution=ONE)
    assert answer.answer.verdict is Verdict.UNKNOWN
    by_size = sorted(answer.cases, key=lambda case: case.conditions[0].low or 0)
    assert [(c.conditions[0].low, c.conditions[0].high, c.verdict) for c in by_size] == [
        (pump.mm(19.9), pump.mm(19.965) - 1, Verdict.NO),
        (pump.mm(19.965), pump.mm(19.975) - 1, Verdict.UNKNOWN),
        (pump.mm(19.975), pump.mm(20.015), Verdict.WITH_WORK),
        (pump.mm(20.015) + 1, pump.mm(20.025), Verdict.UNKNOWN),
        (pump.mm(20.025) + 1, pump.mm(20.1), Verdict.NO),
    ]
    assert len(cases) == 5
    assert [[m.feature for m in wanted] for wanted in answer.decide] == [["journal"]]


def test_what_is_known_is_one_case() -> None:
    answer, _ = unknown(pump.pump())
    assert [(c.conditions, c.verdict) for c in answer.cases] == [((), Verdict.WITH_WORK)]
    assert answer.decide == ()
    assert answer.complete


def test_a_question_stopped_after_its_plan_says_what_was_not_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("graph.planning.unknown_looks.MOST_WORK", 1)
    answer, _ = unknown(pump.pump(core=worn(19.9, 20.1), wishes=("keep:impeller", "keep:shaft")), resolution=ONE)
    assert not answer.complete
    assert answer.holds == ()
    assert answer.decide == ()
    assert {c.verdict for c in answer.cases} == {Verdict.UNKNOWN}
    assert "not worked out" in answer.sentence
