"""No supposed case counts for anything that the checker, which shares no code with the search, refuses."""

from dataclasses import replace

import pytest

from graph.desk import Desk
from graph.model.plan import PlanAnswer
from graph.model.verdict import Proof, Verdict
from graph.settling.witness import witnessed

DAY = "2026-11-20"


@pytest.fixture(scope="module")
def answer(demo_desk: Desk) -> PlanAnswer:
    return demo_desk.plan("HB-017", "larger-wheels", "BR6-C", day=DAY)


def test_a_case_that_the_checker_confirms_goes_through_unchanged(answer: PlanAnswer) -> None:
    assert witnessed(answer) == answer


def test_a_plan_without_its_first_step_settles_nothing(answer: PlanAnswer) -> None:
    (best, *rest) = answer.plans
    said = witnessed(replace(answer, plans=(replace(best, steps=best.steps[1:]), *rest)))
    assert (said.verdict, said.proof, said.plans) == (Verdict.UNKNOWN, Proof.UNDECIDED, ())
    assert said.sentence.startswith("The checker refuses this case")


def test_a_cut_past_its_window_settles_nothing(answer: PlanAnswer) -> None:
    best = answer.plans[0]
    at = next(i for i, s in enumerate(best.steps) if s.target is not None)
    deep = replace(best.steps[at], target=(best.steps[at].target or 0) + 10_000_000)
    said = witnessed(replace(answer, plans=(replace(best, steps=(*best.steps[:at], deep, *best.steps[at + 1 :])),)))
    assert said.verdict is Verdict.UNKNOWN and "steps" in said.sentence


def test_an_answer_without_plans_has_nothing_to_judge(answer: PlanAnswer) -> None:
    none = replace(answer, plans=(), verdict=Verdict.NO, proof=Proof.IMPOSSIBLE)
    assert witnessed(none) == none
