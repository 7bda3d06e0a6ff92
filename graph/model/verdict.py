"""How an answer is said: verdicts, joint by joint, and what would settle an open one."""

from dataclasses import dataclass
from enum import Enum


class Verdict(Enum):
    """Worst first, as `worst` orders them; never an average."""

    NO = "does not fit"
    UNKNOWN = "not known"
    WITH_WORK = "fits with work"
    YES = "fits"

    @property
    def rank(self) -> int:
        """0 for the worst."""
        return VERDICT_ORDER.index(self)


VERDICT_ORDER = (Verdict.NO, Verdict.UNKNOWN, Verdict.WITH_WORK, Verdict.YES)


def worst(verdicts: list[Verdict]) -> Verdict:
    """The worst of several; of none, `fits` (there is nothing that could fail)."""
    return next((one for one in VERDICT_ORDER if one in verdicts), Verdict.YES)


class Proof(Enum):
    """How sure a plan answer is."""

    CHEAPEST = "proved cheapest"
    BEST = "proved best by its measures"  # the question's, in their order; of equal plans none is cheaper
    FOUND = "found"
    IMPOSSIBLE = "proved impossible"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Operand:
    """One side of a rule as it was judged.

    `status` is known, disputed, heard, unknown, or machined (a size this plan cuts). `low`/`high` bound an
    amount in quanta, over all surviving claims and their tolerances; `codes` are the surviving codes.
    `claims` are the ids of the statements it rests on.
    """

    seat: str
    feature: str
    part: str  # part, engine or core key
    status: str
    low: int | None = None
    high: int | None = None
    quantity: str = ""
    codes: tuple[str, ...] = ()
    shown: str = ""  # as a person reads it, with unit
    claims: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Missing:
    """A fact that is not known, and the look or measurement that would settle it."""

    seat: str
    feature: str
    part: str
    why: str  # "no claim", "disputed: 62.0 mm (…) against 62.4 mm (…)", "only heard", "worn part, not read"
    measure: str


@dataclass(frozen=True, slots=True)
class RuleVerdict:
    """One rule of one joint, judged."""

    joint: str
    rule: str
    type: str
    verdict: Verdict
    operands: tuple[Operand, ...]
    min: int | None
    max: int | None
    quantity: str
    margin: int | None  # quanta to the nearer limit in the worst case; negative outside; None without a number
    reason: str  # one plain sentence with both values and units
    safety: bool
    missing: tuple[Missing, ...] = ()
    said: str = ""  # the rule's statement id


@dataclass(frozen=True, slots=True)
class MatchLine:
    """One duty feature against the original: same, larger, smaller, different, or not known."""

    seat: str
    feature: str
    compared: str
    ours: str
    original: str


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to check and with whom; `code` is stable (containment, emissions, speed-limit, …)."""

    code: str
    text: str
