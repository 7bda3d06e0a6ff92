"""All ways to one build from any core of the shelf, as one network: the plan question with the core left open.

Rule 1: a kept part goes with its own core, a donor's part with any core but its own.
Rule 2: donor's parts that nobody has read are one lot with as many members as there are donors with one.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from graph.errors import MixedCurrency
from graph.model.bundle import Bundle, PlanQuestion
from graph.model.record import Core
from graph.planning import money
from graph.planning.compile import Compiled, compiled
from graph.planning.modes import Mode
from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.options import DONOR, EMPTY, KEPT, NEW
from graph.planning.problem import Problem

Evidence = Callable[[PlanQuestion], Bundle]
"""Gathers the evidence of one plan question."""

Pools = dict[tuple[str, str], tuple[str, ...]]
"""For a seat and part the donors in which one sits that nobody has read."""


class OpenProblem(Problem):
    """A plan question for several cores at once; every core that may donate is among the donors."""

    def __init__(self, bundle: Bundle, starts: tuple[Core, ...]) -> None:
        self._starts = starts
        super().__init__(bundle)

    @cached_property
    def starts(self) -> tuple[Core, ...]:
        """The cores whose own parts may be kept."""
        return self._starts

    @cached_property
    def donors(self) -> tuple[Core, ...]:
        """The cores that may donate, the starts among them."""
        return tuple(core for core in self.bundle.donors if core.may_donate)


@dataclass(slots=True)
class Ground:
    """The network of one build. Variables: seats by name, what is done once, and last which core it starts from."""

    made: Compiled
    starts: tuple[Core, ...]
    network: Network
    constant: int
    pools: Pools
    currency: str

    @property
    def start(self) -> int:
        """The variable that says which core it starts from."""
        return len(self.network.unary) - 1

    def modes(self, seat: int) -> list[Mode]:
        """The candidates of a seat's variable."""
        return self.made.seats[seat].modes

    def donors(self, mode: Mode) -> tuple[str, ...]:
        """The tags of the donors that can give this part; none unless it is a donor's."""
        option = mode.option
        if option.source != DONOR:
            return ()
        if option.found is not None and option.found.readings:
            return (option.lot,)
        return self.pools[option.seat.name, option.part]


def ground(evidence: Evidence, question: PlanQuestion, starts: Sequence[Core]) -> Ground:
    """The network of the build in `question` from any of these cores.

    Raises
    ------
    BadQuestion, MixedCurrency
        As a plan question does.
    """
    bundle = _open_bundle(evidence, question, starts)
    problem = OpenProblem(bundle, tuple(starts))
    made = compiled(problem, certain=True)
    pools = _pools(problem)
    factors = list(made.network.factors)
    start = len(made.network.unary)
    for number, seat in enumerate(made.seats):
        unruled = seat.seat.name in problem.unruled
        factor = _linked(number, start, seat.modes, starts, pools, unruled=unruled)
        if factor is not None:
            factors.append(factor)
    book = np.array([0 if core.own else core.book_value or 0 for core in starts], dtype=np.int64)
    network = Network(
        (*made.network.unary, book),
        tuple(factors),
        (*made.network.labels, np.arange(len(starts))),
        (*made.network.names, "core"),
    )
    constant = made.constant - (money.core_line(problem).amount or 0)
    return Ground(made, tuple(starts), network, constant, pools, _currency(problem, starts))


def _open_bundle(evidence: Evidence, question: PlanQuestion, starts: Sequence[Core]) -> Bundle:
    """The evidence for the first core, with the donors and parts that it has for the second: none is left out."""
    first, *others = [evidence(_of(question, core)) for core in starts[:2]]
    donors = {core.tag: core for bundle in (first, *others) for core in bundle.donors}
    parts = {part.key: part for bundle in (first, *others) for part in bundle.parts}
    return Bundle(
        question=first.question,
        snapshot=first.snapshot,
        layout=first.layout,
        build=first.build,
        engine=first.engine,
        core=first.core,
        donors=tuple(donors[tag] for tag in sorted(donors)),
        parts=tuple(parts[key] for key in sorted(parts)),
        kinds=first.kinds,
        features=first.features,
        accepted=first.accepted,
        operations=first.operations,
        consumes=first.consumes,
        services=first.services,
        rates=first.rates,
        sources=first.sources,
    )


def _of(question: PlanQuestion, core: Core) -> PlanQuestion:
    return PlanQuestion(core.key, question.build, question.engine, question.best, question.day, question.wishes)


def _currency(problem: Problem, starts: Iterable[Core]) -> str:
    found = {core.currency for core in starts if not core.own and core.book_value is not None}
    found = (found | {problem.currency}) - {""}
    if len(found) > 1:
        raise MixedCurrency(
            f"prices in {', '.join(sorted(found))}", fix="state all prices, rates and book values in one currency"
        )
    return next(iter(found), "")


def _pools(problem: Problem) -> Pools:
    pools: dict[tuple[str, str], list[str]] = {}
    for donor in problem.donors:
        for found in donor.found:
            if found.state == "present" and not found.readings:
                pools.setdefault((found.seat, found.part), []).append(donor.tag)
    return {key: tuple(tags) for key, tags in pools.items()}


def _linked(
    seat: int, start: int, modes: Sequence[Mode], starts: Sequence[Core], pools: Pools, *, unruled: bool
) -> Factor | None:
    """Which choices of a seat go with which core; in a seat without a rule, another part only of the same number."""
    name = modes[0].option.seat.name if modes else ""
    rows: dict[tuple[str, str, str], int] = {}
    table: list[Ints] = []
    classes = []
    for mode in modes:
        option = mode.option
        like = option.part if unruled and option.source in (NEW, DONOR) else ""
        if option.source == KEPT or (option.source == EMPTY and option.lot):
            key = ("with", option.lot, like)
        elif option.source == DONOR:
            read = option.found is not None and bool(option.found.readings)
            tags = (option.lot,) if read else pools[option.seat.name, option.part]
            key = ("without", tags[0], like) if len(tags) == 1 else ("any", "", like)
        else:
            key = ("any", "", like)
        if key not in rows:
            rows[key] = len(table)
            free = np.zeros(len(starts), dtype=np.int64)
            if key[0] != "any":
                same = np.array([core.tag == key[1] for core in starts])
                free[~same if key[0] == "with" else same] = FORBIDDEN
            if like:
                free[[not any(f.seat == name and f.part == like for f in core.found) for core in starts]] = FORBIDDEN
            table.append(free)
        classes.append(rows[key])
    if not table or not any(row.any() for row in table):
        return None
    return Factor(
        (seat, start),
        (np.array(classes, dtype=np.int64), np.arange(len(starts))),
        np.stack(table),
        f"core of {name}",
    )
