"""What the checker says of plans by other measures, against the planner's networks, which share no code with it."""

from dataclasses import replace
from itertools import permutations
from math import inf

import pytest
from check_random import random_bundle

from graph.model.bundle import Bundle
from graph.model.depth import MEASURES, Objective
from graph.model.plan import PlanAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import plan
from graph.planning.check import check
from graph.planning.check.ahead import before
from graph.planning.check.case import Case
from graph.planning.objective import best_by

ORDERS = [*((name,) for name in MEASURES), *permutations(("time", "changes", "lasting"), 2), ("lead", "changes")]


def by_measures(bundle: Bundle, order: tuple[str, ...]) -> Bundle:
    return replace(bundle, question=replace(bundle.question, best=1, by=order))


def come(one: Objective, order: tuple[str, ...]) -> tuple[float, ...]:
    of = {"cost": one.cost, "time": one.time, "changes": one.changes, "lasting": one.lasting}
    of["lead"] = inf if one.lead_days is None else one.lead_days  # type: ignore[assignment]
    return tuple(of[name] for name in dict.fromkeys((*order, "cost")))


def answered(bundle: Bundle, one: Objective) -> PlanAnswer:
    """The answer that says of this plan that it is the best by the question's measures."""
    plain = plan(bundle)
    return replace(plain, bundle=bundle, plans=(one.plan,), proof=Proof.BEST, bound=plain.plans[0].cost)


def sure(bundle: Bundle) -> bool:
    """Whether there is a certain plan, and no price missing in the first, so that best may be said."""
    found = plan(bundle)
    return found.verdict in (Verdict.YES, Verdict.WITH_WORK) and not found.plans[0].at_least


def codes(answer: PlanAnswer) -> set[str]:
    assert answer.bundle is not None
    return {r.code for r in check(answer, answer.bundle)}


@pytest.mark.slow
def test_the_best_by_every_order_of_measures_is_what_the_planner_finds() -> None:
    compared = none = 0
    for seed in range(60):
        bundle = random_bundle(seed)
        for order in ORDERS:
            names = tuple(dict.fromkeys((*order, "cost")))
            best: tuple[float, ...] | None = None
            come_to = before(Case(bundle), names, (inf,) * (len(names) + 1))
            while come_to is not None:
                best, come_to = come_to, before(Case(bundle), names, come_to)
            found = best_by(bundle, order)
            assert best == (None if found is None else come(found, order)), (seed, order)
            compared += found is not None
            none += found is None
    assert compared >= 100
    assert none >= 50


@pytest.mark.slow
def test_the_best_plan_is_confirmed_and_every_other_refused() -> None:
    """The cheapest plan in place of the best by measures; and the order altered, in question and evidence alike."""
    confirmed = cheapest = reordered = 0
    for seed in range(70):
        plain = random_bundle(seed)
        if not sure(replace(plain, question=replace(plain.question, best=1))):
            continue
        for order in (("changes",), ("time",), ("lasting", "time")):
            bundle = by_measures(plain, order)
            one, first = best_by(bundle, order), best_by(bundle, ("cost",))
            assert one is not None
            assert first is not None
            if one.plan.at_least:
                continue
            assert codes(answered(bundle, one)) == set(), (seed, order)
            confirmed += 1
            if come(first, order) != come(one, order) and not first.plan.at_least:
                assert codes(answered(bundle, first)) == {"optimality"}, (seed, order)
                cheapest += 1
            for other in (("cost",), ("changes", "time"), ("lead", "lasting")):
                better = best_by(bundle, other)
                assert better is not None
                altered = answered(by_measures(plain, other), one)
                worse = come(better, other) != come(one, other)
                assert codes(altered) == ({"optimality"} if worse else set()), (seed, order, other)
                reordered += worse
    assert confirmed >= 20
    assert cheapest >= 2
    assert reordered >= 5


def an_answer() -> PlanAnswer:
    for seed in range(60):
        bundle = by_measures(random_bundle(seed), ("changes",))
        one = best_by(bundle, ("changes",))
        if one is not None and not one.plan.at_least and sure(bundle) and one.plan.steps:
            return answered(bundle, one)
    raise AssertionError("no such bundle")


def test_an_answer_by_measures_is_refused_where_it_says_what_may_not_be_said() -> None:
    right = an_answer()
    assert right.bundle is not None
    assert codes(right) == set()
    asked = replace(right.question, by=("time",))
    assert codes(replace(right, question=asked)) == {"question"}
    for by, code in (((), "proof"), (("changes", "changes"), "measures"), (("weight",), "measures")):
        bundle = by_measures(right.bundle, by)
        assert codes(replace(right, question=bundle.question, bundle=bundle)) == {code}, by
    first = right.plans[0]
    assert codes(replace(right, proof=Proof.CHEAPEST, bound=first.cost)) == {"proof"}
    assert "plans" in codes(replace(right, plans=(first, first)))
    for name, value in (
        ("time", first.time - 1),
        ("cost", first.cost - 1),
        ("lead_days", (first.lead_days or 0) + 1),
    ):
        assert "total" in codes(replace(right, plans=(replace(first, **{name: value}),))), name
    assert "step" in codes(
        replace(
            right, plans=(replace(first, steps=tuple(replace(s, reversible=not s.reversible) for s in first.steps)),)
        )
    )


def test_a_better_plan_that_was_not_looked_for_long_enough_is_no_refusal() -> None:
    right = an_answer()
    assert right.bundle is not None
    assert {r.code for r in check(right, right.bundle, stop=lambda: True)} == {"optimality-not-confirmed"}
