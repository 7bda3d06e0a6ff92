"""The cheapest ways out of an impossible question: what to give up, nothing of it needless, with plan and price.

Rule 1: demands and wishes are given up; rules only when asked (`waive`), safety rules never.
Rule 2: a demand on a size is not dropped but moved, no further than needed (docs/semantics.md, section 10).
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from graph.errors import Unanswerable
from graph.model.bundle import Bundle
from graph.model.depth import Change, WayOut
from graph.model.fact import Fact
from graph.model.plan import PlanAnswer
from graph.model.record import Demand
from graph.model.value import Amount
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import never, plan, written
from graph.planning.clash import DEMAND, RULE, WISH, Key, Oracle, after, member_text, members, narrowed
from graph.planning.compile import compiled
from graph.planning.explain import money_text
from graph.planning.options import EMPTY
from graph.planning.problem import Problem
from graph.planning.quickxplain import minimal_relaxations
from graph.planning.requirement import FAR
from graph.planning.search import k_best
from graph.rules.spoken import fact_text, in_words, number

MOST_NODES = 256


def relaxable(bundle: Bundle, *, waive: bool = False) -> list[Key]:
    """The members that may be given up."""
    rules = bundle.layout.rules
    return [k for k in members(bundle) if k[0] in (DEMAND, WISH) or (waive and not rules[k[1]].safety)]


def ways_out(
    bundle: Bundle,
    *,
    best: int = 3,
    waive: bool = False,
    stop: Callable[[], bool] = never,
    oracle: Oracle | None = None,
) -> tuple[tuple[WayOut, ...], bool]:
    """The cheapest minimal ways out, certain ones first, then by cost; True: there is no other that is cheaper.

    Raises
    ------
    Unanswerable
        Stopped before it was settled.
    """
    oracle = Oracle(bundle, stop) if oracle is None else oracle
    soft = relaxable(bundle, waive=waive)
    hard = frozenset(members(bundle)) - frozenset(soft)
    found, complete = minimal_relaxations(soft, lambda some: oracle.possible(hard | some), most=MOST_NODES)
    if not found or found == [frozenset()]:
        return (), complete
    order = members(bundle)
    dropped = []
    for given in found:
        keys = tuple(sorted(given, key=order.index))
        floor, sure = _dropped(oracle, frozenset(order) - given)
        dropped.append((not sure, floor, keys))
    dropped.sort()
    ways: list[tuple[tuple[bool, int, tuple[Key, ...]], WayOut]] = []
    for unsure, floor, keys in dropped:
        # Giving up a demand altogether is never dearer than moving it, so that the order of `floor` bounds the rest.
        if len(ways) >= best and (unsure, floor) > ways[best - 1][0][:2]:
            break
        way = _way(oracle, keys, not unsure)
        first = way.answer.plans[0]
        ways.append(((way.answer.verdict is Verdict.UNKNOWN, first.cost, keys), way))
        ways.sort(key=lambda pair: pair[0])
    return tuple(way for _, way in ways[:best]), complete


def _dropped(oracle: Oracle, kept: frozenset[Key]) -> tuple[int, bool]:
    """The cost of the cheapest plan with only these members; False: it hangs on what is not known."""
    for certain in (True, False):
        made = oracle.made(kept, None, certain=certain)
        found = k_best(made.network, 1, stop=oracle.stop)
        if found.proof is Proof.UNDECIDED:
            raise Unanswerable("the ways out were not settled before the limit was reached", fix="give it more time")
        if found.solutions:
            return found.solutions[0].cost + made.constant, certain
    raise AssertionError("a relaxation that makes nothing possible")


def _way(oracle: Oracle, keys: Sequence[Key], certain: bool) -> WayOut:
    """What giving these up comes to, sizes moved as little as can be, one after the other."""
    bundle = oracle.bundle
    becomes: dict[Key, Demand] = {}
    for key in keys:
        if key[0] == DEMAND and movable(bundle.build.demands[key[1]]):
            demand = nearest(oracle, keys, becomes, key, certain)
            if demand is not None:
                becomes[key] = demand
    answer = plan(changed(bundle, keys, becomes), stop=oracle.stop, kept=oracle.problem.kept)
    if not answer.plans:
        raise Unanswerable("the ways out were not settled before the limit was reached", fix="give it more time")
    facts = _facts(oracle, keys, becomes, certain)
    changes = tuple(
        Change(k[0], k[1], becomes.get(k), _change_text(oracle.problem, k, becomes.get(k), facts.get(k), answer))
        for k in keys
    )
    answer = replace(answer, bundle=None)  # it can be made again from the question's own
    first = answer.plans[0]
    price = f"{'at least ' if first.at_least else ''}{money_text(first.cost, first.currency)}"
    what = " and ".join(c.text for c in changes)
    if answer.verdict is Verdict.UNKNOWN:
        asks = "; ".join(dict.fromkeys(m.measure for m in answer.open))
        return WayOut(changes, answer, f"not known yet, but perhaps {what}: {price}; first {asks or 'measure'}.")
    return WayOut(changes, answer, f"possible {what}: {price}.")


def movable(demand: Demand) -> bool:
    """Whether a demand is on a size, so that it can be moved instead of dropped."""
    return isinstance(demand.value, Amount) and demand.type in ("same", "at_least", "at_most", "between")


def moved(demand: Demand, by: int) -> Demand:
    """The demand loosened by so many quanta; one for an exact size then asks for the whole part to lie about it."""
    value = demand.value
    assert isinstance(value, Amount)
    low, high = value.amount, value.amount if demand.value_to is None else demand.value_to

    def amount(size: int) -> Amount:
        return Amount(size, value.quantity)

    if demand.type == "at_least":
        return replace(demand, value=amount(low - by))
    if demand.type == "at_most":
        return replace(demand, value=amount(low + by))
    return replace(demand, type="between", value=amount(low - by), value_to=high + by)


def distance(demand: Demand, low: int, high: int) -> int:
    """By how much the demand must be loosened for a size that lies in low..high."""
    value = demand.value
    assert isinstance(value, Amount)
    first = value.amount
    last = first if demand.value_to is None else demand.value_to
    under = 0 if demand.type == "at_most" else max(first - low, 0)
    over = 0 if demand.type == "at_least" else max(high - last, 0)
    return max(under, over)


def closest(demand: Demand, low: int, high: int, tolerance: int) -> int:
    """The same for the best of the sizes low..high that a cut may be set to, each held within the tolerance."""
    value = demand.value
    assert isinstance(value, Amount)
    last = value.amount if demand.value_to is None else demand.value_to
    aims = (value.amount + tolerance, last - tolerance, (value.amount + last) // 2)
    tried = [min(max(aim, low), high) for aim in aims]
    return min(distance(demand, x - tolerance, x + tolerance) for x in (low, high, *tried))


def changed(bundle: Bundle, keys: Sequence[Key], becomes: dict[Key, Demand]) -> Bundle:
    """The bundle with these members given up, or moved where they became another demand."""
    kept = frozenset(members(bundle)) - frozenset(keys)
    fewer = narrowed(bundle, kept)
    demands = tuple(
        becomes.get((DEMAND, i), d)
        for i, d in enumerate(bundle.build.demands)
        if (DEMAND, i) in kept or (DEMAND, i) in becomes
    )
    return replace(fewer, build=replace(fewer.build, demands=demands))


def nearest(
    oracle: Oracle, keys: Sequence[Key], becomes: dict[Key, Demand], key: Key, certain: bool
) -> Demand | None:
    """The demand moved as little as makes a plan possible, the others given up or moved already; None: given up."""
    demand = oracle.bundle.build.demands[key[1]]
    seat, feature = demand.seat, demand.feature

    def reached(by: int | None) -> int | None:
        """How near the cheapest plan comes with the demand loosened by so much (None: dropped); None: no plan."""
        now = becomes if by is None else {**becomes, key: moved(demand, by)}
        problem = oracle.problem.asked_otherwise(changed(oracle.bundle, keys, now))
        made = compiled(problem, certain=certain)
        found = k_best(made.network, 1, stop=oracle.stop)
        if found.proof is Proof.UNDECIDED:
            raise Unanswerable("the ways out were not settled before the limit was reached", fix="give it more time")
        if not found.solutions:
            return None
        plan_, _, _ = written(made, found.solutions[0].choice)
        modes = made.chosen(found.solutions[0].choice)
        for step in plan_.steps:
            if (step.seat, step.feature) == (seat, feature) and step.low is not None and step.high is not None:
                here = closest(demand, step.low, step.high, step.tolerance)
                return here if by is None else min(by, here)
        fact = after(problem, modes, plan_, seat, feature)
        if fact is None or fact.low is None or fact.high is None or modes[seat].option.source == EMPTY:
            return by if by is not None else -1
        here = distance(demand, fact.low, fact.high)
        return here if by is None else min(by, here)

    far = reached(None)
    assert far is not None
    if far < 0:  # the seat is left empty, or the size is not known: look for any size at all
        far = 1
        while reached(far) is None:
            far *= 4
            if far > FAR:
                return None
    near = 0
    while far > near + 1:
        for by in (far - 1, (near + far) // 2):
            if not near < by < far:
                continue
            here = reached(by)
            if here is None:
                near = by
            else:
                far = max(here, near + 1)
    return moved(demand, far)


def _facts(oracle: Oracle, keys: Sequence[Key], becomes: dict[Key, Demand], certain: bool) -> dict[Key, Fact | None]:
    """What the demands given up come to in the cheapest plan."""
    problem = oracle.problem.asked_otherwise(changed(oracle.bundle, keys, becomes))
    made = compiled(problem, certain=certain)
    choice = k_best(made.network, 1, stop=oracle.stop).solutions[0].choice
    plan_, _, _ = written(made, choice)
    modes = made.chosen(choice)
    out: dict[Key, Fact | None] = {}
    for key in keys:
        if key[0] == DEMAND:
            demand = oracle.bundle.build.demands[key[1]]
            if demand.feature and modes[demand.seat].option.source != EMPTY:
                out[key] = after(problem, modes, plan_, demand.seat, demand.feature)
    return out


def _change_text(problem: Problem, key: Key, becomes: Demand | None, fact: Fact | None, answer: PlanAnswer) -> str:
    kind, place = key
    if kind == RULE:
        return f"if somebody answers for {member_text(problem, key)}"
    if kind == WISH:
        return f"without {member_text(problem, key)}"
    demand = problem.bundle.build.demands[place]
    choice = next(c for c in answer.plans[0].seats if c.seat == demand.seat)
    seat = in_words(demand.seat)
    if choice.source == "empty":
        return f"with no {seat}"
    if demand.type == "keep":
        if not demand.feature:
            return f"with another {seat}"
        label = problem.features[demand.feature].label if demand.feature in problem.features else demand.feature
        return f"with another {label} of the {seat}"
    label = problem.features[demand.feature].label
    return f"with {seat} {label} {_actual(fact)} instead of {_wanted(demand)}"


def _actual(fact: Fact | None) -> str:
    if fact is None or fact.low is None or fact.high is None or len(fact.alternatives) != 1:
        return fact_text(fact)
    return number((fact.low + fact.high) // 2, fact.quantity)


def _wanted(demand: Demand) -> str:
    value = demand.value
    if not isinstance(value, Amount):
        return "what is asked" if value is None else (value.text or str(value))
    said = number(value.amount, value.quantity)
    if demand.value_to is not None:
        return f"{said} to {number(demand.value_to, value.quantity)}"
    return {"at_least": f"at least {said}", "at_most": f"at most {said}"}.get(demand.type, said)
