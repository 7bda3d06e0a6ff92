"""The day's jobs answered: who gets which core and which parts, so that most jobs are done, and those for least.

Rule 1: only certain plans are given; a job that hangs on a fact not known is left out, and says so.
Rule 2: no clock and no file; `remaining` says how many seconds are left, and the answer says what is proved by then.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date

from graph.errors import AnswerRefused, BadQuestion, MixedCurrency
from graph.model.bundle import PlanQuestion
from graph.model.plan import PlanAnswer
from graph.model.record import Core, Snapshot
from graph.model.verdict import Proof
from graph.model.yard import (
    Displaced,
    Job,
    JobPlan,
    LeftOut,
    Promise,
    RushAnswer,
    ShelfAnswer,
    ShelfQuestion,
)
from graph.planning.answer import answered
from graph.planning.compile import compiled
from graph.planning.explain import money_text
from graph.planning.modes import Mode
from graph.planning.options import DONOR, EMPTY, NEW
from graph.planning.problem import Problem
from graph.shelf.allocation import Allocation, Made, allocate, total
from graph.shelf.ground import Evidence, Ground, ground
from graph.shelf.promise import drawn, from_shelf, wanted
from graph.shelf.supply import Supply, due_of
from graph.shelf.task import Choice, Holds, Task, first_come, task

MOST_JOBS = 60
"""Jobs of one question; each holds a network of its own in memory."""


def endless() -> float:
    """A `remaining` that never ends."""
    return float("inf")


def plan_shelf(
    question: ShelfQuestion,
    cores: Sequence[Core],
    evidence: Evidence,
    *,
    promised: Iterable[Promise] = (),
    remaining: Callable[[], float] = endless,
) -> ShelfAnswer:
    """Who gets what. `cores` are all on the shelf; `promised` to jobs that are not asked about stays theirs.

    Raises
    ------
    BadQuestion
        No job, two of one name or on one core, a core that is not there, or a day that is none.
    MixedCurrency
        Prices of two currencies.
    """
    _refuse(question, cores)
    asked = {job.name for job in question.jobs}
    others = [p for p in promised if p.job not in asked]
    holds = Holds.of(question, cores, others)
    grounds: dict[tuple[str, str], Ground] = {}
    tasks: list[Task] = []
    supply = Supply({})
    for job in question.jobs:
        key = job.build, job.engine
        if key not in grounds:
            wanted_by = [j for j in question.jobs if (j.build, j.engine) == key]
            starts = [c for c in cores if any(holds.may_start(c, j) for j in wanted_by)]
            if not starts:
                continue
            plan_question = PlanQuestion("", job.build, job.engine, 1, question.day)
            grounds[key] = ground(evidence, plan_question, starts)
            free = Supply.of(grounds[key].made.problem.bundle.parts, others).free
            supply = Supply({**supply.free, **free})
    currencies = {g.currency for g in grounds.values()} - {""}
    if len(currencies) > 1:
        raise MixedCurrency(f"prices in {', '.join(sorted(currencies))}", fix="price all jobs in one currency")
    without: list[Job] = []
    for job in question.jobs:
        of = grounds.get((job.build, job.engine))
        if of is None:
            without.append(job)
            continue
        made = task(len(tasks), job, of, question, supply=supply, holds=holds, stop=lambda: remaining() <= 0)
        tasks.append(made)
    in_turn = first_come(tasks, supply, lambda: remaining() <= 0)
    found = allocate(
        tasks,
        supply,
        in_turn,
        torn_down_once=question.torn_down_once,
        first=next((t.number for t in tasks if t.job.name == question.rush), None),
        remaining=remaining,
    )
    return _Writer(question, tasks, supply, evidence, next(iter(currencies), "")).answer(found, in_turn, without)


def _refuse(question: ShelfQuestion, cores: Sequence[Core]) -> None:
    faults = []
    jobs = question.jobs
    if not jobs:
        faults.append("no job is named")
    if len(jobs) > MOST_JOBS:
        faults.append(f"{len(jobs)} jobs at once; {MOST_JOBS} are the most")
    names = [job.name for job in jobs]
    faults += [f"two jobs are called {name!r}" for name in sorted({n for n in names if names.count(n) > 1})]
    known = {core.key for core in cores}
    named = [job.core for job in jobs if job.core]
    faults += [f"there is no core {key!r}" for key in sorted(set(named) - known)]
    faults += [f"two jobs name the core {key!r}" for key in sorted({k for k in named if named.count(k) > 1})]
    if question.rush and question.rush not in names:
        faults.append(f"the rush job {question.rush!r} is none of the jobs")
    for what, day in [("day", question.day), ("by", question.by), *((f"due of {j.name}", j.due) for j in jobs)]:
        if day and not _is_day(day):
            faults.append(f"{what}: {day!r} is no day")
    if faults:
        raise BadQuestion("; ".join(faults), fix="mend the jobs, then ask again; days are written YYYY-MM-DD")


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


class _Writer:
    """Writes an allocation out as an answer."""

    def __init__(
        self, question: ShelfQuestion, tasks: Sequence[Task], supply: Supply, evidence: Evidence, currency: str
    ) -> None:
        self.question = question
        self.tasks = tasks
        self.supply = supply
        self.evidence = evidence
        self.currency = currency

    def answer(self, found: Allocation, in_turn: Made, without: Sequence[Job]) -> ShelfAnswer:
        once = self.question.torn_down_once
        written = [(self.tasks[n], *self._written(self.tasks[n], *found.made[n])) for n in sorted(found.made)]
        wants = [(wanted(a.plans[0]), t.needs.must, due_of(self.question, t.job)) for t, _, a in written]
        jobs = []
        for (one, tag, answer), (draws, orders) in zip(written, drawn(wants, self.supply.free), strict=True):
            promises = from_shelf(one.job, tag, answer.plans[0])
            promises += [Promise(one.job.name, part=p, quantity=q) for p, q in sorted(draws.items())]
            plan = answer.plans[0]
            jobs.append(JobPlan(one.job, tag, answer, plan.cost, one.least or 0, tuple(promises), tuple(orders)))
        cost = total(found.made, self.tasks, once)
        saved = sum(one.cost for one in jobs) - cost
        at_least = any(one.answer.plans[0].at_least for one in jobs)
        left = [LeftOut(job, None, self._why_no_start(job)) for job in without]
        left += [self._left_out(t, found) for t in self.tasks if t.number not in found.made]
        order = {job.name: i for i, job in enumerate(self.question.jobs)}
        snapshot = jobs[0].answer.snapshot if jobs else self._snapshot()
        made = ShelfAnswer(
            self.question,
            snapshot,
            self._proof(found, at_least),
            tuple(sorted(jobs, key=lambda j: order[j.job.name])),
            tuple(sorted(left, key=lambda j: order[j.job.name])),
            cost,
            at_least,
            saved,
            found.most,
            found.least if jobs else None,
            (len(in_turn), total(in_turn, self.tasks, once)),
            self.currency,
            "",
        )
        return replace(made, sentence=sentence(made))

    def _snapshot(self) -> Snapshot:
        return self.tasks[0].ground.made.problem.bundle.snapshot if self.tasks else Snapshot("", 0)

    def _proof(self, found: Allocation, at_least: bool) -> Proof:
        if not found.made:
            return Proof.IMPOSSIBLE if found.proved else Proof.UNDECIDED
        return Proof.CHEAPEST if found.proved and not at_least else Proof.FOUND

    def _written(self, one: Task, choice: Choice, donors: dict[str, str]) -> tuple[str, PlanAnswer]:
        """The job's plan, written from the evidence of a plan question of its own."""
        core = one.ground.starts[choice.start]
        bundle = self.evidence(PlanQuestion(core.key, one.job.build, one.job.engine, 1, self.question.day))
        made = compiled(Problem(bundle), certain=True)
        cores = {c.tag: c for c in (*bundle.donors, core)}
        modes: dict[str, Mode] = {}
        for seat, own, i in zip(made.seats, one.ground.made.seats, choice.choice, strict=False):
            wanted_mode = own.modes[i]
            modes[seat.seat.name] = self._found_again(seat.modes, wanted_mode, donors.get(seat.seat.name, ""), cores)
        answer = answered(made, modes)
        return core.tag, answer

    def _found_again(self, modes: Iterable[Mode], wanted_mode: Mode, donor: str, cores: dict[str, Core]) -> Mode:
        source = wanted_mode.option.source
        for mode in modes:
            option = mode.option
            if mode.label != wanted_mode.label:
                continue
            if source in (NEW, EMPTY) or option.lot == (donor or wanted_mode.option.lot):
                return mode
            read = option.found is not None and option.found.readings
            if source == DONOR and not read and donor in cores:
                found = next((f for f in cores[donor].found if f.seat == option.seat.name), None)
                if found is not None and found.part == option.part and not found.readings:
                    return replace(mode, option=replace(option, lot=donor, found=found))
        raise AnswerRefused(
            f"the choice for {wanted_mode.option.seat.name} is not in the evidence of its own question",
            fix="this is a fault of the program; report it with the jobs",
        )

    def _why_no_start(self, job: Job) -> str:
        return (
            "its own core is promised to another job" if job.core else "no core of the shop's is free to start from"
        )

    def _left_out(self, one: Task, found: Allocation) -> LeftOut:
        due = due_of(self.question, one.job)
        limits = [f"by {due}"] if due else []
        limits += ["from stock alone"] if self.question.only_stock else []
        said = " " + " and ".join(limits) if limits else ""
        if one.least is None:
            start = "its core" if one.job.core else "any free core"
            return LeftOut(
                one.job, None, f"no plan is certain from {start}{said}; ask for its plan to see what hinders"
            )
        if len(found.made) < found.most or not found.proved:
            return LeftOut(one.job, one.least, "no place was found for it before the time was over")
        return LeftOut(one.job, one.least, f"what it needs goes to the other jobs, of which more can be done{said}")


