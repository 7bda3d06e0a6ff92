"""All cores ranked for a build, what to keep in stock, the batched sweep: against trying everything, CP-SAT."""

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations

import numpy as np
import pump
import pytest
from depth_random import TooMany, tried
from network_witness import cost as cost_of
from network_witness import cp_sat_ranked, everything, random_network, restricted, structured_network
from pump_random import Dice, random_bundle

from graph.model.bundle import Bundle
from graph.model.record import Core, Stock
from graph.model.verdict import Verdict
from graph.planning.answer import plan
from graph.planning.network import FORBIDDEN, Network
from graph.planning.reach import EXACT_CHOICES, lacking, of_core, ranked, stock_up
from graph.planning.sweep import Allowed, bounded, sweep

Held = Callable[..., None]
SEEDS = 30


def yard(seed: int) -> tuple[Bundle, list[Core]]:
    """One build and six cores, some of them read, some that donate."""
    bundle = random_bundle(seed, best=1)
    r, dice = random.Random(f"yard {seed}"), Dice(seed + 10_000)
    parts = [p for p in bundle.parts if p.kind != "gasket"]
    cores = [
        Core(
            f"core/X{n}", f"X{n}", "pump", book_value=r.choice((5, 30, None)), currency="EUR",
            own=r.random() < 0.2, may_donate=r.random() < 0.4,
            found=tuple(f for s in bundle.layout.seats if r.random() < 0.9 and (f := dice.found(s, parts))),
        )
        for n in range(6)
    ]  # fmt: skip
    donors = tuple(c for c in cores if c.may_donate)
    return replace(bundle, donors=(*bundle.donors, *donors)), cores


@pytest.mark.slow
def test_cores_are_ranked_as_by_trying_every_plan_of_every_core(held: Held) -> None:
    """Six cores each; where there are too many plans to try, as by one plan question a core."""
    seen: Counter[str] = Counter()
    for seed in range(SEEDS):
        shared, cores = yard(seed)
        truth: dict[str, tuple[Verdict, int | None]] = {}
        for core in cores:
            bundle = of_core(shared, core)
            try:
                sure = tried(bundle, certain=True, most=60)
                maybe = sure or tried(bundle, certain=False, most=60)
                verdict = Verdict.WITH_WORK if sure else Verdict.UNKNOWN if maybe else Verdict.NO
                cost = maybe[0] if maybe else None
                seen["tried"] += 1
            except TooMany:
                answer = plan(bundle)
                verdict = Verdict.WITH_WORK if answer.verdict is Verdict.YES else answer.verdict
                cost = answer.plans[0].cost if answer.plans else None
                seen["asked"] += 1
            truth[core.tag] = (verdict, cost)
        order = (Verdict.WITH_WORK, Verdict.UNKNOWN)
        for best in (1, 3, 6):
            standings, exact = ranked(shared, cores, best)
            right = sorted((order.index(v), c, tag) for tag, (v, c) in truth.items() if v in order)
            ours = [(order.index(s.verdict), s.cost, s.core.tag) for s in standings[:exact] if s.verdict]
            assert ours == right[:best], (seed, best)
            assert sorted(s.core.tag for s in standings) == sorted(truth)
            for standing in standings[exact:]:
                verdict, cost = truth[standing.core.tag]
                if standing.verdict is Verdict.NO:
                    assert verdict is Verdict.NO
                elif verdict is Verdict.WITH_WORK:
                    assert standing.least is not None and cost is not None and standing.least <= cost
        seen["certain"] += sum(v is Verdict.WITH_WORK for v, _ in truth.values())
    held("ranking of cores", "brute force of whole questions, six cores each", SEEDS)
    assert seen["tried"] >= 30
    assert seen["certain"] > 15


def cases_of(rng: random.Random, network: Network, count: int) -> tuple[Allowed, np.ndarray]:
    allowed = []
    for own in network.unary:
        may = np.array([[rng.random() < 0.6 for _ in own] for _ in range(count)], dtype=np.bool_)
        may[:, rng.randrange(len(own))] = True
        allowed.append(may)
    return allowed, np.array([rng.randint(0, 40) for _ in range(count)], dtype=np.int64)


@pytest.mark.parametrize("block", range(4))
def test_the_best_cases_of_random_networks_are_those_of_trying_everything(block: int, held: Held) -> None:
    """200 networks of any shape, eight cases each; witness: brute force a case."""
    for seed in range(block * 50, block * 50 + 50):
        rng = random.Random(f"sweep {seed}")
        network = random_network(rng, rng.randint(1, 5), 5, rng.randint(0, 6))
        allowed, extra = cases_of(rng, network, 8)
        truth = []
        least = bounded(network, allowed, extra)
        for case in range(8):
            kept = [np.flatnonzero(may[case]) for may in allowed]
            plans = everything(restricted(network, kept))
            cost = plans[0][0] + int(extra[case]) if plans else FORBIDDEN
            assert least[case] <= cost, (seed, case)
            if plans:
                truth.append((cost, case))
        for best in (1, 3, 8):
            swept = sweep(network, allowed, extra, best)
            assert [(cost, case) for cost, case, _ in swept.best] == sorted(truth)[:best], seed
            for cost, case in truth:
                assert swept.least[case] <= cost
    held("ranking of cores", "brute force", 50)


