"""Questions the other way round: which core for a build, what least change, what to keep in stock.

Rule 1: all cores are candidates of one network, compiled once; a core is a case of the sweep over it.
Rule 2: a core that nothing was proved of is never called impossible; it is bounded, and said to be.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import comb

import numpy as np

from graph.model.bundle import Bundle
from graph.model.depth import StockAdvice
from graph.model.record import Core, FoundPart
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import never
from graph.planning.batch import Allowed
from graph.planning.compile import Compiled, compiled
from graph.planning.kept import Kept
from graph.planning.network import FORBIDDEN
from graph.planning.options import DONOR, KEPT, NEW
from graph.planning.problem import Problem
from graph.planning.search import k_best
from graph.planning.sweep import Swept, sweep

POOL = "core/"
"""The key of the core that stands for all of them."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one core stands. `verdict` None: only bounded.

    `least`: no certain plan from it costs less; None: it has none, though one that hangs on something may exist.
    """

    core: Core
    verdict: Verdict | None
    cost: int | None
    least: int | None


def of_core(shared: Bundle, core: Core) -> Bundle:
    """The bundle of one core out of a bundle with all donors."""
    return replace(
        shared,
        question=replace(shared.question, core=core.key),
        core=core,
        donors=tuple(d for d in shared.donors if d.key != core.key),
    )


def ranked(
    shared: Bundle,
    cores: Sequence[Core],
    best: int,
    *,
    stop: Callable[[], bool] = never,
    kept: Kept | None = None,
) -> tuple[list[Standing], int]:
    """All cores for the build, best first; how many of the first are exact.

    `kept`: what questions that share evidence with this one have worked out; this one adds to it.

    Cores with a certain plan come first by cost, then those whose plan hangs on what is not known, then those
    that are only bounded, by their bound, then the impossible ones; ties by tag.
    """
    cores = sorted(cores, key=lambda c: c.tag)
    kept = Kept() if kept is None else kept
    sure = _swept(shared, cores, best, True, stop, kept)
    standings = {case: Standing(cores[case], Verdict.WITH_WORK, cost, cost) for cost, case, _ in sure.best}
    open_ = [i for i in range(len(cores)) if i not in standings]
    if len(standings) < best and open_:
        rest = [cores[i] for i in open_]
        maybe = _swept(shared, rest, best - len(standings), False, stop, kept)
        for cost, case, _ in maybe.best:
            standings[open_[case]] = Standing(rest[case], Verdict.UNKNOWN, cost, cost)
        for case, i in enumerate(open_):
            if i not in standings and maybe.done[case] and maybe.least[case] >= FORBIDDEN:
                standings[i] = Standing(cores[i], Verdict.NO, None, None)
            elif i not in standings:
                standings[i] = Standing(cores[i], None, None, int(maybe.least[case]))
    else:
        for i in open_:
            least = int(sure.least[i])
            standings[i] = Standing(cores[i], None, None, least if least < FORBIDDEN else None)
    order = (Verdict.WITH_WORK, Verdict.UNKNOWN, None, Verdict.NO)
    out = sorted(
        standings.values(), key=lambda s: (order.index(s.verdict), s.least is None, s.least or 0, s.core.tag)
    )
    return out, sum(s.verdict in (Verdict.WITH_WORK, Verdict.UNKNOWN) for s in out)


def _swept(
    shared: Bundle, cores: Sequence[Core], best: int, certain: bool, stop: Callable[[], bool], kept: Kept
) -> Swept:
    pool, users = _pool(cores)
    whole = replace(
        shared,
        core=Core(POOL, "", shared.layout.name, own=True, found=pool),
        question=replace(shared.question, core=POOL),
    )
    made = compiled(Problem(whole, kept), certain=certain)
    worth = [0 if c.own else c.book_value or 0 for c in cores]
    return sweep(
        made.network,
        _allowed(made, cores, users),
        np.array(worth, dtype=np.int64) + made.constant,
        best,
        stop=stop,
    )


def _pool(cores: Sequence[Core]) -> tuple[tuple[FoundPart, ...], dict[int, list[int]]]:
    """What sits in the seats of all cores, unread parts of one number once; which cores have each (by its id)."""
    alike: dict[tuple[str, str, str], FoundPart] = {}
    users: dict[int, list[int]] = {}
    pool: list[FoundPart] = []
    for number, core in enumerate(cores):
        for found in core.found:
            one = found
            if not found.readings:
                one = alike.setdefault((found.seat, found.part, found.state), found)
            if id(one) not in users:
                pool.append(one)
            users.setdefault(id(one), []).append(number)
    return tuple(pool), users


def _allowed(made: Compiled, cores: Sequence[Core], users: dict[int, list[int]]) -> Allowed:
    """Which core may use which candidate: its own parts, new ones, and donors' other than itself."""
    tags = {c.tag: i for i, c in enumerate(cores)}
    others: dict[tuple[str, str], set[str]] = {}
    for donor in made.problem.donors:
        for found in donor.found:
            if found.state == "present" and not found.readings:
                others.setdefault((found.seat, found.part), set()).add(donor.tag)
    out: Allowed = []
    for seat in made.seats:
        may = np.ones((len(cores), len(seat.modes)), dtype=np.bool_)
        for place, mode in enumerate(seat.modes):
            option = mode.option
            if option.source == KEPT:
                assert option.found is not None
                may[:, place] = False
                may[users[id(option.found)], place] = True
            elif option.source == DONOR and option.lot in tags:
                unread = option.found is not None and not option.found.readings
                if not unread or others[seat.seat.name, option.part] == {option.lot}:
                    may[tags[option.lot], place] = False
        out.append(may)
    out += [np.ones((len(cores), len(own)), dtype=np.bool_) for own in made.network.unary[len(made.seats) :]]
    return out