_NONE = "The job cannot be done for certain with this shelf."


def sentence(answer: ShelfAnswer) -> str:
    """The answer in a few plain sentences."""
    done, of = len(answer.jobs), len(answer.question.jobs)
    if not done:
        if answer.proof is Proof.IMPOSSIBLE:
            return f"None of the {of} jobs can be done for certain with this shelf." if of > 1 else _NONE
        return f"Nothing was found for the {of} jobs before the time was over."
    least = "at least " if answer.at_least else ""
    price = f"{least}{money_text(answer.cost, answer.currency)}"
    lead = f"{done} of {of} jobs can be done" if done < of else f"All {of} jobs can be done"
    lead = "The job can be done" if of == 1 else lead
    text = f"{lead}, for {price}{' together' if done > 1 else ''}"
    if answer.proof is Proof.CHEAPEST:
        text += ", and no way does more or costs less."
    elif answer.gap is not None and answer.bound is not None and answer.gap > 0:
        bound = money_text(answer.bound, answer.currency)
        gap = 100 * answer.gap / max(answer.bound, 1)
        text += f"; not proved cheapest: it cannot be done for less than {bound}, and this is {gap:.1f} % above that."
    elif done < answer.most:
        text += f"; not proved: {answer.most} jobs are not ruled out."
    else:
        text += "; a price is missing, so a cheaper way is not ruled out."
    count, cost = answer.first_come
    if (count, -cost) != (done, -answer.cost):
        text += f" First come, first served would do {count} of them for {least}{money_text(cost, answer.currency)}."
    return text


