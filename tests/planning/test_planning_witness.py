"""Small random bundles against a witness that tries everything, and the sums of sizes against plain counting.

The witness (tests/support/pump_witness.py) enumerates every option, set of operations and whole size, by
docs/semantics.md alone; costs and identities of the ten best plans must be equal, in order.
"""

import random
from collections import Counter
from collections.abc import Callable
from itertools import product

import pytest
from pump_random import random_bundle
from pump_witness import Witness

from graph.model.verdict import Verdict
from graph.planning.answer import plan
from graph.planning.sizes import Row, Size, least, windows

Held = Callable[..., None]
SEEDS = 400
BATCHES = 10
MOST_TRIED = 150
"""Choices that the witness tries for what is merely possible; larger questions are compared only where certain."""


def compared(seed: int) -> str:
    """What the question came to, after both agreed on it; '' where it was too large for the witness."""
    bundle = random_bundle(seed)
    answer = plan(bundle)
    ours = [(p.cost, p.identity) for p in answer.plans]
    witness = Witness(bundle)
    if witness.combinations(certain=True) > 5 * MOST_TRIED:
        return ""
    certain = witness.plans(certain=True)
    if certain:
        assert answer.verdict in (Verdict.YES, Verdict.WITH_WORK)
        assert ours == certain[:10]
        return "certain"
    assert answer.verdict not in (Verdict.YES, Verdict.WITH_WORK)
    if witness.combinations(certain=False) > MOST_TRIED:
        return "not certain"
    possible = witness.plans(certain=False)
    assert ours == possible[:10]
    assert answer.verdict is (Verdict.UNKNOWN if possible else Verdict.NO)
    return "possible" if possible else "impossible"


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(BATCHES))
def test_the_ten_best_plans_are_those_that_trying_everything_finds(batch: int, held: Held) -> None:
    size = SEEDS // BATCHES
    seen = Counter(compared(seed) for seed in range(batch * size, (batch + 1) * size))
    held("k best costs", "brute force of whole questions", seen["certain"] + seen["possible"])
    held("infeasibility", "brute force of whole questions", seen["impossible"])
    assert seen["certain"] >= 4  # easy questions would prove nothing
    assert seen["possible"] + seen["impossible"] >= 6
    assert sum(n for what, n in seen.items() if what) >= 30  # 300 in all batches


@pytest.mark.slow
def test_every_window_is_what_trying_each_size_leaves() -> None:
    seen = 0
    for seed in range(100):
        bundle = random_bundle(seed, best=3)
        answer = plan(bundle)
        if answer.verdict is not Verdict.WITH_WORK:
            continue
        witness = Witness(bundle)
        wanted = {p.identity: p for p in answer.plans}
        for chosen, sizes, cost, identity in witness.worked(certain=True):
            found = wanted.get(identity)
            if found is None or found.cost != cost or not sizes:
                continue
            steps = {(s.seat, s.feature): s for s in found.steps if s.least is not None}
            order = [p for p in witness.order if p in sizes] + sorted(set(sizes) - set(witness.order))
            if {p: s.least for p, s in steps.items()} != sizes:
                continue  # another lot of the same plan at the same cost
            fixed: dict[tuple[str, str], int] = {}
            for place in order:
                fine = {a[place] for a in witness.assignments(chosen, certain=True, fixed=fixed)}
                step = steps[place]
                assert (step.low, step.high) == (min(fine), max(fine))
                assert step.target == (min(fine) + max(fine)) // 2
                assert step.target is not None
                fixed[place] = step.target
                seen += 1
    assert seen >= 20


def tried(sizes: list[Size], rows: list[Row]) -> tuple[int, ...] | None:
    """The least sizes by trying every one."""
    best = None
    for point in product(*([x for a, b in s.spans for x in range(a, b + 1)] for s in sizes)):
        sums = [sum(s * x for s, x in zip(row.signs, point, strict=True)) for row in rows]
        if all(any(a <= total <= b for a, b in row.spans) for row, total in zip(rows, sums, strict=True)):
            changes = tuple(s.change(x) for s, x in zip(sizes, point, strict=True))
            key = (sum(s.weight * c for s, c in zip(sizes, changes, strict=True)), changes)
            if best is None or key < best[0]:
                best = key, point
    return None if best is None else best[1]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_least_sizes_are_those_that_trying_each_one_finds(count: int) -> None:
    dice = random.Random(count)
    feasible = 0
    for _ in range({1: 200, 2: 300, 3: 120}[count]):
        sizes = []
        for _ in range(count):
            way, start = dice.choice((-1, 1)), dice.randint(-4, 4)
            near = start + way * dice.randint(1, 2)
            far = near + way * dice.randint(0, 5)
            spans: tuple[tuple[int, int], ...] = (tuple(sorted((near, far))),)  # type: ignore[assignment]
            if dice.random() < 0.2 and abs(far - near) > 2:
                low, high = spans[0]
                spans = ((low, low), (low + 2, high))
            sizes.append(Size(way, spans, start, dice.choice((0, 1, 1, 2, 5))))
        rows = []
        for _ in range(dice.randint(0, 3)):
            signs = tuple(dice.choice((-2, -1, -1, 0, 0, 1, 1, 2)) for _ in range(count))
            if any(signs):
                low = dice.randint(-9, 7)
                cut = (low, low + dice.randint(0, 3))
                rows.append(Row(signs, (cut,) if dice.random() < 0.7 else (cut, (cut[1] + 2, cut[1] + 3))))
        expected = tried(sizes, rows)
        assert least(sizes, rows) == expected
        if expected is not None:
            feasible += 1
            for window, at in zip(windows(sizes, rows, expected, [False] * count), expected, strict=True):
                assert window.least == at
                assert window.low is not None
                assert window.high is not None
                assert window.low <= window.target <= window.high
    assert feasible >= 40
