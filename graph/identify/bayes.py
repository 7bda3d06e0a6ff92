"""The arithmetic of identification: naive Bayes over coded features, and how much a further look would tell.

Candidates are columns, features are rows; a code is the number of the value that the candidate was built with, -1
where that is not on record. The last entry of every vector of probabilities is *none of these*, of which nothing
is known. A feature that can show `k` values (the last is *something else*) and has reliability `r` shows the value
it was built with in `r` of all cases and each other value in (1 - r) / (k - 1); where nothing is on record, each
in 1 / k.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Table:
    """Codes of all candidates, shape (features, candidates); reliability and number of values of each feature."""

    codes: Codes
    reliability: Floats
    values: NDArray[np.int64]
    places: NDArray[np.int64]  # flat index of every (feature, code) for counting, shape (features, candidates + 1)
    starts: NDArray[np.int64]

    @classmethod
    def of(cls, codes: Codes, reliability: Sequence[float], values: Sequence[int]) -> "Table":
        """The table, with the indices that `gains` counts by."""
        k = np.asarray(values, dtype=np.int64)
        starts = np.concatenate(([0], np.cumsum(k + 1)))
        with_none = np.hstack([codes, np.full((len(codes), 1), -1, dtype=codes.dtype)])
        places = (with_none + 1 + starts[:-1, None]).astype(np.int64)
        return cls(codes, np.asarray(reliability, dtype=np.float64), k, places, starts)


def prior(candidates: int, none: float) -> Floats:
    """Equal chances for all candidates, and `none` for none of these."""
    if not candidates:
        return np.ones(1)
    return np.append(np.full(candidates, (1.0 - none) / candidates), none)


def likelihood(reliability: float, k: int, left_open: int, says: str) -> float:
    """The chance of an observation that leaves `left_open` of `k` values open.

    >>> likelihood(0.9, 4, 1, "agrees"), round(likelihood(0.9, 4, 1, "contradicts"), 4)
    (0.9, 0.0333)
    >>> likelihood(0.9, 4, 1, "not on record")
    0.25
    """
    if says == "not on record":
        return left_open / k
    other = (1.0 - reliability) / (k - 1) if k > 1 else 0.0
    return reliability + (left_open - 1) * other if says == "agrees" else left_open * other


def posterior(table: Table, chances: Floats, observed: Iterable[tuple[int, frozenset[int]]]) -> Floats:
    """The chances after observations, each (feature, the values it leaves open)."""
    with np.errstate(divide="ignore"):
        logs = np.log(chances)
        for feature, left_open in observed:
            k, r, n = int(table.values[feature]), float(table.reliability[feature]), len(left_open)
            by_code = np.full(k + 1, likelihood(r, k, n, "contradicts"))  # a code of -1 takes the last one
            by_code[list(left_open)] = likelihood(r, k, n, "agrees")
            by_code[-1] = likelihood(r, k, n, "not on record")
            logs[:-1] += np.log(by_code)[table.codes[feature]]
            logs[-1] += np.log(by_code[-1])
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def gains(table: Table, chances: Floats) -> Floats:
    """The expected information of looking at each feature, shape (features,). [bit]

    The entropy of what would be seen, less its entropy if the unit were known; the latter depends only on whether the
    value is on record, so one count of the chances by value is enough.
    """
    if not len(table.codes):
        return np.zeros(0)
    weights = np.broadcast_to(chances, table.places.shape)
    mass = np.bincount(table.places.ravel(), weights=weights.ravel(), minlength=int(table.starts[-1]))
    unknown = mass[table.starts[:-1]]
    known = 1.0 - unknown
    k, r = table.values.astype(np.float64), table.reliability
    other = np.where(k > 1, (1.0 - r) / np.maximum(k - 1, 1), 0.0)
    feature = np.repeat(np.arange(len(k)), table.values + 1)
    is_value = np.ones(len(mass), dtype=bool)
    is_value[table.starts[:-1]] = False
    feature, mass = feature[is_value], mass[is_value]
    chance = mass * r[feature] + (known[feature] - mass) * other[feature] + unknown[feature] / k[feature]
    seen = np.bincount(feature, weights=_entropy_terms(chance), minlength=len(k))
    if_known = _entropy_terms(r) + (k - 1) * _entropy_terms(other)
    return np.asarray(np.maximum(seen - known * if_known - unknown * np.log2(k), 0.0), dtype=np.float64)


def shares(table: Table, chances: Floats, feature: int) -> Floats:
    """The chance that a look at the feature shows each of its values."""
    k, r = int(table.values[feature]), float(table.reliability[feature])
    mass = np.bincount(table.codes[feature] + 1, weights=chances[:-1], minlength=k + 1)
    unknown = mass[0] + chances[-1]
    other = (1.0 - r) / (k - 1) if k > 1 else 0.0
    return np.asarray(mass[1:] * r + (1.0 - unknown - mass[1:]) * other + unknown / k, dtype=np.float64)


def _entropy_terms(chance: Floats) -> Floats:
    positive = np.maximum(chance, 1e-300)
    return np.asarray(-positive * np.log2(positive), dtype=np.float64)
