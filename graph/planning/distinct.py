"""Solutions distinct by labels, in the order of cost and labels.

Rule 1: solutions come lazily by cost; those of the last cost are all looked through, since labels break ties.
Rule 2: when ties or equal labels flood that way, the labels are fixed one variable after another instead, each
prefix with the exact cost of its best completion.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np

from graph.planning.classes import reduce
from graph.planning.elimination import Elimination, Stopped, TooWide, eliminate, scheme
from graph.planning.kbest import LazyBest
from graph.planning.network import FORBIDDEN, Ints, Network


@dataclass(frozen=True, slots=True)
class Solution:
    """One candidate a variable, what they cost together, and their labels."""

    cost: int
    labels: tuple[int, ...]
    choice: tuple[int, ...]


def distinct(
    network: Network,
    elimination: Elimination,
    k: int,
    found: list[Solution],
    *,
    budget: int,
    flood: int,
    stop: Callable[[], bool],
) -> bool:
    """Put the k best of an eliminated network into `found`, sorted; True when there are no others.

    Solutions dearer than `budget` come as they are, without a care for ties. `flood`: solutions looked through
    beyond k before labels are fixed one by one. When stopped, `found` holds what came till then.
    """
    labels = network.labels
    by_labels: dict[tuple[int, ...], Solution] = {}
    enough: int | None = None
    exhausted = False
    for count, (cost, choice) in enumerate(LazyBest(elimination).solutions()):
        if enough is not None and (cost > enough or cost > budget):
            break
        if count >= k + flood:
            if cost > budget:
                break
            return _in_order(network, elimination, k, stop, found)
        key = tuple(int(names[c]) for names, c in zip(labels, choice, strict=True))
        if key not in by_labels:
            by_labels[key] = Solution(cost, key, choice)
            found.append(by_labels[key])
            if len(by_labels) == k:
                enough = cost
        if count % 64 == 63 and stop():
            raise Stopped
    else:
        exhausted = len(by_labels) <= k
    found[:] = sorted(by_labels.values(), key=lambda s: (s.cost, s.labels))[:k]
    return exhausted


def _in_order(
    network: Network, elimination: Elimination, k: int, stop: Callable[[], bool], found: list[Solution]
) -> bool:
    first: list[Solution] = []
    exhausted = True
    for solution in ordered(network, elimination.reduced.kept, elimination.cells, stop):
        if len(first) == k:
            exhausted = False
            break
        first.append(solution)
    found[:] = first
    return exhausted


def ordered(network: Network, kept: list[Ints], cells: int, stop: Callable[[], bool]) -> Iterator[Solution]:
    """All solutions on the kept candidates by cost and labels, each label tuple once.

    A heap of label prefixes, each with the exact cost of its best completion: about one elimination a variable
    and solution.
    """
    heap: list[tuple[int, tuple[int, ...]]] = [(0, ())]
    while heap:
        if stop():
            raise Stopped
        _, prefix = heappop(heap)
        if len(prefix) == len(kept):
            yield _completed(network, kept, cells, prefix, stop)
            continue
        for label, least in _next_labels(network, kept, cells, prefix, stop):
            heappush(heap, (least, (*prefix, label)))


def _fixed(network: Network, kept: list[Ints], prefix: tuple[int, ...]) -> list[Ints]:
    fixed = list(kept)
    for v, label in enumerate(prefix):
        fixed[v] = kept[v][network.labels[v][kept[v]] == label]
    return fixed


def _completed(
    network: Network, kept: list[Ints], cells: int, prefix: tuple[int, ...], stop: Callable[[], bool]
) -> Solution:
    reduced = reduce(network, _fixed(network, kept, prefix))
    assert reduced is not None
    elimination = scheme(reduced, cells)
    eliminate(elimination, stop)
    cost, choice = next(LazyBest(elimination).solutions())
    return Solution(cost, prefix, choice)


def _next_labels(
    network: Network, kept: list[Ints], cells: int, prefix: tuple[int, ...], stop: Callable[[], bool]
) -> list[tuple[int, int]]:
    """(label of the next variable, exact cost of the best completion), for every label that has one."""
    v = len(prefix)
    fixed = _fixed(network, kept, prefix)
    reduced = reduce(network, fixed)
    if reduced is None:
        return []
    least: dict[int, int] = {}
    try:
        elimination = scheme(reduced, cells, last=v)
    except TooWide:
        for label in np.unique(network.labels[v][fixed[v]]).tolist():
            narrowed = reduce(network, _fixed(network, kept, (*prefix, label)))
            if narrowed is not None:
                elimination = scheme(narrowed, cells)
                eliminate(elimination, stop)
                least[label] = elimination.optimum
    else:
        eliminate(elimination, stop)
        table = elimination.buckets[-1].table
        assert table is not None
        rest = elimination.optimum - int(table.min())
        signature = reduced.signature[v]
        costs = rest + table[signature] - reduced.own[v][signature] + reduced.unary[v]
        labels = network.labels[v][reduced.kept[v]]
        for label, cost in zip(labels.tolist(), costs.tolist(), strict=True):
            least[label] = min(cost, least.get(label, FORBIDDEN))
    return [(label, cost) for label, cost in least.items() if cost < FORBIDDEN]
