"""The same questions put to CP-SAT and toulbar2; both get our classes (`reduce`) for nothing.

Rule 1: each runs on one thread, as ours does, and is timed by the processor time of that thread.
"""

from typing import Any

import numpy as np
import pytoulbar2
from ortools.sat.python import cp_model

from graph.planning.classes import Reduced, reduce
from graph.planning.network import FORBIDDEN, Network

_TOP = 20_000_000  # dearer than any plan of the instances


def in_classes(network: Network) -> Reduced | None:
    """The network in merged classes; None when that alone shows that there is no plan."""
    return reduce(network, [np.arange(len(own)) for own in network.unary])


def cp_sat(network: Network, k: int, effort: float) -> list[int] | None:
    """The costs of the k cheapest plans, distinct by labels; None when the effort was spent.

    `effort`: CP-SAT's deterministic seconds, so that a busy machine does not cut it short.
    """
    reduced = in_classes(network)
    if reduced is None:
        return []
    model = cp_model.CpModel()
    picks = [[model.new_bool_var("") for _ in kept] for kept in reduced.kept]
    price: list[Any] = []
    for literals, own in zip(picks, reduced.unary, strict=True):
        model.add_exactly_one(literals)
        price.append(cp_model.LinearExpr.weighted_sum(literals, own.tolist()))
    for piece in reduced.pieces:
        classes = []
        for v, of_signature, size in zip(piece.scope, piece.maps, piece.table.shape, strict=True):
            rows: list[list[Any]] = [[] for _ in range(size)]
            for literal, c in zip(picks[v], of_signature[reduced.signature[v]].tolist(), strict=True):
                rows[c].append(literal)
            row = [model.new_bool_var("") for _ in range(size)]
            for member, literals in zip(row, rows, strict=True):
                model.add(sum(literals) == member)
            classes.append(row)
        allowed = piece.table < FORBIDDEN
        if piece.table.ndim == 2 and not piece.table[allowed].any():
            left, right = classes
            for i, literal in enumerate(left):
                model.add_bool_or([right[j] for j in np.flatnonzero(allowed[i]).tolist()] + [literal.negated()])
            continue
        numbers = []
        for row in classes:
            number = model.new_int_var(0, len(row) - 1, "")
            model.add(number == sum(i * literal for i, literal in enumerate(row)))
            numbers.append(number)
        cells = np.argwhere(allowed)
        costs = piece.table[tuple(cells.T)]
        paid = model.new_int_var(0, int(costs.max()), "")
        model.add_allowed_assignments([*numbers, paid], np.column_stack([cells, costs]).tolist())
        price.append(paid)
    model.minimize(sum(price) + reduced.constant)
    found: list[int] = []
    left_over = effort
    while len(found) < k:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_deterministic_time = max(left_over, 0.01)
        status = solver.solve(model)
        left_over -= solver.response_proto.deterministic_time
        if status == cp_model.INFEASIBLE:
            return found
        if status != cp_model.OPTIMAL:
            return None
        found.append(round(solver.objective_value))
        same = []
        for v, literals in enumerate(picks):
            names = network.labels[v][reduced.kept[v]]
            label = next(n for n, x in zip(names, literals, strict=True) if solver.boolean_value(x))
            same.append(sum(x for x, n in zip(literals, names, strict=True) if n == label))
        model.add(sum(same) <= len(same) - 1)
    return found


def toulbar2(network: Network, seconds: int) -> list[int] | None:
    """The cost of the cheapest plan, as a list; None when the time was over. Signatures stand for candidates."""
    reduced = in_classes(network)
    if reduced is None:
        return []
    solver = pytoulbar2.CFN(_TOP)
    for v, own in enumerate(reduced.own):
        solver.AddVariable(f"v{v}", range(len(own)))
        solver.AddFunction([v], np.minimum(own, _TOP).tolist())
    next_variable = len(reduced.own)
    for piece in reduced.pieces:
        table = np.minimum(piece.table, _TOP)
        if table.ndim == 2:
            wide = table[piece.maps[0][:, None], piece.maps[1]]
            solver.AddFunction(list(piece.scope), wide.ravel().tolist())
            continue
        scope = []
        for v, of_signature, size in zip(piece.scope, piece.maps, piece.table.shape, strict=True):
            solver.AddVariable(f"c{next_variable}", range(size))
            link = np.where(of_signature[:, None] == np.arange(size), 0, _TOP)
            solver.AddFunction([v, next_variable], link.ravel().tolist())
            scope.append(next_variable)
            next_variable += 1
        solver.AddFunction(scope, table.ravel().tolist())
    answer = solver.Solve(timeLimit=seconds)
    if answer is None:
        return [] if solver.GetDDualBound() >= _TOP or seconds == 0 else None
    return [round(answer[1]) + reduced.constant]
