"""Plans weighed by money and time, judged by the checker: what is left out, added or altered is refused."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from alone import judged_alone
from pareto_witness import TimedWitness, loosened, torn

from graph.model.bundle import Bundle
from graph.model.depth import Objectives
from graph.planning.check.ahead import unbeaten
from graph.planning.check.case import Case
from graph.planning.check.weighed import check_weighed
from graph.planning.objective import best_by, pareto
from graph.planning.saved import any_answer_of, saved

Held = Callable[..., None]


MOST_TRIED = 500
"""Choices that the witness tries; larger questions are left out."""


def traded(seed: int) -> Bundle:
    """A small question in which money can be traded for time."""
    return loosened(torn(seed), seed)


def weighed(bundle: Bundle) -> Objectives:
    """The planner's answer."""
    found, complete = pareto(bundle)
    return Objectives(bundle.question, bundle.snapshot, tuple(found), complete, bundle)


def codes(answer: Objectives) -> set[str]:
    assert answer.bundle is not None
    return {r.code for r in check_weighed(answer, answer.bundle)}


def one_with(points: int) -> Objectives:
    """The first random question with at least so many points."""
    for seed in range(400):
        answer = weighed(traded(seed))
        if len(answer.plans) >= points:
            return answer
    raise AssertionError("no such question")


@pytest.mark.slow
def test_the_set_is_the_one_that_trying_every_choice_gives(held: Held) -> None:
    """The witness: tests/support/pump_witness.py, which tries every option, operation and whole size."""
    sizes = []
    for seed in range(450):
        bundle = traded(seed)
        witness = TimedWitness(bundle)
        if witness.combinations(certain=True) > MOST_TRIED:
            continue
        pairs = sorted({(money, time) for money, time, _ in witness.pairs()})
        front = [p for p in pairs if not any(q[0] <= p[0] and q[1] <= p[1] and q != p for q in pairs)]
        assert unbeaten(Case(bundle), front) is None, seed
        for gone in range(len(front)):
            rest = front[:gone] + front[gone + 1 :]
            shown = unbeaten(Case(bundle), rest)
            assert shown in pairs, (seed, gone)
            assert not any(q[0] <= shown[0] and q[1] <= shown[1] for q in rest)
        sizes += [len(front)] if front else []
    assert len(sizes) >= 60
    assert sum(size > 1 for size in sizes) >= 20
    held("Pareto set by the checker", "brute force of whole questions", len(sizes))


@pytest.mark.slow
def test_the_planner_s_set_is_confirmed_and_a_set_with_a_plan_left_out_is_not() -> None:
    confirmed = left_out = none = 0
    for seed in range(200):
        answer = weighed(traded(seed))
        assert codes(answer) == set(), seed
        confirmed += bool(answer.plans)
        none += not answer.plans
        for gone in range(len(answer.plans)):
            rest = replace(answer, plans=answer.plans[:gone] + answer.plans[gone + 1 :])
            assert codes(rest) == {"optimality"}, (seed, gone)
            left_out += 1
    assert confirmed >= 40
    assert none >= 20
    assert left_out >= 60


def test_what_is_altered_is_refused() -> None:
    right = one_with(3)
    assert codes(right) == set()
    first, second, *rest = right.plans
    for name, value in (("cost", first.cost - 1), ("time", first.time + 1), ("changes", 99), ("lasting", 99)):
        wrong = replace(first, **{name: value})
        assert "total" in codes(replace(right, plans=(wrong, second, *rest))), name
    assert "total" in codes(replace(right, plans=(replace(first, lead_days=77), second, *rest)))
    assert "plans" in codes(replace(right, plans=(second, first, *rest)))
    assert "plans" in codes(replace(right, plans=(first, first, second, *rest)))
    cheaper = replace(first, cost=first.cost - 1, plan=replace(first.plan, cost=first.cost - 1))
    assert "total" in codes(replace(right, plans=(cheaper, second, *rest)))
    asked = replace(right.question, wishes=("no-new",))
    assert "question" in codes(replace(right, question=asked))
    assert "plans" in codes(replace(right, question=replace(right.question, by=("time",))))


def test_ends_alone_are_judged_as_ends_and_nothing_is_claimed_between() -> None:
    right = one_with(3)
    ends = replace(right, plans=(right.plans[0], right.plans[-1]), complete=False)
    assert codes(ends) == set()
    assert codes(replace(ends, plans=right.plans[:2])) == {"optimality"}
    assert codes(replace(ends, plans=right.plans[1:])) == {"optimality"}


def test_the_best_by_an_order_is_judged_by_it() -> None:
    right = one_with(3)
    assert right.bundle is not None
    bundle = replace(right.bundle, question=replace(right.question, by=("time",)))
    quickest = best_by(bundle, ("time",))
    assert quickest is not None
    answer = Objectives(bundle.question, bundle.snapshot, (quickest,), True, bundle)
    assert codes(answer) == set()
    assert codes(replace(answer, plans=(right.plans[0],))) == {"optimality"}
    assert codes(replace(answer, plans=())) == {"optimality"}


def test_a_check_that_was_stopped_says_so() -> None:
    right = one_with(2)
    assert right.bundle is not None
    assert {r.code for r in check_weighed(right, right.bundle, lambda: True)} == {"optimality-not-confirmed"}


def test_a_saved_set_comes_back_as_it_was_and_is_judged_alone() -> None:
    right = one_with(2)
    data = saved(right)
    assert any_answer_of(data) == right
    assert judged_alone(data) == []
    assert {r.code for r in judged_alone(saved(replace(right, plans=right.plans[1:])))} == {"optimality"}
    assert {r.code for r in judged_alone(data.replace(b'"weigh"', b'"why"'))} == {"bad-file"}


def test_no_point_shown_means_that_any_plan_is_found() -> None:
    right = one_with(1)
    assert right.bundle is not None
    assert unbeaten(Case(right.bundle), []) is not None
    assert unbeaten(Case(right.bundle), [(-1, -1)]) is None
