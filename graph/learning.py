"""What finished jobs teach: proposals for reliabilities and minutes, by counting; a person accepts them, or not.

Reliabilities are Beta counts, minutes are normal-gamma counts. The number on record counts as so many cases itself,
so that a few jobs move it a little and many move it far; once a proposal is accepted the row's note says for how many
cases it counts and which jobs are in it, so that no job is counted twice.
"""

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from graph.model.bench import NOT_ON_RECORD, Proposal
from graph.model.record import Feature, Operation

RELIABILITY_CASES: Final = 10.0
"""How many cases a reliability on record counts for."""

MINUTES_CASES: Final = 5.0
"""How many jobs the minutes on record count for."""

SPREAD: Final = 0.25
"""How far single jobs are taken to scatter about the minutes on record, before any was timed, as a share of them."""

MS_A_MINUTE: Final = 60_000
MM: Final = 10_000_000
WORDS: Final = {"high": 0.95, "medium": 0.8, "low": 0.6}


@dataclass(frozen=True, slots=True)
class Job:
    """A finished job: the unit the core was taken for, and what it proved to be."""

    name: str
    taken: str
    proved: str


@dataclass(frozen=True, slots=True)
class Look:
    """Whether a look at intake told the unit rightly."""

    job: str
    seat: str
    feature: str
    right: bool
    n: int = 0  # change set that recorded it


@dataclass(frozen=True, slots=True)
class Work:
    """One operation done in a job; time in ms, depth in quanta of length."""

    job: str
    operation: str
    succeeded: bool
    time: int | None
    depth: int | None
    n: int = 0


@dataclass(frozen=True, slots=True)
class Taught:
    """Everything that finished jobs left behind, and what is on record."""

    jobs: tuple[Job, ...]
    looks: tuple[Look, ...]
    work: tuple[Work, ...]
    features: tuple[Feature, ...]
    operations: tuple[Operation, ...]
    reliabilities: dict[str, str]  # by operation
    notes: Mapping[str, str] = field(default_factory=dict)  # by `feature:NAME` and `operation:NAME`
    until: int = 0  # the last change set that is counted


@dataclass(frozen=True, slots=True)
class Standing:
    """For how many cases the number on record counts, and up to which change set jobs are in it already."""

    cases: float
    until: int


LEARNED: Final = re.compile(r"(\w+) counts for ([\d.]+) cases up to change set (\d+)")


def standing(note: str, column: str, cases: float) -> Standing:
    """What the note of a row says of a learned number; `cases` for one that nobody learned.

    >>> standing("minutes counts for 11 cases up to change set 4", "minutes", 5)
    Standing(cases=11.0, until=4)
    """
    for name, counted, until in LEARNED.findall(note):
        if name == column:
            return Standing(float(counted), int(until))
    return Standing(cases, -1)


def learned_note(note: str, column: str, proposal: Proposal, author: str) -> str:
    """The row's note with what is now learned of one column; pieces about other columns stay."""
    kept = [piece for piece in note.split(" | ") if piece and not piece.startswith(f"{column} counts for")]
    said = (
        f"{column} counts for {proposal.cases:g} cases up to change set {proposal.until}: was {proposal.now}, "
        f"{proposal.jobs} jobs, {proposal.rule}; accepted by {author}"
    )
    return " | ".join([*kept, said])


@dataclass(frozen=True, slots=True)
class Beta:
    """Counts of right and wrong."""

    right: float
    wrong: float

    @property
    def mean(self) -> float:
        """The chance that the next one is right."""
        return self.right / (self.right + self.wrong)

    def with_cases(self, right: int, wrong: int) -> "Beta":
        """The counts with further cases.

        >>> Beta(8, 2).with_cases(1, 9).mean
        0.45
        """
        return Beta(self.right + right, self.wrong + wrong)

    def interval(self) -> tuple[float, float]:
        """The middle 95 % of the chances that the counts leave open."""

        def density(log_odds: float) -> float:  # the Beta density over log odds, which has no poles
            return self.right * -math.log1p(math.exp(-log_odds)) + self.wrong * -math.log1p(math.exp(log_odds))

        low, high = _middle(density, -30.0, 30.0)
        return _share(low), _share(high)


@dataclass(frozen=True, slots=True)
class NormalGamma:
    """Counts of a mean and a precision: mean, cases behind it, shape and rate."""

    mean: float
    cases: float
    shape: float
    rate: float

    def with_cases(self, values: Sequence[float]) -> "NormalGamma":
        """The counts with further values.

        Sources
        -------
        K. P. Murphy, Conjugate Bayesian analysis of the Gaussian distribution, 2007, eq. 85 to 89 (from memory).
        """
        n = len(values)
        if not n:
            return self
        average = sum(values) / n
        spread = sum((v - average) ** 2 for v in values)
        cases = self.cases + n
        return NormalGamma(
            (self.cases * self.mean + n * average) / cases,
            cases,
            self.shape + n / 2,
            self.rate + spread / 2 + self.cases * n * (average - self.mean) ** 2 / (2 * cases),
        )

    def interval(self) -> tuple[float, float]:
        """The middle 95 % of what the mean may be: a Student distribution with twice the shape as its freedom."""
        freedom = 2 * self.shape
        scale = math.sqrt(self.rate / (self.shape * self.cases))

        def density(angle: float) -> float:  # of the angle whose tangent is t over the root of the freedom
            return (freedom - 1) * math.log(math.cos(angle))

        low, high = _middle(density, -math.pi / 2 + 1e-9, math.pi / 2 - 1e-9)
        root = math.sqrt(freedom)
        return self.mean + scale * root * math.tan(low), self.mean + scale * root * math.tan(high)


