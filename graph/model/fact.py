"""A feature of one subject after its claims were settled (docs/semantics.md, section 1)."""

from dataclasses import dataclass
from typing import Literal

Status = Literal["known", "disputed", "heard", "unknown", "machined"]


@dataclass(frozen=True, slots=True)
class Alternative:
    """One surviving value: an interval of quanta, or codes (a code set has several)."""

    low: int | None = None
    high: int | None = None
    codes: tuple[str, ...] = ()
    position: str = ""
    claims: tuple[str, ...] = ()
    shown: str = ""  # the text and unit as written


@dataclass(frozen=True, slots=True)
class Fact:
    """What is known of a feature. `why` says, for an unknown one, why it is not known.

    `limit_min` and `limit_max` are the tightest that the governing claims state for machining.
    """

    subject: str
    feature: str
    status: Status
    quantity: str = ""
    alternatives: tuple[Alternative, ...] = ()
    limit_min: int | None = None
    limit_max: int | None = None
    why: str = ""

    @property
    def low(self) -> int | None:
        """The lowest end of all alternatives; None without an amount."""
        if len(self.alternatives) == 1:  # as most facts have
            return self.alternatives[0].low
        return min((a.low for a in self.alternatives if a.low is not None), default=None)

    @property
    def high(self) -> int | None:
        """The highest end of all alternatives; None without an amount."""
        if len(self.alternatives) == 1:
            return self.alternatives[0].high
        return max((a.high for a in self.alternatives if a.high is not None), default=None)

    @property
    def settles(self) -> bool:
        """Whether a rule may say yes or no by it."""
        return self.status in ("known", "disputed", "machined") and bool(self.alternatives)
