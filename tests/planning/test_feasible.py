"""Whether a network has any solution, against trying everything and CP-SAT (tests/support/network_witness.py)."""

import random
from collections.abc import Callable

import pytest
from network_witness import cost, cp_sat_ranked, everything, random_network, structured_network

from graph.errors import Unanswerable
from graph.planning.feasible import any_solution
from graph.planning.network import FORBIDDEN
from graph.planning.search import Limits

Held = Callable[..., None]


def test_a_solution_is_found_exactly_where_trying_everything_finds_one(held: Held) -> None:
    """300 networks of any shape."""
    none = 0
    for seed in range(300):
        rng = random.Random(f"feasible {seed}")
        network = random_network(rng, rng.randint(1, 5), 5, rng.randint(0, 8))
        found = any_solution(network)
        plans = everything(network)
        assert (found is not None) is bool(plans), seed
        if found is not None:
            assert cost(network, found) < FORBIDDEN
        none += not plans
    held("infeasibility", "brute force", none)
    assert 30 < none < 270


@pytest.mark.parametrize("shape", ["tree", "ring", "mesh", "stack"])
def test_medium_networks_have_one_where_cp_sat_says_so(shape: str) -> None:
    for seed in range(4):
        network = structured_network(random.Random(f"feasible {shape} {seed}"), shape, 7, 12)
        found = any_solution(network)
        assert (found is not None) is bool(cp_sat_ranked(network, 1)[0])


def test_tables_too_wide_for_it_are_left_to_the_search_by_cost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("graph.planning.feasible.Limits", lambda: Limits(cells=2))
    for seed in range(40):
        network = random_network(random.Random(f"wide {seed}"), 4, 4, 6)
        assert (any_solution(network) is not None) is bool(everything(network)), seed


def test_what_was_stopped_is_no_answer() -> None:
    network = structured_network(random.Random("feasible tree 0"), "tree", 7, 12)
    assert any_solution(network) is not None
    with pytest.raises(Unanswerable):
        any_solution(network, lambda: True)
