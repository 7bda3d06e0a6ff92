"""What plans come to by money, time, changes, lasting work and lead time (docs/semantics.md, section 12)."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from math import inf

from graph.model.depth import MEASURES
from graph.model.plan import Plan, PlanAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.check.bound import Open, Search, Stopped
from graph.planning.check.case import Case
from graph.planning.check.choices import Option, kind_operations
from graph.planning.check.domains import Value, domains_of, indexes
from graph.planning.check.money import (
    Sums,
    changed_seats,
    operation_time,
    seat_quantity,
    services_done,
    strip_time,
    sums,
)
from graph.planning.check.refusal import UNCONFIRMED, Refusal
from graph.planning.check.work import Work

Come = tuple[float, ...]
"""What a plan comes to by several measures, the weightiest first; less is better."""


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
        found = comes_before(case, order, stated, stop)
    except Stopped:
        yield Refusal(UNCONFIRMED, "proof", "the checker was stopped before it had tried every better plan")
        return
    if found is not None:
        yield Refusal("optimality", "proof", f"by {', '.join(order)} a plan comes to {found}, {stated} is stated")


def measured(work: Work, total: Sums | Plan) -> dict[str, float]:
    """A plan by every measure: minor units, ms, seats, operations, days (not known counts as longest)."""
    lasting = sum(_lasting(work, seat) for seat in work.chosen)
    lead = inf if total.lead_days is None else total.lead_days
    changes = len(changed_seats(work.case, work.chosen))
    return {"cost": total.cost, "time": total.time, "changes": changes, "lasting": lasting, "lead": lead}


def _lasting(work: Work, seat: str) -> int:
    """The operations in a seat that cannot be undone."""
    option, names = work.chosen[seat]
    mine = kind_operations(work.case, option)
    return sum(mine[n].effect != "service" and not mine[n].reversible for n in names if n in mine)


def comes_before(case: Case, order: tuple[str, ...], stated: Come, stop: Callable[[], bool] | None) -> Come | None:
    """What a certain plan comes to that is before the stated one; None: there is none.

    Raises
    ------
    Stopped
        The caller's limit was reached first.
    """
    search = _Earlier(domains_of(case, "certain"), 1, None, stop or (lambda: False), by=order, stated=stated)
    search.run()
    return search.found


@dataclass
class _Earlier(Search):
    """Tries everything that could come before the stated plan."""

    by: tuple[str, ...] = ("cost",)
    stated: Come = ()
    found: Come | None = None
    least: dict[tuple[str, int], dict[str, float]] = field(default_factory=dict)
    services: dict[object, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        super().__post_init__()
        self.each = {seat: [self._alone(value) for value in values] for seat, values in self.domains.values.items()}

    def _alone(self, value: Value) -> dict[str, float]:
        """The least that a value adds by each measure (lead time: that it makes it), services apart."""
        work, seat = value.work, value.option.seat
        mine = kind_operations(self.case, value.option)
        starts = {place: cut.start for place, cut in work.cuts.items()}
        time = sum(operation_time(work, seat, mine[n], starts) for n in value.names if n in mine)
        time += strip_time(self.case, seat) if value.option.source == "donor" else 0
        lasting = _lasting(work, seat)
        return {
            "cost": value.cost,
            "time": time,
            "changes": value.changed,
            "lasting": lasting,
            "lead": self._wait(value),
        }

    def _wait(self, value: Value) -> float:
        part = self.case.parts.get(value.option.part)
        wanted = seat_quantity(self.case, value.option.seat)
        if value.option.source != "new" or part is None or sum(s.quantity for s in part.stock) >= wanted:
            return 0
        return inf if part.price_new is None or part.price_new.lead_days is None else part.price_new.lead_days

    def _branch(self, domains: Open) -> None:
        self.nodes += 1
        if self.stop():
            raise Stopped
        floors = self._floors(domains)
        if self.found is not None or self._come(floors) >= self.stated:
            return
        extra = self._depth_floor(domains)
        if extra is None or self._come({**floors, "cost": floors["cost"] + extra}) >= self.stated:
            return
        undecided = [s for s, bits in domains.items() if bits & (bits - 1)]
        if not undecided:
            self._hold(domains)
            return
        seat = min(undecided, key=lambda s: domains[s].bit_count())
        for index in sorted(indexes(domains[seat]), key=lambda i: self._come(self.each[seat][i])):
            narrowed = self._narrowed({**domains, seat: 1 << index}, [seat])
            if narrowed is not None:
                self._branch(narrowed)

    def _come(self, by: dict[str, float]) -> Come:
        return tuple(by[name] for name in self.by)

    def _floors(self, domains: Open) -> dict[str, float]:
        """No plan left here comes to less by any measure."""
        least = [self._least(seat, bits) for seat, bits in domains.items()]
        floors: dict[str, float] = {name: sum(one[name] for one in least) for name in ("time", "changes", "lasting")}
        due = self.due_anyway(domains)
        if due not in self.services:
            done = (self.case.operations[name] for name in services_done(self.case, due[0], [n for _, n in due[1]]))
            self.services[due] = sum(o.setup + o.time for o in done if not o.kind)
        floors["time"] += self.services[due]
        return {**floors, "cost": self._floor(domains), "lead": max((one["lead"] for one in least), default=0)}

    def _least(self, seat: str, bits: int) -> dict[str, float]:
        if (seat, bits) not in self.least:
            left = [self.each[seat][i] for i in indexes(bits)]
            self.least[seat, bits] = {name: min(one[name] for one in left) for name in MEASURES}
        return self.least[seat, bits]

    def _hold(self, domains: Open) -> None:
        made = self.standing(domains)
        if made is None:
            return
        work, least = made
        come = self._come(measured(work, sums(work, least)))
        if come < self.stated:
            self.found = come
