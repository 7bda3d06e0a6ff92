"""A weighted constraint network: what the search solves.

Rule 1: nothing here knows what a part is; a variable is a seat, a candidate one option of it.
Rule 2: costs are whole numbers; `FORBIDDEN` is far below the integer limit, so that sums of a few stay exact.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

FORBIDDEN: Final = 1 << 50
"""A cost that means *not allowed*; real costs stay far below it."""


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
