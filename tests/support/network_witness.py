"""Witnesses for the search that share no code with it: trying everything, CP-SAT, and a checker of certificates."""

import itertools
import random
from collections.abc import Sequence
from typing import Any

import numpy as np
from ortools.sat.python import cp_model

from graph.planning.network import FORBIDDEN, Factor, Ints, Network

Ranked = list[tuple[int, tuple[int, ...]]]


def cost(network: Network, choice: tuple[int, ...]) -> int:
    total = sum(int(network.unary[v][c]) for v, c in enumerate(choice))
    for factor in network.factors:
        cell: Any = factor.table
        for v, classes in zip(factor.scope, factor.classes, strict=True):
            cell = cell[classes[choice[v]]]
        total += int(cell)
    return total


def everything(network: Network) -> Ranked:
    """All solutions, the cheapest for each tuple of labels, by cost and then labels."""
    best: dict[tuple[int, ...], int] = {}
    for choice in itertools.product(*(range(len(own)) for own in network.unary)):
        paid = cost(network, choice)
        if paid < FORBIDDEN:
            labels = tuple(int(names[c]) for names, c in zip(network.labels, choice, strict=True))
            best[labels] = min(paid, best.get(labels, paid))
    return sorted((paid, labels) for labels, paid in best.items())


def random_network(
    rng: random.Random,
    variables: int,
    candidates: int,
    factors: int,
    arities: tuple[int, ...] = (1, 2, 2, 2, 3, 3, 4),
) -> Network:
    """Any shape: rings, several parts, forbidden regions, ties, equal labels."""
    counts = [rng.randint(1, candidates) for _ in range(variables)]
    dearest = rng.choice((0, 1, 3, 100, 10_000))
    holes = rng.choice((0.0, 0.1, 0.3))
    unary = tuple(np.array([_cost(rng, dearest, holes / 2) for _ in range(n)], dtype=np.int64) for n in counts)
    made = []
    for _ in range(factors):
        scope = tuple(sorted(rng.sample(range(variables), min(variables, rng.choice(arities)))))
        sizes = [rng.randint(1, counts[v]) for v in scope]
        classes = tuple(
            np.array([rng.randrange(size) for _ in range(counts[v])], dtype=np.int64)
            for v, size in zip(scope, sizes, strict=True)
        )
        cells = [_cost(rng, dearest, holes) for _ in range(int(np.prod(sizes)))]
        made.append(Factor(scope, classes, np.array(cells, dtype=np.int64).reshape(sizes)))
    few = rng.random() < 0.4
    labels = tuple(np.array([rng.randrange(n) if few else i for i in range(n)], dtype=np.int64) for n in counts)
    return Network(unary, tuple(made), labels)


def _cost(rng: random.Random, dearest: int, holes: float) -> int:
    return FORBIDDEN if rng.random() < holes else rng.randint(0, dearest)


