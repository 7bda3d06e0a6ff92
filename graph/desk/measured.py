"""The plan that is best by other measures than money, as a plan answer that can be kept, picked and judged."""

from collections.abc import Sequence
from dataclasses import replace

from graph.desk import depth
from graph.desk.desk import CHECK_SECONDS, PLAN_SECONDS, Desk, within
from graph.desk.judging import UNSURE
from graph.errors import AnswerRefused, BadQuestion
from graph.model.bundle import Bundle
from graph.model.depth import Objective
from graph.model.plan import PlanAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.check import check
from graph.planning.explain import money_text

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

    Where no plan is certain the answer is that of the plain question. The proof is *cheapest* only where the plan
    is the cheapest, too: that no other is better by its measures is proved by the search alone.

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
    plain = desk.plan(core, build, engine, wishes=wishes, day=day, seconds=seconds)
    found = depth.objectives(desk, core, build, engine, order=by, wishes=wishes, day=day, seconds=seconds)
    if not found.plans or not plain.plans or plain.verdict is Verdict.UNKNOWN:
        return plain
    one, cheapest = found.plans[0], plain.plans[0]
    same = one.plan.identity == cheapest.identity
    said = ", then ".join(SAID[name] for name in dict.fromkeys([*by, "cost"]))
    if same:
        return replace(plain, sentence=f"{plain.sentence} It is the best by {said}, too.")
    assert plain.bundle is not None
    answer = replace(
        plain, plans=(one.plan,), proof=Proof.FOUND, sentence=_sentence(plain.bundle, one, said, cheapest.cost)
    )
    refusals = [r for r in check(answer, plain.bundle, within(CHECK_SECONDS)) if r.code != UNSURE]
    if refusals:
        listed = "; ".join(f"{r.code} at {r.where}: {r.text}" for r in refusals[:5])
        raise AnswerRefused(
            f"the checker refuses this answer ({len(refusals)} findings): {listed}",
            fix="this is a fault of the program; report it with the question",
        )
    return answer


def _sentence(bundle: Bundle, one: Objective, said: str, cheapest: int) -> str:
    goal, engine = bundle.build.label or bundle.build.name, bundle.engine.label or bundle.engine.name
    price, least = (money_text(cost, one.plan.currency) for cost in (one.cost, cheapest))
    return (
        f"Core {bundle.core.tag} becomes {goal} for {engine} for {price}, best by {said}; the cheapest way on record"
        f" comes to {least}."
    )
