"""Witnesses for the Pareto front that share no code with it: trying everything, and CP-SAT bound by bound."""

import itertools
import random
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from network_witness import cost
from ortools.sat.python import cp_model
from pump_random import random_bundle
from pump_witness import Witness

from graph.model.bundle import Bundle
from graph.model.record import Rate, Rule
from graph.planning.network import FORBIDDEN, Factor, Network

Front = list[tuple[int, int]]


def second_network(rng: random.Random, first: Network, dearest: int, holes: float = 0.0) -> Network:
    """Another cost over the same variables: scopes of the first's factors and some of its own, with other classes."""
    counts = [len(own) for own in first.unary]
    scopes = [f.scope for f in first.factors if rng.random() < 0.6]
    if len(counts) > 1:
        scopes += [tuple(sorted(rng.sample(range(len(counts)), 2))) for _ in range(rng.randint(0, 2))]
    unary = tuple(np.array([rng.randint(0, dearest) for _ in range(n)], dtype=np.int64) for n in counts)
    made = []
    for scope in scopes:
        sizes = [rng.randint(1, min(4, counts[v])) for v in scope]
        classes = tuple(
            np.array([rng.randrange(size) for _ in range(counts[v])], dtype=np.int64)
            for v, size in zip(scope, sizes, strict=True)
        )
        cells = [FORBIDDEN if rng.random() < holes else rng.randint(0, dearest) for _ in range(int(np.prod(sizes)))]
        made.append(Factor(scope, classes, np.array(cells, dtype=np.int64).reshape(sizes)))
    return Network(unary, tuple(made), first.labels)


def tried_front(first: Network, second: Network) -> list[tuple[int, int, tuple[int, ...]]]:
    """All pairs that none beats, each with the choice first by labels, then by candidates."""
    best: dict[tuple[int, int], tuple[tuple[int, ...], tuple[int, ...]]] = {}
    for choice in itertools.product(*(range(len(own)) for own in first.unary)):
        pair = cost(first, choice), cost(second, choice)
        if max(pair) < FORBIDDEN:
            key = tuple(int(names[c]) for names, c in zip(first.labels, choice, strict=True)), choice
            best[pair] = min(best.get(pair, key), key)
    fronts = [p for p in best if not any(q != p and q[0] <= p[0] and q[1] <= p[1] for q in best)]
    return [(*p, best[p][1]) for p in sorted(fronts)]


def torn(seed: int) -> Bundle:
    """A small question where what is cheap takes long: parts to strip slowly out of another, two rates far apart."""
    bundle = random_bundle(seed)
    rng = random.Random(f"torn {seed}")
    seats = tuple(replace(s, strip_time=rng.randint(0, 900_000)) for s in bundle.layout.seats)
    rates = tuple(Rate(name, rng.choice((60, 3_600, 90_000)), "EUR") for name in ("shop", "mill"))
    operations = tuple(
        replace(o, rate=rng.choice(("shop", "mill")), setup=o.setup + rng.randint(0, 300_000))
        for o in bundle.operations
    )
    lacking = rng.sample([s.name for s in seats], 2)
    core = replace(bundle.core, found=tuple(f for f in bundle.core.found if f.seat not in lacking))
    donor = replace(bundle.core, key="core/D9", tag="D9", may_donate=True, own=False)
    bundle = replace(bundle, core=core, donors=(donor,))
    return replace(bundle, layout=replace(bundle.layout, seats=seats), rates=rates, operations=operations)


def loosened(bundle: Bundle, seed: int) -> Bundle:
    """The same question, some of its rules met by any size and some demands left out: it has more plans."""
    rng = random.Random(f"loosened {seed}")
    rules = tuple(
        rule if "engine" in rule.seats or rng.random() < 0.5 else _lax(rule) for rule in bundle.layout.rules
    )
    demands = tuple(d for d in bundle.build.demands if rng.random() < 0.6)
    layout, build = replace(bundle.layout, rules=rules), replace(bundle.build, demands=demands)
    return replace(bundle, layout=layout, build=build)


def _lax(rule: Rule) -> Rule:
    """A rule of the same seats that every known size meets."""
    other = next((side for side in rule.right if side[0] != rule.left[0]), None)
    return Rule(rule.joint, rule.name, "at_least", rule.left, () if other is None else (other,), -1_000)


class TimedWitness(Witness):
    """The witness of small bundles that tells time too: the labour at one minor unit a millisecond."""

    def pairs(self) -> Iterator[tuple[int, int, tuple[int, bool, bool]]]:
        """(money, time, (cuts, services, used-up parts there are)) of every choice that makes a certain plan."""
        rates = self.rates
        for chosen, least, paid, _ in self.worked(certain=True):
            self.rates = dict.fromkeys(("shop", "mill"), 3_600_000)
            with_time = self._cost(chosen, least)
            self.rates = {}
            without = self._cost(chosen, least)
            self.rates = rates
            yield paid, with_time - without, (len(least), bool(self.bundle.services), bool(self.bundle.consumes))


def cp_sat_front(first: Network, second: Network) -> Front:
    """The pairs by the epsilon-constraint method: the least first cost, the least second with it, then less."""
    model = cp_model.CpModel()
    pick = [[model.new_bool_var("") for _ in own] for own in first.unary]
    for literals in pick:
        model.add_exactly_one(literals)
    totals = [_total(model, pick, network) for network in (first, second)]
    out: Front = []
    while True:
        least = _least(model, totals[0])
        if least is None:
            return out
        beside = model.clone()
        beside.add(totals[0] == least)
        other = _least(beside, totals[1])
        assert other is not None
        out.append((least, other))
        model.add(totals[1] <= other - 1)


def _total(model: cp_model.CpModel, pick: list[list[Any]], network: Network) -> Any:
    terms: list[Any] = []
    for literals, own in zip(pick, network.unary, strict=True):
        for literal, paid in zip(literals, own.tolist(), strict=True):
            if paid >= FORBIDDEN:
                model.add(literal == 0)
            else:
                terms.append(paid * literal)
    for factor in network.factors:
        rows: list[list[Any]] = []
        for v, classes, size in zip(factor.scope, factor.classes, factor.table.shape, strict=True):
            rows.append([model.new_bool_var("") for _ in range(size)])
            for c in range(size):
                model.add(rows[-1][c] == sum(pick[v][i] for i in np.flatnonzero(classes == c).tolist()))
        for cell in np.ndindex(*factor.table.shape):
            paid = int(factor.table[cell])
            literals = [row[c].negated() for row, c in zip(rows, cell, strict=True)]
            if paid >= FORBIDDEN:
                model.add_bool_or(literals)
            elif paid:
                hit = model.new_bool_var("")
                model.add_bool_or([*literals, hit])
                terms.append(paid * hit)
    total = model.new_int_var(0, 1 << 40, "")
    model.add(total == sum(terms))
    return total


def _least(model: cp_model.CpModel, total: Any) -> int | None:
    model.minimize(total)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    assert status == cp_model.OPTIMAL
    return round(solver.objective_value)
