"""Identification at 10,000 models with 30 features each, a tenth of the values not on record."""

import statistics
import time
from collections.abc import Callable

import numpy as np

from benchmarks.measurement import Measurement
from graph.identify.bayes import Floats, Table, gains, likelihood, posterior, prior

MODELS, FEATURES, OBSERVED = 10_000, 30, 10
GOAL = 0.008


def table(seed: int = 7) -> Table:
    """Random models: 4 to 43 values a feature, reliability 0.6 to 0.97."""
    random = np.random.default_rng(seed)
    values = random.integers(4, 44, FEATURES)
    codes = (random.random((FEATURES, MODELS)) * (values[:, None] - 1)).astype(np.int32)
    codes[random.random(codes.shape) < 0.1] = -1
    return Table.of(codes, random.uniform(0.6, 0.97, FEATURES).tolist(), values.tolist())


def run() -> list[Measurement]:
    """One posterior, all gains, and the same by plain loops over the definition for comparison."""
    made = table()
    before = prior(MODELS, 0.05)
    observed = [(f, frozenset({int(made.codes[f, 123])} - {-1} or {0})) for f in range(OBSERVED)]
    after = posterior(made, before, observed)
    ours = _median(lambda: posterior(made, before, observed))
    theirs, plainly = _once(lambda: _plain_posterior(made, before, observed))
    looks = _median(lambda: gains(made, after))
    apart = float(np.abs(plainly - after).max())
    note = f"theirs: plain Python over the definition, apart by {apart:.1g}"
    what = f"identify, {MODELS:,} models x {FEATURES} features"
    return [
        Measurement(
            f"{what}: posterior of {OBSERVED}", ours, theirs, theirs / ours, "<= 8 ms", ours <= GOAL, note=note
        ),
        Measurement(f"{what}: all gains", looks, None, None, "<= 8 ms", looks <= GOAL),
    ]


def _plain_posterior(made: Table, before: Floats, observed: list[tuple[int, frozenset[int]]]) -> Floats:
    weights = []
    for model in range(MODELS + 1):
        weight = float(before[model])
        for feature, left_open in observed:
            code = int(made.codes[feature, model]) if model < MODELS else -1
            says = "not on record" if code < 0 else "agrees" if code in left_open else "contradicts"
            weight *= likelihood(float(made.reliability[feature]), int(made.values[feature]), len(left_open), says)
        weights.append(weight)
    whole = np.asarray(weights)
    return np.asarray(whole / whole.sum(), dtype=np.float64)


def _once(work: Callable[[], Floats]) -> tuple[float, Floats]:
    start = time.perf_counter()
    result = work()
    return time.perf_counter() - start, result


def _median(work: Callable[[], object], times: int = 30) -> float:
    work()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)