def structured_network(rng: random.Random, shape: str, variables: int, candidates: int) -> Network:
    """A network of windows on hidden sizes, as joints make them: `tree`, `ring`, `mesh` or `stack`."""
    sizes = [[rng.randrange(60) for _ in range(candidates)] for _ in range(variables)]
    unary = tuple(np.array([rng.randint(0, 400) for _ in s], dtype=np.int64) for s in sizes)
    if shape == "tree":
        scopes = [(rng.randrange(v), v) for v in range(1, variables)]
    else:
        scopes = [tuple(sorted((v, (v + 1) % variables))) for v in range(variables)]
    if shape == "mesh":
        scopes += [tuple(sorted(rng.sample(range(variables), 2))) for _ in range(variables // 2)]
    if shape == "stack":
        scopes += [tuple(sorted(rng.sample(range(variables), 3))) for _ in range(2)]
    made = []
    for scope in scopes:
        values = [sorted(set(sizes[v])) for v in scope]
        classes = tuple(
            np.array([of.index(s) for s in sizes[v]], dtype=np.int64) for v, of in zip(scope, values, strict=True)
        )
        low = rng.randint(-30, 10)
        high = low + rng.randint(10, 50)
        table = np.zeros([len(of) for of in values], dtype=np.int64)
        for cell in np.ndindex(*table.shape):
            first, *rest = (of[i] for of, i in zip(values, cell, strict=True))
            gap = first - sum(rest) + (20 if len(rest) > 1 else 0)
            table[cell] = 3 * abs(gap - low) if low <= gap <= high else FORBIDDEN
        made.append(Factor(scope, classes, table))
    labels = tuple(np.array([rng.randrange(candidates) for _ in s], dtype=np.int64) for s in sizes)
    return Network(unary, tuple(made), labels)


def cp_sat_ranked(network: Network, k: int) -> tuple[Ranked, bool]:
    """The k cheapest by CP-SAT on candidates, each excluding the labels of those before; True: that is all."""
    model = cp_model.CpModel()
    pick = [[model.new_bool_var("") for _ in own] for own in network.unary]
    price: list[tuple[int, Any]] = []
    for literals, own in zip(pick, network.unary, strict=True):
        model.add_exactly_one(literals)
        for literal, paid in zip(literals, own.tolist(), strict=True):
            if paid >= FORBIDDEN:
                model.add(literal == 0)
            else:
                price.append((paid, literal))
    for factor in network.factors:
        of_class: list[list[Any]] = []
        for v, classes, size in zip(factor.scope, factor.classes, factor.table.shape, strict=True):
            row = [model.new_bool_var("") for _ in range(size)]
            for c in range(size):
                model.add(row[c] == sum(pick[v][i] for i in np.flatnonzero(classes == c).tolist()))
            of_class.append(row)
        for cell in np.ndindex(*factor.table.shape):
            paid = int(factor.table[cell])
            literals = [row[c] for row, c in zip(of_class, cell, strict=True)]
            if paid >= FORBIDDEN:
                model.add_bool_or([x.negated() for x in literals])
            elif paid:
                hit = model.new_bool_var("")
                model.add_bool_or([*(x.negated() for x in literals), hit])
                price.append((paid, hit))
    model.minimize(sum(paid * x for paid, x in price))
    ranked: Ranked = []
    while len(ranked) < k:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        status = solver.solve(model)
        if status == cp_model.INFEASIBLE:
            return ranked, True
        assert status == cp_model.OPTIMAL
        labels = []
        same = []
        for literals, names in zip(pick, network.labels, strict=True):
            label = next(int(n) for x, n in zip(literals, names, strict=True) if solver.boolean_value(x))
            labels.append(label)
            same.append(sum(x for x, n in zip(literals, names.tolist(), strict=True) if n == label))
        ranked.append((round(solver.objective_value), tuple(labels)))
        model.add(sum(same) <= len(same) - 1)
    return ranked, False


def proved_least(network: Network, proof: dict[str, Any]) -> int:
    """No solution costs less: what a certificate proves, after every inequality in it was checked by hand.

    FORBIDDEN or more: there is no solution. Raises AssertionError where the certificate does not hold.
    """
    alive = [[c for c in range(len(own)) if own[c] < FORBIDDEN] for own in network.unary]
    bound = [[int(p) for p in own] for own in network.unary]
    shifted = _shifted(network, proof["shifts"])
    for tree in proof["trees"]:
        # What an earlier tree has no solution with is in none, so that it counts for nothing in those after it.
        barred = tuple(
            np.where(np.array(b, dtype=np.int64) >= FORBIDDEN, FORBIDDEN, own)
            for b, own in zip(bound, shifted.unary, strict=True)
        )
        open_ = Network(barred, shifted.factors, shifted.labels)
        for v, best in enumerate(_by_hand(open_, [shifted.factors[f] for f in tree])):
            bound[v] = [max(a, b) for a, b in zip(bound[v], best, strict=True)]
    alive = [[c for c in cs if bound[v][c] <= proof["budget"]] for v, cs in enumerate(alive)]
    while True:
        before = sum(map(len, alive))
        for f in network.factors:
            for v in f.scope:
                rest = [w for w in f.scope if w != v]
                alive[v] = [
                    c
                    for c in alive[v]
                    if any(
                        _entry(f, {v: c, **dict(zip(rest, others, strict=True))}) < FORBIDDEN
                        for others in itertools.product(*(alive[w] for w in rest))
                    )
                ]
        if sum(map(len, alive)) == before:
            break
    if not all(alive):
        return int(proof["budget"]) + 1
    placed = [f for b in proof["buckets"] for f in b["factors"]] + list(proof["constant"])
    assert sorted(placed) == list(range(len(network.factors))), "every factor counts once"
    assert sorted(b["variable"] for b in proof["buckets"]) == list(range(len(network.unary)))
    total = sum(_least_entry(network.factors[f], {}, alive) for f in proof["constant"])
    waiting: list[dict[str, Any]] = []
    for bucket in proof["buckets"]:
        v, scope = bucket["variable"], bucket["scope"]
        sent = [m for m in waiting if v in m["scope"]]
        waiting = [m for m in waiting if v not in m["scope"]] + ([bucket] if scope else [])
        assert {w for m in sent for w in m["scope"]} <= {v, *scope}
        for others in itertools.product(*(alive[w] for w in scope)):
            around = dict(zip(scope, others, strict=True))
            for c in alive[v]:
                here = {**around, v: c}
                entry = int(network.unary[v][c]) + sum(_said(m, here) for m in sent)
                entry += sum(_least_entry(network.factors[f], here, alive) for f in bucket["factors"])
                assert min(entry, FORBIDDEN) >= _said(bucket, around), "a message claims more than its bucket holds"
        total += 0 if scope else bucket["table"][0]
    assert not waiting
    return min(total, int(proof["budget"]) + 1)


def _shifted(network: Network, shifts: list[Any]) -> Network:
    """The same network with costs moved from factors to candidates."""
    unary = [own.copy() for own in network.unary]
    factors = list(network.factors)
    for number, axis, costs in shifts:
        f = factors[number]
        table = f.table.copy()
        for cell in np.ndindex(*table.shape):
            if table[cell] < FORBIDDEN:
                table[cell] -= costs[cell[axis]]
                assert table[cell] >= 0, "a shift takes more than is there"
        for c, k in enumerate(f.classes[axis]):
            unary[f.scope[axis]][c] += costs[k]
        factors[number] = Factor(f.scope, f.classes, table)
    return Network(tuple(unary), tuple(factors), network.labels)


def _entry(factor: Factor, at: dict[int, int]) -> int:
    return int(factor.table[tuple(int(c[at[v]]) for v, c in zip(factor.scope, factor.classes, strict=True))])


def _least_entry(factor: Factor, at: dict[int, int], alive: list[list[int]]) -> int:
    """The factor's entry; the least one over variables that the bucket does not see, of those left."""
    free = [w for w in factor.scope if w not in at]
    rows = itertools.product(*(alive[w] for w in free))
    return min(_entry(factor, {**at, **dict(zip(free, row, strict=True))}) for row in rows)


def _said(message: dict[str, Any], at: dict[int, int]) -> int:
    place = 0
    for v, classes, size in zip(message["scope"], message["classes"], message["shape"], strict=True):
        assert 0 <= classes[at[v]] < size
        place = place * size + classes[at[v]]
    return int(message["table"][place])


def _by_hand(network: Network, factors: list[Factor]) -> list[list[int]]:
    """Min-marginals of a forest: for each candidate the least cost of its tree, by walking away from it."""

    def walk(v: int, c: int, came: int) -> int:
        paid = int(network.unary[v][c])
        for number, f in enumerate(factors):
            if v in f.scope and number != came:
                rest = [w for w in f.scope if w != v]
                tables = [[walk_once(w, d, number) for d in range(len(network.unary[w]))] for w in rest]
                paid += min(
                    (
                        _entry(f, {v: c, **dict(zip(rest, ds, strict=True))})
                        + sum(t[d] for t, d in zip(tables, ds, strict=True))
                        for ds in itertools.product(*(range(len(network.unary[w])) for w in rest))
                    ),
                    default=FORBIDDEN,
                )
        return min(paid, FORBIDDEN)

    known: dict[tuple[int, int, int], int] = {}

    def walk_once(v: int, c: int, came: int) -> int:
        key = v, c, came
        if key not in known:
            known[key] = walk(v, c, came)
        return known[key]

    joined: list[set[int]] = []
    for f in factors:
        touched = [s for s in joined if s & set(f.scope)]
        assert all(len(s & set(f.scope)) == 1 for s in touched), "the bound's factors close a ring"
        joined = [s for s in joined if s not in touched] + [set(f.scope).union(*touched)]
    return [[walk_once(v, c, -1) for c in range(len(own))] for v, own in enumerate(network.unary)]


def restricted(network: Network, kept: Sequence[Ints]) -> Network:
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
