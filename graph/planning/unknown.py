"""What follows from facts that are not known: the plan in each case, what holds in all, and what settles it.

A case that cannot be settled is said to be open, with the cost below which no plan in it lies; where the work ends
before all is covered, that is said.
"""

from collections.abc import Callable
from dataclasses import replace

from graph.errors import Unanswerable
from graph.model.bundle import Bundle
from graph.model.depth import OutcomeCase, UnknownAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import never, plan
from graph.planning.explain import money_text
from graph.planning.unknown_cases import cases_of
from graph.planning.unknown_gap import Given
from graph.planning.unknown_looks import Looks, Spent
from graph.planning.unknown_said import condition, holds, outcome, sentence

RESOLUTION = {"length": 100_000}
"""Sizes closer than this (0.01 mm) are not told apart; other quantities down to one quantum."""

NOT_WORKED_OUT = "not worked out"


def unknown(
    bundle: Bundle,
    *,
    stop: Callable[[], bool] = never,
    resolution: dict[str, int] | None = None,
) -> tuple[UnknownAnswer, tuple[Bundle, ...]]:
    """The cases of a question that hangs on missing facts, and for each the bundle as if they had turned out so.

    A question that hangs on nothing is one case. Once stopped, what is not worked out is said to be so.
    `resolution`: quanta that are told apart, by quantity.

    Raises
    ------
    Unanswerable
        Stopped before even the plan was settled.
    """
    bundle = replace(bundle, question=replace(bundle.question, best=1))
    looks = Looks(bundle, stop)
    answer = replace(plan(bundle, stop=stop, kept=looks.problem(()).kept), bundle=None)
    if answer.proof is Proof.UNDECIDED:
        raise Unanswerable("the question was not settled before the limit was reached", fix="give it more time")
    found = cases_of(looks, RESOLUTION if resolution is None else resolution)
    cases = [_case(looks, given, Verdict.WITH_WORK) for given in found.able]
    cases += [_case(looks, given, Verdict.NO) for given in found.never]
    cases += [_case(looks, given, Verdict.UNKNOWN) for given in found.open]
    leaves = [*found.able, *found.never, *found.open]
    if found.ended:
        cases.append(OutcomeCase((), Verdict.UNKNOWN, False, None, None, f"the rest: {NOT_WORKED_OUT}"))
        leaves.append(())
    ended = any(c.sentence.endswith(NOT_WORKED_OUT) for c in cases)
    decide = () if ended else tuple(found.decide)
    said = sentence(answer, cases, decide, ended=ended)
    common = () if ended else tuple(holds(looks.problem(()), cases))
    answered = UnknownAnswer(
        bundle.question,
        bundle.snapshot,
        answer,
        common,
        tuple(cases),
        decide,
        found.beyond,
        all(c.settled for c in cases),
        said,
    )
    return answered, tuple(looks.given(given) for given in leaves)


def _case(looks: Looks, given: Given, verdict: Verdict) -> OutcomeCase:
    conditions = tuple(condition(looks.problem(()), gap, taken) for gap, taken in given)
    if verdict is Verdict.NO:
        return OutcomeCase(conditions, verdict, True, None, None, outcome(verdict, conditions, ""))
    try:
        maybe = looks.cheapest(given)
        shown = looks.sure(given) if verdict is Verdict.WITH_WORK else maybe
    except Spent:
        said = f"{' and '.join(c.text for c in conditions) or 'the rest'}: {NOT_WORKED_OUT}"
        return OutcomeCase(conditions, Verdict.UNKNOWN, False, None, None, said)
    least = maybe.plan.cost if maybe is not None else None
    if shown is None:  # possible at some of its values, and not in one way at all of them
        return OutcomeCase(conditions, verdict, False, None, None, outcome(verdict, conditions, ""))
    one = shown.plan
    price = f"{'at least ' if one.at_least else ''}{money_text(one.cost, one.currency)}"
    if least is not None and least < one.cost and not one.at_least:
        price += " at most"
    said = outcome(verdict, conditions, price)
    return OutcomeCase(conditions, verdict, verdict is Verdict.WITH_WORK, one, least, said)
