"""Whether a network has any solution: elimination without costs, where most candidates are alike."""

from collections.abc import Callable

import numpy as np

from graph.errors import Unanswerable
from graph.model.verdict import Proof
from graph.planning.answer import never
from graph.planning.classes import reduce
from graph.planning.elimination import Stopped, TooWide, eliminate, scheme
from graph.planning.kbest import LazyBest
from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.search import Limits, k_best


def any_solution(network: Network, stop: Callable[[], bool] = never) -> tuple[int, ...] | None:
    """Some solution, or None when there is none.

    Raises
    ------
    Unanswerable
        Stopped before it was known.
    """
    bare = Network(
        tuple(_bare(own) for own in network.unary),
        tuple(Factor(f.scope, f.classes, _bare(f.table)) for f in network.factors),
        network.labels,
    )
    reduced = reduce(bare, [np.arange(len(own)) for own in bare.unary])
    if reduced is None:
        return None
    try:
        elimination = scheme(reduced, Limits().cells)
        eliminate(elimination, stop)
    except TooWide:
        return _by_cost(network, stop)
    except Stopped as error:
        raise Unanswerable("it was not settled before the limit was reached", fix="give it more time") from error
    if elimination.optimum >= FORBIDDEN:
        return None
    _, choice = next(LazyBest(elimination).solutions())
    return choice


def _bare(costs: Ints) -> Ints:
    return np.where(costs >= FORBIDDEN, FORBIDDEN, 0)


def _by_cost(network: Network, stop: Callable[[], bool]) -> tuple[int, ...] | None:
    """The cheapest one, for tables that only a cost budget narrows."""
    found = k_best(network, 1, stop=stop)
    if found.proof is Proof.UNDECIDED:
        raise Unanswerable("it was not settled before the limit was reached", fix="give it more time")
    return found.solutions[0].choice if found.solutions else None
