"""Clashes, ways out and 1,000 cores for a build on the planner's seeded questions; money against time on the demo's.

Members of a clash are five drawn goals on a seat each, and every factor of the network. Times are of the processor.
Every clash is held against dropping each member by a fresh search, every way out against trying all subsets of the
goals, every ranking against a search a core.
"""

import statistics
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from benchmarks.measurement import Measurement
from benchmarks.planner_instances import REGIMES, SEATS, compiled, instance
from demo_graph.tours import publish_demo
from graph.desk import open_desk
from graph.desk.depth import question
from graph.index.gather import plan_bundle
from graph.planning.answer import plan
from graph.planning.batch import Allowed
from graph.planning.feasible import any_solution
from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.objective import pareto
from graph.planning.quickxplain import minimal_conflict, minimal_relaxations
from graph.planning.search import k_best
from graph.planning.sweep import sweep

SEEDS = 4
GOALS = 5
CORES = 1000
SAMPLE = 100
"""Cores that are solved one by one for comparison; the time is then taken ten times."""


def run() -> list[Measurement]:
    """All of it, some minutes."""
    rows: list[Measurement] = []
    for n in (20, 100, 500):
        rows += _explained(n)
    for n in (30, 150):
        rows.append(_ranked(n))
    return [*rows, _growth(), *_pareto()]


Member = tuple[str, int]


@dataclass
class Asked:
    """A network with goals; `possible` answers for a set of goals and factors, from known solutions where they do."""

    network: Network
    goals: list[tuple[int, Ints]]  # variable, FORBIDDEN where a candidate does not meet it
    checks: int = 0
    known: dict[frozenset[Member], bool] = field(default_factory=dict)
    met: list[frozenset[Member]] = field(default_factory=list)
    reuse: bool = True

    @property
    def members(self) -> list[Member]:
        return [("goal", i) for i in range(len(self.goals))] + [
            ("factor", i) for i in range(len(self.network.factors))
        ]

    def narrowed(self, some: frozenset[Member]) -> Network:
        unary = list(self.network.unary)
        for i, (v, mask) in enumerate(self.goals):
            if ("goal", i) in some:
                unary[v] = np.maximum(unary[v], mask)
        factors = tuple(f for i, f in enumerate(self.network.factors) if ("factor", i) in some)
        return replace(self.network, unary=tuple(unary), factors=factors)

    def possible(self, some: frozenset[Member]) -> bool:
        if self.reuse and some in self.known:
            return self.known[some]
        if self.reuse and any(some <= met for met in self.met):
            return True
        self.checks += 1
        found = any_solution(self.narrowed(some))
        if self.reuse and found is not None:
            self.met.append(self._met(found))
        self.known[some] = found is not None
        return found is not None

    def _met(self, choice: tuple[int, ...]) -> frozenset[Member]:
        out = {("goal", i) for i, (v, mask) in enumerate(self.goals) if mask[choice[v]] < FORBIDDEN}
        for i, f in enumerate(self.network.factors):
            cell = tuple(int(c[choice[v]]) for v, c in zip(f.scope, f.classes, strict=True))
            if f.table[cell] < FORBIDDEN:
                out.add(("factor", i))
        return frozenset(out)


def _questions(n: int) -> Iterator[Asked]:
    """Questions that are possible and become impossible with five goals."""
    for regime in REGIMES:
        found = 0
        seed = 0
        while found < SEEDS and seed < 60:
            seed += 1
            network = compiled(instance(regime, n, seed))
            rng = np.random.default_rng([seed, n, 77])
            goals = []
            for v in rng.choice(len(SEATS), size=GOALS, replace=False).tolist():
                meets = np.isin(network.labels[v], rng.choice(np.unique(network.labels[v]), size=2))
                goals.append((v, np.where(meets, 0, FORBIDDEN)))
            asked = Asked(network, goals, reuse=False)
            factors = frozenset(m for m in asked.members if m[0] == "factor")
            if asked.possible(factors) and not asked.possible(frozenset(asked.members)):
                found += 1
                yield Asked(network, goals)


def _timed(act: Callable[[], object]) -> float:
    start = time.thread_time()
    act()
    return time.thread_time() - start


