"""Plans by other measures: any order of money, time, changes, lasting work, lead time; and money against time.

Rule 1: one measure after the other: what is cheapest by the first is a network itself (its optimal solutions and no
others), on which the second is cheapest, and so on.
Rule 2: lead time is no sum but the longest wait, so that it is a threshold on parts; the plan's own tells.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from graph.errors import BadQuestion, Unanswerable
from graph.model.bundle import Bundle
from graph.model.depth import MEASURES, Objective
from graph.model.verdict import Proof
from graph.planning.answer import never, written
from graph.planning.compile import Compiled, compiled
from graph.planning.elimination import Elimination, Stopped
from graph.planning.modes import Mode
from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.options import NEW
from graph.planning.pareto import front
from graph.planning.problem import SERVICE, Problem
from graph.planning.search import SearchResult, k_best

MOST_RANKED = 512
"""Plans looked through for one whose used-up parts too are there in time."""


class TimeProblem(Problem):
    """The same question with time for money."""

    in_time = True


@dataclass(slots=True)
class _Space:
    """The networks of all measures over the same variables: seats, what is paid once, what takes time once."""

    money: Compiled
    time: Compiled
    stop: Callable[[], bool]

    @property
    def seats(self) -> int:
        return len(self.money.seats)

    def network(self, weights: dict[str, int]) -> Network:
        """The weighted sum of measures that are sums."""
        paid, spent = self.money.network, self.time.network
        seats, once = self.seats, len(paid.unary)
        unary = []
        for v in range(once):
            own = paid.unary[v] * weights.get("cost", 0) if v >= seats else self._own(v, weights)
            unary.append(np.where(paid.unary[v] >= FORBIDDEN, FORBIDDEN, own))
        for v in range(seats, len(spent.unary)):
            unary.append(np.where(spent.unary[v] >= FORBIDDEN, FORBIDDEN, spent.unary[v] * weights.get("time", 0)))
        factors = [_times(f, weights.get("cost", 0)) for f in paid.factors]
        for factor in spent.factors:
            scope = tuple(v if v < seats else v + once - seats for v in factor.scope)
            if weights.get("time", 0) or scope[-1] >= once:
                factors.append(_times(replace(factor, scope=scope), weights.get("time", 0)))
        labels = (*paid.labels, *(np.zeros(len(own), dtype=np.int64) for own in unary[once:]))
        return Network(tuple(unary), tuple(factors), labels)

    def _own(self, v: int, weights: dict[str, int]) -> Ints:
        out = np.zeros(len(self.money.network.unary[v]), dtype=np.int64)
        for name, weight in weights.items():
            if name == "cost":
                out = out + weight * np.where(
                    self.money.network.unary[v] >= FORBIDDEN, 0, self.money.network.unary[v]
                )
            elif name == "time":
                out = out + weight * np.where(self.time.network.unary[v] >= FORBIDDEN, 0, self.time.network.unary[v])
            else:
                count = _changed if name == "changes" else _lasting
                out = out + weight * np.array([count(m) for m in self.money.seats[v].modes], dtype=np.int64)
        return out

    def solved(self, network: Network, best: int = 1) -> SearchResult:
        found = k_best(network, best, stop=self.stop)
        if found.proof is Proof.UNDECIDED or (found.proof is Proof.FOUND and found.proved < best):
            raise Unanswerable("the plans were not settled before the limit was reached", fix="give it more time")
        return found

    def objective(self, choice: Sequence[int]) -> Objective:
        """The plan of a solution with all its measures."""
        one, _, _ = written(self.money, choice[: len(self.money.network.unary)])
        modes = self.money.chosen(choice).values()
        return Objective(one.cost, one.time, sum(map(_changed, modes)), sum(map(_lasting, modes)), one.lead_days, one)


def _changed(mode: Mode) -> int:
    return int(mode.changed)


def _lasting(mode: Mode) -> int:
    return sum(not o.reversible and o.effect != SERVICE for o in mode.operations)


def _times(factor: Factor, weight: int) -> Factor:
    return replace(factor, table=np.where(factor.table >= FORBIDDEN, FORBIDDEN, factor.table * weight))


def _space(bundle: Bundle, certain: bool, stop: Callable[[], bool]) -> _Space:
    return _Space(compiled(Problem(bundle), certain=certain), compiled(TimeProblem(bundle), certain=certain), stop)


def measures(by: Sequence[str]) -> tuple[str, ...]:
    """The order of measures that a question names, each once.

    Raises
    ------
    BadQuestion
        A measure that there is not.
    """
    strangers = [name for name in by if name not in MEASURES]
    if strangers:
        raise BadQuestion(f"there is no measure {', '.join(strangers)}", fix=f"take some of {', '.join(MEASURES)}")
    return tuple(dict.fromkeys(by))


def best_by(
    bundle: Bundle, order: Sequence[str], *, certain: bool = True, stop: Callable[[], bool] = never
) -> Objective | None:
    """The plan that is best by the first measure, of those by the second, and so on, money last; None: there is none.

    Raises
    ------
    BadQuestion
        A measure that there is not.
    Unanswerable
        Stopped before it was settled.
    """
    return _best(_space(bundle, certain, stop), list(dict.fromkeys([*measures(order), "cost"])))


def _best(space: _Space, names: Sequence[str]) -> Objective | None:
    tied: list[Factor] = []
    masks = [np.zeros(len(own), dtype=np.int64) for own in space.network({}).unary]
    choice: tuple[int, ...] | None = None
    longest: int | None = None
    for name in names:
        if name == "lead":
            found = _soonest(space, tied, masks)
            if found is None:
                return None
            choice, longest = found
            continue
        network = _held(space.network({name: 1}), tied, masks)
        result = space.solved(network)
        if not result.solutions:
            return None
        choice = result.solutions[0].choice
        evidence = result.evidence
        if evidence is None or evidence.elimination is None:
            raise Unanswerable("the tables grew too wide for this order of measures", fix="ask for fewer measures")
        more, own = tight(evidence.elimination, [len(u) for u in network.unary])
        tied += more
        masks = [np.maximum(a, b) for a, b in zip(masks, own, strict=True)]
    assert choice is not None
    if longest is not None:
        choice = _within(space, _held(space.network({"cost": 1}), tied, masks), longest) or choice
    return space.objective(choice)


def _held(network: Network, tied: Sequence[Factor], masks: Sequence[Ints]) -> Network:
    """The network with only the solutions that were best so far."""
    unary = tuple(np.maximum(own, mask) for own, mask in zip(network.unary, masks, strict=True))
    return replace(network, unary=unary, factors=(*network.factors, *tied))


def tight(elimination: Elimination, counts: Sequence[int]) -> tuple[list[Factor], list[Ints]]:
    """What leaves exactly the optimal solutions: a cost is the optimum and a slack of 0 or more in every bucket.

    Factors and own costs of 0 or FORBIDDEN, over all candidates.
    """
    reduced = elimination.reduced
    masks: list[Ints] = []
    signatures: list[Ints] = []
    for v, count in enumerate(counts):
        mask = np.full(count, FORBIDDEN, dtype=np.int64)
        dearer = reduced.unary[v] > reduced.own[v][reduced.signature[v]]
        mask[reduced.kept[v]] = np.where(dearer, FORBIDDEN, 0)
        masks.append(mask)
        signature = np.zeros(count, dtype=np.int64)
        signature[reduced.kept[v]] = reduced.signature[v]
        signatures.append(signature)
    factors = []
    for bucket in elimination.buckets:
        assert bucket.table is not None and bucket.message is not None
        table = np.where(bucket.table > bucket.message.table[None, ...], FORBIDDEN, 0)
        table = np.where(bucket.table >= FORBIDDEN, FORBIDDEN, table)
        scope = (bucket.variable, *bucket.separators)
        classes = [signatures[bucket.variable]]
        classes += [joint[signatures[w]] for w, joint in zip(bucket.separators, bucket.joints, strict=True)]
        axes = sorted(range(len(scope)), key=scope.__getitem__)
        factors.append(
            Factor(
                tuple(scope[a] for a in axes),
                tuple(classes[a] for a in axes),
                np.ascontiguousarray(table.transpose(axes)),
                "tie",
            )
        )
    return factors, masks


def _waits(mode: Mode) -> float:
    """How long a new part that stock does not cover is waited for; unknown: for ever."""
    option = mode.option
    if option.source != NEW or option.record is None:
        return 0
    if sum(s.quantity for s in option.record.stock) >= option.seat.quantity:
        return 0
    price = option.record.price_new
    return float("inf") if price is None or price.lead_days is None else price.lead_days


def _soonest(space: _Space, tied: list[Factor], masks: list[Ints]) -> tuple[tuple[int, ...], int | None] | None:
    """The least lead time among the solutions left; the masks then bar every part that is waited for longer."""
    waits = [np.array([_waits(m) for m in s.modes]) for s in space.money.seats]
    held = {p.price_new.lead_days for p in space.money.problem.parts.values() if p.price_new is not None}
    steps = sorted({0, *(d for d in held if d is not None)})
    for days in steps:
        barred = [np.where(w > days, FORBIDDEN, m) for w, m in zip(waits, masks, strict=False)]
        barred += masks[len(barred) :]
        network = _held(space.network({"cost": 1}), tied, barred)
        choice = _within(space, network, days)
        if choice is not None:
            masks[:] = barred
            return choice, days
    result = space.solved(_held(space.network({"cost": 1}), tied, masks))
    return (result.solutions[0].choice, None) if result.solutions else None


def _within(space: _Space, network: Network, days: int) -> tuple[int, ...] | None:
    """The first solution whose plan waits no longer, quantities of one part added up, used-up ones too."""
    looked = 1
    while True:
        result = space.solved(network, looked)
        for solution in result.solutions[looked // 2 :]:
            waits = space.objective(solution.choice).lead_days
            if waits is not None and waits <= days:
                return solution.choice
        if len(result.solutions) < looked:
            return None
        if looked > MOST_RANKED:
            raise Unanswerable("too many plans wait longer than their parts", fix="leave out the lead time")
        looked *= 2


def pareto(bundle: Bundle, *, certain: bool = True, stop: Callable[[], bool] = never) -> tuple[list[Objective], bool]:
    """All plans of which none is both cheaper and quicker, cheapest first; one plan for each money and time.

    The ends by money and by time, then all of it. False: stopped before that, and only the ends are given, which
    nothing beats; more may lie between them.

    Raises
    ------
    Unanswerable
        Stopped before the ends were settled.
    """
    space = _space(bundle, certain, stop)
    ends = [_best(space, order) for order in (["cost", "time"], ["time", "cost"])]
    found = {(o.cost, o.time): o for o in ends if o is not None}
    if len(found) < 2:
        return list(found.values()), True
    try:
        points = front(space.network({"cost": 1}), space.network({"time": 1}), stop)
    except Stopped:
        return [found[point] for point in sorted(found)], False
    return [space.objective(point.choice) for point in points], True
