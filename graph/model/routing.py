"""The route sheet: what the bench works by, part by part, and what must be filled in before the unit goes out.

Sizes are in quanta of their quantity; None is *not known*. Text that is the same on every sheet stands in procedures.
"""

from dataclasses import dataclass

from graph.model.record import Snapshot
from graph.model.verdict import Caution


@dataclass(frozen=True, slots=True)
class MeasuredBefore:
    """What was read at one place of a feature before the work."""

    position: str
    value: int | None
    uncertainty: int | None
    shown: str  # as written
    date: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Gap:
    """What a cut leaves against the other side of a rule, as planned: the whole difference, not a side's."""

    against: str
    other: str
    low: int | None
    high: int | None
    least: int | None
    most: int | None
    quantity: str
    joint: str


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut. `low` to `high` is where a size may be aimed at and is accepted; `tolerance` is what the shop holds.

    `zone` is the metric tolerance zone whose limits are the window, if there is one; `grade` the coarsest standard
    tolerance that is no wider than the window; `class_note` why neither is given. `fine` is a tenth of the window.
    """

    feature: str
    label: str
    quantity: str
    widens: bool
    diameter: bool
    before: int | None
    target: int
    low: int | None
    high: int | None
    tolerance: int
    limit: int | None
    limit_basis: str
    zone: str
    grade: str
    class_note: str
    places: tuple[MeasuredBefore, ...]
    gaps: tuple[Gap, ...]
    fine: int | None


@dataclass(frozen=True, slots=True)
class WallRow:
    """One position along the cut. `removal` is normal to the surface, the shop's tolerance included."""

    position: str
    reading: int | None
    uncertainty: int | None
    removal: int
    left: int | None
    verdict: str
    reason: str


@dataclass(frozen=True, slots=True)
class WallBlock:
    """The wall that one cut leaves, with the limit and who set it; `set_by` empty: nobody did."""

    step: int
    feature: str
    quantity: str
    core_shift: int | None
    limit: int | None
    set_by: str
    rows: tuple[WallRow, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class BalanceRow:
    """One published grade, what it permits for this rotor [µg·mm], and who says so."""

    grade: float  # [mm/s]
    unbalance: int | None
    says: str


@dataclass(frozen=True, slots=True)
class BalanceTarget:
    """Permissible residual unbalance of a rotating part or of the whole rotor; without mass or speed not known."""

    what: str
    mass: int | None
    speed: int | None
    rows: tuple[BalanceRow, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Sketch:
    """A small dimensioned drawing, not to scale."""

    title: str
    svg: str


@dataclass(frozen=True, slots=True)
class SheetStep:
    """One step of the route. `number` counts over the whole plan. `datum` empty: none on record."""

    number: int
    operation: str
    label: str
    seat: str
    part: str
    cut: Cut | None
    sketch: Sketch | None
    changes: str  # for a step that changes a code: what becomes what
    tool: str
    datum: str
    checks: tuple[str, ...]
    caution: str
    reversible: bool
    time: int
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ProcedureLine:
    """One line to do and sign, with what is to be written down."""

    text: str
    blanks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Procedure:
    """Lines in order; `says` is who stands behind them."""

    code: str
    title: str
    says: str
    lines: tuple[ProcedureLine, ...]
    facts: tuple[tuple[str, str], ...] = ()  # what is on record and of use here


@dataclass(frozen=True, slots=True)
class PartPage:
    """One part's page: what it is, its steps, and everything measured on it."""

    seat: str
    title: str
    part: str
    label: str
    kind: str
    source: str
    lot: str
    quantity: int
    steps: tuple[SheetStep, ...]
    read: tuple[tuple[str, str], ...]  # readings on this part that no step repeats
    sizes: tuple[tuple[str, str], ...]  # what its joints rest on and no step cuts, to be measured before it goes in
    walls: tuple[WallBlock, ...]
    balance: tuple[BalanceTarget, ...]
    procedures: tuple[Procedure, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fitted:
    """What goes into one seat at assembly."""

    seat: str
    part: str
    label: str
    quantity: int
    how: str
    lot: str
    page: bool  # it has a page of its own


@dataclass(frozen=True, slots=True)
class JointCheck:
    """One rule to be measured at assembly; `allowed` by the layout, `expected` by the plan."""

    joint: str
    what: str
    expected: str
    allowed: str
    safety: bool


@dataclass(frozen=True, slots=True)
class AssemblyPage:
    """Putting it together: what goes where, in which sequence, what is measured on the way."""

    fitted: tuple[Fitted, ...]
    consumed: tuple[tuple[str, int], ...]
    checks: tuple[JointCheck, ...]
    engine_side: tuple[JointCheck, ...]
    balance: tuple[BalanceTarget, ...]
    procedures: tuple[Procedure, ...]


@dataclass(frozen=True, slots=True)
class RecordField:
    """One thing to be written down. With a quantity it is a size; `not_over` names the field that bounds it."""

    name: str
    label: str
    quantity: str = ""
    low: int | None = None
    high: int | None = None
    not_over: str = ""


@dataclass(frozen=True, slots=True)
class FinishRecord:
    """A record that must be whole before the unit goes out, and why it is asked for."""

    code: str
    title: str
    because: str
    fields: tuple[RecordField, ...]


@dataclass(frozen=True, slots=True)
class SheetBlock:
    """Why the work must not go on; `lifted_by` empty: nobody may lift it."""

    code: str
    text: str
    lifted_by: str = ""


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One thing that changes against what the engine had. Without `low` and `high` it is not known."""

    what: str
    unit: str
    low: float | None
    high: float | None
    says: str
    assumes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WhatChanges:
    """All that changes against one unit; `against` empty: none is on record for the engine."""

    against: str
    lines: tuple[ChangeLine, ...]
    cautions: tuple[Caution, ...]
    standard: bool  # the same parts, nothing changed


@dataclass(frozen=True, slots=True)
class RouteSheet:
    """The whole sheet of one plan. `identity` is the plan's, shortened.

    `holds` must be settled, and every `confirm` looked at, before the first cut.
    """

    title: str
    core: str
    build: str
    engine: str
    day: str
    plan: int
    identity: str
    snapshot: Snapshot
    sentence: str
    holds: tuple[str, ...]
    confirm: tuple[str, ...]
    blocks: tuple[SheetBlock, ...]
    route: tuple[SheetStep, ...]
    pages: tuple[PartPage, ...]
    assembly: AssemblyPage
    records: tuple[FinishRecord, ...]
    changes: tuple[WhatChanges, ...]
    cautions: tuple[Caution, ...]
    sources: tuple[tuple[str, str], ...]
    wishes: tuple[str, ...] = ()  # of the customer, as the plan question has them