def _explained(n: int) -> Iterator[Measurement]:
    mine, theirs, ratios, solves, spent, relaxing = [], [], [], [], [], []
    wrong = 0
    for asked in _questions(n):
        factors = frozenset(m for m in asked.members if m[0] == "factor")
        one = min(_timed(lambda a=asked, f=factors: k_best(a.narrowed(f), 1)) for _ in range(2))  # type: ignore[misc]
        start = time.thread_time()
        conflict = minimal_conflict(asked.members, asked.possible)
        spent.append((time.thread_time() - start) / one)
        assert conflict
        deletion = Asked(asked.network, asked.goals, reuse=False)
        left = frozenset(asked.members)
        for member in asked.members:
            if not deletion.possible(left - {member}):
                left -= {member}
        mine.append(asked.checks)
        theirs.append(deletion.checks)
        ratios.append(asked.checks / deletion.checks)
        solves.append(one)
        fresh = Asked(asked.network, asked.goals, reuse=False)
        whole = frozenset(conflict)
        wrong += fresh.possible(whole) or not all(fresh.possible(whole - {m}) for m in conflict)
        start = time.thread_time()
        ways = _ways(Asked(asked.network, asked.goals), factors)
        relaxing.append((time.thread_time() - start) / one)
        wrong += ways != _all_ways(fresh, factors)[:3]
    ratio = statistics.median(ratios)
    note = f"{len(ratios)} questions" + (f", {wrong} WRONG" if wrong else ", all minimal and restoring")
    yield Measurement(
        f"checks for a clash, {n} candidates a seat, against deletion",
        statistics.median(mine),
        statistics.median(theirs),
        ratio,
        "<= 0.7x",
        ratio <= 0.7 and not wrong,
        "checks",
        note,
    )
    base = statistics.median(solves) * 1000
    for what, times, most, goal in (
        ("a clash", spent, 6, "<= 6x"),
        ("three cheapest ways out", relaxing, 60 if n >= 100 else 10**6, "<= 60x" if n >= 100 else "none"),
    ):
        ratio = statistics.median(times)
        name = f"{what}, {n} candidates a seat, against one search"
        yield Measurement(name, ratio * base, base, ratio, goal, ratio <= most, "ms", f"at most {max(times):.0f}x")


def _ways(asked: Asked, factors: frozenset[Member]) -> list[int]:
    """The costs of the three cheapest minimal ways out by giving up goals."""
    goals = [m for m in asked.members if m[0] == "goal"]
    found, complete = minimal_relaxations(goals, lambda some: asked.possible(factors | some))
    assert complete
    costs = [k_best(asked.narrowed(factors | (frozenset(goals) - gone)), 1).solutions[0].cost for gone in found]
    return sorted(costs)[:3]


def _all_ways(asked: Asked, factors: frozenset[Member]) -> list[int]:
    goals = [m for m in asked.members if m[0] == "goal"]
    found: list[frozenset[Member]] = []
    costs = []
    for size in range(len(goals) + 1):
        for some in combinations(goals, size):
            gone = frozenset(some)
            if any(f <= gone for f in found):
                continue
            result = k_best(asked.narrowed(factors | (frozenset(goals) - gone)), 1)
            if result.solutions:
                found.append(gone)
                costs.append(result.solutions[0].cost)
    return sorted(costs)


def _yard(n: int, seed: int, cores: int = CORES) -> tuple[Network, Allowed, Ints]:
    """n parts a seat on the market, and 1,000 cores (or so many) with a part of their own in most seats."""
    made = instance("market", n + cores, seed)
    rng = np.random.default_rng([seed, n, 5])
    for seat in SEATS:
        made.prices[seat][n:] = 0
        made.lots[seat][n:] = np.arange(n, n + cores)
        if seat in made.empty:
            made.empty[seat] = n - 1
            made.prices[seat][n - 1] = 30_000
    network = compiled(made)
    allowed = []
    for own in network.unary:
        modes = len(own) // (n + cores)
        may = np.zeros((cores, n + cores), dtype=np.bool_)
        may[:, :n] = True
        may[np.arange(cores), n + np.arange(cores)] = rng.random(cores) < 0.6
        allowed.append(np.repeat(may, modes, axis=1))
    return network, allowed, rng.integers(2_000, 30_000, size=cores)


