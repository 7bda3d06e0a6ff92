"""The last resort: OR-Tools CP-SAT on the candidates that the cost budget left, when the tables are too wide.

Imported only when it is needed. Work is counted in CP-SAT's deterministic units, so that an answer repeats.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from ortools.sat.python import cp_model

from graph.planning.classes import Reduced
from graph.planning.distinct import Solution
from graph.planning.network import FORBIDDEN, Network

_FIRST_EFFORT = 0.25


@dataclass(slots=True)
class Ranked:
    """Solutions found; the first `proved` are the cheapest, in order of cost. `complete`: there are no others."""

    solutions: list[Solution] = field(default_factory=list)
    proved: int = 0
    bound: int = 0  # no solution beyond the proved ones costs less
    complete: bool = False


def solve(network: Network, reduced: Reduced, k: int, effort: float, stop: Callable[[], bool]) -> Ranked:
    """The k cheapest on a reduced network, one after the other, each excluding the labels of those before."""
    model, chosen = _model(reduced)
    ranked = Ranked(bound=reduced.constant)
    spent = 0.0
    while ranked.proved < k:
        share = _FIRST_EFFORT
        while True:
            if stop() or spent >= effort:
                return ranked
            solver = cp_model.CpSolver()
            solver.parameters.num_workers = 1
            solver.parameters.random_seed = 1
            solver.parameters.max_deterministic_time = min(share, effort - spent)
            status = solver.solve(model)
            spent += max(solver.response_proto.deterministic_time, 1e-3)
            if status == cp_model.INFEASIBLE:
                ranked.complete = True
                return ranked
            found = None
            if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                found = _solution(network, reduced, chosen, solver, round(solver.objective_value))
                del ranked.solutions[ranked.proved :]
                ranked.solutions.append(found)
            if status == cp_model.OPTIMAL and found is not None:
                ranked.bound = found.cost
                break
            ranked.bound = max(ranked.bound, reduced.constant + int(np.ceil(solver.best_objective_bound - 1e-6)))
            share *= 2
        ranked.proved += 1
        same = []
        for v, label in enumerate(found.labels):
            names = network.labels[v][reduced.kept[v]].tolist()
            same.append(sum(x for x, name in zip(chosen[v], names, strict=True) if name == label))
        model.add(sum(same) <= len(same) - 1)
    return ranked


def _model(reduced: Reduced) -> tuple[cp_model.CpModel, list[list[cp_model.IntVar]]]:
    model = cp_model.CpModel()
    chosen = [[model.new_bool_var("") for _ in kept] for kept in reduced.kept]
    terms, weights = [], []
    for literals, own in zip(chosen, reduced.unary, strict=True):
        model.add_exactly_one(literals)
        terms.extend(literals)
        weights.extend(own.tolist())
    for piece in reduced.pieces:
        columns = []
        for v, classes, size in zip(piece.scope, piece.maps, piece.table.shape, strict=True):
            column = model.new_int_var(0, size - 1, "")
            of_each = classes[reduced.signature[v]].tolist()
            model.add(column == sum(c * x for c, x in zip(of_each, chosen[v], strict=True)))
            columns.append(column)
        cells = np.argwhere(piece.table < FORBIDDEN)
        costs = piece.table[tuple(cells.T)]
        if costs.any():
            cost = model.new_int_var(0, int(costs.max()), "")
            terms.append(cost)
            weights.append(1)
            columns.append(cost)
            cells = np.column_stack([cells, costs])
        model.add_allowed_assignments(columns, cells.tolist())
    total = sum(w * t for w, t in zip(weights, terms, strict=True))
    model.minimize(total)
    return model, chosen


def _solution(
    network: Network,
    reduced: Reduced,
    chosen: list[list[cp_model.IntVar]],
    solver: cp_model.CpSolver,
    objective: int,
) -> Solution:
    choice = []
    for kept, literals in zip(reduced.kept, chosen, strict=True):
        choice.append(int(kept[next(i for i, x in enumerate(literals) if solver.boolean_value(x))]))
    labels = tuple(int(names[c]) for names, c in zip(network.labels, choice, strict=True))
    return Solution(objective + reduced.constant, labels, tuple(choice))
