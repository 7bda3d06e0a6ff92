"""The checker's own optimum against trying everything, quantum by quantum (tests/support/check_brute.py)."""

import pytest
from check_brute import Brute, TooLarge
from check_random import random_bundle

from graph.planning.check import optimum
from graph.planning.check.case import Mode

SEEDS = 160


@pytest.mark.slow
def test_the_costs_of_all_plans_equal_those_of_trying_everything() -> None:
    compared = with_plans = machined = both_sides = 0
    for seed in range(SEEDS):
        bundle = random_bundle(seed)
        modes: tuple[Mode, ...] = ("certain", "possible")
        for mode in modes:
            try:
                plans = Brute(bundle, mode == "certain").plans()
            except TooLarge:
                continue
            costs = tuple(sorted(plans.values()))
            assert optimum(bundle, best=10_000, mode=mode).costs == costs, (seed, mode)
            for best in (1, 3):
                assert optimum(bundle, best=best, mode=mode).costs == costs[:best], (seed, mode, best)
            cuts = [sum("cut" in name for *_, names in identity for name in names) for identity in plans]
            compared += 1
            with_plans += bool(plans)
            machined += max(cuts, default=0) > 0
            both_sides += max(cuts, default=0) > 1
    assert compared >= 250
    assert with_plans >= 100
    assert machined >= 30
    assert both_sides >= 3
