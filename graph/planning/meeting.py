"""Cuts that meet in requirements, and must be sized together; one cut alone is the simplest meeting.

Rule 1: in a plan every cut is in exactly one meeting: the cuts that requirements link, directly or through others.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field

from graph.model.fact import Fact
from graph.model.verdict import Verdict
from graph.planning import money
from graph.planning.modes import Mode, SeatModes
from graph.planning.options import EMPTY
from graph.planning.problem import ENGINE, Problem
from graph.planning.requirement import EVERYWHERE, NOWHERE, Requirement, Spans
from graph.planning.sizes import Row, Size, Window, least, windows
from graph.planning.work import Cut
from graph.rules.decide import signs

Operand = tuple[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class _Touch:
    """A requirement with the places of the cut operands in it, and how many times, signed, each cut enters."""

    requirement: Requirement
    inside: tuple[int, ...]
    signs: tuple[int, ...]
    seats: tuple[str, ...]


@dataclass(slots=True, eq=False)
class Meeting:
    """The features that are cut, in the order in which the requirements name them; nothing near them is cut.

    `requirements` are those that touch more than one seat, or the features more than once; `alone` the others
    that touch one of them. What concerns one part alone is in its cuts' own spans already.
    """

    problem: Problem
    certain: bool
    features: tuple[Operand, ...]
    near: frozenset[Operand]
    requirements: tuple[Requirement, ...]
    alone: tuple[Requirement, ...]
    _sums: dict[Hashable, Spans] = field(default_factory=dict)
    _touches: dict[tuple[Operand, ...], list[_Touch]] = field(default_factory=dict)
    _found: dict[Hashable, tuple[int, ...] | None] = field(default_factory=dict)

    @property
    def seats(self) -> list[str]:
        """Every seat that matters, each once."""
        touched = [s for r in self.requirements for s in r.seats if s != ENGINE]
        return list(dict.fromkeys([s for s, _ in self.features] + touched))

    @property
    def grounds(self) -> tuple[str, ...]:
        """The names of the requirements."""
        return tuple(r.name for r in self.requirements)

    def cut_in(self, seat: str) -> tuple[str, ...]:
        """The features cut in this seat."""
        return tuple(f for s, f in self.features if s == seat)

    def near_in(self, seat: str) -> tuple[str, ...]:
        """The features of this seat that are not cut here, or the meeting would be a larger one."""
        return tuple(sorted(f for s, f in self.near if s == seat))

    def looked_at(self, seat: str) -> tuple[str, ...]:
        """The features of this seat that requirements look at beside the cut ones."""
        names = [f for r in (*self.requirements, *self.alone) for s, f in r.operands if s == seat]
        return tuple(dict.fromkeys(f for f in names if (seat, f) not in self.features))

    def cuts(self, modes: Mapping[str, Mode]) -> list[Cut]:
        """The cuts in order."""
        return [modes[s].cuts[f] for s, f in self.features]

    def least(self, modes: Mapping[str, Mode]) -> tuple[int, ...] | None:
        """The least sizes that every requirement allows; None when there are none."""
        return self._least(self.features, modes)

    def windows(self, modes: Mapping[str, Mode]) -> list[Window]:
        """The windows and targets, for a choice that has least sizes."""
        at = self.least(modes)
        system = self._system(self.features, modes)
        assert at is not None and system is not None
        length = [self._quantity(modes, o) == "length" for o in self.features]
        return windows(*system, at, length)

    def caused(self, modes: Mapping[str, Mode]) -> bool:
        """Whether every cut has a cause: without it, the others free, something would break."""
        for operand in self.features:
            seat, feature = operand
            if modes[seat].cuts[feature].due:
                continue
            rest = tuple(o for o in self.features if o != operand)
            if self._least(rest, modes) is not None:
                return False
        return True

    def _least(self, cut: tuple[Operand, ...], modes: Mapping[str, Mode]) -> tuple[int, ...] | None:
        system = self._system(cut, modes)
        if system is None:
            return None
        key = tuple(system[0]), tuple(system[1])
        if key not in self._found:
            self._found[key] = least(*system)
        return self._found[key]

    def _system(self, cut: tuple[Operand, ...], modes: Mapping[str, Mode]) -> tuple[list[Size], list[Row]] | None:
        """The sizes and rows when these features are cut and the others are as they were; None: something breaks."""
        rows = []
        for touch in self._touching(cut):
            if any(modes[s].option.source == EMPTY for s in touch.seats):
                continue
            if not touch.inside:
                if not self._holds(touch.requirement, modes):
                    return None
                continue
            spans = self._spans(touch, modes)
            if not spans:
                return None
            if spans is not EVERYWHERE:
                rows.append(Row(touch.signs, spans))
        sizes = []
        for seat, feature in cut:
            made = modes[seat].cuts[feature]
            sizes.append(Size(made.way, made.own, made.start, money.weight(self.problem, made)))
        return sizes, rows

    def _touching(self, cut: tuple[Operand, ...]) -> list[_Touch]:
        """The requirements that matter when these features are cut, with where the cuts stand in them."""
        found = self._touches.get(cut)
        if found is None:
            place = {operand: i for i, operand in enumerate(cut)}
            whole = len(cut) == len(self.features)
            found = []
            for requirement in self.requirements if whole else (*self.requirements, *self.alone):
                inside = tuple(i for i, operand in enumerate(requirement.operands) if operand in place)
                if requirement in self.alone and inside:
                    continue  # in the cut's own spans already
                row = [0] * len(cut)
                for i in inside:
                    sign = signs(requirement.rule)[i] if requirement.rule is not None else 1
                    row[place[requirement.operands[i]]] += sign
                seats = tuple(s for s in requirement.seats if s != ENGINE)
                found.append(_Touch(requirement, inside, tuple(row), seats))
            self._touches[cut] = found
        return found

    def _holds(self, requirement: Requirement, modes: Mapping[str, Mode]) -> bool:
        facts = [self._fact(modes, o) for o in requirement.operands]
        verdict = self.problem.verdict(requirement, facts)
        return verdict is Verdict.YES if self.certain else verdict is not Verdict.NO

    def _spans(self, touch: _Touch, modes: Mapping[str, Mode]) -> Spans:
        requirement = touch.requirement
        facts = [self._fact(modes, o) for o in requirement.operands]
        cuts = [self._cut(modes, requirement.operands[i]) for i in touch.inside]
        numbers = [self.problem.number(f) for f in facts]
        for i in touch.inside:
            numbers[i] = -1
        key = (
            id(requirement),
            touch.inside,
            tuple((c.capability, c.before.quantity) for c in cuts),
            tuple(numbers),
        )
        found = self._sums.get(key)
        if found is None:
            alike = len({c.before.quantity for c in cuts}) == 1
            quantity = cuts[0].before.quantity if alike else "of different quantities"
            capabilities = {i: c.capability for i, c in zip(touch.inside, cuts, strict=True)}
            found = requirement.sums(facts, capabilities, quantity, self.certain)
            if not alike:
                found = NOWHERE if self.certain else EVERYWHERE
            self._sums[key] = found
        return found

    def _fact(self, modes: Mapping[str, Mode], operand: Operand) -> Fact | None:
        seat, feature = operand
        if seat == ENGINE:
            return self.problem.engine_fact(feature)
        return modes[seat].facts.get(feature)

    def _cut(self, modes: Mapping[str, Mode], operand: Operand) -> Cut:
        return modes[operand[0]].cuts[operand[1]]

    def _quantity(self, modes: Mapping[str, Mode], operand: Operand) -> str:
        return self._cut(modes, operand).before.quantity


def meetings(problem: Problem, seats: Sequence[SeatModes], *, certain: bool) -> list[Meeting]:
    """Every set of cuts that may meet in some plan."""
    cuttable = {(s.seat.name, f) for s in seats for m in s.modes for f in m.cuts}
    order: list[Operand] = []
    for requirement in problem.requirements:
        order += [o for o in requirement.operands if o in cuttable and o not in order]
    order += sorted(cuttable - set(order))
    linked: dict[Operand, set[Operand]] = {o: set() for o in order}
    for requirement in problem.requirements:
        inside = [o for o in requirement.operands if o in cuttable]
        for one in inside:
            linked[one] |= {o for o in inside if o != one}
    sets: set[frozenset[Operand]] = {frozenset({o}) for o in order}
    growing = set(sets)
    by_seat = {s.seat.name: s.modes for s in seats}
    while growing:
        larger = {g | {o} for g in growing for member in g for o in linked[member] if o not in g}
        growing = {g for g in larger if _together(g, by_seat)}
        sets |= growing
    position = {o: i for i, o in enumerate(order)}
    out = []
    for group in sorted(sets, key=lambda g: sorted(position[o] for o in g)):
        near = frozenset(o for member in group for o in linked[member]) - group
        touching = [r for r in problem.requirements if group & set(r.operands)]
        joint: list[Requirement] = []
        alone: list[Requirement] = []
        for r in touching:
            several = len({s for s in r.seats if s != ENGINE}) > 1 or sum(o in group for o in r.operands) > 1
            (joint if several else alone).append(r)
        features = tuple(sorted(group, key=position.__getitem__))
        out.append(Meeting(problem, certain, features, near, tuple(joint), tuple(alone)))
    return out


def _together(group: frozenset[Operand], modes: Mapping[str, Sequence[Mode]]) -> bool:
    """Whether in every seat some mode makes all of the group's cuts there."""
    by_seat: dict[str, set[str]] = {}
    for seat, feature in group:
        by_seat.setdefault(seat, set()).add(feature)
    return all(any(features <= m.cuts.keys() for m in modes[seat]) for seat, features in by_seat.items())
