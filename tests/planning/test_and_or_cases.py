"""Plans as AND/OR graphs with known optima, put to the search as networks.

The cases, and how they were verified (brute force, clingo and CP-SAT agree), stand in tests/data/graph_cases.json.
A part that two branches need is made once; counted for each use the optimum is another number in every case.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from graph.model.verdict import Proof
from graph.planning.network import FORBIDDEN, Factor, Network
from graph.planning.search import k_best

EVERY: list[dict[str, Any]] = json.loads((Path(__file__).parents[1] / "data" / "graph_cases.json").read_text())
CASES = [case for case in EVERY if case["kind"].startswith("AND/OR")]

Way = tuple[int, int, frozenset[str]]
"""How a thing comes about: its cost, its level (0: bought), and what it is made of."""


def ways(given: dict[str, Any], thing: str, levels: int) -> list[Way | None]:
    """Not at all; bought; or made on a level above all that it needs, so that no circle supports itself."""
    out: list[Way | None] = [None]
    if thing in given["purchase_cost"]:
        out.append((given["purchase_cost"][thing], 0, frozenset()))
    for made in given["operations"]:
        if made["makes"] == thing:
            out += [(made["cost"], level, frozenset(made["needs"])) for level in range(1, levels + 1)]
    return out


def allowed(mine: Way | None, thing: str, its: Way | None) -> bool:
    return mine is None or thing not in mine[2] or (its is not None and its[1] < mine[1])


def network(given: dict[str, Any]) -> Network:
    made = given["operations"]
    things = sorted({m["makes"] for m in made} | {n for m in made for n in m["needs"]} | set(given["purchase_cost"]))
    levels = len({m["makes"] for m in made})
    choices = [ways(given, thing, levels) for thing in things]
    unary = [np.array([0 if w is None else w[0] for w in ways_of], dtype=np.int64) for ways_of in choices]
    unary[things.index(given["goal"])][0] = FORBIDDEN
    factors = []
    for one in range(len(things)):
        for other in range(one + 1, len(things)):
            table = np.array(
                [
                    [
                        0 if allowed(a, things[other], b) and allowed(b, things[one], a) else FORBIDDEN
                        for b in choices[other]
                    ]
                    for a in choices[one]
                ],
                dtype=np.int64,
            )
            if table.any():
                factors.append(Factor((one, other), (np.arange(len(table)), np.arange(table.shape[1])), table))
    return Network(tuple(unary), tuple(factors), tuple(np.arange(len(c)) for c in choices))


@pytest.mark.parametrize("case", [pytest.param(case, id=case["id"]) for case in CASES])
def test_the_cheapest_plan_makes_a_shared_part_once(case: dict[str, Any]) -> None:
    expected = case["expected"]
    result = k_best(network(case["inputs"]), 1)
    assert result.proof is Proof.CHEAPEST
    assert result.solutions[0].cost == expected["cost_shared_parts_counted_once"]
    assert result.solutions[0].cost != expected["cost_counted_per_use"]


def test_there_are_cases_at_all() -> None:
    assert len(CASES) == 7
