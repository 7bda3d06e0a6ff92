"""Plans weighed by other measures than money, judged: each plan, and that none is missing which no other beats."""

from collections.abc import Callable, Iterator
from itertools import pairwise

from graph.model.bundle import Bundle
from graph.model.depth import MEASURES, Objective, Objectives
from graph.planning.check.ahead import before, measured, unbeaten
from graph.planning.check.answer import about
from graph.planning.check.bound import Stopped, optimum_of
from graph.planning.check.case import Case
from graph.planning.check.choices import Option
from graph.planning.check.compare import compared
from graph.planning.check.measures import order_of
from graph.planning.check.refusal import UNCONFIRMED, Refusal
from graph.planning.check.shared import Shared
from graph.planning.check.work import Work

Stop = Callable[[], bool] | None


def check_weighed(
    answer: Objectives, bundle: Bundle, stop: Stop = None, shared: Shared | None = None
) -> list[Refusal]:
    """Everything in the answer that the evidence does not bear out; an empty list confirms it.

    What was not worked out (`complete` is false) is not claimed, and not judged: then only that nothing beats the
    cheapest and the quickest is.
    """
    case = (shared or Shared()).case(bundle)
    found = [*about(answer, bundle), *_asked(answer)]
    for index, one in enumerate(answer.plans):
        refusals = compared(case, one.plan, "certain", f"plans[{index}].plan")
        found += refusals or _sums(case, one, f"plans[{index}]")
    found += _in_order(answer)
    if not found:
        found += _missing(case, answer, stop)
    return found


def _asked(answer: Objectives) -> Iterator[Refusal]:
    by = answer.question.by
    if len(set(by)) != len(by) or not set(by) <= set(MEASURES):
        yield Refusal("measures", "question.by", "it names something twice, or something that is no measure")
    if by and len(answer.plans) > 1:
        yield Refusal("plans", "plans", "a question by measures has one plan")


def _sums(case: Case, one: Objective, where: str) -> list[Refusal]:
    """What the plan comes to by each measure, as stated and as it is."""
    work = Work(case, "certain", {c.seat: (Option.of(c), c.operations) for c in one.plan.seats})
    right = measured(work, one.plan)
    stated = {"cost": one.cost, "time": one.time, "changes": one.changes, "lasting": one.lasting}
    found = [
        Refusal("total", f"{where}.{name}", f"{name} is {right[name]}, {value} is stated")
        for name, value in stated.items()
        if right[name] != value
    ]
    if one.lead_days != one.plan.lead_days:
        found.append(Refusal("total", f"{where}.lead_days", f"it is {one.plan.lead_days}, {one.lead_days} is stated"))
    return found


def _in_order(answer: Objectives) -> Iterator[Refusal]:
    """Cheapest first, each quicker than the one before: then none of them beats another."""
    for index, (one, other) in enumerate(pairwise(answer.plans)):
        if not (one.cost < other.cost and one.time > other.time):
            yield Refusal("plans", f"plans[{index + 1}]", "it is not dearer and quicker than the one before")


def _missing(case: Case, answer: Objectives, stop: Stop) -> Iterator[Refusal]:
    """A certain plan that the answer claims there is not."""
    plans, by = answer.plans, answer.question.by
    if not plans:
        right = optimum_of(case, mode="certain", stop=stop)
        if right.costs:
            yield Refusal("optimality", "plans", f"none is shown, and a certain plan exists, for {right.costs[0]}")
        elif right.stopped:
            yield _stopped("plan")
        return
    try:
        if by:
            if answer.complete:
                yield from _first(case, plans[0], order_of(by), stop)
        elif answer.complete:
            pair = unbeaten(case, [(p.cost, p.time) for p in plans], stop)
            if pair is not None:
                text = f"no plan that is shown costs {pair[0]} and takes {pair[1]} ms at most, and one exists"
                yield Refusal("optimality", "plans", text)
        else:
            yield from _first(case, plans[0], ("cost", "time"), stop)
            yield from _first(case, plans[-1], ("time", "cost"), stop)
    except Stopped:
        yield _stopped("better plan")


def _first(case: Case, one: Objective, order: tuple[str, ...], stop: Stop) -> Iterator[Refusal]:
    work = Work(case, "certain", {c.seat: (Option.of(c), c.operations) for c in one.plan.seats})
    come = measured(work, one.plan)
    stated = tuple(come[name] for name in order)
    better = before(case, order, stated, stop)
    if better is not None:
        text = f"by {', '.join(order)} a plan comes to {better}, {stated} is stated"
        yield Refusal("optimality", "plans", text)


def _stopped(what: str) -> Refusal:
    return Refusal(UNCONFIRMED, "plans", f"the checker was stopped before it had tried every {what}")
