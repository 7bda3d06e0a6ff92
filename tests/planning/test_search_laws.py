"""Laws of the search, and two further witnesses: toulbar2 and clingo."""

import random
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import clingo
import numpy as np
import pytest
import pytoulbar2
from hypothesis import given, settings
from hypothesis import strategies as st
from network_witness import random_network, structured_network

from graph.planning.network import FORBIDDEN, Factor, Network
from graph.planning.search import Limits, k_best

Held = Callable[..., None]
WAYS = (Limits(), Limits(small=0))

networks = st.builds(
    lambda seed, variables, factors: random_network(random.Random(seed), variables, 5, factors),
    st.integers(0, 1 << 30),
    st.integers(1, 5),
    st.integers(0, 7),
)


def costs(network: Network, k: int, limits: Limits = WAYS[0]) -> list[int]:
    return [s.cost for s in k_best(network, k, limits=limits).solutions]


@settings(max_examples=60, deadline=None)
@given(networks, st.integers(0, 1 << 30), st.sampled_from(WAYS))
def test_law_a_further_candidate_never_makes_any_rank_dearer(network: Network, seed: int, limits: Limits) -> None:
    rng = random.Random(seed)
    v = rng.randrange(len(network.unary))
    twin = rng.randrange(len(network.unary[v]))

    def longer(values: np.ndarray, last: int) -> np.ndarray:
        return np.append(values, last)

    more = Network(
        tuple(longer(own, rng.randint(0, 50)) if w == v else own for w, own in enumerate(network.unary)),
        tuple(
            replace(
                f,
                classes=tuple(
                    longer(c, int(c[twin])) if w == v else c for w, c in zip(f.scope, f.classes, strict=True)
                ),
            )
            for f in network.factors
        ),
        tuple(longer(names, 99) if w == v else names for w, names in enumerate(network.labels)),
    )
    before, after = costs(network, 6, limits), costs(more, 6, limits)
    assert len(after) >= len(before)
    assert all(b <= a for a, b in zip(before, after, strict=False))


@settings(max_examples=60, deadline=None)
@given(networks, st.integers(0, 1 << 30), st.sampled_from(WAYS))
def test_law_a_tighter_factor_never_makes_any_rank_cheaper(network: Network, seed: int, limits: Limits) -> None:
    rng = random.Random(seed)
    if not network.factors:
        return
    number = rng.randrange(len(network.factors))
    table = network.factors[number].table.copy()
    cell = tuple(rng.randrange(n) for n in table.shape)
    table[cell] = rng.choice((FORBIDDEN, min(FORBIDDEN, int(table[cell]) + 5)))
    factors = tuple(replace(f, table=table) if i == number else f for i, f in enumerate(network.factors))
    before, after = costs(network, 6, limits), costs(replace(network, factors=factors), 6, limits)
    assert len(after) <= len(before)
    assert all(b >= a for a, b in zip(before, after, strict=False))


@settings(max_examples=60, deadline=None)
@given(networks, st.integers(0, 1 << 30), st.sampled_from(WAYS))
def test_law_the_order_of_candidates_classes_and_factors_changes_nothing(
    network: Network, seed: int, limits: Limits
) -> None:
    rng = np.random.default_rng(seed)
    orders = [rng.permutation(len(own)) for own in network.unary]
    factors = []
    for f in network.factors:
        renumbered = [rng.permutation(n) for n in f.table.shape]
        table = np.empty_like(f.table)
        table[np.ix_(*renumbered)] = f.table
        classes = tuple(new[c[orders[v]]] for v, c, new in zip(f.scope, f.classes, renumbered, strict=True))
        factors.append(Factor(f.scope, classes, table))
    shuffled = Network(
        tuple(own[o] for own, o in zip(network.unary, orders, strict=True)),
        tuple(factors[i] for i in rng.permutation(len(factors))),
        tuple(names[o] for names, o in zip(network.labels, orders, strict=True)),
    )
    one, other = (k_best(n, 8, limits=limits).solutions for n in (network, shuffled))
    assert [(s.cost, s.labels) for s in one] == [(s.cost, s.labels) for s in other]


