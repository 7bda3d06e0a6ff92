"""Whole tables of rules on sizes: whether a signed sum lies in a window, for all classes of all seats at once.

Rule 1: the same as `Requirement.verdict` cell by cell; where whole arrays cannot say it, nothing is said.
"""

from collections.abc import Sequence

import numpy as np

from graph.model.fact import Fact
from graph.planning.network import FORBIDDEN, Ints
from graph.planning.requirement import Requirement
from graph.planning.tables import FAR, Flags
from graph.rules.decide import NUMBERS, flaw, signs, window

Column = tuple[int, Sequence[Fact | None]]
"""The axis of a seat, and an operand's facts for its classes; of the engine's side one fact on any axis."""


def number_table(requirement: Requirement, columns: Sequence[Column], axes: int, *, certain: bool) -> Ints | None:
    """0 where the rule holds, FORBIDDEN where it does not, 1 where that is not known; None: to be said cell by cell.

    `columns`: one an operand, in their order. For what is certain not known is as forbidden as no.
    """
    rule = requirement.rule
    if rule is None or requirement.demand is not None or rule.type not in NUMBERS or flaw(rule, requirement.pairs):
        return None
    known = [fact for _, facts in columns for fact in facts if fact is not None and fact.settles]
    quantity = known[0].quantity if known else ""
    if any(not _plain(fact, quantity, certain=certain) for fact in known):
        return None
    least: Ints = np.zeros((1,) * axes, dtype=np.int64)
    most, open_ = least, np.zeros((1,) * axes, dtype=np.bool_)
    for sign, (axis, facts) in zip(signs(rule), columns, strict=True):
        settled = [fact if fact is not None and fact.settles else None for fact in facts]
        low = np.array([0 if fact is None else fact.low for fact in settled], dtype=np.int64)
        high = np.array([0 if fact is None else fact.high for fact in settled], dtype=np.int64)
        shape = [-1 if a == axis else 1 for a in range(axes)]
        ends = (low, high) if sign > 0 else (-high, -low)
        least, most = least + ends[0].reshape(shape), most + ends[1].reshape(shape)
        open_ = open_ | np.array([fact is None for fact in settled], dtype=np.bool_).reshape(shape)
    first, last = window(rule)
    floor, ceiling = -FAR if first is None else first, FAR if last is None else last
    holds = (least >= floor) & (most <= ceiling) & ~open_
    if certain:
        return np.where(holds, 0, FORBIDDEN)
    may: Flags = (np.maximum(least, floor) <= np.minimum(most, ceiling)) | open_
    return np.where(holds, 0, np.where(may, 1, FORBIDDEN))


def _plain(fact: Fact, quantity: str, *, certain: bool) -> bool:
    """Whether the two ends of the fact say all that the rule asks."""
    sizes = all(a.low is not None and a.high is not None for a in fact.alternatives)
    return sizes and fact.quantity == quantity and (certain or len(fact.alternatives) == 1)
