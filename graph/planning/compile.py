"""The plan question as a weighted network: a variable a seat, a candidate a mode, a factor a requirement.

Rule 1: one solution is one plan: what is done or used up once, however many seats cause it, is a variable whose
value says which seat is the first to cause it.
Rule 2: a cut's size is no candidate; a factor over all seats that its requirements touch holds the least cost.
"""

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import product
from math import prod

import numpy as np

from graph.model.fact import Fact
from graph.model.verdict import Verdict
from graph.planning import money
from graph.planning.meeting import Meeting, meetings
from graph.planning.modes import Mode, SeatModes, all_modes
from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.once import once_items
from graph.planning.options import EMPTY, KEPT
from graph.planning.problem import ENGINE, Problem
from graph.planning.requirement import Requirement
from graph.planning.sums import number_table

APART = "apart"
"""The class of a mode that a factor does not concern: an empty seat, or a size that another factor settles."""


MANY = 48
"""From so many cells on a table is made at once (a cell costs some 8 us, a table at once some 60)."""


@dataclass(slots=True)
class Compiled:
    """The network with what its candidates mean. Variables: seats by name, then what is done once.

    `constant` is the part of the cost that every plan has. `grounds`: for each factor the requirements it holds.
    """

    problem: Problem
    certain: bool
    seats: list[SeatModes]
    network: Network
    constant: int
    meetings: list[Meeting]
    grounds: list[tuple[str, ...]] = field(default_factory=list)

    def chosen(self, choice: Sequence[int]) -> dict[str, Mode]:
        """The modes of a solution, by seat."""
        return {s.seat.name: s.modes[c] for s, c in zip(self.seats, choice, strict=False)}


def compiled(problem: Problem, *, certain: bool, doubt: int = 0) -> Compiled:
    """The network of the question, for what is certain or for what is possible.

    `doubt`: what each requirement that is only possible counts for, so that plans which hang on little come first.
    """
    return _Compiler(problem, certain, doubt).compile()


