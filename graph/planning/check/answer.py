"""A whole answer, judged: each plan, their order, the proof, the bound and what is still open."""

from collections.abc import Callable, Iterator

from graph.model.bundle import Bundle
from graph.model.depth import Objectives, WhyAnswer
from graph.model.plan import PlanAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.check.bound import Identity, Optimum, optimum_of
from graph.planning.check.case import Case, Mode
from graph.planning.check.compare import changes_something, compared, hangs_on, in_layout, in_order
from graph.planning.check.measures import misordered, outdone
from graph.planning.check.refusal import UNCONFIRMED, Refusal
from graph.planning.check.shared import Shared

Placed = tuple[int, Identity]
"""A plan's place in the order: its cost, then its identity."""


def check(
    answer: PlanAnswer, bundle: Bundle, stop: Callable[[], bool] | None = None, shared: Shared | None = None
) -> list[Refusal]:
    """Everything in the answer that the evidence does not bear out; an empty list confirms it.

    `stop` is asked now and then whether to give up proving optimality, which then comes out as one refusal
    with the code `optimality-not-confirmed`. The `sentence` and the cautions are words about
    what is judged, and are not judged themselves. `shared` spares what was worked out for other questions on the
    same evidence; the refusals are the same with it and without.
    """
    case = (Shared() if shared is None else shared).case(bundle)
    found = list(_about(answer, bundle))
    mode: Mode = "possible" if answer.verdict is Verdict.UNKNOWN else "certain"
    for index, plan in enumerate(answer.plans):
        found += compared(case, plan, mode, f"plans[{index}]")
    found += _verdict(case, answer)
    found += _open(case, answer)
    found += _proof(answer)
    found += misordered(answer)
    if not found:
        found += _best(case, answer, mode, stop)
    return found


def about(answer: PlanAnswer | WhyAnswer | Objectives, bundle: Bundle) -> Iterator[Refusal]:
    """Whether the evidence is that of the answer's own question."""
    if answer.question != bundle.question:
        yield Refusal("question", "question", "the evidence was gathered for another question")
    if answer.snapshot != bundle.snapshot:
        yield Refusal("snapshot", "snapshot", "the evidence is of another version of the catalogue or the shelf")
    if answer.bundle is not None and answer.bundle != bundle:
        yield Refusal("bundle", "bundle", "the answer carries other evidence")


def _about(answer: PlanAnswer, bundle: Bundle) -> Iterator[Refusal]:
    yield from about(answer, bundle)
    asked = bundle.question
    keys = (bundle.core.key, bundle.build.key, bundle.engine.key)
    if (asked.core, asked.build, asked.engine) != keys:
        yield Refusal("bundle", "bundle", "the evidence is about another core, build or engine than the question")
    if bundle.build.layout != bundle.layout.name:
        yield Refusal("bundle", "bundle", "the layout is not the build's")
    if len(answer.plans) > max(asked.best, 1):
        yield Refusal("plans", "plans", f"{asked.best} plans were wanted, {len(answer.plans)} are given")
    if not in_order(answer.plans):
        yield Refusal("plans", "plans", "the plans are not in the order of cost, then identity, each once")


def _verdict(case: Case, answer: PlanAnswer) -> Iterator[Refusal]:
    plans, verdict, proof = answer.plans, answer.verdict, answer.proof
    if verdict in (Verdict.YES, Verdict.WITH_WORK):
        if not plans:
            yield Refusal("verdict", "verdict", f"{verdict.value!r} is said without a plan")
        elif changes_something(case, plans[0]) is (verdict is Verdict.YES):
            yield Refusal("verdict", "verdict", f"{verdict.value!r} is not what the first plan comes to")
    if verdict is Verdict.NO and (plans or proof is not Proof.IMPOSSIBLE):
        yield Refusal("verdict", "verdict", "'does not fit' is said only when it is proved that there is no plan")
    if proof is Proof.IMPOSSIBLE and verdict is not Verdict.NO:
        yield Refusal("proof", "proof", "impossible is said only with 'does not fit'")


def _open(case: Case, answer: PlanAnswer) -> Iterator[Refusal]:
    named = {(m.seat, m.feature) for m in answer.open}
    if answer.verdict is not Verdict.UNKNOWN:
        if answer.verdict in (Verdict.YES, Verdict.WITH_WORK) and named:
            yield Refusal("open", "open", "a certain plan hangs on no open fact")
        return
    if answer.plans and not answer.open:
        yield Refusal("open", "open", "'not known' is said and no fact is named")
    hangs = hangs_on(case, answer.plans[0]) if answer.plans and in_layout(case, answer.plans[0]) else []
    for places in hangs:
        if not places & named:
            seat, feature = min(places)
            yield Refusal("open", f"open.{seat}.{feature}", "the first plan hangs on it and it is not named")