def test_a_shelf_on_which_each_core_has_its_own_parts_is_ranked_as_by_trying_everything(
    monkeypatch: pytest.MonkeyPatch, held: Held
) -> None:
    """60 networks, 40 cases of which each may use what all may and a candidate or two that no other may."""
    monkeypatch.setattr("graph.planning.sweep._AGAIN", 3)
    monkeypatch.setattr("graph.planning.batch._CELLS", 64)
    impossible = 0
    for seed in range(60):
        rng = random.Random(f"own {seed}")
        network = random_network(rng, rng.randint(2, 4), 8, rng.randint(1, 5))
        allowed = []
        for own in network.unary:
            may = np.zeros((40, len(own)), dtype=np.bool_)
            may[:, : len(own) // 3] = True
            for case in range(40):
                may[case, rng.randrange(len(own))] |= rng.random() < 0.9
            allowed.append(may)
        extra = np.array([rng.randint(0, 40) for _ in range(40)], dtype=np.int64)
        truth = []
        for case in range(40):
            plans = everything(restricted(network, [np.flatnonzero(may[case]) for may in allowed]))
            truth += [(plans[0][0] + int(extra[case]), case)] if plans else []
        for best in (2, 7):
            swept = sweep(network, allowed, extra, best)
            assert [(cost, case) for cost, case, _ in swept.best] == sorted(truth)[:best], seed
            assert all(swept.least[case] <= cost for cost, case in truth), seed
            for cost, case, solution in swept.best:
                assert all(may[case, c] for may, c in zip(allowed, solution.choice, strict=True))
                assert cost == cost_of(network, solution.choice) + int(extra[case])
        impossible += 40 - len(truth)
    held("ranking of cores", "brute force", 60)
    assert impossible > 100


@pytest.mark.parametrize("shape", ["tree", "ring", "mesh", "stack"])
def test_medium_sweeps_agree_with_cp_sat(shape: str, held: Held) -> None:
    for seed in range(4):
        rng = random.Random(f"sweep {shape} {seed}")
        network = structured_network(rng, shape, 6, 10)
        allowed, extra = cases_of(rng, network, 5)
        truth = []
        for case in range(5):
            plans, _ = cp_sat_ranked(restricted(network, [np.flatnonzero(may[case]) for may in allowed]), 1)
            truth += [(plans[0][0] + int(extra[case]), case)] if plans else []
        swept = sweep(network, allowed, extra, 3)
        assert [(cost, case) for cost, case, _ in swept.best] == sorted(truth)[:3], seed
    held("ranking of cores", "CP-SAT", 4)


def test_what_to_keep_in_stock_is_what_trying_every_choice_finds(held: Held) -> None:
    for seed in range(150):
        r = random.Random(seed)
        parts = [f"part/{c}" for c in "abcdefg"[: r.randint(1, 7)]]
        questions = [
            (f"b{n}", [frozenset(r.sample(parts, r.randint(0, len(parts)))) for _ in range(r.randint(0, 3))])
            for n in range(r.randint(1, 6))
        ]
        most = r.randint(0, 4)
        best = max(
            sum(any(s <= frozenset(held) for s in sets) for _, sets in questions)
            for size in range(min(most, len(parts)) + 1)
            for held in combinations(parts, size)
        )
        advice = stock_up(questions, most)
        assert len(advice.possible) == best == advice.bound
        assert advice.proved
        assert len(advice.parts) <= most
    held("what to keep in stock", "brute force", 150)


def test_a_choice_among_many_parts_is_greedy_with_a_bound() -> None:
    questions = [(f"b{n}", [frozenset({f"p{n}", f"q{n % 7}"})]) for n in range(60)]
    advice = stock_up(questions, 8)
    assert EXACT_CHOICES < 10**6
    assert len(advice.parts) <= 8
    assert len(advice.possible) >= 6  # one q and seven p's of it
    assert advice.bound >= len(advice.possible)
    assert not advice.proved


def test_a_part_on_hand_lacks_nothing_and_one_that_is_not_is_named() -> None:
    """The seal is never used again, so that one must be bought; by hand."""
    bare = pump.pump()
    assert lacking(bare) == ([frozenset({pump.SEAL.key})], True)
    stocked = tuple(replace(p, stock=(Stock("bin", 1),)) if p.key == pump.SEAL.key else p for p in pump.PARTS)
    assert lacking(pump.pump(parts=stocked))[0] == [frozenset()]
