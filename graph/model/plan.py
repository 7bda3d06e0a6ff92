"""A plan and the answer that carries it. Money in minor units of one currency, times in ms, sizes in quanta."""

from dataclasses import dataclass

from graph.model.bundle import Bundle, PlanQuestion
from graph.model.record import Snapshot
from graph.model.verdict import Caution, Missing, Proof, RuleVerdict, Verdict


@dataclass(frozen=True, slots=True)
class Step:
    """One operation on one part (or, with an empty seat, one service on the whole unit).

    For a cut: `before` is what is there, `least` the smallest change that does (it prices the step), `target`
    what the sheet says (the middle of the window that all joints, demands, capability and limits leave),
    `low`/`high` that window, `limit` the furthest the part permits and `limit_basis` where that comes from.
    """

    operation: str
    label: str
    seat: str
    part: str
    feature: str = ""
    quantity: str = ""
    before: int | None = None
    least: int | None = None
    target: int | None = None
    low: int | None = None
    high: int | None = None
    tolerance: int = 0
    limit: int | None = None
    limit_basis: str = ""
    to_code: str = ""
    time: int = 0
    cost: int = 0
    reversible: bool = False
    equipment: str = ""
    caution: str = ""
    claims: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SeatChoice:
    """What fills one seat: kept, new, donor or empty. `lot` is where it comes from: a core's tag, or ''.

    `claims`: for a used part the statements by which it is not worn beyond a limit that its work leaves alone.
    """

    seat: str
    part: str  # part key, '' when empty
    source: str
    quantity: int = 1
    lot: str = ""
    operations: tuple[str, ...] = ()  # names, sorted
    why: str = ""
    claims: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CostLine:
    """One addend of a plan's cost, with the statement it rests on. `amount` None: the price is missing."""

    what: str
    kind: str  # core, part, donor, labour, consumed, service
    seat: str
    amount: int | None
    quantity: int = 1
    as_of: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class ConsumedPart:
    """A one-time-use part that the work uses up."""

    part: str
    quantity: int
    because: tuple[str, ...]
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """One checked way from the core to the build. Its identity: see `identity`."""

    seats: tuple[SeatChoice, ...]  # in the layout's order
    steps: tuple[Step, ...]  # in the order of work, services included
    joints: tuple[RuleVerdict, ...]  # every rule of the layout that applies, after the work
    consumed: tuple[ConsumedPart, ...]
    costs: tuple[CostLine, ...]
    cost: int
    at_least: bool  # a price is missing, or how deep a cut must go is not known: the cost is at least this
    deposits: int
    time: int
    lead_days: int | None
    currency: str
    cautions: tuple[Caution, ...]
    confirm: tuple[str, ...]  # what the plate says and nobody has confirmed yet

    @property
    def identity(self) -> tuple[tuple[str, bool, str, str, tuple[str, ...]], ...]:
        """(seat, not kept, part, source, operations) of every seat, sorted: plans with one identity are one plan."""
        return tuple(sorted((c.seat, c.source != "kept", c.part, c.source, c.operations) for c in self.seats))


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """The answer to a plan question.

    `plans` are cheapest first, distinct by identity, ties by identity. `verdict` is `fits` when the first
    plan changes nothing but what is always renewed, `fits with work` when there is a plan, `not known` when
    one hangs on `open` facts, `does not fit` when it is proved that there is none. `bound` is the cost below
    which no plan exists. `sentence` can be read to a customer.
    """

    question: PlanQuestion
    snapshot: Snapshot
    verdict: Verdict
    proof: Proof
    sentence: str
    plans: tuple[Plan, ...]
    bound: int | None
    open: tuple[Missing, ...]
    causes: tuple[str, ...]  # for an impossible build: the demands and rules that stand in the way
    bundle: Bundle | None = None
