"""The plan that is best by other measures than money, as a plan answer that can be kept, picked and judged."""

from collections.abc import Sequence
from dataclasses import replace

from graph.desk import depth
from graph.desk.desk import CHECK_SECONDS, PLAN_SECONDS, Desk, within
from graph.errors import BadQuestion
from graph.index.gather import plan_bundle
from graph.model.bundle import Bundle
from graph.model.depth import Objective
from graph.model.plan import PlanAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import plan, verdict_of
from graph.planning.check import check
from graph.planning.explain import money_text
from graph.planning.objective import best_by
from graph.planning.problem import Problem

SAID = {
    "cost": "money",
    "time": "bench time",
    "changes": "seats changed",
    "lasting": "work that cannot be undone",
    "lead": "the wait for parts",
}
"""The measures in words."""


def planned(
    desk: Desk,
    core: str,
    build: str,
    engine: str = "",
    *,
    by: Sequence[str] = (),
    best: int = 1,
    wishes: Sequence[str] = (),
    day: str = "",
    seconds: float = PLAN_SECONDS,
) -> PlanAnswer:
    """The cheapest plans; with `by` the one best by the first measure, of equal ones by the second, and so on.

    The measures stand in the question. Where no plan is certain the answer is that of the plain question.

    Raises
    ------
    AnswerRefused
        The checker does not bear it out; it stays here.
    BadQuestion
        A measure that there is not, or several plans by measures.
    """
    if not by:
        return desk.plan(core, build, engine, best=best, wishes=wishes, day=day, seconds=seconds)
    if best > 1:
        raise BadQuestion("by measures there is one plan, not several", fix="leave out the measures or the number")
    asked = depth.question(desk, core, build, engine, by=by, wishes=wishes, day=day)
    bundle = plan_bundle(desk.catalogue, desk.shelf, asked)
    answer = replace(plan(bundle, stop=within(seconds)), bundle=bundle)
    if answer.verdict in (Verdict.YES, Verdict.WITH_WORK):
        one = best_by(bundle, asked.by, stop=within(seconds))
        assert one is not None
        answer = _measured(answer, bundle, one)
    depth.refuse(check(answer, bundle, within(CHECK_SECONDS)))
    return answer


def _measured(plain: PlanAnswer, bundle: Bundle, one: Objective) -> PlanAnswer:
    """The answer with the plan that is best by the measures in place of the cheapest."""
    cheapest = plain.plans[0]
    said = ", then ".join(SAID[name] for name in dict.fromkeys([*bundle.question.by, "cost"]))
    proof = Proof.FOUND if one.plan.at_least else Proof.BEST
    verdict = verdict_of(Problem(bundle), one.plan)
    if one.plan.identity == cheapest.identity:
        sentence = f"{plain.sentence} It is the best by {said}, too."
    else:
        goal, engine = bundle.build.label or bundle.build.name, bundle.engine.label or bundle.engine.name
        price, least = (
            f"{'at least ' if p.at_least else ''}{money_text(p.cost, p.currency)}" for p in (one.plan, cheapest)
        )
        known = "the cheapest way on record comes to" if plain.proof is Proof.CHEAPEST else "the cheapest known is"
        sentence = f"Core {bundle.core.tag} becomes {goal} for {engine} for {price}, best by {said}; {known} {least}."
    return replace(plain, verdict=verdict, plans=(one.plan,), proof=proof, sentence=sentence)