class _Compiler:
    def __init__(self, problem: Problem, certain: bool, doubt: int) -> None:
        self.problem = problem
        self.certain = certain
        self.doubt = 0 if certain else doubt
        self.seats = all_modes(problem, certain=certain)
        self.place = {s.seat.name: i for i, s in enumerate(self.seats)}
        self.marks = {s.seat.name: problem.kept.mark(s) for s in self.seats}
        self.unary: list[Ints] = [
            problem.kept.once(self._key("own", s), partial(_own, problem, s)) for s in self.seats
        ]
        self.factors: list[Factor] = []
        self.grounds: list[tuple[str, ...]] = []
        self.number = problem.number

    def compile(self) -> Compiled:
        if self.doubt:
            self.unary = [own + self._doubts(s) for own, s in zip(self.unary, self.seats, strict=True)]
        joined = [r for r in self.problem.requirements if len(self._others(r)) > 1]
        for requirement in joined:
            self._add_rule(requirement)
        met = meetings(self.problem, self.seats, certain=self.certain)
        for meeting in met:
            self._add_meeting(meeting)
        self._add_causes(joined)
        for seats in self.seats:
            self._add_emptied(seats, joined)
        constant, extra = once_items(self.problem, self.seats)
        for item in extra:
            if len(item.seats) == 1:
                seat = item.seats[0]
                self.unary[seat] = self.unary[seat] + item.costs[item.levels[0]]
        shared = [item for item in extra if len(item.seats) > 1]
        for number, item in enumerate(shared):
            variable = len(self.seats) + number
            own, tables = item.tables()
            self.unary.append(own)
            for seat, levels, table in zip(item.seats, item.levels, tables, strict=True):
                self.factors.append(
                    Factor((seat, variable), (levels, np.arange(len(own))), table, f"once {item.name}")
                )
                self.grounds.append(())
        core = money.core_line(self.problem).amount or 0
        kept = self.problem.kept
        labels = [kept.once(self._key("labels", s), partial(_labels, s.modes)) for s in self.seats]
        labels += [np.zeros(len(own), dtype=np.int64) for own in self.unary[len(self.seats) :]]
        network = Network(
            tuple(np.minimum(own, FORBIDDEN) for own in self.unary),
            tuple(self.factors),
            tuple(labels),
            (*(s.seat.name for s in self.seats), *(item.name for item in shared)),
        )
        return Compiled(self.problem, self.certain, self.seats, network, constant + core, met, self.grounds)

    def _others(self, requirement: Requirement) -> list[str]:
        return [s for s in requirement.seats if s != ENGINE and s in self.place]

    def _classes(self, seat: str, key: Callable[[Mode], Hashable]) -> tuple[Ints, list[Mode | None], list[Hashable]]:
        """The class of each of a seat's modes by a key, a mode of each class (None: the class apart), and its key."""
        numbers: dict[Hashable, int] = {}
        examples: list[Mode | None] = []
        out = []
        for mode in self.seats[self.place[seat]].modes:
            k = key(mode)
            n = numbers.setdefault(k, len(numbers))
            if n == len(examples):
                examples.append(None if k == APART else mode)
            out.append(n)
        return np.array(out, dtype=np.int64), examples, list(numbers)

    def _doubts(self, seats: SeatModes) -> Ints:
        """What each mode hangs on by itself, counted."""
        name = seats.seat.name
        alone = [r for r in self.problem.asked_of(name) if self._others(r) == [name]]

        def count(mode: Mode) -> int:
            if mode.option.source == EMPTY:
                return 0
            seen = [r for r in alone if not any(f in mode.cuts for _, f in r.operands)]
            facts = ([self._side({name: mode}, s, f) for s, f in r.operands] for r in seen)
            verdicts = [self.problem.verdict(r, f) for r, f in zip(seen, facts, strict=True)]
            return len(mode.open) + verdicts.count(Verdict.UNKNOWN)

        key = "doubts", self.marks[name], self._evidence(alone)
        counts = self.problem.kept.once(key, lambda: np.array([count(m) for m in seats.modes], dtype=np.int64))
        return counts * self.doubt

    def _key(self, what: str, seats: SeatModes) -> Hashable:
        return what, self.problem.prices, self.marks[seats.seat.name]

    def _add(
        self,
        name: str,
        seats: Sequence[str],
        key_of: Callable[[str], Callable[[Mode], Hashable]],
        entry: Callable[[Mapping[str, Mode]], int],
        grounds: tuple[str, ...],
        made_of: Hashable,
        whole: Callable[[Mapping[str, Sequence[Mode]]], Ints | None] | None = None,
        cells: dict[Hashable, int] | None = None,
    ) -> None:
        """A factor over the seats; rows of a class apart cost nothing. `made_of`: the evidence beside the seats.

        `whole`: all entries at once, for the modes that stand for the classes; None: they are made one by one.
        `cells`: entries that were made before, by the keys of the classes that meet in them.
        """
        named = sorted(seats, key=self.place.__getitem__)
        marks = tuple(self.marks[s] for s in named)
        found = self.problem.kept.once(
            ("factor", name, self.certain, self.doubt, marks, made_of),
            lambda: self._table(named, key_of, entry, whole, cells),
        )
        if found is None:
            return
        classes, table = found
        scope = tuple(self.place[s] for s in named)
        if len(scope) == 1:
            own = self.unary[scope[0]]
            self.unary[scope[0]] = np.minimum(own + table[classes[0]], FORBIDDEN)
            return
        self.factors.append(Factor(scope, classes, table, name))
        self.grounds.append(grounds)

    def _table(
        self,
        named: Sequence[str],
        key_of: Callable[[str], Callable[[Mode], Hashable]],
        entry: Callable[[Mapping[str, Mode]], int],
        whole: Callable[[Mapping[str, Sequence[Mode]]], Ints | None] | None,
        cells: dict[Hashable, int] | None,
    ) -> tuple[tuple[Ints, ...], Ints] | None:
        """The classes and the table of a factor; None: it costs nothing anywhere."""
        found = [self._classes(s, key_of(s)) for s in named]
        table = np.zeros(tuple(len(examples) for _, examples, _ in found), dtype=np.int64)
        inside = [[i for i, mode in enumerate(examples) if mode is not None] for _, examples, _ in found]
        costs = None
        if whole is not None and prod(map(len, inside)) >= MANY:
            costs = whole(
                {s: [m for m in examples if m is not None] for s, (_, examples, _) in zip(named, found, strict=True)}
            )
        if costs is not None:
            table[np.ix_(*inside)] = costs
        for cell in product(*inside) if costs is None else ():
            keys = tuple(keys[i] for (_, _, keys), i in zip(found, cell, strict=True)) if cells is not None else ()
            cost = cells.get(keys) if cells is not None else None
            if cost is None:
                modes = {s: examples[i] for s, (_, examples, _), i in zip(named, found, cell, strict=True)}
                cost = entry(modes)  # type: ignore[arg-type]
                if cells is not None:
                    cells[keys] = cost
            table[cell] = cost
        return (tuple(c for c, _, _ in found), table) if table.any() else None

    def _evidence(self, requirements: Iterable[Requirement]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """What stands for the requirements and for what the engine's side has for them."""
        kept, asked = self.problem.kept, list(requirements)
        theirs = [self.problem.engine_fact(f) for r in asked for s, f in r.operands if s == ENGINE]
        return kept.marks(asked), kept.marks(theirs)

    def _ok(self, verdict: Verdict) -> bool:
        return verdict is Verdict.YES if self.certain else verdict is not Verdict.NO

    def _side(self, modes: Mapping[str, Mode], seat: str, feature: str) -> Fact | None:
        if seat == ENGINE:
            return self.problem.engine_fact(feature)
        mode = modes.get(seat)
        return None if mode is None else mode.facts.get(feature)

    def _add_rule(self, requirement: Requirement) -> None:
        seats = self._others(requirement)

        def key_of(seat: str) -> Callable[[Mode], Hashable]:
            features = [f for s, f in requirement.operands if s == seat]

            def key(mode: Mode) -> Hashable:
                if mode.option.source == EMPTY or any(f in mode.cuts for f in features):
                    return APART
                return tuple(self.number(mode.facts[f]) for f in features)

            return key

        def entry(modes: Mapping[str, Mode]) -> int:
            facts = [self._side(modes, s, f) for s, f in requirement.operands]
            verdict = self.problem.verdict(requirement, facts)
            return self.doubt * (verdict is Verdict.UNKNOWN) if self._ok(verdict) else FORBIDDEN

        def whole(modes: Mapping[str, Sequence[Mode]]) -> Ints | None:
            axis = {seat: a for a, seat in enumerate(modes)}
            columns = [
                (axis[s], [mode.facts.get(f) for mode in modes[s]]) if s != ENGINE else (0, [self._side({}, s, f)])
                for s, f in requirement.operands
            ]
            costs = number_table(requirement, columns, len(axis), certain=self.certain)
            return costs if costs is None or self.certain else np.where(costs == 1, self.doubt, costs)

        grounds, evidence = (requirement.name,), self._evidence([requirement])
        self._add(requirement.name, seats, key_of, entry, grounds, evidence, whole)

    def _add_meeting(self, meeting: Meeting) -> None:
        """The cost of one set of cuts that meet, over every seat that their requirements touch."""

        def key_of(seat: str) -> Callable[[Mode], Hashable]:
            cut = meeting.cut_in(seat)
            near = meeting.near_in(seat)
            looked_at = meeting.looked_at(seat)

            def key(mode: Mode) -> Hashable:
                if mode.option.source == EMPTY:
                    return APART if cut else "empty"
                if any(f in mode.cuts for f in near) or not all(f in mode.cuts for f in cut):
                    return APART
                sizes = tuple(
                    (
                        mode.cuts[f].operation.name,
                        self.number(mode.cuts[f].before),
                        mode.cuts[f].own,
                        mode.cuts[f].due,
                    )
                    for f in cut
                )
                return sizes, tuple(self.number(mode.facts[f]) for f in looked_at)

            return key

        def entry(modes: Mapping[str, Mode]) -> int:
            found = meeting.least(modes)
            if found is None or not meeting.caused(modes):
                return FORBIDDEN
            return sum(
                money.cut_cost(self.problem, cut, size) for cut, size in zip(meeting.cuts(modes), found, strict=True)
            )

        seats = meeting.seats
        name = "cut " + ", ".join(f"{s}.{f}" for s, f in meeting.features)
        evidence = self._evidence((*meeting.requirements, *meeting.alone))
        made_of = meeting.features, meeting.near, len(meeting.requirements), evidence, self.problem.prices
        key = "cells", self.certain, self.doubt, self.problem.ground, tuple(seats), made_of
        cells: dict[Hashable, int] = self.problem.kept.once(key, dict)
        self._add(name, seats, key_of, entry, meeting.grounds, made_of, cells=cells)

    def _add_causes(self, joined: Iterable[Requirement]) -> None:
        """A code is changed only where the code as it was would break something."""
        touching: dict[tuple[str, str], list[Requirement]] = {}
        for requirement in joined:
            for operand in dict.fromkeys(requirement.operands):
                touching.setdefault(operand, []).append(requirement)
        for seats in self.seats:
            name = seats.seat.name
            for feature in sorted({f for m in seats.modes for f, r in m.recoded.items() if not r.due}):
                self._add_cause(name, feature, touching.get((name, feature), []))

    def _add_cause(self, seat: str, feature: str, requirements: list[Requirement]) -> None:
        scope = list(dict.fromkeys([seat, *(s for r in requirements for s in self._others(r))]))
        wanted = {s: tuple(dict.fromkeys(f for r in requirements for t, f in r.operands if t == s)) for s in scope}

        def key_of(other: str) -> Callable[[Mode], Hashable]:
            def key(mode: Mode) -> Hashable:
                if mode.option.source == EMPTY:
                    return APART if other == seat else "empty"
                if other == seat:
                    done = mode.recoded.get(feature)
                    if done is None or done.due:
                        return APART
                    rest = tuple(self.number(mode.facts[f]) for f in wanted[seat] if f != feature)
                    return self.number(done.before), rest
                return tuple(self.number(mode.facts[f]) for f in wanted[other])

            return key

        def entry(modes: Mapping[str, Mode]) -> int:
            before = modes[seat].recoded[feature].before
            for requirement in requirements:
                if any(modes[s].option.source == EMPTY for s in self._others(requirement)):
                    continue
                facts = [
                    before if (s, f) == (seat, feature) else self._side(modes, s, f) for s, f in requirement.operands
                ]
                if not self._ok(self.problem.verdict(requirement, facts)):
                    return 0
            return FORBIDDEN

        self._add(f"cause {seat}.{feature}", scope, key_of, entry, (), self._evidence(requirements))

    def _add_emptied(self, seats: SeatModes, joined: Iterable[Requirement]) -> None:
        """A seat that the core fills is left empty only where the core's part, as it is, would break something."""
        if any(m.option.source == EMPTY for m in seats.modes):
            for kept in (m for m in seats.modes if m.option.source == KEPT and not m.operations):
                self._add_emptied_beside(seats, kept, joined)

    def _add_emptied_beside(self, seats: SeatModes, kept: Mode, joined: Iterable[Requirement]) -> None:
        name = seats.seat.name
        lots = ("", kept.option.lot)
        requirements = [r for r in joined if name in self._others(r)]
        scope = list(dict.fromkeys([name, *(s for r in requirements for s in self._others(r))]))
        wanted = {s: tuple(dict.fromkeys(f for r in requirements for t, f in r.operands if t == s)) for s in scope}

        def key_of(other: str) -> Callable[[Mode], Hashable]:
            def key(mode: Mode) -> Hashable:
                if other == name:
                    return EMPTY if mode.option.source == EMPTY and mode.option.lot in lots else APART
                if mode.option.source == EMPTY:
                    return EMPTY
                return tuple("cut" if f in mode.cuts else self.number(mode.facts[f]) for f in wanted[other])

            return key

        def entry(modes: Mapping[str, Mode]) -> int:
            put_back = {**modes, name: kept}
            for requirement in requirements:
                sides = [(put_back[s], f) for s, f in requirement.operands if s != ENGINE]
                if any(m.option.source == EMPTY or f in m.cuts for m, f in sides):
                    continue
                facts = [self._side(put_back, s, f) for s, f in requirement.operands]
                if not self._ok(self.problem.verdict(requirement, facts)):
                    return 0
            return FORBIDDEN

        made_of = self.problem.kept.mark(kept), self._evidence(requirements)
        self._add(f"emptied {name}", scope, key_of, entry, (), made_of)


def _own(problem: Problem, seats: SeatModes) -> Ints:
    return np.array([money.own_cost(problem, m) for m in seats.modes], dtype=np.int64)


def _labels(modes: Sequence[Mode]) -> Ints:
    """A number a label, ascending with it; modes of one label differ only in lot."""
    numbers = {label: n for n, label in enumerate(sorted({m.label for m in modes}))}
    return np.array([numbers[m.label] for m in modes], dtype=np.int64)