def plan_rush(
    question: ShelfQuestion,
    cores: Sequence[Core],
    evidence: Evidence,
    *,
    promised: Sequence[Promise] = (),
    remaining: Callable[[], float] = endless,
) -> RushAnswer:
    """What the rush job of the question displaces: the shelf planned without it and with it before all others."""
    if not question.rush:
        raise BadQuestion("no rush job is named", fix="name one of the jobs as the rush job")
    rest = tuple(job for job in question.jobs if job.name != question.rush)
    if not rest:
        raise BadQuestion("the rush job is the only one", fix="name the other jobs of the day as well")
    total_time = remaining()
    half = (lambda: remaining() - total_time / 2) if total_time != float("inf") else remaining
    without = plan_shelf(replace(question, jobs=rest, rush=""), cores, evidence, promised=promised, remaining=half)
    together = plan_shelf(question, cores, evidence, promised=promised, remaining=remaining)
    before = {one.job.name: one for one in without.jobs}
    after = {one.job.name: one for one in together.jobs}
    displaced = []
    for job in rest:
        old, new = before.get(job.name), after.get(job.name)
        if old is None and new is None:
            continue
        if (
            old is not None
            and new is not None
            and (old.tag, old.cost, _shape(old)) == (new.tag, new.cost, _shape(new))
        ):
            continue
        displaced.append(
            Displaced(
                job.name,
                old.tag if old else "",
                new.tag if new else "",
                old.cost if old else None,
                new.cost if new else None,
            )
        )
    made = RushAnswer(question.rush, without, together, tuple(displaced), "")
    return replace(made, sentence=_rush_sentence(made))


def _shape(one: JobPlan) -> object:
    return one.answer.plans[0].identity


def _rush_sentence(answer: RushAnswer) -> str:
    rush = next((one for one in answer.together.jobs if one.job.name == answer.rush), None)
    if rush is None:
        return f"{answer.rush} cannot be done: " + "; ".join(
            one.reason for one in answer.together.left_out if one.job.name == answer.rush
        )
    gone = [d.job for d in answer.displaced if not d.after]
    more = answer.together.cost - answer.without.cost
    text = f"{answer.rush} can be done on core {rush.tag}; all jobs together then cost "
    text += f"{money_text(abs(more), answer.together.currency)} {'more' if more >= 0 else 'less'}"
    if answer.together.at_least or answer.without.at_least:
        text += " as far as prices are on record"
    moved = [d.job for d in answer.displaced if d.after]
    if gone:
        text += f", and {', '.join(gone)} must wait"
    if moved:
        text += f"; {', '.join(moved)} {'get' if len(moved) > 1 else 'gets'} other parts or another core"
    return f"{text}."
