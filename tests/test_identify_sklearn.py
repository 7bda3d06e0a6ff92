"""Identification against scikit-learn's naive Bayes, which shares no code with ours.

The classifier is taught with a population in which every unit shows each value as often as its reliability says, and
then told what was seen.
"""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.naive_bayes import CategoricalNB

from graph.identify.bayes import Table, posterior, prior

NONE = 0.05


def shown(code: int, reliability: float, k: int) -> list[float]:
    """How often a unit shows each of `k` values; a code of -1: not on record."""
    if code < 0:
        return [1 / k] * k
    return [reliability if value == code else (1 - reliability) / (k - 1) for value in range(k)]


def taught(codes: list[list[int]], reliability: list[float], values: list[int]) -> CategoricalNB:
    """The classifier, after a population of every unit and of none of them in all their looks."""
    units = len(codes[0]) + 1
    looks, labels, weights = [], [], []
    for unit in range(units):
        own = [
            shown(codes[f][unit] if unit < units - 1 else -1, reliability[f], values[f]) for f in range(len(values))
        ]
        for look in product(*(range(k) for k in values)):
            looks.append(look)
            labels.append(unit)
            weights.append(float(np.prod([own[f][value] for f, value in enumerate(look)])))
    before = [(1 - NONE) / (units - 1)] * (units - 1) + [NONE]
    # Without smoothing: the population is whole.
    model = CategoricalNB(alpha=0.0, force_alpha=True, class_prior=before, min_categories=values)
    return model.fit(np.array(looks), np.array(labels), sample_weight=np.array(weights))


@st.composite
def benches(draw: st.DrawFn) -> tuple[list[list[int]], list[float], list[int], list[int]]:
    units = draw(st.integers(1, 6))
    values = draw(st.lists(st.integers(2, 4), min_size=1, max_size=4))
    codes = [draw(st.lists(st.integers(-1, k - 1), min_size=units, max_size=units)) for k in values]
    reliability = [draw(st.integers(30, 99)) / 100 for _ in values]
    return codes, reliability, values, [draw(st.integers(0, k - 1)) for k in values]


@given(benches())
@settings(max_examples=60)
def test_the_probabilities_are_those_of_scikit_learns_naive_bayes(
    bench: tuple[list[list[int]], list[float], list[int], list[int]],
) -> None:
    codes, reliability, values, seen = bench
    table = Table.of(np.asarray(codes, dtype=np.int32), reliability, values)
    ours = posterior(table, prior(len(codes[0]), NONE), [(f, frozenset({v})) for f, v in enumerate(seen)])
    theirs = taught(codes, reliability, values).predict_proba(np.array([seen]))[0]
    assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-12)
