"""The Pareto front of two costs, against trying every choice and against CP-SAT's epsilon-constraint method."""

import random
from collections.abc import Callable

import numpy as np
import pytest
from network_witness import cost as cost_of
from network_witness import random_network, structured_network
from pareto_witness import TimedWitness, cp_sat_front, second_network, torn, tried_front

import graph.planning.objective as asked
import graph.planning.pareto as made
from graph.planning.elimination import Stopped
from graph.planning.network import Network
from graph.planning.objective import best_by, pareto
from graph.planning.pareto import front

Held = Callable[..., None]
MOST_TRIED = 500
"""Choices that the witness tries; larger questions are left out."""


def never() -> bool:
    return False


def two_costs(seed: int) -> tuple[Network, Network]:
    rng = random.Random(f"front {seed}")
    first = random_network(rng, rng.randint(1, 5), 4, rng.randint(0, 6))
    return first, second_network(rng, first, rng.choice((2, 5, 100, 10_000)), rng.choice((0.0, 0.0, 0.1)))


@pytest.mark.parametrize("rows", [1 << 20, 3])
def test_the_front_is_that_of_all_choices_and_ties_go_by_labels(
    rows: int, monkeypatch: pytest.MonkeyPatch, held: Held
) -> None:
    """300 networks whole and in parts of three rows; witness: brute force."""
    monkeypatch.setattr(made, "_ROWS", rows)
    sizes = []
    for seed in range(300):
        first, second = two_costs(seed)
        truth = tried_front(first, second)
        assert [(p.first, p.second, p.choice) for p in front(first, second, never)] == truth, seed
        sizes.append(len(truth))
    if rows > 3:
        held("Pareto set", "brute force", len(sizes))
    assert sizes.count(0) >= 10
    assert sum(n > 1 for n in sizes) >= 100
    assert max(sizes) >= 6


@pytest.mark.slow
@pytest.mark.parametrize(("shape", "variables"), [("tree", 9), ("ring", 8), ("mesh", 6), ("stack", 8)])
def test_the_front_is_the_one_that_cp_sat_finds(shape: str, variables: int, held: Held) -> None:
    """Windows on hidden sizes, seven candidates a variable; witness: epsilon-constraint, as textbooks have it."""
    seen = 0
    for seed in range(3):
        rng = random.Random(f"{shape} {seed}")
        first = structured_network(rng, shape, variables, 7)
        second = second_network(rng, first, 30)
        truth = cp_sat_front(first, second)
        found = front(first, second, never)
        assert [(p.first, p.second) for p in found] == truth
        assert all((cost_of(first, p.choice), cost_of(second, p.choice)) == (p.first, p.second) for p in found)
        seen += len(truth)
    held("Pareto set", "CP-SAT", 3)
    assert seen >= 6


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(4))
def test_money_against_time_is_what_trying_every_choice_finds(batch: int, held: Held) -> None:
    """600 small bundles with cuts, services and used-up parts; witness: tests/support/pump_witness.py."""
    sizes: list[int] = []
    cuts = services = consumes = 0
    for seed in range(1000 + 150 * batch, 1150 + 150 * batch):
        bundle = torn(seed)
        witness = TimedWitness(bundle)
        if witness.combinations(certain=True) > MOST_TRIED:
            continue
        has: dict[tuple[int, int], tuple[int, bool, bool]] = {}
        for money, time, what in witness.pairs():
            has[money, time] = max(what, has.get((money, time), what))
        truth = sorted(p for p in has if not any(q != p and q[0] <= p[0] and q[1] <= p[1] for q in has))
        found, complete = pareto(bundle)
        assert complete
        assert [(o.cost, o.time) for o in found] == truth, seed
        sizes += [len(truth)] if truth else []
        cuts += any(has[p][0] for p in truth)
        services += any(has[p][1] for p in truth)
        consumes += any(has[p][2] for p in truth)
    held("Pareto set", "brute force of whole questions", len(sizes))
    assert len(sizes) >= 16  # 64 in all batches
    assert min(cuts, services, consumes) >= 4
    assert sum(n > 1 for n in sizes) >= 3


def test_whoever_says_stop_is_heard() -> None:
    first, second = two_costs(1)
    with pytest.raises(Stopped):
        front(Network(first.unary, (), first.labels), Network(second.unary, (), second.labels), lambda: True)


def test_an_unknown_number_of_equal_plans_is_one() -> None:
    """Ten variables of ten equal candidates: 10**10 choices, one pair, the first of them by labels."""
    same = tuple(np.zeros(10, dtype=np.int64) for _ in range(10))
    labels = tuple(np.arange(10)[::-1].copy() for _ in range(10))
    (only,) = front(Network(same, (), labels), Network(same, (), labels), never)
    assert (only.first, only.second, only.choice) == (0, 0, (9,) * 10)


def test_a_question_that_is_stopped_gives_the_ends_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """The ends are the same plans, ties and all, that the two orders of the measures choose by another way."""
    stopped = 0
    for seed in range(80):
        bundle = torn(seed)
        whole, complete = pareto(bundle)
        assert complete
        if not whole:
            continue
        cheapest, quickest = best_by(bundle, ("cost", "time")), best_by(bundle, ("time", "cost"))
        assert cheapest is not None
        assert quickest is not None
        ends = [cheapest.plan.identity, quickest.plan.identity]
        assert [whole[0].plan.identity, whole[-1].plan.identity] == ends
        if len(whole) < 2:
            continue
        with monkeypatch.context() as patch:
            patch.setattr(asked, "front", lambda first, second, _: front(first, second, lambda: True))
            some, complete = pareto(bundle)
        assert not complete
        assert [o.plan.identity for o in some] == ends
        stopped += 1
    assert stopped >= 2
