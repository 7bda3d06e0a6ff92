"""Orders of measures and the Pareto set, against all plans of small questions and all solutions of networks."""

import random
from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest
from network_witness import cost as cost_of
from network_witness import everything, random_network
from pump_random import random_bundle

from graph.errors import BadQuestion
from graph.model.verdict import Verdict
from graph.planning.answer import plan
from graph.planning.network import Network
from graph.planning.objective import best_by, pareto, tight
from graph.planning.search import k_best

ORDERS = (
    ("cost",), ("time",), ("changes", "cost"), ("lasting", "time"), ("changes", "lasting", "time"),
    ("lead", "changes"), ("changes", "lead", "time"),
)  # fmt: skip
NEVER = 10**9
Held = Callable[..., None]


@pytest.mark.slow
def test_orders_and_the_pareto_set_are_those_of_all_plans(held: Held) -> None:
    """All plans by k best, which test_planning_witness holds against trying everything; measures counted by hand."""
    seen: Counter[int] = Counter()
    for seed in range(110):
        bundle = random_bundle(seed, best=300)
        answer = plan(bundle)
        if answer.verdict not in (Verdict.YES, Verdict.WITH_WORK):
            if seed % 10 == 0:
                assert best_by(bundle, ("time",)) is None
                assert pareto(bundle) == ([], True)
            continue
        if len(answer.plans) == 300:
            continue
        operations = {o.name: o for o in bundle.operations}
        rows = []
        for one in answer.plans:
            work = [[operations[n] for n in c.operations if operations[n].effect != "service"] for c in one.seats]
            fresh = [c.source in ("new", "donor") for c in one.seats]
            rows.append(
                {
                    "cost": one.cost,
                    "time": one.time,
                    "changes": sum(bool(w) or f for w, f in zip(work, fresh, strict=True)),
                    "lasting": sum(not o.reversible for w in work for o in w),
                    "lead": NEVER if one.lead_days is None else one.lead_days,
                }
            )
        for order in ORDERS:
            found = best_by(bundle, order)
            assert found is not None
            names = (*order, "cost")
            lead = NEVER if found.lead_days is None else found.lead_days
            ours = {"cost": found.cost, "time": found.time, "changes": found.changes, "lasting": found.lasting}
            ours["lead"] = lead
            assert tuple(ours[n] for n in names) == min(tuple(row[n] for n in names) for row in rows), (seed, order)
        points = sorted({(row["cost"], row["time"]) for row in rows})
        front = [p for p in points if not any(q != p and q[0] <= p[0] and q[1] <= p[1] for q in points)]
        found_front, complete = pareto(bundle)
        assert complete
        assert [(o.cost, o.time) for o in found_front] == front, seed
        seen[len(front)] += 1
    held("order of measures", "all plans, seven orders each", sum(seen.values()))
    held("Pareto set", "all plans", sum(seen.values()))
    assert sum(seen.values()) >= 12
    assert sum(n for size, n in seen.items() if size > 1) >= 2


def test_the_optimal_solutions_of_a_network_are_a_network_themselves(held: Held) -> None:
    """200 networks: what `tight` leaves is every optimal solution and nothing else; witness: brute force."""
    ties = 0
    for seed in range(200):
        rng = random.Random(f"tie {seed}")
        network = random_network(rng, rng.randint(1, 5), 4, rng.randint(0, 6))
        plain = Network(network.unary, network.factors, tuple(np.arange(len(own)) for own in network.unary))
        truth = everything(plain)
        result = k_best(plain, 1)
        assert bool(truth) == bool(result.solutions)
        if not truth:
            continue
        assert result.evidence is not None
        assert result.evidence.elimination is not None
        factors, masks = tight(result.evidence.elimination, [len(own) for own in plain.unary])
        only = Network(tuple(masks), tuple(factors), plain.labels)
        best = [labels for cost, labels in truth if cost == truth[0][0]]
        ties += len(best) > 1
        left = everything(only)
        assert [labels for _, labels in left] == sorted(best), seed
        assert all(cost == 0 and cost_of(plain, labels) == truth[0][0] for cost, labels in left)
    held("order of measures", "brute force of what is tied", 200)
    assert ties > 20


def test_a_measure_that_there_is_not_is_refused() -> None:
    with pytest.raises(BadQuestion, match="beauty"):
        best_by(random_bundle(1), ("beauty",))
