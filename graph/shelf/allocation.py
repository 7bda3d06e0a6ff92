"""The allocation itself: all jobs' networks in one model of OR-Tools CP-SAT, joined by what they may use but once.

Rule 1: the model is whole: every choice that could be part of a best allocation is in it. A choice is left out only
when its bound with the least costs of the other jobs lies above the cost of an allocation that is in hand.
Rule 2: no clock is read here; the caller says how many seconds are left.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from ortools.sat.python import cp_model

from graph.planning import money
from graph.planning.classes import reduce
from graph.planning.network import FORBIDDEN
from graph.planning.options import DONOR, EMPTY, KEPT
from graph.shelf.supply import Supply
from graph.shelf.task import Choice, Task, strip_cost

WORKERS = 1
"""One worker gives the same allocation every time; two cores gain little here."""

Made = dict[int, tuple[Choice, dict[str, str]]]
"""By task number: the choice, and for each seat that takes a donor's part the donor's tag."""


@dataclass(slots=True)
class Allocation:
    """What was found. `most`: no way does more jobs; `least`: as many jobs cannot cost less."""

    made: Made
    most: int
    least: int
    proved: bool


@dataclass(slots=True)
class _Variables:
    """One job in the model."""

    task: Task
    done: cp_model.IntVar
    chosen: list[dict[int, cp_model.IntVar]]  # by variable: candidate, whether it is chosen
    donor: dict[tuple[int, str], cp_model.IntVar] = field(default_factory=dict)  # (seat, tag): taken from there


def allocate(
    tasks: Sequence[Task],
    supply: Supply,
    in_hand: Made,
    *,
    torn_down_once: bool,
    first: int | None,
    remaining: Callable[[], float],
) -> Allocation:
    """Most jobs done (the job `first` before all), then the least total cost.

    `in_hand` is an allocation already found; where it does all the jobs that can be done at all, its cost limits
    what is looked at.
    """
    able = [t for t in tasks if t.least is not None]
    if not able:
        return Allocation({}, 0, 0, proved=True)
    most, count_proved = len(able), len(in_hand) == len(able)
    best = in_hand
    limit = None
    if count_proved:
        limit = total(in_hand, tasks, torn_down_once)
    else:
        model = _Model(able, supply, None, torn_down_once, first)
        status, found, bound = model.solve(model.count, maximise=True, hint=best, seconds=remaining())
        if status is None:
            return Allocation(best, len(able), _least(able, len(best)), proved=False)
        if found is not None and (len(found) >= len(best) or (first is not None and first in found)):
            best = found
        most = len(best) if status else min(len(able), bound)
        count_proved = status
    if not count_proved:
        return Allocation(best, most, _least(able, len(best)), proved=False)
    model = _Model(able, supply, limit, torn_down_once, first)
    model.require(most, first if first is not None and first in best else None)
    status, found, bound = model.solve(model.cost, maximise=False, hint=best, seconds=remaining())
    least = max(_least(able, most), bound)
    if found is not None:
        best = found
    if status and found is not None:
        least = total(found, tasks, torn_down_once)
    return Allocation(best, most, least, proved=bool(status))


def _least(able: Iterable[Task], count: int) -> int:
    """So many jobs cannot cost less."""
    return sum(sorted(t.least or 0 for t in able)[:count])


def total(made: Made, tasks: Sequence[Task], torn_down_once: bool) -> int:
    """What an allocation costs; with donors torn down once, the dearest strip of each donor counts."""
    out = 0
    strips: dict[str, int] = {}
    for number, (choice, donors) in made.items():
        one = tasks[number]
        out += one.constant + _cost(one, choice)
        if torn_down_once:
            for seat, i in zip(one.ground.made.seats, choice.choice, strict=False):
                tag = donors.get(seat.seat.name)
                if tag is not None:
                    strips[tag] = max(strips.get(tag, 0), strip_cost(one.ground, seat.modes[i]))
    return out + sum(strips.values())


def _cost(one: Task, choice: Choice) -> int:
    network = one.network
    out = sum(int(own[c]) for own, c in zip(network.unary, choice.choice, strict=True))
    for factor in network.factors:
        cell = tuple(int(c[choice.choice[v]]) for v, c in zip(factor.scope, factor.classes, strict=True))
        out += int(factor.table[cell])
    return out


class _Model:
    def __init__(
        self, tasks: Sequence[Task], supply: Supply, limit: int | None, torn_down_once: bool, first: int | None
    ) -> None:
        self.model = cp_model.CpModel()
        self.torn_down_once = torn_down_once
        self.supply = supply
        self.terms: list[tuple[int, cp_model.IntVar]] = []
        self.jobs: list[_Variables] = []
        leasts = {t.number: t.least or 0 for t in tasks}
        for one in tasks:
            room = None if limit is None else limit - sum(leasts.values()) + leasts[one.number] - one.constant
            self._add_job(one, room)
        self._share_cores()
        self._share_donors()
        self._share_stock()
        self._order_alike(first)
        self.weights = {job.task.number: 1 if job.task.number != first else len(tasks) + 1 for job in self.jobs}

    @property
    def cost(self) -> cp_model.LinearExprT:
        """The total cost."""
        return cp_model.LinearExpr.weighted_sum([v for _, v in self.terms], [w for w, _ in self.terms])

    @property
    def count(self) -> cp_model.LinearExprT:
        """How many jobs are done; the first of all counts for more than all others together."""
        return sum(self.weights[job.task.number] * job.done for job in self.jobs)

    def require(self, count: int, first: int | None) -> None:
        """So many jobs are to be done, and that one in any case."""
        self.model.add(sum(job.done for job in self.jobs) >= count)
        for job in self.jobs:
            if job.task.number == first:
                self.model.add(job.done == 1)

    def _add_job(self, one: Task, room: int | None) -> None:
        model = self.model
        done = model.new_bool_var("")
        everything = FORBIDDEN - 1 if room is None else room
        kept = [np.flatnonzero(bound <= everything) for bound in one.bounds]
        reduced = reduce(one.network, kept)
        if reduced is None:
            model.add(done == 0)
            self.jobs.append(_Variables(one, done, [{} for _ in one.network.unary]))
            return
        chosen = [{int(c): model.new_bool_var("") for c in candidates} for candidates in reduced.kept]
        self.terms.append((one.constant + reduced.constant, done))
        for literals, own in zip(chosen, reduced.unary, strict=True):
            model.add(sum(literals.values()) == done)
            self.terms += [(int(w), x) for w, x in zip(own, literals.values(), strict=True) if w]
        for piece in reduced.pieces:
            columns = []
            for v, classes, size in zip(piece.scope, piece.maps, piece.table.shape, strict=True):
                column = model.new_int_var(0, size, "")  # 0: the job is not done
                of_each = classes[reduced.signature[v]].tolist()
                model.add(column == sum((c + 1) * x for c, x in zip(of_each, chosen[v].values(), strict=True)))
                columns.append(column)
            cells = np.argwhere(piece.table < FORBIDDEN)
            costs = piece.table[tuple(cells.T)]
            rows = (cells + 1).tolist()
            rows.append([0] * len(columns))
            if costs.any():
                cost = model.new_int_var(0, int(costs.max()), "")
                self.terms.append((1, cost))
                columns.append(cost)
                rows = [[*row, int(c)] for row, c in zip(rows, [*costs.tolist(), 0], strict=True)]
            model.add_allowed_assignments(columns, rows)
        self.jobs.append(_Variables(one, done, chosen))
        self._follow_core(self.jobs[-1])

    def _follow_core(self, job: _Variables) -> None:
        """What is kept is kept of the core that the job starts from; said once more, so that bounds are better."""
        start = {job.task.ground.starts[c].tag: x for c, x in job.chosen[-1].items()}
        for v in range(len(job.task.ground.made.seats)):
            of_core: dict[str, list[cp_model.IntVar]] = defaultdict(list)
            for i, x in job.chosen[v].items():
                option = job.task.ground.modes(v)[i].option
                if option.source == KEPT or (option.source == EMPTY and option.lot):
                    of_core[option.lot].append(x)
            for tag, literals in of_core.items():
                self.model.add(sum(literals) <= start.get(tag, 0))

    def _share_cores(self) -> None:
        """A core starts one job."""
        self.start: dict[str, list[cp_model.IntVar]] = defaultdict(list)
        for job in self.jobs:
            for c, x in job.chosen[-1].items():
                self.start[job.task.ground.starts[c].tag].append(x)
        for literals in self.start.values():
            if len(literals) > 1:
                self.model.add_at_most_one(literals)

    def _share_donors(self) -> None:
        """A donor's part goes into one job, and a core that starts a job donates nothing."""
        taken: dict[tuple[str, str], list[cp_model.IntVar]] = defaultdict(list)
        strips: dict[str, list[tuple[int, cp_model.IntVar]]] = defaultdict(list)
        for job in self.jobs:
            for v, seat in enumerate(job.task.ground.made.seats):
                takers: dict[tuple[str, ...], list[cp_model.IntVar]] = defaultdict(list)
                labour = 0
                for i, x in job.chosen[v].items():
                    mode = seat.modes[i]
                    if mode.option.source == DONOR:
                        takers[job.task.tags(mode)].append(x)
                        labour = strip_cost(job.task.ground, mode)
                given: dict[str, list[cp_model.IntVar]] = defaultdict(list)
                for tags, literals in takers.items():
                    if len(tags) == 1:
                        given[tags[0]] += literals
                        continue
                    members = {tag: self.model.new_bool_var("") for tag in tags}
                    self.model.add(sum(members.values()) == sum(literals))
                    for tag, x in members.items():
                        given[tag].append(x)
                for tag, literals in given.items():
                    x = self.model.new_bool_var("")
                    self.model.add(x == sum(literals))
                    job.donor[v, tag] = x
                    taken[tag, seat.seat.name].append(x)
                    if labour:
                        strips[tag].append((labour, x))
        for (tag, _), literals in taken.items():
            self.model.add_at_most_one([*literals, *self.start.get(tag, ())])
        if self.torn_down_once:
            for priced in strips.values():
                dearest = self.model.new_int_var(0, max(labour for labour, _ in priced), "")
                for labour, x in priced:
                    self.model.add(dearest >= labour * x)
                self.terms.append((1, dearest))

    def _share_stock(self) -> None:
        """What must be found in stock is there for all together."""
        used: dict[str, list[cp_model.LinearExprT]] = defaultdict(list)
        for job in self.jobs:
            for part, expression in self._used(job).items():
                used[part].append(expression)
        for part, expressions in used.items():
            self.model.add(sum(expressions) <= self.supply.free.get(part, 0))

    def _used(self, job: _Variables) -> dict[str, cp_model.LinearExprT]:
        """What a job uses up of each part that it must find in stock, at least."""
        needs, ground = job.task.needs, job.task.ground
        problem = ground.made.problem
        always = money.services_always(problem)
        out: dict[str, list[cp_model.LinearExprT]] = defaultdict(list)
        happens: dict[str, list[cp_model.IntVar]] = defaultdict(list)  # occasion, choices of which each is one
        due: dict[str, list[cp_model.IntVar]] = defaultdict(list)
        named: dict[str, list[cp_model.IntVar]] = defaultdict(list)
        for part, quantity in needs.always.items():
            out[part].append(quantity * job.done)
        for v, seat in enumerate(ground.made.seats):
            for i, x in job.chosen[v].items():
                mode = seat.modes[i]
                for part, quantity in needs.mode(mode).items():
                    out[part].append(quantity * x)
                for occasion in money.occasions(mode):
                    happens[occasion].append(x)
                for service in money.services_of(problem, mode):
                    due[service].append(x)
                for name in mode.names:
                    named[name].append(x)
        happens["always"].append(job.done)
        for service in always:
            due[service].append(job.done)
        for service, causes in due.items():
            if service not in needs.each and service not in needs.once:
                continue
            separately = self.model.new_bool_var("")  # done for the unit, not among one seat's own operations
            for x in causes:
                self.model.add(separately >= x - sum(named.get(service, [])))
            for part, quantity in needs.each.get(service, {}).items():
                out[part].append(quantity * separately)
            happens[service].append(separately)
        largest: dict[str, list[tuple[int, cp_model.IntVar]]] = defaultdict(list)
        for occasion, rows in needs.once.items():
            for part, quantity in rows.items():
                largest[part] += [(quantity, x) for x in happens.get(occasion, [])]
        for part, priced in largest.items():
            if priced:
                most = self.model.new_int_var(0, max(q for q, _ in priced), "")
                for quantity, x in priced:
                    self.model.add(most >= quantity * x)
                out[part].append(most)
        return {part: sum(expressions) for part, expressions in out.items()}

    def _order_alike(self, first: int | None) -> None:
        """Of jobs that may swap whatever they get, the earlier starts from the earlier core."""
        free = [job for job in self.jobs if job.task.number != first]
        for i, job in enumerate(free):
            other = next((o for o in free[i + 1 :] if o.task.alike(job.task)), None)
            if other is None or not job.chosen[-1] or not other.chosen[-1]:
                continue
            beyond = len(job.task.ground.starts)
            self.model.add_implication(other.done, job.done)
            places = [sum(c * x for c, x in one.chosen[-1].items()) for one in (job, other)]
            self.model.add(places[0] + 1 <= places[1] + (beyond + 1) * (1 - other.done))

    def solve(
        self, objective: cp_model.LinearExprT, *, maximise: bool, hint: Made, seconds: float
    ) -> tuple[bool | None, Made | None, int]:
        """(proved, what was found, bound); the first is None when the time was over before anything was tried."""
        if seconds <= 0:
            return None, None, 0
        if maximise:
            self.model.maximize(objective)
        else:
            self.model.minimize(objective)
        self._hint(hint)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = WORKERS
        solver.parameters.random_seed = 1
        if seconds != float("inf"):
            solver.parameters.max_time_in_seconds = seconds
        status = solver.solve(self.model)
        bound = solver.best_objective_bound
        whole = int(np.floor(bound + 1e-6)) if maximise else int(np.ceil(bound - 1e-6))
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return status == cp_model.OPTIMAL, self._read(solver), whole
        return status == cp_model.INFEASIBLE, None, 0 if status == cp_model.INFEASIBLE else whole

    def _hint(self, made: Made) -> None:
        for job in self.jobs:
            found = made.get(job.task.number)
            self.model.add_hint(job.done, found is not None)
            for v, literals in enumerate(job.chosen):
                for c, x in literals.items():
                    self.model.add_hint(x, found is not None and found[0].choice[v] == c)

    def _read(self, solver: cp_model.CpSolver) -> Made:
        made: Made = {}
        for job in self.jobs:
            if not solver.boolean_value(job.done):
                continue
            choice = tuple(next(c for c, x in row.items() if solver.boolean_value(x)) for row in job.chosen)
            seats = job.task.ground.made.seats
            donors = {seats[v].seat.name: tag for (v, tag), x in job.donor.items() if solver.boolean_value(x)}
            made[job.task.number] = Choice(choice[-1], choice), donors
        return made
