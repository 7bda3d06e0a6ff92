"""Many cases over one network at once: each case may use some of the candidates; which cases are the cheapest?

Rule 1: one batched pass over trees bounds every case; then cases are solved exactly in the order of their bounds,
until no other can be among the best.
Rule 2: nothing here knows what a case is; a core of the shelf, a unit or a set of parts is all the same.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from graph.errors import Unanswerable
from graph.model.verdict import Proof
from graph.planning.answer import never
from graph.planning.bounds import MOST_TREES, forest, moved
from graph.planning.distinct import Solution
from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.search import k_best

Allowed = list[NDArray[np.bool_]]
"""For each variable, shape (cases, candidates of the variable,): whether the case may use the candidate."""

_CELLS = 1 << 22
"""Cells of one batched table; more cases are worked in turns."""


@dataclass(frozen=True, slots=True)
class Swept:
    """`best`: (cost, case, solution), cheapest first, exact. `least[j]`: no solution of case j costs less.

    `done[j]`: case j was solved; a done case that is not among `best` and bounded by FORBIDDEN has no solution.
    """

    best: list[tuple[int, int, Solution]]
    least: Ints
    done: NDArray[np.bool_]
    solves: int


def bounded(network: Network, allowed: Allowed, extra: Ints) -> Ints:
    """What every case costs at least, shape (cases,); FORBIDDEN: it has no solution. `extra` is its own cost."""
    _, unary, factors = moved(network)
    cases = len(extra)
    own = [np.where(may, costs[None, :], FORBIDDEN) for may, costs in zip(allowed, unary, strict=True)]
    least = np.zeros(cases, dtype=np.int64)
    for costs in own:
        least = np.maximum(least, costs.min(axis=1, initial=FORBIDDEN))
    rest = sorted(range(len(factors)), key=lambda f: -float(factors[f].table.mean(dtype=np.float64)))
    used: list[int] = []
    for _ in range(MOST_TREES):
        tree = forest(network, rest + used)
        fresh = set(tree) & set(rest)
        if not fresh:
            break
        least = np.maximum(least, _upward(own, [factors[f] for f in tree]))
        used += [f for f in rest if f in fresh]
        rest = [f for f in rest if f not in fresh]
    whole: Ints = np.minimum(least + extra, FORBIDDEN)
    return whole


def _upward(own: list[Ints], factors: list[Factor]) -> Ints:
    """The least cost of each case on a forest: one pass of messages towards a root of each tree."""
    below: list[list[int]] = [[] for _ in own]
    for number, factor in enumerate(factors):
        for v in factor.scope:
            below[v].append(number)
    total = list(own)
    cases = own[0].shape[0]
    result = np.zeros(cases, dtype=np.int64)
    seen: set[int] = set()
    for root in range(len(own)):
        if root in seen:
            continue
        seen.add(root)
        order: list[tuple[int, int]] = []
        todo = [root]
        used: set[int] = set()
        while todo:
            v = todo.pop()
            for number in below[v]:
                if number not in used:
                    used.add(number)
                    order.append((number, v))
                    lower = [w for w in factors[number].scope if w not in seen]
                    seen.update(lower)
                    todo += lower
        for number, up in reversed(order):
            message = _message(factors[number], up, total)
            total[up] = np.minimum(total[up] + message, FORBIDDEN)
        result = np.minimum(result + total[root].min(axis=1, initial=FORBIDDEN), FORBIDDEN)
    return result


def _message(factor: Factor, up: int, total: list[Ints]) -> Ints:
    """What the factor and all below it add to each candidate of `up`, shape (cases, candidates)."""
    axis = factor.scope.index(up)
    cases = total[up].shape[0]
    out = np.empty((cases, factor.table.shape[axis]), dtype=np.int64)
    step = max(1, _CELLS // max(1, factor.table.size))
    for start in range(0, cases, step):
        end = min(cases, start + step)
        table = factor.table[None, ...]
        for place, v in enumerate(factor.scope):
            if place != axis:
                vector = _by_class(total[v][start:end], factor.classes[place], factor.table.shape[place])
                shape = [end - start] + [1] * factor.table.ndim
                shape[place + 1] = factor.table.shape[place]
                table = table + vector.reshape(shape)
        axes = tuple(p + 1 for p in range(factor.table.ndim) if p != axis)
        out[start:end] = np.minimum(
            np.broadcast_to(table, (end - start, *factor.table.shape)).min(axis=axes), FORBIDDEN
        )
    return out[:, factor.classes[axis]]


def _by_class(costs: Ints, classes: Ints, count: int) -> Ints:
    """The least of each class, shape (cases, classes)."""
    out = np.full((costs.shape[0], count), FORBIDDEN, dtype=np.int64)
    order = np.argsort(classes, kind="stable")
    ranked = classes[order]
    starts = np.flatnonzero(np.r_[True, ranked[1:] != ranked[:-1]]) if len(ranked) else np.zeros(0, dtype=np.int64)
    if len(ranked):
        out[:, ranked[starts]] = np.minimum.reduceat(costs[:, order], starts, axis=1)
    return out


def restricted(network: Network, kept: Sequence[Ints]) -> Network:
    """The network on some candidates of each variable."""
    return Network(
        tuple(own[k] for own, k in zip(network.unary, kept, strict=True)),
        tuple(
            Factor(f.scope, tuple(c[kept[v]] for v, c in zip(f.scope, f.classes, strict=True)), f.table, f.name)
            for f in network.factors
        ),
        tuple(labels[k] for labels, k in zip(network.labels, kept, strict=True)),
        network.names,
    )


def sweep(network: Network, allowed: Allowed, extra: Ints, best: int, *, stop: Callable[[], bool] = never) -> Swept:
    """The `best` cheapest cases, exactly, ties by case; choices are those of the whole network.

    Raises
    ------
    Unanswerable
        Stopped before it was settled.
    """
    least = bounded(network, allowed, extra)
    done = least >= FORBIDDEN
    found: list[tuple[int, int, Solution]] = []
    solves = 0
    for case in np.lexsort((np.arange(len(least)), least)).tolist():
        if least[case] >= FORBIDDEN or (len(found) >= best and least[case] > found[best - 1][0]):
            break
        kept = [np.flatnonzero(may[case]) for may in allowed]
        result = k_best(restricted(network, kept), 1, stop=stop)
        if result.proof is Proof.UNDECIDED:
            raise Unanswerable("the ranking was not settled before the limit was reached", fix="give it more time")
        solves += 1
        done[case] = True
        if not result.solutions:
            least[case] = FORBIDDEN
            continue
        solution = result.solutions[0]
        choice = tuple(int(k[c]) for k, c in zip(kept, solution.choice, strict=True))
        least[case] = solution.cost + int(extra[case])
        found.append((int(least[case]), case, Solution(solution.cost, solution.labels, choice)))
        found.sort(key=lambda f: f[:2])
    return Swept(found[:best], least, done, solves)
