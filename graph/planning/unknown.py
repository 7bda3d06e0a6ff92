"""What follows from facts that are not known: the plan in each case, what holds in all, and what settles it.

A case that cannot be settled is said to be open, with the cost below which no plan in it lies; a case that was not
worked out is said to be so.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from graph.errors import Unanswerable
from graph.model.bundle import Bundle
from graph.model.depth import Condition, OutcomeCase, UnknownAnswer
from graph.model.plan import PlanAnswer
from graph.model.verdict import Missing, Proof, Verdict
from graph.planning.answer import never, plan
from graph.planning.explain import money_text
from graph.planning.options import DONOR, NEW
from graph.planning.unknown_gap import OTHER, Gap, Given, Range
from graph.planning.unknown_tree import Tree, deciding
from graph.rules.spoken import number

RESOLUTION = {"length": 100_000}
"""Sizes closer than this (0.01 mm) are not told apart; other quantities down to one quantum."""


def unknown(
    bundle: Bundle,
    *,
    stop: Callable[[], bool] = never,
    resolution: dict[str, int] | None = None,
) -> tuple[UnknownAnswer, tuple[Bundle, ...]]:
    """The cases of a question that hangs on missing facts, and for each the bundle as if they had turned out so.

    A question that hangs on nothing is one case. Once stopped, what is not worked out stays open.
    `resolution`: quanta that are told apart, by quantity.

    Raises
    ------
    Unanswerable
        Stopped before even the plan was settled.
    """
    bundle = replace(bundle, question=replace(bundle.question, best=1))
    answer = replace(plan(bundle, stop=stop), bundle=None)
    if answer.proof is Proof.UNDECIDED:
        raise Unanswerable("the question was not settled before the limit was reached", fix="give it more time")
    tree = Tree(bundle, stop, RESOLUTION if resolution is None else resolution)
    leaves = tree.grow()
    cases = tuple(_case(tree, given) for given in leaves)
    sets = deciding(tree, leaves)
    beyond = tuple(dict.fromkeys(m for given in leaves if (now := tree.look(given)) for m in now.beyond))
    holds = tuple(_holds(cases))
    complete = all(c.settled for c in cases)
    said = _sentence(answer, leaves, cases, sets)
    found = UnknownAnswer(bundle.question, bundle.snapshot, answer, holds, cases, sets, beyond, complete, said)
    return found, tuple(tree.given(given) for given in leaves)


def _case(tree: Tree, given: Given) -> OutcomeCase:
    now = tree.look(given)
    conditions = tuple(_condition(gap, taken) for gap, taken in given)
    when = " and ".join(c.text for c in conditions) or "as it stands"
    if now is None:
        return OutcomeCase(conditions, Verdict.UNKNOWN, False, None, None, f"{when}: not worked out")
    shown = now.sure or now.maybe
    least = now.maybe.cost if now.maybe is not None else None
    if now.sure is not None:
        verdict = Verdict.WITH_WORK
        price = money_text(now.sure.cost, now.sure.currency)
        said = f"{when}: it can be done, for {'at least ' if now.sure.at_least else ''}{price}"
    elif now.maybe is None:
        verdict, said = Verdict.NO, f"{when}: it cannot be done"
    else:
        verdict, said = Verdict.UNKNOWN, f"{when}: still not known"
    return OutcomeCase(conditions, verdict, now.settled, shown, least, said)


def _condition(gap: Gap, taken: Range) -> Condition:
    where = f" at {', '.join(gap.positions)}" if gap.positions != ("",) else ""
    whose = {DONOR: f" of {gap.lot}", NEW: f" of a new {gap.part.rpartition('/')[2]}"}.get(gap.source, "")
    what = f"{gap.seat} {gap.feature}".replace("_", " ") + whose + where
    fact = (gap.seat, gap.feature, gap.part, gap.source, gap.lot, gap.positions)
    if isinstance(taken, str):
        said = f"{what} is {'something else' if taken == OTHER else taken}"
        return Condition(*fact, "", None, None, taken, said)
    low = taken[0] if gap.bounded or taken[0] > gap.low else None
    high = taken[1] if gap.bounded or taken[1] < gap.high else None
    said = what
    if low is not None:
        said += f" at least {number(low, gap.quantity)}"
    if high is not None:
        open_end = gap.quantity in RESOLUTION and high % 1000 == 999
        word, end = ("less than", high + 1) if open_end else ("at most", high)
        said += f"{' and' if low is not None else ''} {word} {number(end, gap.quantity)}"
    return Condition(*fact, gap.quantity, low, high, "", said)


def _holds(cases: Sequence[OutcomeCase]) -> Iterator[str]:
    if not all(c.settled for c in cases):
        return
    plans = [c.plan for c in cases if c.verdict is not Verdict.NO]
    if all(c.verdict is Verdict.WITH_WORK for c in cases):
        dearest = max(p.cost for p in plans if p is not None)
        currency = next(p.currency for p in plans if p is not None)
        yield f"it can be done in every case, for {money_text(dearest, currency)} at most"
    if all(c.verdict is Verdict.NO for c in cases):
        yield "it cannot be done in any case"
    if not plans or any(p is None for p in plans):
        return
    first = plans[0]
    assert first is not None
    for choice in first.seats:
        same = [next(c for c in p.seats if c.seat == choice.seat) for p in plans if p is not None]
        if all((c.part, c.source, c.operations) == (choice.part, choice.source, choice.operations) for c in same):
            work = f", {', '.join(choice.operations)}" if choice.operations else ""
            yield f"{choice.seat}: {choice.source} {choice.part}{work}".rstrip()


def _sentence(
    answer: PlanAnswer, leaves: Sequence[Given], cases: Sequence[OutcomeCase], sets: Sequence[Sequence[Missing]]
) -> str:
    if len(cases) == 1 and not cases[0].conditions:
        return answer.sentence
    worked = [c for c in cases if c.plan is not None or c.settled]
    said = "; ".join(c.sentence for c in worked)
    out = f"{said[:1].upper()}{said[1:]}." if worked else ""
    asks = " and ".join(dict.fromkeys(m.measure for m in sets[0])) if sets else ""
    if asks:
        out += f" What settles it: {asks}."
    skipped = len(cases) - len(worked)
    if skipped:
        out += f" {skipped} of {len(cases)} cases were not worked out: nothing is said of them."
    if any(not c.settled for c in worked):
        out += " In the cases still not known it hangs on more than that."
    able = [(c.plan.cost, n) for n, c in enumerate(cases) if c.plan is not None and c.verdict is Verdict.WITH_WORK]
    if not sets and able:
        first = " and ".join(dict.fromkeys(gap.missing.measure for gap, _ in leaves[min(able)[1]]))
        out += f" Look at this first: {first}." if first else ""
    return out.strip()
