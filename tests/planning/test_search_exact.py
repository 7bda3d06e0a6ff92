"""The search against witnesses that share no code with it."""

import itertools
import random
from collections.abc import Callable

import numpy as np
import pytest
from network_witness import cost, cp_sat_ranked, everything, proved_least, random_network, structured_network

from graph.errors import OutOfRange
from graph.model.verdict import Proof
from graph.planning import search
from graph.planning.network import FORBIDDEN, LARGEST, Factor, Network
from graph.planning.search import Limits, SearchResult, k_best

Held = Callable[..., None]
PLAIN = Limits()
BOUNDED = Limits(small=0)
FLOODED = Limits(small=0, flood=0)


def ranked(result: SearchResult) -> list[tuple[int, tuple[int, ...]]]:
    return [(s.cost, s.labels) for s in result.solutions]


@pytest.mark.parametrize("block", range(12))
def test_set_order_and_costs_are_those_of_trying_everything(block: int, held: Held) -> None:
    """1,200 networks, every k that matters, with and without bounds; witness: brute force."""
    impossible = 0
    for seed in range(block * 100, block * 100 + 100):
        rng = random.Random(seed)
        network = random_network(rng, rng.randint(1, 5), 5, rng.randint(0, 7))
        truth = everything(network)
        impossible += not truth
        for limits in (PLAIN, BOUNDED, FLOODED) if seed % 8 == 0 else (PLAIN, BOUNDED):
            for k in {1, 5, max(1, len(truth) + seed % 2)}:
                result = k_best(network, k, limits=limits)
                assert ranked(result) == truth[:k], (seed, limits, k)
                assert result.proof is (Proof.CHEAPEST if truth else Proof.IMPOSSIBLE)
                assert result.proved == len(result.solutions)
                assert result.bound == (truth[0][0] if truth else None)
                assert not (result.complete and len(truth) > k)
                assert result.complete or len(truth) >= k
                assert all(cost(network, s.choice) == s.cost for s in result.solutions)
    held("k best costs", "brute force", 100 - impossible)
    held("infeasibility", "brute force", impossible)
    assert 5 < impossible < 60


@pytest.mark.parametrize("shape", ["tree", "ring", "mesh", "stack"])
def test_medium_networks_agree_with_cp_sat(shape: str, held: Held) -> None:
    """112 networks of windows on hidden sizes; witness: CP-SAT, excluding one plan after the other."""
    impossible = 0
    for seed in range(28):
        rng = random.Random(f"{shape} {seed}")
        network = structured_network(rng, shape, rng.randint(5, 8), rng.randint(6, 12))
        k = 4 if seed % 4 == 0 else 1
        theirs, all_of_them = cp_sat_ranked(network, k)
        impossible += not theirs
        for limits in (PLAIN, BOUNDED):
            ours = k_best(network, k, limits=limits)
            assert [c for c, _ in ranked(ours)] == [c for c, _ in theirs], (shape, seed)
            assert all(cost(network, s.choice) == s.cost for s in ours.solutions)
            assert len({s.labels for s in ours.solutions}) == len(ours.solutions)
            assert ours.complete or not all_of_them
    held("k best costs", "CP-SAT", 28 - impossible)
    held("infeasibility", "CP-SAT", impossible)
    assert impossible < 20


def test_a_certificate_proves_the_optimum_by_hand() -> None:
    """Each message is re-added from own costs and factors; a plan costs the optimum and non-negative slacks."""
    proved = impossible = 0
    for seed in range(160):
        rng = random.Random(seed)
        network = random_network(rng, rng.randint(1, 5), 4, rng.randint(0, 6))
        for limits in (PLAIN, BOUNDED):
            result = k_best(network, 1, limits=limits)
            assert result.evidence is not None
            least = proved_least(network, result.evidence.certificate().data())
            if result.solutions:
                assert least == result.solutions[0].cost
                proved += 1
            else:
                assert least >= FORBIDDEN
                impossible += 1
    assert proved > 200
    assert impossible > 10