def _ranked(n: int) -> Measurement:
    ours, theirs, ratios = [], [], []
    wrong = solves = 0
    for seed in range(3):
        network, allowed, extra = _yard(n, seed)
        start = time.thread_time()
        swept = sweep(network, allowed, extra, 20)
        ours.append(time.thread_time() - start)
        solves += swept.solves
        cases = np.linspace(0, CORES - 1, SAMPLE).astype(int).tolist()
        start = time.thread_time()
        costs = {case: _alone(network, allowed, case) for case in cases}
        theirs.append((time.thread_time() - start) * CORES / SAMPLE)
        ratios.append(theirs[-1] / ours[-1])
        last = swept.best[-1][0]
        ranked = {case: cost for cost, case, _ in swept.best}
        for case, cost in costs.items():
            total = None if cost is None else cost + int(extra[case])
            wrong += ranked[case] != total if case in ranked else total is not None and total < last
    ratio = statistics.median(ratios)
    note = f"3 yards, {solves / 3:.0f} searches each" + (
        f", {wrong} WRONG" if wrong else ", equal to the sample's own"
    )
    return Measurement(
        f"best 20 of 1,000 cores, {n} parts a seat, against 1,000 searches",
        statistics.median(ours),
        statistics.median(theirs),
        ratio,
        ">= 12x, floor 5x",
        ratio >= 5 and not wrong,
        "s",
        note,
    )


def _growth() -> Measurement:
    """Four times the cores."""
    times = []
    for cores in (250, 1000):
        spent = []
        for seed in range(3):
            network, allowed, extra = _yard(30, seed, cores)
            spent.append(_timed(lambda n=network, a=allowed, e=extra: sweep(n, a, e, 20)))  # type: ignore[misc]
        times.append(statistics.median(spent))
    few, many = times
    ratio = many / few
    what = "best 20 of 1,000 cores against best 20 of 250, 30 parts a seat"
    return Measurement(what, many, few, ratio, "<= 4x", ratio <= 4, "s", "3 yards")


def _pareto() -> Iterator[Measurement]:
    """Every core of the demo's shelf for one build: all that money buys in time, against the cheapest plan."""
    with TemporaryDirectory() as folder:
        publish_demo(Path(folder) / "store")
        desk = open_desk(Path(folder) / "store")
        spent, base, sizes, whole = [], [], [], 0
        for core in desk.shelf.cores()[::4]:
            asked = question(desk, core.tag, "larger-wheels", day="2026-06-01")
            bundle = plan_bundle(desk.catalogue, desk.shelf, asked)
            start = time.thread_time()
            answer = plan(bundle)
            base.append(time.thread_time() - start)
            start = time.thread_time()
            found, complete = pareto(bundle)
            spent.append(time.thread_time() - start)
            assert found[0].cost == answer.plans[0].cost
            sizes.append(len(found))
            whole += complete
        desk.close()
    ratio = statistics.median(a / b for a, b in zip(spent, base, strict=True))
    what = "all plans that no other beats in money and time, against the cheapest plan"
    ours, theirs = statistics.median(spent) * 1000, statistics.median(base) * 1000
    note = f"{len(sizes)} cores of the demo, {min(sizes)} to {max(sizes)} plans each, {whole} said to be complete"
    yield Measurement(what, ours, theirs, ratio, "all complete", whole == len(sizes), "ms", note)


def _alone(network: Network, allowed: Allowed, case: int) -> int | None:
    kept = [np.flatnonzero(may[case]) for may in allowed]
    found = k_best(_restricted(network, kept), 1)
    return found.solutions[0].cost if found.solutions else None


def _restricted(network: Network, kept: Sequence[Ints]) -> Network:
    """The network on some candidates of each variable, with only the classes that they have."""
    factors = []
    for f in network.factors:
        table = f.table
        classes = []
        for axis, (v, of_all) in enumerate(zip(f.scope, f.classes, strict=True)):
            used, mine = np.unique(of_all[kept[v]], return_inverse=True)
            table = table.take(used, axis=axis)
            classes.append(mine.astype(np.int64))
        factors.append(Factor(f.scope, tuple(classes), table, f.name))
    return Network(
        tuple(own[k] for own, k in zip(network.unary, kept, strict=True)),
        tuple(factors),
        tuple(labels[k] for labels, k in zip(network.labels, kept, strict=True)),
        network.names,
    )
