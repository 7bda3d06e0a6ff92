"""Why nothing is cheaper: the bounds and messages of a search, in plain numbers that another program can check.

To check: a candidate is left out when some forest of `trees` makes it dearer than `budget`, after `shifts` moved
costs from a factor's classes to their members and left no cell below 0, and without the candidates that a forest
before it has no solution with at all (those are in none); or when, of what is left, no candidate of another variable
goes with it in some factor (again and again). Every factor stands in one bucket, or among the `constant` ones. For
each bucket in order and all candidates left

    own cost + sum of its factors + sum of the messages that reach it >= its own message

where a factor counts at its least over variables that the bucket does not see. The messages of empty scope and
the constant factors add up to `optimum`: no solution on what is left costs less, and every other costs more than
`budget`. So cost(plan) = optimum + the sum of non-negative slacks.
"""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np

from graph.planning.bounds import Bounds
from graph.planning.elimination import Elimination
from graph.planning.network import FORBIDDEN


@dataclass(frozen=True, slots=True)
class Message:
    """The least cost of the buckets up to this one, for the classes of the variables still to come.

    `classes[i][c]` is the class of candidate c of scope[i], -1 where it is left out; `table` is row by row.
    """

    variable: int
    scope: tuple[int, ...]
    classes: tuple[tuple[int, ...], ...]
    shape: tuple[int, ...]
    table: tuple[int, ...]
    factors: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Certificate:
    """What proves `optimum` (None: that there is no solution). `trees` are numbers of the network's factors."""

    optimum: int | None
    budget: int
    shifts: tuple[tuple[int, int, tuple[int, ...]], ...]  # (factor, axis, cost by class)
    trees: tuple[tuple[int, ...], ...]
    constant: tuple[int, ...]  # factors
    messages: tuple[Message, ...]  # one a bucket, in order of elimination

    def data(self) -> dict[str, Any]:
        """The same as JSON holds it."""
        return {
            "optimum": self.optimum,
            "budget": self.budget,
            "forbidden": FORBIDDEN,
            "shifts": [[factor, axis, list(costs)] for factor, axis, costs in self.shifts],
            "trees": [list(tree) for tree in self.trees],
            "constant": list(self.constant),
            "buckets": [
                {
                    "variable": m.variable,
                    "scope": list(m.scope),
                    "classes": [list(c) for c in m.classes],
                    "shape": list(m.shape),
                    "table": list(m.table),
                    "factors": list(m.factors),
                }
                for m in self.messages
            ],
        }


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """The last elimination of a search (None: nothing was left to eliminate); holds its tables until dropped.

    `counts`: candidates of each variable.
    """

    counts: list[int]
    elimination: Elimination | None
    bounds: Bounds | None
    budget: int

    def certificate(self) -> Certificate:
        """The same in plain numbers."""
        trees = self.bounds.trees if self.bounds is not None else ()
        shifts = self.bounds.shifts if self.bounds is not None else ()
        plain_shifts = tuple((factor, axis, tuple(costs.tolist())) for factor, axis, costs in shifts)
        if self.elimination is None:
            return Certificate(None, self.budget, plain_shifts, trees, (), ())
        reduced = self.elimination.reduced
        folded: defaultdict[int, list[int]] = defaultdict(list)
        for variable, factor in reduced.folded:
            folded[variable].append(factor)
        messages = []
        for bucket in self.elimination.buckets:
            assert bucket.message is not None
            classes = []
            for w, joint in zip(bucket.separators, bucket.joints, strict=True):
                of_all = np.full(self.counts[w], -1, dtype=np.int64)
                of_all[reduced.kept[w]] = joint[reduced.signature[w]]
                classes.append(tuple(of_all.tolist()))
            table = bucket.message.table
            plain = tuple(table.ravel().tolist())
            factors = [piece.factor for piece, _ in bucket.pieces if piece.factor >= 0] + folded[bucket.variable]
            messages.append(
                Message(bucket.variable, bucket.separators, tuple(classes), table.shape, plain, tuple(factors))
            )
        optimum = self.elimination.optimum if self.elimination.optimum < FORBIDDEN else None
        return Certificate(optimum, self.budget, plain_shifts, trees, tuple(folded[-1]), tuple(messages))
