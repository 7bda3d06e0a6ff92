"""A plan question answered: the cheapest certain plans; where there is none, the possible ones; else what hinders.

Rule 1: what is not known is never a fit: a plan that hangs on an open fact answers *not known* and names the fact.
Rule 2: no clock and no file; `stop` says when to give up, and the answer says so.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence

from graph.model.bundle import Bundle
from graph.model.fact import Alternative, Fact
from graph.model.plan import ConsumedPart, CostLine, Plan, PlanAnswer, SeatChoice, Step
from graph.model.record import Consume
from graph.model.verdict import Missing, Proof, RuleVerdict, Verdict
from graph.planning import explain, money
from graph.planning.compile import Compiled, compiled
from graph.planning.conflict import clash
from graph.planning.kept import Kept
from graph.planning.meeting import Meeting
from graph.planning.modes import Mode
from graph.planning.options import DONOR, EMPTY, KEPT, NEW
from graph.planning.order import order_of_work
from graph.planning.problem import ALWAYS, ENGINE, SERVICE, Problem
from graph.planning.search import SearchResult, k_best
from graph.planning.sizes import Window
from graph.planning.work import CUTS, Cut
from graph.rules.judge import judge
from graph.rules.spoken import in_words

Operand = tuple[str, str]


def never() -> bool:
    """A `stop` that never stops."""
    return False


def plan(bundle: Bundle, *, stop: Callable[[], bool] = never, kept: Kept | None = None) -> PlanAnswer:
    """The answer to the bundle's question, not yet judged by the checker.

    `kept`: what questions that share evidence with this one have worked out; this one adds to it.

    Raises
    ------
    BadQuestion
        A demand or a wish on a seat that the layout lacks, or operations that need one another in a circle.
    MixedCurrency
        Prices of two currencies.
    """
    problem = Problem(bundle, kept)
    best = bundle.question.best
    currency = problem.currency
    sure = compiled(problem, certain=True)
    found = _search(sure, best, stop)
    if found.solutions:
        plans = tuple(_Writer(sure, sure.chosen(s.choice), currency).plan() for s in found.solutions)
        verdict = verdict_of(problem, plans[0])
        priced = not any(p.at_least for p in plans)
        proof = Proof.CHEAPEST if found.proof is Proof.CHEAPEST and priced else Proof.FOUND
        return _answer(problem, verdict, proof, plans, _bound(sure, found), (), ())
    if found.proof is not Proof.IMPOSSIBLE:
        return _answer(problem, Verdict.UNKNOWN, Proof.UNDECIDED, (), _bound(sure, found), (), ())
    maybe = compiled(problem, certain=False)
    found = _search(maybe, best, stop)
    if found.solutions:
        writers = [_Writer(maybe, maybe.chosen(s.choice), currency) for s in found.solutions]
        plans = tuple(w.plan() for w in writers)
        return _answer(problem, Verdict.UNKNOWN, Proof.FOUND, plans, _bound(maybe, found), writers[0].open, ())
    if found.proof is not Proof.IMPOSSIBLE:
        return _answer(problem, Verdict.UNKNOWN, Proof.UNDECIDED, (), _bound(maybe, found), (), ())
    causes = explain.empty_seats(problem, maybe.seats) or clash(maybe, stop)
    return _answer(problem, Verdict.NO, Proof.IMPOSSIBLE, (), None, (), tuple(causes))


def answered(made: Compiled, modes: Mapping[str, Mode]) -> PlanAnswer:
    """The answer that gives one certain plan, made of these modes, and claims of it only that it was found."""
    problem = made.problem
    one = _Writer(made, modes, problem.currency).plan()
    return _answer(problem, verdict_of(problem, one), Proof.FOUND, (one,), None, (), ())


def _search(made: Compiled, best: int, stop: Callable[[], bool]) -> SearchResult:
    return k_best(made.network, best, stop=stop)


def _bound(made: Compiled, found: SearchResult) -> int | None:
    return None if found.bound is None else found.bound + made.constant


def verdict_of(problem: Problem, first: Plan) -> Verdict:
    """Of a certain plan: with work, when it changes more than what is always renewed."""
    for choice in first.seats:
        kind = problem.parts[choice.part].kind if choice.part in problem.parts else ""
        renewed = choice.source == NEW and problem.one_time(kind)
        if choice.source == DONOR or (choice.source == NEW and not renewed):
            return Verdict.WITH_WORK
        if any(problem.operations[n].effect != SERVICE for n in choice.operations):
            return Verdict.WITH_WORK
    return Verdict.YES


def _answer(
    problem: Problem,
    verdict: Verdict,
    proof: Proof,
    plans: tuple[Plan, ...],
    bound: int | None,
    open_: tuple[Missing, ...],
    causes: tuple[str, ...],
) -> PlanAnswer:
    bundle = problem.bundle
    said = explain.sentence(problem, verdict, proof, plans, open_, causes)
    return PlanAnswer(bundle.question, bundle.snapshot, verdict, proof, said, plans, bound, open_, causes, bundle)


class _Writer:
    """Writes one solution out as a plan."""

    def __init__(self, made: Compiled, modes: Mapping[str, Mode], currency: str) -> None:
        self.problem = made.problem
        self.modes = {s.name: modes[s.name] for s in self.problem.layout.seats}  # in the layout's order
        self.currency = currency
        self.windows = dict(_windows(made.meetings, modes))
        self.services = self._services()
        self.facts = {o: self._fact(o) for r in self.problem.requirements for o in r.operands}
        self.open: tuple[Missing, ...] = ()

    def plan(self) -> Plan:
        """The plan with everything that follows from the choices."""
        steps = tuple(self._steps())
        joints = tuple(self._joints())
        self.open = explain.open_facts(self.problem, self.modes, joints, self.facts)
        consumed = tuple(self._consumed())
        costs = tuple(self._costs(steps, consumed))
        deposits, lead_days = self._bought(consumed)
        strip = sum(m.option.seat.strip_time or 0 for m in self.modes.values() if m.option.source == DONOR)
        return Plan(
            seats=tuple(self._choice(m) for m in self.modes.values()),
            steps=steps,
            joints=joints,
            consumed=consumed,
            costs=costs,
            cost=sum(line.amount or 0 for line in costs),
            at_least=any(line.amount is None for line in costs) or self._unknown_depth() or self._unsure_depth(),
            deposits=deposits,
            time=strip + sum(s.time for s in steps),
            lead_days=lead_days,
            currency=self.currency,
            cautions=explain.cautions(self.problem, self.modes, steps, self.facts),
            confirm=tuple(self._confirm()),
        )

    def _services(self) -> frozenset[str]:
        due = money.services_always(self.problem).union(
            *(money.services_of(self.problem, m) for m in self.modes.values())
        )
        return due - {n for m in self.modes.values() for n in m.names}

    def _fact(self, operand: Operand) -> Fact | None:
        """A feature after the work."""
        seat, feature = operand
        if seat == ENGINE:
            return self.problem.engine_fact(feature)
        mode = self.modes.get(seat)
        if mode is None:
            return None
        cut = mode.cuts.get(feature)
        if cut is None:
            return mode.facts.get(feature)
        return _cut_to(cut, self.windows[operand].target)

    def _choice(self, mode: Mode) -> SeatChoice:
        option = mode.option
        quantity = 0 if option.source == EMPTY else option.seat.quantity
        why = explain.why_chosen(self.problem, mode)
        seat = option.seat.name
        return SeatChoice(seat, option.part, option.source, quantity, option.lot, mode.names, why, mode.rests)

    def _steps(self) -> Iterator[Step]:
        work = {seat: mode.operations for seat, mode in self.modes.items()}
        for name, seat in order_of_work(self.problem, work, self.services):
            yield self._step(name, seat)

    def _step(self, name: str, seat: str) -> Step:
        operation = self.problem.operations[name]
        mode = self.modes[seat] if seat else None
        cut = mode.cuts.get(operation.feature) if mode is not None else None
        window: Window | None = None
        limit, basis, to_code = None, "", ""
        claims = {operation.said}
        time = money.work_time(operation)
        if mode is not None and cut is not None and operation.effect in CUTS:
            window = self.windows[seat, operation.feature]
            limit, basis = cut.room.limit, cut.room.basis
            claims |= {c for a in cut.before.alternatives for c in a.claims} | set(cut.room.claims)
            time = money.work_time(operation, window.least - cut.start, cut.before.quantity)
        elif mode is not None and operation.effect not in (SERVICE, *CUTS):
            claims |= {c for a in mode.recoded[operation.feature].before.alternatives for c in a.claims}
            to_code = "|".join(mode.facts[operation.feature].alternatives[0].codes)
        return Step(
            operation=name,
            label=operation.label,
            seat=seat,
            part=mode.option.part if mode is not None else "",
            feature=operation.feature,
            quantity=cut.before.quantity if window is not None and cut is not None else "",
            before=cut.start if window is not None and cut is not None else None,
            least=window.least if window is not None else None,
            target=window.target if window is not None else None,
            low=window.low if window is not None else None,
            high=window.high if window is not None else None,
            tolerance=operation.tolerance or 0,
            limit=limit,
            limit_basis=basis,
            to_code=to_code,
            time=time,
            cost=money.labour(self.problem, operation.rate, time) or 0,
            reversible=operation.reversible,
            equipment=operation.equipment,
            caution=operation.caution,
            claims=tuple(sorted(claims - {""})),
        )

    def _joints(self) -> Iterator[RuleVerdict]:
        problem = self.problem
        empty = frozenset(s for s, m in self.modes.items() if m.option.source == EMPTY)
        parts = {seat: m.option.part for seat, m in self.modes.items()} | {ENGINE: problem.bundle.engine.key}
        for rule in problem.layout.rules:
            said = judge(
                rule,
                self.facts,
                accepted=problem.accepted,
                features=problem.features,
                parts=parts,
                empty=empty,
                may_be_empty=empty,
                spoken=problem.words,
            )
            if said is not None:
                yield said

    def _occasions(self) -> Iterator[tuple[str, str, list[str]]]:
        """What happens: (occasion, as a person says it, the seats that make it happen)."""
        yield ALWAYS, "always renewed", [""]
        seats: dict[str, list[str]] = {}
        for seat, mode in self.modes.items():
            for occasion in money.occasions(mode):
                seats.setdefault(occasion, []).append(seat)
        for occasion in sorted(seats):
            label = self.problem.operations[occasion].label if occasion in self.problem.operations else ""
            yield occasion, label or f"{in_words(occasion)} is changed", seats[occasion]
        for name in sorted(self.services):
            yield name, self.problem.operations[name].label, [""]

    def _consumed(self) -> Iterator[ConsumedPart]:
        rows: dict[str, list[tuple[Consume, str, int]]] = {}
        for occasion, words, seats in self._occasions():
            for row in self.problem.consumed_by(occasion):
                rows.setdefault(row.part, []).append((row, words, len(seats)))
        for part, mine in sorted(rows.items()):
            each = sum(row.quantity * times for row, _, times in mine if row.per != "unit")
            once = max((row.quantity for row, _, _ in mine if row.per == "unit"), default=0)
            because = tuple(dict.fromkeys(words for _, words, _ in mine))
            said = tuple(dict.fromkeys(row.said for row, _, _ in mine if row.said))
            yield ConsumedPart(part, each + once, because, said)

    def _costs(self, steps: Sequence[Step], consumed: Sequence[ConsumedPart]) -> Iterator[CostLine]:
        problem = self.problem
        yield money.core_line(problem)
        for mode in self.modes.values():
            yield from money.part_lines(problem, mode)
        for step in steps:
            operation = problem.operations[step.operation]
            yield CostLine(
                money.work_text(step.label, step.seat),
                "labour" if step.seat else "service",
                step.seat,
                money.labour(problem, operation.rate, step.time),
                said=money.rate_said(problem, operation.rate),
            )
        for used in consumed:
            price = money.new_price(problem, used.part)
            yield CostLine(
                money.named(problem, used.part),
                "consumed",
                "",
                None if price is None else price.price * used.quantity,
                used.quantity,
                "" if price is None else price.as_of,
                "" if price is None else price.said,
            )

    def _unknown_depth(self) -> bool:
        return any(r.operation.effect in CUTS for m in self.modes.values() for r in m.recoded.values())

    def _unsure_depth(self) -> bool:
        """Whether some cut may have to go deeper than its least, which is by what is not known at its best."""
        least = self.facts | {
            (seat, feature): _cut_to(self.modes[seat].cuts[feature], window.least)
            for (seat, feature), window in self.windows.items()
        }
        for requirement in self.problem.requirements:
            seats = (self.modes[s] for s in requirement.seats if s in self.modes)
            if self.windows.keys().isdisjoint(requirement.operands) or any(m.option.source == EMPTY for m in seats):
                continue
            if self.problem.verdict(requirement, [least[o] for o in requirement.operands]) is Verdict.UNKNOWN:
                return True
        return False

    def _bought(self, consumed: Sequence[ConsumedPart]) -> tuple[int, int | None]:
        """The deposits on new parts, and the longest lead time of those that stock does not cover."""
        wanted = {c.part: c.quantity for c in consumed}
        for mode in self.modes.values():
            if mode.option.source == NEW:
                wanted[mode.option.part] = wanted.get(mode.option.part, 0) + mode.option.seat.quantity
        deposits, days, unknown = 0, 0, False
        for key, quantity in wanted.items():
            record = self.problem.parts.get(key)
            price = record.price_new if record is not None else None
            if price is not None:
                deposits += (price.deposit or 0) * quantity
            if record is not None and sum(s.quantity for s in record.stock) >= quantity:
                continue
            if price is None or price.lead_days is None:
                unknown = True
            else:
                days = max(days, price.lead_days)
        return deposits, None if unknown else days

    def _confirm(self) -> Iterator[str]:
        """The used parts on which nothing was read."""
        for seat, mode in self.modes.items():
            option = mode.option
            if option.source not in (KEPT, DONOR) or option.found is None or option.found.readings:
                continue
            called = money.named(self.problem, option.part)
            yield f"{in_words(seat)}: {called} in core {option.lot}; nothing has been read on it, so look first"


def written(made: Compiled, choice: Sequence[int]) -> tuple[Plan, tuple[Missing, ...], dict[Operand, Fact | None]]:
    """One solution as a plan, with what it hangs on and the facts after its work that rules and demands look at."""
    writer = _Writer(made, made.chosen(choice), made.problem.currency)
    plan_ = writer.plan()
    return plan_, writer.open, writer.facts


def _cut_to(cut: Cut, size: int) -> Fact:
    """The feature after a cut to that size."""
    before = cut.before
    claims = {c for a in before.alternatives for c in a.claims} | {cut.operation.said}
    made = Alternative(size - cut.capability, size + cut.capability, claims=tuple(sorted(claims - {""})))
    return Fact(before.subject, before.feature, "machined", before.quantity, (made,))


def _windows(meetings: Sequence[Meeting], modes: Mapping[str, Mode]) -> Iterator[tuple[Operand, Window]]:
    """The window of every cut of the plan; each cut is in exactly one meeting."""
    made = {(seat, feature) for seat, mode in modes.items() for feature in mode.cuts}
    for meeting in meetings:
        if set(meeting.features) <= made and not meeting.near & made:
            yield from zip(meeting.features, meeting.windows(modes), strict=True)