@pytest.mark.parametrize("seed", [353, 654, 826, 847, 891, 1020])
def test_a_certificate_holds_where_a_later_tree_rests_on_an_earlier_one(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first six of 1,021 networks whose second tree is dearer without what the first has no solution with.

    The witness reckoned each tree by itself, kept what the search had rightly left out, and refused these.
    """
    monkeypatch.setattr(search, "_FIRST_KEPT", 1)  # so that so small a network is cut by a budget at all
    rng = random.Random(f"masked {seed}")
    network = random_network(rng, rng.randint(3, 5), 5, rng.randint(4, 8), arities=(2,))
    result = k_best(network, 1, limits=BOUNDED)
    assert result.evidence is not None
    proof = result.evidence.certificate().data()
    assert len(proof["trees"]) > 1
    assert proved_least(network, proof) == result.solutions[0].cost == everything(network)[0][0]


def test_a_certificate_that_claims_more_is_refused() -> None:
    network = structured_network(random.Random(4), "tree", 4, 6)
    result = k_best(network, 1, limits=BOUNDED)
    assert result.evidence is not None
    proof = result.evidence.certificate().data()
    assert proved_least(network, proof) == result.solutions[0].cost
    proof["buckets"][-1]["table"][0] += 1
    with pytest.raises(AssertionError, match="claims more"):
        proved_least(network, proof)


def chain(*lengths: int, dearest: int = 9, seed: int = 1) -> Network:
    rng = np.random.default_rng(seed)
    unary = tuple(rng.integers(0, dearest + 1, n) for n in lengths)
    factors = tuple(
        Factor((v, v + 1), (np.arange(a), np.arange(b)), rng.integers(0, dearest + 1, (a, b)))
        for v, (a, b) in enumerate(itertools.pairwise(lengths))
    )
    return Network(unary, factors, tuple(np.arange(n) for n in lengths))


def test_trap_1_a_dominated_candidate_still_ranks() -> None:
    """The dearer twin of the cheapest candidate makes the second plan; dominance pruning would lose it."""
    unary = (np.array([10, 11, 50]), np.array([0, 100]))
    factor = Factor((0, 1), (np.array([0, 0, 1]), np.array([0, 1])), np.zeros((2, 2), dtype=np.int64))
    network = Network(unary, (factor,), (np.arange(3), np.arange(2)))
    for limits in (PLAIN, BOUNDED):
        assert ranked(k_best(network, 4, limits=limits)) == [(10, (0, 0)), (11, (1, 0)), (50, (2, 0)), (110, (0, 1))]


def test_trap_2_equal_messages_do_not_hide_a_second_best() -> None:
    """Both classes of variable 1 have the same least completion (5) and different second ones (6 and 90)."""
    table = np.array([[5, 5], [6, 90]])
    factor = Factor((0, 1), (np.arange(2), np.arange(2)), table)
    above = Factor((1, 2), (np.arange(2), np.arange(2)), np.array([[0, 1], [2, 4]]))
    network = Network((np.zeros(2, dtype=np.int64),) * 3, (factor, above), (np.arange(2),) * 3)
    assert ranked(k_best(network, 8)) == everything(network)


def test_trap_3_a_shared_machined_feature_needs_its_own_factor() -> None:
    """Each partner alone has a size that suits, both together have none: the pairwise tables allow it."""
    ids = np.arange(2)
    pairs = tuple(Factor((0, v), (ids, ids), np.zeros((2, 2), dtype=np.int64)) for v in (1, 2))
    shared = np.zeros((2, 2, 2), dtype=np.int64)
    shared[1, 0, 0] = FORBIDDEN  # the machined mode of variable 0, partners whose windows do not meet
    unary = (np.array([100, 1]), np.array([0, 5]), np.array([0, 5]))
    labels = (ids,) * 3
    without = k_best(Network(unary, pairs, labels), 5)
    network = Network(unary, (*pairs, Factor((0, 1, 2), (ids, ids, ids), shared)), labels)
    assert ranked(without)[0] == (1, (1, 0, 0))
    assert ranked(k_best(network, 5)) == everything(network)[:5]
    assert (1, (1, 0, 0)) not in ranked(k_best(network, 8))


def test_trap_4_no_plan_comes_twice() -> None:
    for seed in range(40):
        network = chain(4, 5, 4, seed=seed)
        result = k_best(network, 80)
        assert len(result.solutions) == 80
        assert len({s.choice for s in result.solutions}) == 80
        assert result.complete


def test_trap_4_parallel_factors_both_count() -> None:
    ids = (np.arange(2), np.arange(2))
    twice = Factor((0, 1), ids, np.array([[3, 1], [2, 5]]))
    network = Network((np.zeros(2, dtype=np.int64),) * 2, (twice, twice), ids)
    assert ranked(k_best(network, 4)) == [(2, (0, 1)), (4, (1, 0)), (6, (0, 0)), (10, (1, 1))]


@pytest.mark.parametrize("limits", [PLAIN, BOUNDED, FLOODED, Limits(flood=3)])
def test_trap_15_ties_are_ordered_by_labels(limits: Limits) -> None:
    free = tuple(np.zeros(3, dtype=np.int64) for _ in range(4))
    labels = (np.array([5, 1, 3]),) * 4
    result = k_best(Network(free, (), labels), 4, limits=limits)
    assert ranked(result) == [(0, (1, 1, 1, one)) for one in (1, 3, 5)] + [(0, (1, 1, 3, 1))]


def test_a_flood_of_equal_labels_does_not_hide_the_plans_behind_it() -> None:
    """Nine lots of one part in each of eight seats: 9^8 ways to write the cheapest plan."""
    lots = np.array([0] * 9 + [7], dtype=np.int64)
    ring = tuple(
        Factor((v, v + 1), (np.arange(10), np.arange(10)), np.zeros((10, 10), dtype=np.int64)) for v in range(7)
    )
    distinguished = Factor((0, 1), (np.arange(10), np.arange(10)), np.eye(10, dtype=np.int64))
    labels = (np.array([0] * 9 + [1]),) * 8
    result = k_best(Network((lots,) * 8, (*ring, distinguished), labels), 9, limits=Limits(flood=50))
    assert [s.cost for s in result.solutions] == [0] + [7] * 8
    assert len({s.labels for s in result.solutions}) == 9


class Clock:
    def __init__(self, calls: int) -> None:
        self.calls = calls

    def __call__(self) -> bool:
        self.calls -= 1
        return self.calls < 0


def test_trap_18_a_stop_keeps_what_was_found_and_says_not_proved() -> None:
    """Stopped after any number of polls: the bound holds, proved plans are the cheapest, the rest are plans."""
    rng = random.Random(3)
    network = structured_network(rng, "mesh", 6, 9)
    truth = [c for c, _ in ranked(k_best(network, 300))]
    seen = set()
    for calls in range(60):
        result = k_best(network, 300, stop=Clock(calls), limits=BOUNDED)
        seen.add(result.proof)
        if result.proof is Proof.CHEAPEST:
            assert [s.cost for s in result.solutions] == truth
            continue
        assert result.proof is (Proof.FOUND if result.solutions else Proof.UNDECIDED)
        assert result.bound is not None
        assert result.bound <= truth[0]
        assert [s.cost for s in result.solutions[: result.proved]] == truth[: result.proved]
        assert all(cost(network, s.choice) == s.cost for s in result.solutions)
        assert not result.complete
    assert seen == {Proof.UNDECIDED, Proof.FOUND, Proof.CHEAPEST}


def test_too_wide_tables_go_to_the_last_resort_and_stay_exact() -> None:
    solved = 0
    for seed in range(30):
        rng = random.Random(seed)
        network = structured_network(rng, "mesh", 6, 7)
        truth = k_best(network, 3)
        result = k_best(network, 3, limits=Limits(small=0, cells=5, effort=60))
        assert [s.cost for s in result.solutions] == [s.cost for s in truth.solutions]
        assert result.proof is truth.proof
        solved += result.evidence is None
    assert solved > 3


def test_the_last_resort_without_effort_says_undecided_or_found_with_a_bound() -> None:
    rng = random.Random(1)
    network = structured_network(rng, "mesh", 6, 7)
    truth = k_best(network, 1)
    result = k_best(network, 1, limits=Limits(small=0, cells=2, effort=0))
    assert result.proof in (Proof.UNDECIDED, Proof.FOUND)
    assert result.bound is not None and truth.bound is not None
    assert 0 < result.bound <= truth.bound


def test_forbidden_never_overflows() -> None:
    """300 variables in a chain where every cell is forbidden but one path of the largest costs."""
    n = 300
    table = np.full((2, 2), FORBIDDEN)
    table[1, 1] = LARGEST
    ids = (np.arange(2), np.arange(2))
    factors = tuple(Factor((v, v + 1), ids, table) for v in range(n - 1))
    unary = (np.array([FORBIDDEN, LARGEST]),) * n
    for limits in (PLAIN, BOUNDED):
        result = k_best(Network(unary, factors, (np.arange(2),) * n), 2, limits=limits)
        assert ranked(result) == [(LARGEST * (2 * n - 1), (1,) * n)]
        assert result.complete


def test_malformed_networks_are_refused() -> None:
    ids = np.arange(2)
    free = np.zeros(2, dtype=np.int64)
    flat = np.zeros((2, 2), dtype=np.int64)
    good = Factor((0, 1), (ids, ids), flat)
    assert k_best(Network((free, free), (good,), (ids, ids)), 1).proof is Proof.CHEAPEST
    bad = [
        Network((free, free), (Factor((1, 0), (ids, ids), flat),), (ids, ids)),
        Network((free, free), (Factor((0, 0), (ids, ids), flat),), (ids, ids)),
        Network((free, free), (Factor((0, 2), (ids, ids), flat),), (ids, ids)),
        Network((free, free), (Factor((0, 1), (ids, ids + 1), flat),), (ids, ids)),
        Network((free, free), (Factor((0, 1), (ids, ids[:1]), flat),), (ids, ids)),
        Network((free, free), (Factor((0, 1), (ids, ids), free),), (ids, ids)),
        Network((free, free), (Factor((0, 1), (ids, ids), flat - 1),), (ids, ids)),
        Network((free, free + LARGEST + 1), (good,), (ids, ids)),
        Network((free, free), (good,), (ids,)),
    ]
    for network in bad:
        with pytest.raises(OutOfRange):
            k_best(network, 1)
    with pytest.raises(OutOfRange):
        k_best(Network((free, free), (good,), (ids, ids)), 0)


def test_no_variables_make_one_empty_plan_and_an_empty_domain_none() -> None:
    assert ranked(k_best(Network((), (), ()), 3)) == [(0, ())]
    empty = np.zeros(0, dtype=np.int64)
    result = k_best(Network((empty,), (), (empty,)), 3)
    assert result.proof is Proof.IMPOSSIBLE
    assert result.complete
