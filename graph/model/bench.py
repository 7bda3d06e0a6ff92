"""What the bench asks and is told: which unit a core is, whether its parts may go on, what would settle a question.

Probabilities are plain numbers from 0 to 1, information is in bits; sizes are in quanta, money in minor units.
"""

from dataclasses import dataclass
from enum import Enum
from typing import Final

from graph.model.record import Snapshot, Weakness


@dataclass(frozen=True, slots=True)
class SeenValue:
    """One observation as it was understood: the feature of a seat ('' is the unit as a whole), and what it shows."""

    seat: str
    feature: str
    label: str
    shown: str
    values: tuple[str, ...]  # the recorded values that it leaves open
    written: str = ""


@dataclass(frozen=True, slots=True)
class Weighed:
    """What one observation says of one candidate: `says` is agrees, contradicts or not on record.

    `likelihood` is the chance of seeing this if the core is that unit; `reliability` is the feature's as evidence
    of identity, `values` how many values it can show, `open` how many of those the observation leaves open.
    """

    seat: str
    feature: str
    label: str
    seen: str
    expected: str
    says: str
    reliability: float
    values: int
    open: int
    likelihood: float


@dataclass(frozen=True, slots=True)
class UnitCandidate:
    """One unit that the core may be; the empty key stands for none of the units on record."""

    unit: str
    title: str
    prior: float
    probability: float
    weighed: tuple[Weighed, ...]


@dataclass(frozen=True, slots=True)
class NextLook:
    """A look that was not taken yet, how much it would tell (bits), and what it may show, the likeliest first."""

    seat: str
    feature: str
    label: str
    look: str
    gain: float
    values: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Foreign:
    """A seat whose part, as found, is not the one the plate stands for."""

    seat: str
    built: str  # part key
    found: tuple[str, ...]  # parts on record that show what was seen; none: no part on record does
    text: str


@dataclass(frozen=True, slots=True)
class Identification:
    """Which unit a core is: candidates by falling probability, contradictions, and what to look at next."""

    seen: tuple[SeenValue, ...]
    candidates: tuple[UnitCandidate, ...]
    others: float  # the probability of all units that are not listed
    questions: tuple[NextLook, ...]
    built: str  # unit key by the plate, '' when not known
    foreign: tuple[Foreign, ...]
    settled: bool
    sentence: str
    remarks: tuple[str, ...]
    weaknesses: tuple[Weakness, ...]
    snapshot: Snapshot


class Outcome(Enum):
    """What becomes of a part of a core; the last two wait for somebody to look."""

    REUSE = "reuse"
    MACHINE = "machine"
    REPLACE = "replace"
    SCRAP = "scrap"
    TOO_CLOSE = "too close to call"
    UNKNOWN = "not known"


@dataclass(frozen=True, slots=True)
class LimitShown:
    """One stated limit with its source; `governs` when it is the strictest that counts, at either end."""

    min: int | None
    max: int | None
    condition: str
    source: str
    rank: str
    of: str  # part or unit key that it belongs to
    governs: bool
    said: str = ""


@dataclass(frozen=True, slots=True)
class Judged:
    """One feature of one part at one position against the limits of that part and unit.

    `result` is within, outside, too close, not read, no limit, no uncertainty, limits contradict, or disputed: some
    reading at this position lies outside, and another does not.
    """

    feature: str
    label: str
    position: str
    quantity: str
    value: int | None
    uncertainty: int | None
    min: int | None
    max: int | None
    result: str
    text: str
    limits: tuple[LimitShown, ...] = ()
    disputed: bool = False
    said: str = ""  # the reading's statement


@dataclass(frozen=True, slots=True)
class Decision:
    """What becomes of the part in one seat, why, and what can be done; `final`: nobody lifts it."""

    seat: str
    part: str
    state: str
    outcome: Outcome
    reason: str
    judged: tuple[Judged, ...]
    work: tuple[str, ...] = ()  # operations that may mend it
    final: bool = False


@dataclass(frozen=True, slots=True)
class Inspection:
    """Every part of one core, in the layout's order, and where to look first."""

    core: str
    tag: str
    built: str
    decisions: tuple[Decision, ...]
    weaknesses: tuple[Weakness, ...]
    rule: str  # the decision rule in one sentence
    snapshot: Snapshot


@dataclass(frozen=True, slots=True)
class Result:
    """What a question answers if a measurement comes out so: the verdict, the cost, and the sentence."""

    verdict: str
    cost: int | None = None
    at_least: bool = False
    text: str = ""


@dataclass(frozen=True, slots=True)
class Reach:
    """One outcome of a measurement (or of several, `and` joined) and what the question then answers."""

    when: str
    result: Result


@dataclass(frozen=True, slots=True)
class Settling:
    """One measurement that the answer waits for: how to take it, and what each outcome would mean.

    `best` and `worst` say how far the answer can move by this measurement alone; `exact` when every outcome that
    changes the answer was tried, else the ends are only those that were met.
    """

    seat: str
    feature: str
    label: str
    position: str
    measure: str
    why: str
    outcomes: tuple[Reach, ...]
    best: Result
    worst: Result
    exact: bool


@dataclass(frozen=True, slots=True)
class SettleAnswer:
    """What would settle a question that is not known.

    `smallest` are the indices (into `measurements`) of the fewest that settle it: when `always` whatever they show,
    else if they turn out well. `proof` is exact, or says between which numbers the fewest lie.
    """

    question: str
    now: Result
    measurements: tuple[Settling, ...]
    smallest: tuple[int, ...]
    always: bool
    together: tuple[Reach, ...]
    proof: str
    sentence: str
    snapshot: Snapshot


@dataclass(frozen=True, slots=True)
class CoreRecord:
    """A core as taken in: what its rows say, the readings with those they replaced, and where to look first."""

    tag: str
    received: str
    customer: str
    built: str
    plate: str
    serial: str
    grade: str
    place: str
    own: bool
    deposit: int | None
    book_value: int | None
    currency: str
    photos: tuple[str, ...]
    found: tuple[tuple[str, str, str], ...]  # seat, part key, state
    readings: tuple["ReadingShown", ...]
    weaknesses: tuple[Weakness, ...]
    snapshot: Snapshot


@dataclass(frozen=True, slots=True)
class ReadingShown:
    """One reading as written; `counts` is False for one that its own reader's later one, with the same
    instrument, replaced."""

    seat: str
    feature: str
    position: str
    value: str
    uncertainty: str
    instrument: str
    who: str
    date: str
    condition: str
    source: str
    note: str
    counts: bool
    said: str


NOT_ON_RECORD: Final = "not on record"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A number that finished jobs speak for, beside the one on record; nothing changes until a person accepts it."""

    name: str  # feature:boost_control, operation:open-recess:minutes …
    what: str
    now: str
    proposed: str
    jobs: int
    low: str  # 95 % interval of what is learned
    high: str
    rule: str  # the arithmetic in one line
    cases: float = 0.0  # for how many cases the proposed number counts once it is accepted
    until: int = 0  # the change set up to which jobs are counted in it


@dataclass(frozen=True, slots=True)
class Learned:
    """All proposals, those with most jobs behind them first."""

    proposals: tuple[Proposal, ...]
    jobs: int
    snapshot: Snapshot
