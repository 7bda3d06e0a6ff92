"""A weighted constraint network: what the search solves.

Rule 1: nothing here knows what a part is; a variable is a seat, a candidate one option of it.
Rule 2: costs are whole numbers of 0 or more; `FORBIDDEN` is far below the integer limit, so that sums stay exact.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from graph.errors import OutOfRange

Ints = NDArray[np.int64]

FORBIDDEN: Final = 1 << 50
"""A cost that means *not allowed*; real costs stay far below it."""

LARGEST: Final = 1 << 38
"""The largest cost of one candidate or one table cell; `MOST_TERMS` of them stay below FORBIDDEN."""

MOST_TERMS: Final = 1 << 12
"""Variables and factors together; as many FORBIDDENs still fit 64 bits."""

_SMALL: Final = 1 << 14


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """A cost over the classes of several variables' candidates.

    `scope`: variables, ascending. `classes[i]`: shape (candidates of scope[i],), the class of each candidate.
    `table`: shape (classes of scope[0], classes of scope[1], …), cost or FORBIDDEN.
    """

    scope: tuple[int, ...]
    classes: tuple[Ints, ...]
    table: Ints
    name: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Variables with their candidates' own costs, and the factors between them.

    `unary[v]`: shape (candidates of v,), cost or FORBIDDEN. `labels[v]`: shape (candidates of v,); two
    solutions with the same labels everywhere are one plan, the cheaper stands.
    """

    unary: tuple[Ints, ...]
    factors: tuple[Factor, ...]
    labels: tuple[Ints, ...]
    names: tuple[str, ...] = ()


def yes_or_no(costs: Ints) -> bool:
    """Whether there is nothing but zeros and FORBIDDEN; one pass over the bits."""
    return int(np.bitwise_or.reduce(costs.reshape(-1))) in (0, FORBIDDEN)


def check_network(network: Network) -> frozenset[int]:
    """Refuse what the search could not answer exactly: wrong shapes, costs outside 0..LARGEST or FORBIDDEN.

    Gives the factors of large tables that were seen to hold nothing but zeros and FORBIDDEN.
    """
    counts = [len(own) for own in network.unary]
    if len(network.labels) != len(counts) or [len(labels) for labels in network.labels] != counts:
        raise OutOfRange("labels and candidates differ in number", fix="give every candidate one label")
    if len(counts) + len(network.factors) > MOST_TERMS:
        raise OutOfRange(f"{len(counts)} variables and {len(network.factors)} factors", fix="split the question")
    for number, factor in enumerate(network.factors):
        name = factor.name or f"factor {number}"
        if list(factor.scope) != sorted(set(factor.scope)) or not all(0 <= v < len(counts) for v in factor.scope):
            raise OutOfRange(f"{name} has the scope {factor.scope}", fix="name existing variables once, ascending")
        if [len(c) for c in factor.classes] != [counts[v] for v in factor.scope]:
            raise OutOfRange(f"{name} has not one class a candidate", fix="give every candidate one class")
        if factor.table.ndim != len(factor.scope):
            raise OutOfRange(
                f"{name} has a table of {factor.table.ndim} axes", fix="give the table one axis a variable"
            )
    _check_classes(network)
    return _check_costs(network)


def _check_classes(network: Network) -> None:
    """All at once: numpy's fixed price a call is most of what a small network's check costs."""
    classes = [of_one for factor in network.factors for of_one in factor.classes]
    sizes = [size for factor in network.factors for size in factor.table.shape]
    if not classes:
        return
    together = np.concatenate(classes)
    above = np.repeat(np.array(sizes), [len(of_one) for of_one in classes])
    if not ((together < 0) | (together >= above)).any():
        return
    for number, factor in enumerate(network.factors):
        for of_one, size in zip(factor.classes, factor.table.shape, strict=True):
            if len(of_one) and (of_one.min() < 0 or of_one.max() >= size):
                name = factor.name or f"factor {number}"
                raise OutOfRange(f"{name} has a class outside 0..{size - 1}", fix="number classes from 0")


def _check_costs(network: Network) -> frozenset[int]:
    small: list[Ints] = []
    plain: list[int] = []
    tables = [factor.table for factor in network.factors]
    for number, costs in enumerate((*tables, *network.unary)):
        if costs.size <= _SMALL:
            small.append(costs.reshape(-1))
        elif yes_or_no(costs):
            plain.append(number)
        else:
            _check_range(costs)
    if small:
        _check_range(np.concatenate(small))
    return frozenset(plain)


def _check_range(costs: Ints) -> None:
    if costs.size == 0:
        return
    low, high = costs.min(), costs.max()
    if low < 0 or high > FORBIDDEN or (high > LARGEST and bool(((costs > LARGEST) & (costs < FORBIDDEN)).any())):
        raise OutOfRange(f"a cost lies outside 0..{LARGEST}", fix="give costs in minor units, or FORBIDDEN")