def lacking(bundle: Bundle, most: int = 20, *, stop: Callable[[], bool] = never) -> tuple[list[frozenset[str]], bool]:
    """Minimal sets of parts that must be put in stock so that the question has a certain plan from stock.

    From the `most` plans with the fewest seats to buy for; True: no other plan was left out.
    """
    made = compiled(Problem(bundle), certain=True)
    wanted: list[list[str]] = []
    unary = []
    for seat in made.seats:
        row = []
        for mode in seat.modes:
            option = mode.option
            held = sum(s.quantity for s in option.record.stock) if option.record is not None else 0
            row.append(option.part if option.source == NEW and held < option.seat.quantity else "")
        wanted.append(row)
        unary.append(np.array([int(bool(p)) for p in row], dtype=np.int64))
    network = made.network
    unary = [np.where(own >= FORBIDDEN, FORBIDDEN, mine) for own, mine in zip(network.unary, unary, strict=False)] + [
        np.where(own >= FORBIDDEN, FORBIDDEN, 0) for own in network.unary[len(unary) :]
    ]
    labels = [np.unique(row, return_inverse=True)[1].astype(np.int64) for row in wanted]
    labels += [np.zeros(len(own), dtype=np.int64) for own in network.unary[len(labels) :]]
    factors = tuple(replace(f, table=np.where(f.table >= FORBIDDEN, FORBIDDEN, 0)) for f in network.factors)
    counted = replace(network, unary=tuple(unary), factors=factors, labels=tuple(labels))
    result = k_best(counted, most, stop=stop)
    sets = {frozenset(wanted[v][c] for v, c in enumerate(s.choice[: len(wanted)])) - {""} for s in result.solutions}
    minimal = [s for s in sets if not any(other < s for other in sets)]
    return sorted(minimal, key=lambda s: (len(s), sorted(s))), result.complete or result.proof is Proof.IMPOSSIBLE


EXACT_CHOICES = 20_000
"""Choices of parts that are all tried; with more the greedy choice is given, with a bound."""


def stock_up(questions: Sequence[tuple[str, Sequence[frozenset[str]]]], most: int) -> StockAdvice:
    """Which parts, at most so many, to keep in stock so that most questions can be answered from stock.

    Each question comes with the sets of parts any one of which makes it possible (see `lacking`). All choices are
    tried while they are few; else parts are added greedily, the set that adds most a part first, and the bound is
    what each question could get with so many parts for itself alone.
    """
    parts = sorted({p for _, sets in questions for s in sets for p in s})
    room = min(most, len(parts))

    def possible(held: frozenset[str]) -> tuple[str, ...]:
        return tuple(name for name, sets in questions if any(s <= held for s in sets))

    bound = sum(any(len(s) <= most for s in sets) for _, sets in questions)
    if comb(len(parts), room) <= EXACT_CHOICES:
        best: frozenset[str] = frozenset()
        for size in range(room + 1):
            for some in combinations(parts, size):
                if len(possible(frozenset(some))) > len(possible(best)):
                    best = frozenset(some)
        reached = possible(best)
        return StockAdvice(tuple(sorted(best)), reached, len(questions), len(reached), True)
    held: frozenset[str] = frozenset()
    while True:
        offers = []
        for _, sets in questions:
            for s in sets:
                more = s - held
                if more and len(held | s) <= most:
                    gain = len(possible(held | s)) - len(possible(held))
                    offers.append((-gain / len(more), len(more), sorted(more)))
        if not offers or min(offers)[0] >= 0:
            break
        held |= frozenset(min(offers)[2])
    reached = possible(held)
    return StockAdvice(tuple(sorted(held)), reached, len(questions), bound, len(reached) == bound)
