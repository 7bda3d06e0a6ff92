"""All that is known of one thing, ready to be read: facts with every claim behind them, and what it is joined to."""

from dataclasses import dataclass

from graph.model.record import Snapshot


@dataclass(frozen=True, slots=True)
class ShownClaim:
    """One claim as written, with who said it; `governs` says whether it counts.

    `by`: who read it and with what, of a reading.
    """

    value: str
    source: str
    rank: str
    date: str
    position: str
    note: str
    governs: bool
    said: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class ShownFact:
    """One feature: what counts (or why it is not known), and all claims, best first."""

    feature: str
    label: str
    status: str
    value: str
    claims: tuple[ShownClaim, ...]


@dataclass(frozen=True, slots=True)
class ShownLink:
    """One step to another thing: `how` reads from this thing to that one."""

    how: str
    key: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """A part, unit, engine, build, machine or core. Facts by feature, links by kind of step, then name."""

    kind: str
    key: str
    title: str
    snapshot: Snapshot
    facts: tuple[ShownFact, ...]
    links: tuple[ShownLink, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing that a search found."""

    kind: str
    key: str
    title: str
    why: str  # written, spelled, begins, contains


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found, best first; `truncated` says that there is more."""

    text: str
    hits: tuple[Hit, ...]
    truncated: bool
    snapshot: Snapshot
