"""One job as the allocation sees it: its network with what it may not have struck out, and its least cost alone."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from graph.model.record import Core
from graph.model.verdict import Proof
from graph.model.yard import Job, Promise, ShelfQuestion
from graph.planning import money
from graph.planning.bounds import tree_bounds
from graph.planning.modes import Mode
from graph.planning.network import FORBIDDEN, Ints, Network
from graph.planning.options import DONOR, KEPT, NEW
from graph.planning.search import k_best
from graph.shelf.ground import Ground
from graph.shelf.supply import Needs, Supply, must_find


@dataclass(slots=True)
class Choice:
    """A job done: the core's number among the starts, and the choice of every variable of its network."""

    start: int
    choice: tuple[int, ...]


@dataclass
class Task:
    """One job. `network`: the ground's without what this job may not have; `constant` is paid in any case.

    `least`: it cannot cost less; None: it cannot be done at all. `free`: the donors' parts it may take.
    """

    number: int
    job: Job
    ground: Ground
    network: Network
    constant: int
    needs: Needs
    least: int | None
    free: Callable[[str, str], bool]
    settled: bool  # whether `least` is proved, or the search for it was stopped

    @cached_property
    def bounds(self) -> list[Ints]:
        """What any way with a candidate costs at least, `constant` left out."""
        return tree_bounds(self.network, lambda: False).of

    def tags(self, mode: Mode) -> tuple[str, ...]:
        """The donors that can give this job the part."""
        return tuple(tag for tag in self.ground.donors(mode) if self.free(tag, mode.option.seat.name))

    def alike(self, other: "Task") -> bool:
        """Whether the two jobs may swap whatever they get."""
        return self.ground is other.ground and self.key == other.key

    @cached_property
    def key(self) -> tuple[bytes, ...]:
        """Equal for jobs of one ground that may have the same things."""
        return (*(own.tobytes() for own in self.network.unary), " ".join(sorted(self.needs.must)).encode())


@dataclass(frozen=True, slots=True)
class Holds:
    """What is not free for all: cores and donors' parts that are promised, by tag and by (tag, seat), with whose."""

    cores: dict[str, str]
    parts: dict[tuple[str, str], str]

    @classmethod
    def of(cls, question: ShelfQuestion, cores: Iterable[Core], promised: Iterable[Promise]) -> "Holds":
        """The jobs' own cores, and what is promised to jobs that are not asked about."""
        tags = {core.key: core.tag for core in cores}
        held = {tags[job.core]: job.name for job in question.jobs if job.core in tags}
        parts: dict[tuple[str, str], str] = {}
        for promise in promised:
            if promise.tag and promise.seat:
                parts[promise.tag, promise.seat] = promise.job
            elif promise.tag:
                held.setdefault(promise.tag, promise.job)
        return cls(held, parts)

    def may_start(self, core: Core, job: Job) -> bool:
        """Whether the job may start from this core: its own, else one of the shop's that nothing is promised of."""
        if job.core:
            return core.key == job.core
        promised = core.tag in self.cores or any(tag == core.tag for tag, _ in self.parts)
        return not core.own and not promised

    def may_take(self, tag: str, seat: str) -> bool:
        """Whether a job may take the part in that seat out of that core."""
        return tag not in self.cores and (tag, seat) not in self.parts


def task(
    number: int,
    job: Job,
    ground: Ground,
    question: ShelfQuestion,
    *,
    supply: Supply,
    holds: Holds,
    stop: Callable[[], bool],
) -> Task:
    """The job with its least cost when it is the only one."""
    problem = ground.made.problem
    must = must_find(problem.bundle.parts, question, job)
    made = Task(
        number,
        job,
        ground,
        ground.network,
        ground.constant,
        Needs(problem, must),
        None,
        holds.may_take,
        settled=True,
    )
    unary = []
    for v, own in enumerate(ground.network.unary):
        mine = own.copy()
        if v < len(ground.made.seats):
            for i, mode in enumerate(ground.modes(v)):
                option = mode.option
                if (
                    (option.source == DONOR and not made.tags(mode))
                    or (option.source == KEPT and (option.lot, option.seat.name) in holds.parts)
                    or (
                        option.source == NEW
                        and option.part in must
                        and supply.free.get(option.part, 0) < option.seat.quantity
                    )
                ):
                    mine[i] = FORBIDDEN
                elif option.source == DONOR and question.torn_down_once and mine[i] < FORBIDDEN:
                    mine[i] -= strip_cost(ground, mode)
        unary.append(mine)
    barred = np.array([not holds.may_start(core, job) for core in ground.starts])
    unary[-1] = np.where(barred, FORBIDDEN, unary[-1])
    made.network = Network(tuple(unary), ground.network.factors, ground.network.labels, ground.network.names)
    if barred.all():
        return made
    found = k_best(made.network, 1, stop=stop)
    if found.proof is not Proof.IMPOSSIBLE:
        made.least = ground.constant + (found.bound or 0)
        made.settled = found.proof is Proof.CHEAPEST
    return made


