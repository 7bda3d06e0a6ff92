"""Answers to what is asked after a plan: why not, what then, which core, how far, what least."""

from dataclasses import dataclass

from graph.model.bundle import Bundle, PlanQuestion
from graph.model.plan import Plan, PlanAnswer
from graph.model.record import Demand, Snapshot
from graph.model.verdict import Missing, Proof, Verdict

MEASURES = ("cost", "time", "changes", "lasting", "lead")
"""Money; time; seats changed; operations that cannot be undone; days until all parts are there."""


@dataclass(frozen=True, slots=True)
class Member:
    """One demand, rule or wish of a clash. `place` counts in the build's demands, layout's rules or the wishes.

    `text` says what is asked; `have` what comes out instead once it alone is dropped, with both values; `limits`
    how far the parts concerned may be cut. `without` is a plan for the clash's seats with this one dropped.
    """

    kind: str  # demand, rule, wish
    place: int
    safety: bool
    text: str
    have: str
    limits: tuple[str, ...]
    claims: tuple[str, ...]
    sources: tuple[str, ...]
    without: Plan


@dataclass(frozen=True, slots=True)
class Clash:
    """Members that cannot all be met in these seats, while any of them dropped the rest can."""

    seats: tuple[str, ...]
    members: tuple[Member, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One demand, rule or wish given up; `becomes`: the demand that takes its place, as near as can be reached."""

    kind: str
    place: int
    becomes: Demand | None
    text: str


@dataclass(frozen=True, slots=True)
class WayOut:
    """What to give up so that a plan exists, no part of it needless, with the answer to the question then."""

    changes: tuple[Change, ...]
    answer: PlanAnswer
    sentence: str


@dataclass(frozen=True, slots=True)
class WhyAnswer:
    """Why a build is impossible and the cheapest ways out, certain ones first, then by cost.

    `causes` stand where there is no clash: seats that nothing can fill, whatever is asked. `complete`: no other
    way out is cheaper than those shown.
    """

    question: PlanQuestion
    snapshot: Snapshot
    verdict: Verdict
    proof: Proof
    sentence: str
    clash: Clash | None
    causes: tuple[str, ...]
    ways: tuple[WayOut, ...]
    complete: bool
    bundle: Bundle | None = None


@dataclass(frozen=True, slots=True)
class Condition:
    """What a fact must turn out to be: `low`..`high` in quanta (None is open), or a code ('*': any other).

    `source`: kept or donor (of core `lot`): that very part; new: all of its number; engine: the engine's side.
    `positions`: where it is read; several are read together, the least of them counts.
    """

    seat: str
    feature: str
    part: str
    source: str
    lot: str
    positions: tuple[str, ...]
    quantity: str
    low: int | None
    high: int | None
    code: str
    text: str


@dataclass(frozen=True, slots=True)
class OutcomeCase:
    """What follows when the facts turn out so. `settled`: it follows for every value in these bounds."""

    conditions: tuple[Condition, ...]
    verdict: Verdict
    settled: bool
    plan: Plan | None
    least: int | None  # no plan costs less in this case; None: there is none, or nothing is known
    sentence: str


@dataclass(frozen=True, slots=True)
class UnknownAnswer:
    """What holds whatever the missing facts turn out to be, and what in each case.

    `cases` cover every completion of the facts that they name, some of them more than once: what can be done first,
    then what rules it out, then what stays open, each fact low to high; `complete`: all are settled. `decide`: sets
    of looks and measurements with which a certain plan exists when they turn out well, none of them needless,
    smallest first. `holds`: what the cases that can be done have in common beside what is just kept, in the layout's
    order. `holds` and `decide` are empty where cases were not worked out.
    """

    question: PlanQuestion
    snapshot: Snapshot
    answer: PlanAnswer
    holds: tuple[str, ...]
    cases: tuple[OutcomeCase, ...]
    decide: tuple[tuple[Missing, ...], ...]
    beyond: tuple[Missing, ...]  # what no measurement settles: a limit or a tolerance that is not on record
    complete: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Ranked:
    """One core (or build) in a ranking: exact with its answer, or no better than `least` says."""

    name: str
    key: str
    verdict: Verdict | None  # None: not worked out, only bounded
    cost: int | None
    least: int | None
    needs: str
    answer: PlanAnswer | None


@dataclass(frozen=True, slots=True)
class Ranking:
    """Cores for a build, or builds for a core, best first: fits before not known, each by cost, then by name.

    Those beyond the first `exact` are only bounded: none of them is better than the last exact one. `wishes`: the
    customer's, under which all of it was asked; `day`: on which prices are read.
    """

    asked: str
    snapshot: Snapshot
    currency: str
    ranked: tuple[Ranked, ...]
    exact: int
    sentence: str
    wishes: tuple[str, ...] = ()
    day: str = ""


@dataclass(frozen=True, slots=True)
class Least:
    """The least change of a unit that puts it onto an engine: fewest seats changed, then cheapest.

    `changes`: without those that are always renewed; None: it cannot be done, or is not known.
    """

    unit: str
    engine: str
    changes: int | None
    answer: PlanAnswer
    sentence: str


@dataclass(frozen=True, slots=True)
class Objective:
    """One plan with what it comes to: money, time [ms], seats changed, work that cannot be undone, days."""

    cost: int
    time: int
    changes: int
    lasting: int
    lead_days: int | None
    plan: Plan


@dataclass(frozen=True, slots=True)
class Objectives:
    """The best plan by the question's measures, or without any the plans of which none is both cheaper and quicker.

    Certain plans only; empty: there is none. `complete`: no plan of the kind is left out; else of money and time only
    the cheapest and the quickest are shown. A plan with a price missing stands at what is known of it.
    """

    question: PlanQuestion
    snapshot: Snapshot
    plans: tuple[Objective, ...]
    complete: bool
    bundle: Bundle | None = None


@dataclass(frozen=True, slots=True)
class StockAdvice:
    """Which parts to keep in stock so that most of the questions can be answered from stock.

    `bound`: no choice of so many parts makes more possible; `proved`: this choice reaches it.
    """

    parts: tuple[str, ...]
    possible: tuple[str, ...]
    of: int
    bound: int
    proved: bool