STEPS: Final = 4_000


def _middle(log_density: Callable[[float], float], start: float, end: float) -> tuple[float, float]:
    """The points that cut off 2.5 % of a distribution at each end, by the midpoint rule."""
    step = (end - start) / STEPS
    places = [start + (i + 0.5) * step for i in range(STEPS)]
    logs = [log_density(x) for x in places]
    top = max(logs)
    weights = [math.exp(x - top) for x in logs]
    whole = sum(weights)

    def cut(share: float) -> float:
        passed = 0.0
        for place, weight in zip(places, weights, strict=True):
            if passed + weight >= share * whole:
                return place - step / 2 + step * (share * whole - passed) / weight
            passed += weight
        return end

    return cut(0.025), cut(0.975)


def _share(log_odds: float) -> float:
    return 1 / (1 + math.exp(-log_odds))


def proposals(taught: Taught) -> tuple[Proposal, ...]:
    """What the jobs speak for, where it is another number than the one on record; most jobs first, then by name."""
    made = [*_looks(taught), *_successes(taught), *_minutes(taught)]
    return tuple(sorted((p for p in made if p.now != p.proposed), key=lambda p: (-p.jobs, p.name)))


def _looks(taught: Taught) -> Iterator[Proposal]:
    for feature in taught.features:
        stated = _number(feature.identity_reliability)
        name = f"feature:{feature.name}"
        stands = standing(taught.notes.get(name, ""), "identity_reliability", RELIABILITY_CASES)
        told = [look for look in taught.looks if look.feature == feature.name and look.n > stands.until]
        if told and stated is not None:
            right = sum(look.right for look in told)
            what = f"how far {feature.label} may be trusted to tell units apart"
            jobs = len({look.job for look in told})
            cases = right, len(told)
            yield _reliability(name, what, feature.identity_reliability, stated, cases, jobs, stands, taught.until)


def _successes(taught: Taught) -> Iterator[Proposal]:
    for operation in taught.operations:
        note = taught.notes.get(f"operation:{operation.name}", "")
        stands = standing(note, "reliability", RELIABILITY_CASES)
        done = [w for w in taught.work if w.operation == operation.name and w.n > stands.until]
        if not done:
            continue
        text = taught.reliabilities.get(operation.name, "")
        what = f"how often {operation.label} comes out right"
        jobs = len({w.job for w in done})
        cases = sum(w.succeeded for w in done), len(done)
        name = f"operation:{operation.name}:reliability"
        yield _reliability(name, what, text, _number(text), cases, jobs, stands, taught.until)


def _reliability(
    name: str,
    what: str,
    text: str,
    stated: float | None,
    counted: tuple[int, int],
    jobs: int,
    stands: Standing,
    until: int,
) -> Proposal:
    """With nothing on record one case each way counts beforehand (Laplace's rule)."""
    right, cases = counted
    start = Beta(1.0, 1.0) if stated is None else Beta(stated * stands.cases, (1 - stated) * stands.cases)
    after = start.with_cases(right, cases - right)
    low, high = after.interval()
    rule = (
        f"({start.right:g} + {right}) / ({start.right + start.wrong:g} + {cases}) = {after.mean:.4f}; "
        f"{right} of {cases} were right"
    )
    whole = after.right + after.wrong
    return Proposal(
        name, what, text or NOT_ON_RECORD, _two(after.mean), jobs, _two(low), _two(high), rule, whole, until
    )


def _minutes(taught: Taught) -> Iterator[Proposal]:
    """The fixed minutes of an operation: what was taken, less setting up and less what the depth took."""
    for operation in taught.operations:
        stands = standing(taught.notes.get(f"operation:{operation.name}", ""), "minutes", MINUTES_CASES)
        done = [w for w in taught.work if w.operation == operation.name and w.n > stands.until]
        timed = [w for w in done if w.time is not None]
        usable = [w for w in timed if not operation.time_per_mm or w.depth is not None]
        values = [
            ((w.time or 0) - operation.setup - operation.time_per_mm * (w.depth or 0) / MM) / MS_A_MINUTE
            for w in usable
        ]
        if not values:
            continue
        stated = operation.time / MS_A_MINUTE
        spread = SPREAD * max(stated, 1.0)
        start = NormalGamma(stated, stands.cases, stands.cases / 2, stands.cases / 2 * spread**2)
        after = start.with_cases(values)
        low, high = after.interval()
        rule = (
            f"({stands.cases:g} x {stated:g} + {len(values)} x {sum(values) / len(values):.2f}) / "
            f"({stands.cases:g} + {len(values)}) = {after.mean:.2f} min"
        )
        jobs = len({w.job for w in usable})
        yield Proposal(
            f"operation:{operation.name}:minutes",
            f"minutes of {operation.label}, setting up and depth apart",
            _one(stated),
            _one(max(after.mean, 0.0)),
            jobs,
            _one(max(low, 0.0)),
            _one(high),
            rule,
            after.cases,
            taught.until,
        )


def _number(text: str) -> float | None:
    word = text.strip().casefold().replace(",", ".")
    if word in WORDS:
        return WORDS[word]
    try:
        number = float(word)
    except ValueError:
        return None
    return number if 0.0 < number < 1.0 else None


def _two(share: float) -> str:
    return f"{min(max(share, 0.01), 0.99):.2f}"


def _one(minutes: float) -> str:
    return f"{minutes:.1f}".removesuffix(".0")
