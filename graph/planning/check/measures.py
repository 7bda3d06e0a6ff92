"""What plans come to by money, time, changes, lasting work and lead time (docs/semantics.md, section 12)."""

from collections.abc import Callable, Iterator, Sequence

from graph.model.depth import MEASURES
from graph.model.plan import PlanAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.check.ahead import before, measured
from graph.planning.check.bound import Stopped
from graph.planning.check.case import Case
from graph.planning.check.choices import Option
from graph.planning.check.refusal import UNCONFIRMED, Refusal
from graph.planning.check.work import Work


def order_of(by: Sequence[str]) -> tuple[str, ...]:
    """The measures with money last of all, each once."""
    return tuple(dict.fromkeys((*by, "cost")))


def misordered(answer: PlanAnswer) -> Iterator[Refusal]:
    """What an answer may not say, or must, of a question that orders plans by measures, or of one that does not."""
    by, proof, plans = answer.question.by, answer.proof, answer.plans
    if len(set(by)) != len(by) or not set(by) <= set(MEASURES):
        yield Refusal("measures", "question.by", "it names something twice, or something that is no measure")
    if by and len(plans) > 1:
        yield Refusal("plans", "plans", "a question by measures has one plan")
    certain = answer.verdict in (Verdict.YES, Verdict.WITH_WORK)
    if proof is Proof.BEST and not (by and plans and certain and not plans[0].at_least):
        yield Refusal("proof", "proof", "best is said only of a certain plan with all its prices, by stated measures")
    if proof is Proof.CHEAPEST and by and certain:
        yield Refusal("proof", "proof", "it is called cheapest, and the question asks for the best by other measures")


def outdone(case: Case, answer: PlanAnswer, stop: Callable[[], bool] | None) -> Iterator[Refusal]:
    """A certain plan that comes before the stated one in the question's order of measures."""
    plan, order = answer.plans[0], order_of(answer.question.by)
    work = Work(case, "certain", {c.seat: (Option.of(c), c.operations) for c in plan.seats})
    come = measured(work, plan)
    stated = tuple(come[name] for name in order)
    try:
        found = before(case, order, stated, stop)
    except Stopped:
        yield Refusal(UNCONFIRMED, "proof", "the checker was stopped before it had tried every better plan")
        return
    if found is not None:
        yield Refusal("optimality", "proof", f"by {', '.join(order)} a plan comes to {found}, {stated} is stated")