def strip_cost(ground: Ground, mode: Mode) -> int:
    """What stripping this part out of its donor costs."""
    strip = mode.option.seat.strip_time
    return (money.labour(ground.made.problem, money.SHOP, strip) or 0) if strip else 0


@dataclass(slots=True)
class Taken:
    """What the jobs so far have taken."""

    starts: set[str]
    parts: set[tuple[str, str]]
    used: dict[str, int]


def first_come(
    tasks: Sequence[Task], supply: Supply, stop: Callable[[], bool]
) -> dict[int, tuple[Choice, dict[str, str]]]:
    """Each job in turn takes what is cheapest for it; by task the choice and the donor of each seat.

    A job whose cheapest way would overdraw the stock by what the work uses up is passed over.
    """
    taken = Taken(set(), set(), {})
    out: dict[int, tuple[Choice, dict[str, str]]] = {}
    for one in tasks:
        if one.least is None or stop():
            continue
        network = _left(one, taken, supply)
        found = k_best(network, 1, stop=stop)
        if not found.solutions:
            continue
        choice = found.solutions[0].choice
        start = one.ground.starts[choice[-1]].tag
        donors: dict[str, str] = {}
        for seat, i in zip(one.ground.made.seats, choice, strict=False):
            mode = seat.modes[i]
            name = seat.seat.name
            if mode.option.source == DONOR:
                gone = {start, *taken.starts}
                donors[name] = next(t for t in one.tags(mode) if t not in gone and (t, name) not in taken.parts)
        use = uses(one, choice)
        if any(taken.used.get(p, 0) + q > supply.free.get(p, 0) for p, q in use.items()):
            continue
        taken.starts.add(start)
        taken.parts |= {(tag, seat) for seat, tag in donors.items()}
        for part, quantity in use.items():
            taken.used[part] = taken.used.get(part, 0) + quantity
        out[one.number] = Choice(choice[-1], choice), donors
    return out


def _left(one: Task, taken: Taken, supply: Supply) -> Network:
    """The job's network without what is gone."""
    unary = [own.copy() for own in one.network.unary]
    for v, seat in enumerate(one.ground.made.seats):
        for i, mode in enumerate(seat.modes):
            option = mode.option
            gone = False
            if option.source == DONOR:
                free = [t for t in one.tags(mode) if t not in taken.starts and (t, seat.seat.name) not in taken.parts]
                # A part of which one member is left goes with any core but that one; the link knows whole pools only.
                gone = not free
                if len(free) == 1 and len(one.ground.donors(mode)) > 1:
                    gone = True
            elif option.source == NEW and option.part in one.needs.must:
                left = supply.free.get(option.part, 0) - taken.used.get(option.part, 0)
                gone = left < option.seat.quantity
            if gone:
                unary[v][i] = FORBIDDEN
    donated = {tag for tag, _ in taken.parts}
    gone_starts = np.array([c.tag in taken.starts or c.tag in donated for c in one.ground.starts])
    unary[-1] = np.where(gone_starts, FORBIDDEN, unary[-1])
    return Network(tuple(unary), one.network.factors, one.network.labels, one.network.names)


def uses(one: Task, choice: Sequence[int]) -> dict[str, int]:
    """How many of each part that it must find in stock a job's choice uses up, what the work consumes included."""
    needs, problem = one.needs, one.ground.made.problem
    modes = [seat.modes[i] for seat, i in zip(one.ground.made.seats, choice, strict=False)]
    out: dict[str, int] = dict(needs.always)
    happening = {"always"}
    for mode in modes:
        for part, quantity in needs.mode(mode).items():
            out[part] = out.get(part, 0) + quantity
        happening |= money.occasions(mode)
    services = money.services_always(problem).union(*(money.services_of(problem, m) for m in modes))
    services -= {name for mode in modes for name in mode.names}
    for service in services:
        for part, quantity in needs.each.get(service, {}).items():
            out[part] = out.get(part, 0) + quantity
    once: dict[str, int] = {}
    for occasion in happening | services:
        for part, quantity in needs.once.get(occasion, {}).items():
            once[part] = max(once.get(part, 0), quantity)
    for part, quantity in once.items():
        out[part] = out.get(part, 0) + quantity
    return out
