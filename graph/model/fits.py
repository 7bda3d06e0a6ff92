"""The question *does it fit?*, the evidence it is answered from, and the answer."""

from dataclasses import dataclass

from graph.model.bundle import Bundle
from graph.model.plan import Plan
from graph.model.record import (
    Engine,
    Feature,
    Fitment,
    Interchange,
    Kind,
    Layout,
    Part,
    Snapshot,
    Source,
    Supersession,
    Unit,
)
from graph.model.verdict import Caution, MatchLine, Missing, RuleVerdict, Verdict


@dataclass(frozen=True, slots=True)
class FitsQuestion:
    """Does this unit go onto this engine; or, with `seat` and `part`, this part into that seat of the unit?

    Without an engine only the unit's inner joints are judged.
    """

    unit: str  # unit key
    engine: str = ""  # engine key
    seat: str = ""
    part: str = ""  # part key
    day: str = ""


@dataclass(frozen=True, slots=True)
class FitsEvidence:
    """All facts for one direction of one question; tuples sorted by key or name.

    `originals` are the units the engine left the factory with; `parts` has the unit's, the asked and the
    originals' parts. `mend` is the plan question with the unit's own parts only (no new part but those always
    renewed, no donor), from which *fits with work* is proved or refuted; None when it is not asked for.
    """

    question: FitsQuestion
    snapshot: Snapshot
    layout: Layout
    unit: Unit
    engine: Engine | None
    originals: tuple[Unit, ...]
    original_layouts: tuple[Layout, ...]
    fitments: tuple[Fitment, ...]
    parts: tuple[Part, ...]
    kinds: tuple[Kind, ...]
    features: tuple[Feature, ...]
    accepted: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    supersessions: tuple[Supersession, ...]
    sources: tuple[Source, ...]
    mend: Bundle | None = None
    interchanges: tuple[Interchange, ...] = ()  # asserted ones that name a part of the unit or the asked part


@dataclass(frozen=True, slots=True)
class JointVerdict:
    """One joint: the worst of its rules, with all of them."""

    joint: str
    label: str
    verdict: Verdict
    rules: tuple[RuleVerdict, ...]


@dataclass(frozen=True, slots=True)
class FitsAnswer:
    """One direction, answered. `as_it_stands` is the worst joint; `verdict` is of the whole.

    `fits with work` comes with the checked `plan`; `does not fit` only when no recorded operation mends it.
    """

    question: FitsQuestion
    snapshot: Snapshot
    verdict: Verdict
    as_it_stands: Verdict
    sentence: str
    joints: tuple[JointVerdict, ...]
    match: tuple[MatchLine, ...]
    cautions: tuple[Caution, ...]
    open: tuple[Missing, ...]
    notes: tuple[str, ...]  # supersession, overlapping years, asserted interchange
    plan: Plan | None = None