def _proof(answer: PlanAnswer) -> Iterator[Refusal]:
    plans, proof, bound = answer.plans, answer.proof, answer.bound
    if proof in (Proof.CHEAPEST, Proof.BEST, Proof.FOUND) and not plans:
        yield Refusal("proof", "proof", f"{proof.value!r} is said without a plan")
    if proof is Proof.UNDECIDED and (plans or answer.verdict is not Verdict.UNKNOWN):
        yield Refusal("proof", "proof", "undecided is said only with 'not known' and without a plan")
    if answer.verdict is Verdict.UNKNOWN and not plans and proof is not Proof.UNDECIDED:
        yield Refusal("proof", "proof", f"nothing is known and {proof.value!r} is said")
    if proof is Proof.CHEAPEST and any(p.at_least for p in plans):
        yield Refusal("proof", "proof", "a plan with a missing price is never proved cheapest")
    if proof is Proof.CHEAPEST and plans and bound not in (None, plans[0].cost):
        yield Refusal("bound", "bound", f"the cheapest costs {plans[0].cost}, the bound says {bound}")
    if proof is Proof.IMPOSSIBLE and (plans or bound is not None):
        yield Refusal("proof", "proof", "an impossible build has neither plans nor a bound")
    if proof is Proof.IMPOSSIBLE and not answer.causes:
        yield Refusal("causes", "causes", "nothing is named that stands in the way")
    if plans and bound is not None and bound > plans[0].cost:
        yield Refusal("bound", "bound", f"a plan costs {plans[0].cost}, less than the bound {bound}")


def _best(case: Case, answer: PlanAnswer, mode: Mode, stop: Callable[[], bool] | None) -> Iterator[Refusal]:
    """What the answer claims of plans that it does not show."""
    if answer.proof is Proof.IMPOSSIBLE:
        yield from _none(optimum_of(case, mode="possible", stop=stop), "a plan is possible")
        return
    if mode == "possible" and answer.plans:
        yield from _none(optimum_of(case, mode="certain", stop=stop), "a certain plan exists")
    wanted = max(case.bundle.question.best, 1)
    stated = tuple((p.cost, p.identity) for p in answer.plans)
    if answer.proof is Proof.CHEAPEST:
        ceiling = stated[-1][0] if len(stated) == wanted else None
        right = optimum_of(case, best=wanted, mode=mode, ceiling=ceiling, stop=stop)
        more = len(stated) < wanted and len(right.plans) > len(stated)
        if right.stopped and not more and not any(a < b for a, b in zip(right.plans, stated, strict=False)):
            yield Refusal(UNCONFIRMED, "proof", "the checker was stopped before it had tried every cheaper plan")
        elif right.stopped or right.plans != stated:
            yield Refusal("optimality", "proof", _otherwise(right.plans, stated))
        return
    if answer.bound is not None:
        right = optimum_of(case, best=1, mode=mode, ceiling=answer.bound - 1, stop=stop)
        if right.costs:
            yield Refusal("bound", "bound", f"a plan costs {right.costs[0]}, less than the bound {answer.bound}")
        elif right.stopped:
            yield Refusal(UNCONFIRMED, "bound", "the checker was stopped before it had tried every cheaper plan")
    if answer.proof is Proof.BEST:
        yield from outdone(case, answer, stop)


def _none(found: Optimum, text: str) -> Iterator[Refusal]:
    if found.costs:
        yield Refusal("optimality", "proof", f"{text}, for {found.costs[0]}")
    elif found.stopped:
        yield Refusal(UNCONFIRMED, "proof", "the checker was stopped before it had tried every plan")


def _otherwise(right: tuple[Placed, ...], stated: tuple[Placed, ...]) -> str:
    """Where the stated plans are not the first by (cost, identity)."""
    if tuple(c for c, _ in right) != tuple(c for c, _ in stated):
        return f"plans cost {_money(right)}, {_money(stated)} are stated"
    at = next(i for i, pair in enumerate(zip(right, stated, strict=True)) if pair[0] != pair[1])
    return f"plan {at} is not the first of those that cost {right[at][0]}, by what fills the seats"


def _money(plans: tuple[Placed, ...]) -> str:
    return ", ".join(str(c) for c, _ in plans) or "nothing, there is none"
