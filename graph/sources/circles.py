"""Circles in what points to itself: parents, supersession, kits, needs."""

from collections.abc import Hashable, Iterable, Iterator
from typing import TypeVar

import networkx

Node = TypeVar("Node", bound=Hashable)


def circles(edges: Iterable[tuple[Node, Node]]) -> Iterator[tuple[Node, ...]]:
    """One circle of every set of nodes that reach each other, in walking order; loops of one node are left out."""
    network: networkx.DiGraph[Node] = networkx.DiGraph()
    network.add_edges_from((a, b) for a, b in edges if a != b)
    for nodes in networkx.strongly_connected_components(network):
        if len(nodes) > 1:
            inside = network.subgraph(nodes)
            yield tuple(a for a, _ in networkx.find_cycle(inside, min(nodes, key=str)))
