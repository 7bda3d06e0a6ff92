"""Tables of rules on sizes made at once, against each cell judged by itself."""

import random
from collections import Counter

import numpy as np
import pytest

import graph.planning.compile as made
from graph.model.fact import Alternative, Fact
from graph.model.record import Rule
from graph.model.verdict import Verdict
from graph.planning.network import FORBIDDEN
from graph.planning.problem import Problem
from graph.planning.requirement import of_rule
from graph.planning.sums import number_table

TYPES = ("clearance", "interference", "stack", "at_most", "at_least", "same")


def a_fact(rng: random.Random, rivals: int) -> Fact | None:
    """A size with its tolerance, several that dispute it or stand at two places, one not known, or none."""
    drawn = rng.random()
    if drawn < 0.08:
        return None
    if drawn < 0.16:
        return Fact("p", "f", "unknown", why="nothing is on record")
    if drawn < 0.2:
        return Fact("p", "f", "heard", "length", (Alternative(1, 2),))
    ends = [(a, a + rng.choice((0, 0, 1, 3))) for a in rng.sample(range(-6, 12), rng.randint(1, rivals))]
    places = [rng.choice(("", "a", "b")) if rivals > 1 else "" for _ in ends]
    quantity = "angle" if rng.random() < 0.02 else "length"
    return Fact(
        "p",
        "f",
        "known",
        quantity,
        tuple(Alternative(a, b, position=p) for (a, b), p in zip(ends, places, strict=True)),
    )


def a_rule(rng: random.Random) -> Rule:
    kind = rng.choice(TYPES)
    right = tuple((f"r{i}", "f") for i in range(rng.randint(1, 2) if kind == "stack" else 1))
    low, high = (rng.choice((None, rng.randint(-6, 4))), rng.choice((None, rng.randint(-2, 8))))
    return Rule("j", "n", kind, ("l", "f"), right, low, high)


@pytest.mark.parametrize("certain", [True, False])
def test_a_table_made_at_once_says_what_each_cell_says(certain: bool) -> None:
    seen: Counter[str] = Counter()
    for seed in range(900):
        rng = random.Random(seed)
        requirement = of_rule(a_rule(rng), frozenset())
        rivals = rng.choice((1, 1, 2))
        columns = [
            (a, [a_fact(rng, rivals) for _ in range(rng.randint(1, 5))]) for a in range(len(requirement.operands))
        ]
        if rng.random() < 0.2:  # the engine's side: one fact
            columns[-1] = (0, columns[-1][1][:1])
        axes = max(axis for axis, _ in columns) + 1
        table = number_table(requirement, columns, axes, certain=certain)
        if table is None:
            seen["by cells"] += 1
            continue
        seen["at once"] += 1
        for cell in np.ndindex(table.shape):
            facts = [mine[cell[axis]] if len(mine) > 1 else mine[0] for axis, mine in columns]
            verdict = requirement.verdict(facts)
            if certain:
                assert table[cell] == (0 if verdict is Verdict.YES else FORBIDDEN), (seed, cell)
            else:
                assert table[cell] == {Verdict.YES: 0, Verdict.UNKNOWN: 1}.get(verdict, FORBIDDEN), (seed, cell)
            seen[verdict.value] += 1
    assert min(seen["at once"], seen["by cells"]) >= 60, seen
    assert min(seen[v.value] for v in (Verdict.YES, Verdict.NO, Verdict.UNKNOWN)) >= 300, seen


@pytest.mark.slow
@pytest.mark.parametrize("many", [0, 1 << 60])
def test_networks_are_the_same_however_their_tables_are_made(many: int, monkeypatch: pytest.MonkeyPatch) -> None:
    from check_random import random_bundle as checked
    from pump_random import random_bundle as pumped

    for bundle in [f(seed) for f in (pumped, checked) for seed in range(60)]:
        for certain, doubt in ((True, 0), (False, 0), (False, 1000)):
            usual = made.compiled(Problem(bundle), certain=certain, doubt=doubt).network
            with monkeypatch.context() as patch:
                patch.setattr(made, "MANY", many)
                other = made.compiled(Problem(bundle), certain=certain, doubt=doubt).network
            assert [(f.name, f.scope) for f in usual.factors] == [(f.name, f.scope) for f in other.factors]
            for one, two in zip(usual.factors, other.factors, strict=True):
                assert (one.table == two.table).all(), one.name
            assert all((a == b).all() for a, b in zip(usual.unary, other.unary, strict=True))
