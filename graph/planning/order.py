"""The order of work: what an operation needs comes before it, what follows comes after, cuts as late as they may.

The graph library is imported when there is work to put in order: loading it takes longer than many an answer.
"""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from graph.errors import BadQuestion
from graph.model.record import Operation
from graph.planning.problem import SERVICE, Problem

if TYPE_CHECKING:
    import networkx

Node = tuple[str, str]
"""An operation's name and the seat it is done in; a service on the whole unit has no seat."""


def order_of_work(problem: Problem, work: Mapping[str, Iterable[Operation]], services: Iterable[str]) -> list[Node]:
    """The operations of each seat and the services, in order; equal ones by name, then by seat.

    Raises
    ------
    BadQuestion
        Operations that need one another in a circle.
    """
    import networkx

    network: networkx.DiGraph[Node] = networkx.DiGraph()
    places: dict[str, list[Node]] = {}
    nodes = [(o.name, seat) for seat, operations in work.items() for o in operations]
    nodes += [(name, "") for name in services]
    for node in sorted(nodes):
        network.add_node(node)
        places.setdefault(node[0], []).append(node)
    for node in list(network):
        operation = problem.operations[node[0]]
        for needed in operation.needs:
            for first in places.get(needed, []):
                network.add_edge(first, node)
        for after in operation.follows:
            for last in places.get(after, []):
                if problem.operations[after].effect == SERVICE:
                    network.add_edge(node, last)
    # A service due because a seat changed comes after that seat's work, unless that work itself waits for it.
    for seat in sorted(work):
        for due in sorted({row.operation for row in problem.bundle.services if row.when == seat}):
            for last in places.get(due, []):
                for node in [(o.name, seat) for o in work[seat]]:
                    if node != last and not networkx.has_path(network, last, node):
                        network.add_edge(node, last)
    try:
        return list(networkx.lexicographical_topological_sort(network, key=lambda n: _when(problem, network, n)))
    except networkx.NetworkXUnfeasible as circle:
        names = sorted({name for name, _ in next(networkx.simple_cycles(network))})
        raise BadQuestion(
            f"the operations {', '.join(names)} need one another in a circle",
            fix="take one of them out of another's needs or follows",
        ) from circle


def _when(problem: Problem, network: "networkx.DiGraph[Node]", node: Node) -> tuple[int, str, str]:
    """What other work waits for first, then what can be undone, then cuts, then what is done when all is cut."""
    import networkx

    operation = problem.operations[node[0]]
    if operation.effect != SERVICE:
        phase = 1 if operation.reversible else 2
    else:
        waited_for = any(
            problem.operations[name].effect != SERVICE for name, _ in networkx.descendants(network, node)
        )
        phase = 0 if waited_for else 3
    return phase, node[0], node[1]
