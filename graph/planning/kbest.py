"""The cheapest solutions in order, read lazily from filled buckets (Huang & Chiang 2005, algorithm 3).

Rule 1: a solution is exactly one derivation: one signature, one member and one rank of each child a bucket; a
successor advances one coordinate at or after the last one advanced, so none comes twice.
Rule 2: nothing is opened before it can be next.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np

from graph.planning.elimination import Bucket, Elimination
from graph.planning.network import FORBIDDEN

_Ranks = tuple[int, ...]


@dataclass(slots=True)
class _Derivation:
    cost: int
    signature: int
    ranks: _Ranks  # of the member, then of each child


class _Node:
    """The ranked completions of one bucket for one class of each separator."""

    def __init__(self, lazy: "LazyBest", number: int, at: tuple[int, ...]) -> None:
        bucket = lazy.buckets[number]
        assert bucket.table is not None
        self.lazy = lazy
        self.number = number
        self.at = at
        self.found: list[_Derivation] = []
        self.heap: list[tuple[int, int, _Ranks, int]] = []  # cost, place in order, ranks, last coordinate advanced
        column = np.moveaxis(bucket.table, 0, -1)[at]
        order = np.argsort(column, kind="stable")
        costs = column[order]
        end = int(np.searchsorted(costs, FORBIDDEN))
        self.order: list[int] = order[:end].tolist()
        self.costs: list[int] = costs[:end].tolist()
        self.children: dict[int, list[_Node]] = {}
        self.start = (0,) * (1 + len(bucket.children))
        if end:
            self.heap.append((self.costs[0], 0, self.start, 0))

    def get(self, rank: int) -> _Derivation | None:
        """The completion of that rank, from 0; None when there are fewer."""
        while len(self.found) <= rank:
            if not self.heap:
                return None
            cost, place, ranks, last = heappop(self.heap)
            self.found.append(_Derivation(cost, self.order[place], ranks))
            if last == 0 and ranks == self.start and place + 1 < len(self.order):
                heappush(self.heap, (self.costs[place + 1], place + 1, self.start, 0))
            self._advance(cost, place, ranks, last)
        return self.found[rank]

    def _advance(self, cost: int, place: int, ranks: _Ranks, last: int) -> None:
        signature = self.order[place]
        for coordinate in range(last, len(ranks)):
            rank = ranks[coordinate] + 1
            if coordinate == 0:
                members = self.lazy.members(self.lazy.buckets[self.number].variable, signature)
                if rank >= len(members):
                    continue
                more = members[rank][0] - members[rank - 1][0]
            else:
                child = self.below(signature)[coordinate - 1]
                after, before = child.get(rank), child.get(rank - 1)
                if after is None or before is None:
                    continue
                more = after.cost - before.cost
            heappush(
                self.heap, (cost + more, place, (*ranks[:coordinate], rank, *ranks[coordinate + 1 :]), coordinate)
            )

    def below(self, signature: int) -> list["_Node"]:
        """The children's nodes when the bucket's variable takes that signature."""
        nodes = self.children.get(signature)
        if nodes is None:
            entry = (signature, *self.at)
            nodes = [
                self.lazy.node(source, tuple(numbers[entry[place]] for place, numbers in axes))
                for source, axes in self.lazy.links(self.number)
            ]
            self.children[signature] = nodes
        return nodes


class LazyBest:
    """Solutions of one elimination, cheapest first."""

    def __init__(self, elimination: Elimination) -> None:
        self.elimination = elimination
        self.buckets: list[Bucket] = elimination.buckets
        self._nodes: dict[tuple[int, tuple[int, ...]], _Node] = {}
        self._members: dict[int, list[list[tuple[int, int]]]] = {}
        self._links: dict[int, list[tuple[int, list[tuple[int, list[int]]]]]] = {}

    def node(self, number: int, at: tuple[int, ...]) -> _Node:
        """The node of a bucket for one class of each separator."""
        node = self._nodes.get((number, at))
        if node is None:
            node = self._nodes[number, at] = _Node(self, number, at)
        return node

    def links(self, number: int) -> list[tuple[int, list[tuple[int, list[int]]]]]:
        """The children of a bucket, with plain lists for the classes of each axis."""
        links = self._links.get(number)
        if links is None:
            links = self._links[number] = [
                (child.source, [(place, numbers.tolist()) for place, numbers in child.axes])
                for child in self.buckets[number].children
            ]
        return links

    def members(self, variable: int, signature: int) -> list[tuple[int, int]]:
        """(cost, candidate) of one signature, cheapest first."""
        grouped = self._members.get(variable)
        if grouped is None:
            reduced = self.elimination.reduced
            grouped = [[] for _ in reduced.own[variable]]
            entries = zip(
                reduced.unary[variable].tolist(),
                reduced.kept[variable].tolist(),
                reduced.signature[variable].tolist(),
                strict=True,
            )
            for cost, candidate, number in entries:
                grouped[number].append((cost, candidate))
            for group in grouped:
                group.sort()
            self._members[variable] = grouped
        return grouped[signature]

    def solutions(self) -> Iterator[tuple[int, tuple[int, ...]]]:
        """(cost, candidate of each variable), cheapest first."""
        roots = [self.node(number, ()) for number in self.elimination.roots]
        heap: list[tuple[int, _Ranks, int]] = []
        firsts = [root.get(0) for root in roots]
        if all(first is not None for first in firsts):
            cost = self.elimination.reduced.constant + sum(first.cost for first in firsts if first)
            heap.append((cost, (0,) * len(roots), 0))
        while heap:
            cost, ranks, last = heappop(heap)
            choice = [0] * len(self.buckets)
            for root, rank in zip(roots, ranks, strict=True):
                self._write(root, rank, choice)
            yield cost, tuple(choice)
            for coordinate in range(last, len(ranks)):
                rank = ranks[coordinate] + 1
                after, before = roots[coordinate].get(rank), roots[coordinate].get(rank - 1)
                if after is not None and before is not None:
                    advanced = (*ranks[:coordinate], rank, *ranks[coordinate + 1 :])
                    heappush(heap, (cost + after.cost - before.cost, advanced, coordinate))

    def _write(self, node: _Node, rank: int, choice: list[int]) -> None:
        todo = [(node, rank)]
        while todo:
            node, rank = todo.pop()
            found = node.get(rank)
            assert found is not None
            variable = self.buckets[node.number].variable
            choice[variable] = self.members(variable, found.signature)[found.ranks[0]][1]
            todo.extend(zip(node.below(found.signature), found.ranks[1:], strict=True))
