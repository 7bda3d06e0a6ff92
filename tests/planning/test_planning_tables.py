"""Factor tables against trying every value and every target on small domains."""

import itertools
import random
from fractions import Fraction

import numpy as np
import pytest

from graph.planning.network import FORBIDDEN
from graph.planning.tables import (
    Cutting,
    barred,
    cut,
    distinct,
    labour,
    pairs,
    stack,
    window,
)


def interval(rng: random.Random, low: int = -4, high: int = 8) -> tuple[int, int]:
    a = rng.randint(low, high)
    return a, a + rng.choice((0, 0, 1, 3))


def arrays(intervals: list[tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([a for a, _ in intervals]), np.array([b for _, b in intervals])


def limit(rng: random.Random) -> int | None:
    return None if rng.random() < 0.3 else rng.randint(-4, 6)


def inside(value: int, low: int | None, high: int | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)


def test_windows_and_stacks_hold_for_all_or_for_some_values() -> None:
    """4,000 cells; witness: every value of every interval."""
    cells = 0
    for seed in range(400):
        rng = random.Random(seed)
        operands = [[interval(rng) for _ in range(rng.randint(1, 3))] for _ in range(rng.choice((2, 2, 3, 4)))]
        low, high = limit(rng), limit(rng)
        ends = [arrays(o) for o in operands]
        certain, possible = stack(*ends[0], [e[0] for e in ends[1:]], [e[1] for e in ends[1:]], low, high)
        if len(operands) == 2:
            again = window(*ends[0], *ends[1], low, high)
            assert np.array_equal(again[0], certain) and np.array_equal(again[1], possible)
        for cell in np.ndindex(*certain.shape):
            spans = [range(o[i][0], o[i][1] + 1) for o, i in zip(operands, cell, strict=True)]
            truth = [inside(v[0] - sum(v[1:]), low, high) for v in itertools.product(*spans)]
            missing = low is None and high is None
            assert certain[cell] == (all(truth) and not missing)
            assert possible[cell] == (any(truth) or missing)
            cells += 1
    assert cells > 2000


def test_windows_on_exact_ascending_values_hold_pair_by_pair() -> None:
    """600 windows, some empty or upside down; witness: the difference of every pair."""
    for seed in range(600):
        rng = random.Random(seed)
        left, right = (np.array(sorted(rng.sample(range(-30, 30), rng.randint(0, 12))), dtype=int) for _ in range(2))
        low, high = rng.randint(-20, 20), rng.randint(-20, 20)
        certain, possible = window(left, left, right, right, low, high)
        for i, x in enumerate(left.tolist()):
            for j, y in enumerate(right.tolist()):
                fits = low <= x - y <= high
                assert certain[i, j] == possible[i, j] == fits
        assert certain.shape == (len(left), len(right))


def test_what_is_not_allowed_is_barred() -> None:
    allowed = np.array([[True, False], [False, True]])
    assert barred(allowed).tolist() == [[0, FORBIDDEN], [FORBIDDEN, 0]]
    assert barred(allowed.T[:0]).shape == (0, 2)


@pytest.mark.parametrize("size", [0, 1, 2, 30])
def test_distinct_values_are_those_of_numpy(size: int) -> None:
    values = np.array([random.Random(size).randrange(9) for _ in range(size)], dtype=np.int64)
    found, classes = distinct(values)
    theirs, inverse = np.unique(values, return_inverse=True)
    assert np.array_equal(found, theirs) and np.array_equal(classes, inverse)


def test_accepted_pairs_hold_for_every_or_some_alternative() -> None:
    for seed in range(150):
        rng = random.Random(seed)

        def classes(rng: random.Random = rng) -> list[list[set[str]]]:
            return [
                [set(rng.sample("abcd", rng.choice((1, 1, 2)))) for _ in range(rng.choice((1, 1, 2)))]
                for _ in range(rng.randint(1, 4))
            ]

        left, right = classes(), classes()
        accepted = {(rng.choice("abc"), rng.choice("abc")) for _ in range(rng.randint(1, 4))}
        certain, possible = pairs(left, right, accepted)
        for i, j in np.ndindex(*certain.shape):
            truth = [any((a, b) in accepted for a in x for b in y) for x in left[i] for y in right[j]]
            assert certain[i, j] == all(truth)
            assert possible[i, j] == any(truth)
    none = pairs([[{"a"}]], [[{"a"}]], ())
    assert not none[0].any() and none[1].all()


def test_labour_is_rounded_half_up_as_fractions_say() -> None:
    """docs/semantics.md section 5 in exact fractions."""

    def half_up(x: Fraction) -> int:
        return (2 * x.numerator + x.denominator) // (2 * x.denominator)

    rng = random.Random(1)
    for _ in range(2000):
        setup, time, per_mm = rng.randint(0, 10**7), rng.randint(0, 10**7), rng.randint(0, 10**6)
        change, rate = rng.randint(0, 10**8), rng.randint(0, 20_000)
        ms = half_up(setup + time + Fraction(per_mm * change, 10_000_000))
        expected = half_up(Fraction(ms * rate, 3_600_000))
        got = labour(*(np.array(n) for n in (setup, time, per_mm, change, rate)))
        assert int(got) == expected


def cutting(rng: random.Random, modes: int, widen: bool) -> Cutting:
    low, high = arrays([interval(rng, 0, 6) for _ in range(modes)])
    room = np.array([rng.randint(-1, 14) for _ in range(modes)])

    def some(*values: int) -> np.ndarray:
        return np.array([rng.choice(values) for _ in range(modes)])

    return Cutting(
        low,
        high,
        high + room if widen else low - room,
        some(0, 0, 1),
        some(0, 60_000),
        some(0, 30_000),
        some(0, 10**11, 2 * 10**11),
        some(3600, 7200),
        widen,
    )


def all_in(low: int, high: int, floor: int, ceiling: int, certain: bool) -> bool:
    values = [floor <= v <= ceiling for v in range(low, high + 1)]
    return all(values) if certain else any(values)


def targets(c: Cutting, m: int) -> range:
    """Every target that the part itself permits, the least cut first."""
    cap = int(c.capability[m])
    if c.widen:
        return range(int(c.high[m]) + 1, int(c.limit[m]) - cap + 1)
    return range(int(c.low[m]) - 1, int(c.limit[m]) + cap - 1, -1)


@pytest.mark.parametrize("certain", [True, False])
def test_one_cut_takes_the_least_target_of_all(certain: bool) -> None:
    """Witness: every whole target in turn against every partner; 6,000 cells each way."""
    feasible = needless = 0
    for seed in range(800):
        rng = random.Random(seed)
        c = cutting(rng, rng.randint(1, 3), rng.random() < 0.5)
        partners = [
            [(a, a + rng.randint(-1, 12)) for a in (rng.randint(-3, 12) for _ in range(rng.randint(1, 3)))]
            for _ in range(rng.choice((0, 1, 2, 2, 3)))
        ]
        ends = [arrays(p) for p in partners]
        table = cut(c, [e[0] for e in ends], [e[1] for e in ends], certain=certain)
        assert table.cost.shape == (len(c.low), *(len(p) for p in partners))
        for cell in np.ndindex(*table.cost.shape):
            m, windows = cell[0], [p[i] for p, i in zip(partners, cell[1:], strict=True)]
            cap = int(c.capability[m])
            suits = [t for t in targets(c, m) if all(all_in(t - cap, t + cap, *w, certain) for w in windows)]
            needed = not all(all_in(int(c.low[m]), int(c.high[m]), *w, certain) for w in windows)
            assert table.feasible[cell] == bool(suits)
            assert table.needed[cell] == needed
            if suits and needed:
                assert table.target[cell] == suits[0]
                change = abs(suits[0] - (int(c.low[m]) + int(c.high[m])) // 2)
                assert table.cost[cell] == exact_labour(c, m, change)
                feasible += 1
            else:
                assert table.cost[cell] == FORBIDDEN
                needless += bool(suits)
    assert feasible > 300
    assert needless > 50


def exact_labour(c: Cutting, m: int, change: int) -> int:
    ms = int(c.setup[m] + c.time[m]) + (2 * int(c.time_per_mm[m]) * change + 10**7) // (2 * 10**7)
    return (2 * ms * int(c.rate[m]) + 3_600_000) // (2 * 3_600_000)
