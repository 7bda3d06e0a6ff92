"""Derived interchange: whether one part may sit where another does, joint rule by joint rule."""

from dataclasses import dataclass
from enum import Enum

from graph.model.record import Interchange, Snapshot
from graph.model.verdict import Missing, Verdict


class Keeps(Enum):
    """What becomes of one rule or duty feature when the second part takes the first one's place."""

    KEPT = "kept"  # whatever suits the first suits the second
    MENDED = "kept once machined"
    UNKNOWN = "not known"
    IDLE = "the first suits nothing here"  # so nothing follows from it
    BROKEN = "broken"  # something that suits the first does not suit the second


@dataclass(frozen=True, slots=True)
class RuleKept:
    """One joint rule of the seat, or (with an empty joint) one duty feature, with the reason in a sentence."""

    joint: str
    rule: str
    keeps: Keeps
    text: str
    condition: str = ""
    missing: tuple[Missing, ...] = ()


@dataclass(frozen=True, slots=True)
class Derived:
    """Whether `other` may sit in the seat in place of `part`: directed, from features alone.

    `fits`: an edge; `fits with work`: an edge under `conditions` on the state after machining; `not known`: no
    edge, `missing` says what would settle it; `does not fit`: refuted.
    """

    layout: str
    seat: str
    part: str
    other: str
    verdict: Verdict
    conditions: tuple[str, ...]
    rules: tuple[RuleKept, ...]
    missing: tuple[Missing, ...] = ()


@dataclass(frozen=True, slots=True)
class Disagreement:
    """An asserted edge held against the derived one. `how`: refuted, not without its condition, not borne out,
    only with work, agrees. `by`: who says so, as the source is called."""

    asserted: Interchange
    how: str
    derived: tuple[Derived, ...]  # one a layout and seat; none where the part has no such seat
    text: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class InterchangeAnswer:
    """What else could sit where a part sits (`instead`), and where it could sit itself (`stands_in`).

    Best verdicts first, then by number; what is refuted is left out unless somebody asserts it.
    """

    part: str
    snapshot: Snapshot
    seats: tuple[tuple[str, str], ...]  # (layout, seat)
    instead: tuple[Derived, ...]
    stands_in: tuple[Derived, ...]
    asserted: tuple[Disagreement, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Unasserted:
    """A derived edge that nobody asserts: `other` may sit in the seat in place of `part`, under `conditions`.

    `verdict`: fits, or fits with work; the best of the layouts that have the seat and use one of the parts.
    """

    seat: str
    part: str
    other: str
    verdict: Verdict
    conditions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InterchangeReport:
    """All asserted edges against the derived ones, and the derived ones that nobody asserts (information only).

    `unasserted`: surest first, then by seat, part and other.
    """

    snapshot: Snapshot
    asserted: tuple[Disagreement, ...]
    unasserted: tuple[Unasserted, ...]
