"""Published and constructed graph problems with known answers, put to the search as networks.

The cases, their sources and how they were verified stand in tests/data/graph_cases.json.
"""

import json
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from graph.planning.network import FORBIDDEN, Factor, Network
from graph.planning.search import k_best

CASES: list[dict[str, Any]] = json.loads((Path(__file__).parents[1] / "data" / "graph_cases.json").read_text())


def of_kind(*kinds: str) -> list[Any]:
    chosen = [pytest.param(case, id=case["id"]) for case in CASES if case["kind"] in kinds]
    assert chosen
    return chosen


def plain(counts: list[int], factors: list[tuple[tuple[int, ...], np.ndarray]]) -> Network:
    """Every candidate its own class and label, no costs of its own."""
    return Network(
        tuple(np.zeros(n, dtype=np.int64) for n in counts),
        tuple(Factor(scope, tuple(np.arange(counts[v]) for v in scope), table) for scope, table in factors),
        tuple(np.arange(n) for n in counts),
    )


def walks(arcs: list[list[Any]], source: Any, target: Any) -> tuple[list[Any], Network]:
    """Walks of at most as many arcs as reach every node: a variable a step; at the target one stays, for nothing."""
    nodes = sorted({node for arc in arcs for node in arc[:2]}, key=str)
    at = {node: i for i, node in enumerate(nodes)}
    step = np.full((len(nodes), len(nodes)), FORBIDDEN)
    for tail, head, cost, *_ in arcs:
        if tail != target:
            step[at[tail], at[head]] = min(cost, step[at[tail], at[head]])
    step[at[target], at[target]] = 0
    steps = len(nodes)
    first, last = np.full(steps, FORBIDDEN), np.full(steps, FORBIDDEN)
    first[at[source]] = last[at[target]] = 0
    factors = [((v, v + 1), step) for v in range(steps - 1)]
    return nodes, plain([len(nodes)] * steps, [((0,), first), ((steps - 1,), last), *factors])


def paths(arcs: list[list[Any]], source: Any, target: Any, ranked: int) -> Iterator[tuple[int, list[Any]]]:
    """Loopless paths by cost, out of the best `ranked` walks."""
    nodes, network = walks(arcs, source, target)
    result = k_best(network, ranked)
    for solution in result.solutions:
        walk = [nodes[c] for c in solution.choice]
        path = walk[: walk.index(target) + 1]
        if len(set(path)) == len(path):
            yield solution.cost, path


@pytest.mark.parametrize("case", of_kind("configuration counting"))
def test_a_feature_model_has_as_many_products_as_published(case: dict[str, Any]) -> None:
    """Variables: GPS (no, yes), screen (basic, colour, high), media (none, camera, MP3, both)."""
    said = case["inputs"]["constraints"]
    needs = np.zeros((3, 4), dtype=np.int64)
    excludes = np.zeros((2, 3), dtype=np.int64)
    if "Camera requires High resolution" in said:
        needs[:2, [1, 3]] = FORBIDDEN
    if "GPS excludes Basic" in said:
        excludes[1, 0] = FORBIDDEN
    result = k_best(plain([2, 3, 4], [((1, 2), needs), ((0, 1), excludes)]), 100)
    assert result.complete
    assert len({s.labels for s in result.solutions}) == case["expected"]


@pytest.mark.parametrize("case", of_kind("two-line routing", "two-line routing, published"))
def test_the_fastest_way_through_two_lines(case: dict[str, Any]) -> None:
    given = case["inputs"]
    stations = list(zip(given["a1"], given["a2"], strict=True))
    changes = [np.array([[0, a], [b, 0]]) for a, b in zip(given["t1"], given["t2"], strict=True)]
    network = plain(
        [2] * len(stations),
        [((v,), np.array(work)) for v, work in enumerate(stations)]
        + [((v, v + 1), change) for v, change in enumerate(changes)]
        + [((0,), np.array(given["entry"])), ((len(stations) - 1,), np.array(given["exit"]))],
    )
    best = k_best(network, 1).solutions[0]
    expected = case["expected"]
    if isinstance(expected, dict):
        assert best.cost == expected["cost"]
        assert [line + 1 for line in best.choice] == expected["lines"]
    else:
        assert best.cost == expected


@pytest.mark.parametrize("case", of_kind("k shortest paths", "k shortest paths, published"))
def test_the_k_shortest_loopless_paths(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    found = list(paths(given["edges"], given["source"], given["target"], 3000))[: given["k"]]
    if isinstance(expected, list):
        assert [cost for cost, _ in found] == expected
    else:
        assert [cost for cost, _ in found] == expected["costs"]
        assert found[0][1] == expected["first"]
        assert found[1][1] == expected["second"]
        assert found[2][1] in expected["third_is_one_of"]


@pytest.mark.parametrize("case", of_kind("shortest paths, published"))
def test_the_shortest_distances(case: dict[str, Any]) -> None:
    source = case["inputs"]["source"]
    for target, distance in case["expected"].items():
        if target != source:
            _, network = walks(case["inputs"]["edges"], source, target)
            assert k_best(network, 1).solutions[0].cost == distance


@pytest.mark.parametrize("case", of_kind("resource-constrained path"))
def test_the_cheapest_path_within_a_time(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    time = {(tail, head): t for tail, head, _, t in given["arcs"]}
    within = [
        (cost, path)
        for cost, path in paths(given["arcs"], given["source"], given["target"], 100)
        if sum(time[arc] for arc in pairwise(path)) <= given["time_limit"]
    ]
    if expected["cost"] is None:
        assert not within
    else:
        assert within[0] == (expected["cost"], expected["path"])


@pytest.mark.parametrize("case", of_kind("Pareto front"))
def test_the_pareto_front_from_all_paths(case: dict[str, Any]) -> None:
    given = case["inputs"]
    time = {(tail, head): t for tail, head, _, t in given["arcs"]}
    front: list[list[int]] = []
    found = paths(given["arcs"], given["source"], given["target"], 100)
    for cost, taken in sorted((cost, sum(time[arc] for arc in pairwise(path))) for cost, path in found):
        if all(taken < other for _, other in front):
            front.append([cost, taken])
    assert front == case["expected"]
