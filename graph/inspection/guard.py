"""The decision rule: a reading against a limit, with the uncertainty of its instrument counted against both answers.

ISO 14253-1 lets neither conformity nor nonconformity be claimed of a reading that lies within its uncertainty of a
limit. The guard band here is the whole stated uncertainty U on both sides, the widest that the standard uses, so a
part that is called good is good and one that is called bad is bad.
"""

from collections.abc import Sequence
from typing import Final

from graph.model.bench import Judged, LimitShown
from graph.rules.spoken import number

RULE: Final = (
    "ISO 14253-1 with a guard band of the whole uncertainty U: within the limits only if the reading with U is, "
    "outside only if the reading with U is, else too close to call. A missing limit is not known, never a pass."
)

WITHIN, OUTSIDE, CLOSE = "within", "outside", "too close"
NOT_READ, NO_LIMIT, NO_UNCERTAINTY, CROSSED = "not read", "no limit", "no uncertainty", "limits contradict"
DISPUTED = "disputed"


def compare(value: int, uncertainty: int | None, low: int | None, high: int | None) -> str:
    """Where a reading lies: within, outside or too close; or what is missing to say so.

    >>> compare(13_985, 2, 13_973, None), compare(13_968, 4, 13_973, None), compare(13_970, 4, 13_973, None)
    ('within', 'outside', 'too close')
    >>> compare(13_977, 4, 13_973, None), compare(13_985, None, 13_973, None), compare(13_985, 2, None, None)
    ('within', 'no uncertainty', 'no limit')
    """
    if low is None and high is None:
        return NO_LIMIT
    if low is not None and high is not None and low > high:
        return CROSSED
    if uncertainty is None:
        return NO_UNCERTAINTY
    least, most = value - uncertainty, value + uncertainty
    if (low is not None and most < low) or (high is not None and least > high):
        return OUTSIDE
    if (low is None or least >= low) and (high is None or most <= high):
        return WITHIN
    return CLOSE


def governing(limits: Sequence[LimitShown]) -> tuple[int | None, int | None, bool]:
    """The strictest of the limits that count, at each end, and whether they differ."""
    lows = [x.min for x in limits if x.min is not None]
    highs = [x.max for x in limits if x.max is not None]
    return max(lows, default=None), min(highs, default=None), len(set(lows)) > 1 or len(set(highs)) > 1


def nearest(judged: Judged) -> int | None:
    """How far the reading is from the nearer limit."""
    if judged.value is None:
        return None
    ends = [abs(judged.value - end) for end in (judged.min, judged.max) if end is not None]
    return min(ends, default=None)


def limit_text(low: int | None, high: int | None, quantity: str) -> str:
    """The limits as a person says them."""
    if low is not None and high is not None:
        return f"{number(low, quantity)} to {number(high, quantity)}"
    if low is not None:
        return f"at least {number(low, quantity)}"
    return f"at most {number(high, quantity)}" if high is not None else "no limit on record"