@settings(max_examples=60, deadline=None)
@given(networks, st.integers(0, 1 << 30), st.sampled_from(WAYS))
def test_law_the_order_of_variables_changes_only_the_order_of_ties(
    network: Network, seed: int, limits: Limits
) -> None:
    order = np.random.default_rng(seed).permutation(len(network.unary)).tolist()
    place = {v: i for i, v in enumerate(order)}
    factors = []
    for f in network.factors:
        axes = sorted(range(len(f.scope)), key=lambda a: place[f.scope[a]])
        factors.append(
            Factor(tuple(place[f.scope[a]] for a in axes), tuple(f.classes[a] for a in axes), f.table.transpose(axes))
        )
    turned = Network(tuple(network.unary[v] for v in order), tuple(factors), tuple(network.labels[v] for v in order))
    one, other = (k_best(n, 5000, limits=limits) for n in (network, turned))
    assert one.complete and other.complete
    back = sorted((s.cost, tuple(s.labels[place[v]] for v in range(len(order)))) for s in other.solutions)
    assert [(s.cost, s.labels) for s in one.solutions] == back


@settings(max_examples=60, deadline=None)
@given(networks, st.sampled_from(WAYS))
def test_law_a_longer_list_begins_with_the_shorter_one(network: Network, limits: Limits) -> None:
    lists = [k_best(network, k, limits=limits).solutions for k in (1, 2, 3, 5, 9)]
    for shorter, longer in pairwise(lists):
        assert [(s.cost, s.labels) for s in longer[: len(shorter)]] == [(s.cost, s.labels) for s in shorter]


SHAPES = ("tree", "ring", "mesh", "stack")


def by_toulbar2(network: Network) -> int | None:
    top = 1_000_000
    solver = pytoulbar2.CFN(top)
    for v, own in enumerate(network.unary):
        solver.AddVariable(f"v{v}", range(len(own)))
        solver.AddFunction([v], np.minimum(own, top).tolist())
    for f in network.factors:
        wide = f.table[np.ix_(*f.classes)]
        solver.AddFunction(list(f.scope), np.minimum(wide, top).ravel().tolist())
    answer = solver.Solve()
    return None if answer is None else round(answer[1])


@pytest.mark.parametrize("shape", SHAPES)
def test_toulbar2_finds_the_same_optimum(shape: str, held: Held) -> None:
    found = 0
    for seed in range(100, 110):
        rng = random.Random(f"{shape} {seed}")
        network = structured_network(rng, shape, 7, 10)
        theirs = by_toulbar2(network)
        for limits in WAYS:
            assert costs(network, 1, limits) == ([] if theirs is None else [theirs])
        found += theirs is not None
    held("k best costs", "toulbar2", found)
    held("infeasibility", "toulbar2", 10 - found)
    assert found > 2


def by_clingo(network: Network) -> int | None:
    lines = []
    for v, own in enumerate(network.unary):
        lines.append(f"1 {{ x({v},0..{len(own) - 1}) }} 1.")
        lines += [f":~ x({v},{c}). [{p},{v},own]" for c, p in enumerate(own.tolist()) if p < FORBIDDEN]
        lines += [f":- x({v},{c})." for c, p in enumerate(own.tolist()) if p >= FORBIDDEN]
    for number, f in enumerate(network.factors):
        for axis, (v, classes) in enumerate(zip(f.scope, f.classes, strict=True)):
            lines += [f"k({number},{axis},{k}) :- x({v},{c})." for c, k in enumerate(classes.tolist())]
        for cell in np.ndindex(*f.table.shape):
            body = ", ".join(f"k({number},{axis},{k})" for axis, k in enumerate(cell))
            paid = int(f.table[cell])
            if paid >= FORBIDDEN:
                lines.append(f":- {body}.")
            elif paid:
                lines.append(f":~ {body}. [{paid},{number},factor]")
    control = clingo.Control(["--opt-mode=opt"])
    control.add("base", [], "\n".join(lines))
    control.ground([("base", [])])
    best: list[int] | None = None
    with control.solve(yield_=True) as models:
        for model in models:
            best = model.cost
    return None if best is None else (best[0] if best else 0)


@pytest.mark.parametrize("shape", SHAPES)
def test_clingo_finds_the_same_optimum(shape: str, held: Held) -> None:
    found = 0
    for seed in range(200, 206):
        rng = random.Random(f"{shape} {seed}")
        network = structured_network(rng, shape, 5, 6)
        theirs = by_clingo(network)
        for limits in WAYS:
            assert costs(network, 1, limits) == ([] if theirs is None else [theirs])
        found += theirs is not None
    held("k best costs", "clingo", found)
    held("infeasibility", "clingo", 6 - found)
    assert found > 0
