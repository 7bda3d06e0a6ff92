"""The exact search against CP-SAT and toulbar2 on the same seeded questions, and against itself as they grow.

Each time is end to end: the compilation of the raw features into tables, then the solver with its own building of
a model. Times are of the processor, every solver on the thread that asks it, so that a busy machine blurs a ratio
less (the whole process's time would come in the kernel's ticks as soon as a library starts a thread). A solver that
did not finish counts with the time it took till then (>=), in its favour. The goals are those the project's plan
states for the median over the four regimes. Our tables are made as the planner makes large ones: whole arrays at
once, a class for each distinct value; which of them no partner tells apart is found by the search.
"""

import statistics
import time
from collections.abc import Callable, Iterator
from functools import partial

from benchmarks.measurement import Measurement
from benchmarks.planner_instances import REGIMES, Instance, compiled, instance
from benchmarks.planner_rivals import cp_sat, toulbar2
from graph.model.verdict import Proof
from graph.planning.network import Network
from graph.planning.search import SearchResult, k_best

SEEDS = 4
DEADLINE = 10.0
"""Seconds of the processor after which our search counts as late."""

Answer = list[int] | None


def run() -> list[Measurement]:
    """All of it, about a quarter of an hour of processor time."""
    cp_sat(compiled(instance("core", 5, 99)), 1, 1)  # loads the libraries
    toulbar2(compiled(instance("core", 5, 99)), 1)
    rows: list[Measurement] = []
    for n, k, floor, goal, effort in (
        (5, 1, 0, "none", 5),
        (20, 1, 1, ">= 1x", 5),
        (100, 1, 15, ">= 37x, floor 15x", 8),
        (500, 1, 80, ">= 190x, floor 80x", 12),
        (20, 10, 7, ">= 15x, floor 7x", 5),
        (100, 10, 100, ">= 600x, floor 100x", 40),
    ):
        rows.append(_race("CP-SAT", n, k, floor, goal, partial(cp_sat, k=k, effort=effort)))
    for n, floor, goal in ((5, 1 / 3, ">= 1x, floor 0.33x"), (20, 1 / 3, ">= 1x, floor 0.33x"), (100, 0, "none")):
        rows.append(_race("toulbar2", n, 1, floor, goal, partial(toulbar2, seconds=20)))
    rows.extend(_growth())
    return rows


def _instances(n: int) -> Iterator[Instance]:
    for regime in REGIMES:
        for seed in range(SEEDS):
            yield instance(regime, n, seed)


def _timed(act: Callable[[], Answer]) -> tuple[Answer, float]:
    start = time.thread_time()
    answer = act()
    return answer, time.thread_time() - start


def _ours(made: Instance, k: int) -> Answer:
    return [s.cost for s in k_best(compiled(made), k).solutions]


def _race(name: str, n: int, k: int, floor: float, goal: str, rival: Callable[[Network], Answer]) -> Measurement:
    ratios, mine, theirs = [], [], []
    unfinished = wrong = 0
    for made in _instances(n):
        ours, paid = _timed(lambda m=made: _ours(m, k))
        other, spent = _timed(lambda m=made: rival(compiled(m)))
        if other is None:
            unfinished += 1
        elif other != ours:
            wrong += 1
        mine.append(paid)
        theirs.append(spent)
        ratios.append(spent / paid)
    ratio = statistics.median(ratios)
    note = f"{len(ratios)} questions, ratios {min(ratios):.1f} to {max(ratios):.0f}"
    note += f", {unfinished} unfinished count as >=" if unfinished else ""
    note += f", {wrong} DIFFERENT ANSWERS" if wrong else ", answers equal"
    return Measurement(
        f"k={k}, {n} candidates a seat, against {name}", statistics.median(mine) * 1000,
        statistics.median(theirs) * 1000, ratio, goal, ratio >= floor and not wrong, "ms", note,
    )  # fmt: skip


def _growth() -> Iterator[Measurement]:
    solve: dict[tuple[int, int], list[float]] = {}
    whole: dict[int, list[float]] = {}
    cells: dict[int, list[int]] = {}
    late = 0
    for n in (100, 500, 1000):
        for made in _instances(n):
            start = time.thread_time()
            network = compiled(made)
            build = time.thread_time() - start
            for k in (1, 50):
                end = time.thread_time() + DEADLINE
                begin = time.thread_time()
                result: SearchResult = k_best(network, k, stop=lambda end=end: time.thread_time() > end)
                paid = time.thread_time() - begin
                late += result.proof not in (Proof.CHEAPEST, Proof.IMPOSSIBLE)
                solve.setdefault((n, k), []).append(paid)
                if k == 1:
                    whole.setdefault(n, []).append(build + paid)
                    cells.setdefault(n, []).append(result.cells)
    middle = {key: statistics.median(times) * 1000 for key, times in solve.items()}
    ends = {n: statistics.median(times) * 1000 for n, times in whole.items()}
    ratio = middle[1000, 1] / middle[100, 1]
    yield Measurement("solve, 1000 against 100 candidates a seat", middle[1000, 1], middle[100, 1], ratio, "<= 4x",
                      ratio <= 4, "ms")  # fmt: skip
    ratio = ends[1000] / ends[100]
    yield Measurement("end to end, 1000 against 100 candidates a seat", ends[1000], ends[100], ratio, "<= 6x",
                      ratio <= 6, "ms")  # fmt: skip
    for n in (100, 500):
        ratio = middle[n, 50] / middle[n, 1]
        yield Measurement(f"k=50 against k=1, {n} candidates a seat", middle[n, 50], middle[n, 1], ratio, "<= 2x",
                          ratio <= 2, "ms")  # fmt: skip
    for n, sizes in cells.items():
        largest = statistics.median(sizes)
        yield Measurement(f"largest table, {n} candidates a seat", largest, None, None, "<= 1e6", largest <= 1e6,
                          "cells", f"at most {max(sizes):,}")  # fmt: skip
    yield Measurement("searches stopped by the deadline", late, None, None, "0", late == 0, "searches")
