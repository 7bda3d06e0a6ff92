"""What may fill each seat: a part with its source, and the sets of operations that may be done to it.

Rule 1: an option is left out only when no plan can use it: a rule that looks at nothing but this part and the
engine's side breaks, or an operation has no cause.
Rule 2: what a cut's size must be with regard to other seats is decided in `compile`, never here.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product

from graph.model.fact import Alternative, Fact
from graph.model.record import Core, FoundPart, Operation, Part, Seat, Supersession
from graph.model.value import Amount, spelled_code
from graph.model.verdict import Missing, Verdict
from graph.planning.problem import ENGINE, SERVICE, Problem
from graph.planning.requirement import FAR, Requirement, Spans, codes_of, meet
from graph.planning.room import REDUCE, WIDEN, Room, room
from graph.rules.judge import how_to_settle
from graph.rules.spoken import as_written

CUTS = (WIDEN, REDUCE)
CODE_WORK = ("set_code", "add_feature", "remove_feature")
KEPT, NEW, DONOR, EMPTY = "kept", "new", "donor", "empty"
NONE = "none"


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """One part that may fill a seat. `lot`: the tag of the core it comes from; `found`: as found there."""

    seat: Seat
    source: str
    part: str = ""
    record: Part | None = None
    kind: str = ""
    lot: str = ""
    found: FoundPart | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A feature that will be cut. `own` is where the size may lie for this part's sake, before any joint.

    `due`: work done in any case, because another operation needs it or because without it something breaks that
    concerns this part alone.
    """

    operation: Operation
    before: Fact
    room: Room
    own: Spans
    due: bool = False

    @property
    def way(self) -> int:
        """1 for a feature that grows, -1 for one that shrinks."""
        return 1 if self.operation.effect == WIDEN else -1

    @property
    def start(self) -> int:
        """The size from which the change counts: the middle of what is there."""
        assert self.before.low is not None and self.before.high is not None
        return (self.before.low + self.before.high) // 2

    @property
    def capability(self) -> int:
        """How far the finished size may lie from what the sheet says."""
        return self.operation.tolerance or 0


@dataclass(frozen=True, slots=True, eq=False)
class Recoded:
    """A code that will be changed, or a size that is cut from one that is not known; `due` as for a cut."""

    operation: Operation
    before: Fact
    after: Fact
    due: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Mode:
    """An option with one set of operations. `facts`: after the work, but as it was for what is cut."""

    option: Option
    operations: tuple[Operation, ...] = ()  # by name
    facts: Mapping[str, Fact] = field(default_factory=dict)
    cuts: Mapping[str, Cut] = field(default_factory=dict)
    recoded: Mapping[str, Recoded] = field(default_factory=dict)
    open: tuple[Missing, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the operations, sorted."""
        return tuple(o.name for o in self.operations)

    @property
    def changed(self) -> bool:
        """Whether the seat counts as changed."""
        return self.option.source in (NEW, DONOR) or any(o.effect != SERVICE for o in self.operations)

    @property
    def label(self) -> tuple[str, str, tuple[str, ...]]:
        """What tells two modes of one seat apart as plans."""
        return self.option.part, self.option.source, self.names


@dataclass(slots=True)
class SeatModes:
    """All modes of one seat by label, and for an empty list what removed the options."""

    seat: Seat
    modes: list[Mode]
    offered: int = 0
    removed: dict[str, int] = field(default_factory=dict)  # requirement or wish, how many options it removes


def options(problem: Problem, seat: Seat) -> Iterator[Option]:
    """The parts that may fill the seat, wishes and demands to keep it observed."""
    wishes = problem.wishes
    barred = {w.removeprefix("no-part:") for w in wishes if w.startswith("no-part:")}
    must_keep = any(d.seat == seat.name and not d.feature for d in problem.keeps)
    yield from (o for o in _found(problem, seat, problem.bundle.core, KEPT) if o.part not in barred)
    if must_keep:
        return
    for key, part in sorted(problem.parts.items()):
        if key in barred or not problem.takes(seat.kind, part.kind) or _superseded(problem, part):
            continue
        if "no-new" not in wishes or problem.one_time(part.kind):
            yield Option(seat, NEW, key, part, part.kind)
    if "no-donor" not in wishes:
        lots: set[str] = set()
        for donor in problem.donors:
            for option in _found(problem, seat, donor, DONOR):
                unread = option.found is not None and not option.found.readings
                if option.part in barred or (unread and option.part in lots):
                    continue
                if unread:
                    lots.add(option.part)
                yield option
    if seat.may_be_empty and seat.name not in problem.demanded_seats:
        yield Option(seat, EMPTY)


def _found(problem: Problem, seat: Seat, core: Core, source: str) -> Iterator[Option]:
    for found in core.found:
        if found.seat != seat.name or found.state != "present":
            continue
        part = problem.parts.get(found.part)
        if found.part and (part is None or not problem.takes(seat.kind, part.kind)):
            continue
        kind = part.kind if part is not None else seat.kind
        if not problem.one_time(kind):
            yield Option(seat, source, found.part, part, kind, core.tag, found)


def _superseded(problem: Problem, part: Part) -> bool:
    day = problem.bundle.question.day
    in_stock = sum(s.quantity for s in part.stock) > 0
    return not in_stock and any(in_force(s, day) for s in part.superseded_by)


def in_force(supersession: Supersession, day: str) -> bool:
    """Whether the later number has taken the earlier one's place for good on that day."""
    s = supersession
    return not (s.two_way or s.condition or s.from_serial) and (not s.from_date or (bool(day) and s.from_date <= day))


def all_modes(problem: Problem, *, certain: bool) -> list[SeatModes]:
    """The modes of every seat, seats by name."""
    return [_SeatWork(problem, seat, certain).all() for seat in sorted(problem.layout.seats, key=lambda s: s.name)]


class _SeatWork:
    """Finds the modes of one seat; `certain` says how to take what is not known."""

    def __init__(self, problem: Problem, seat: Seat, certain: bool) -> None:
        self.problem = problem
        self.seat = seat
        self.certain = certain
        asked = [r for r in problem.requirements if seat.name in r.seats]
        self.alone = [r for r in asked if set(r.seats) <= {seat.name, ENGINE}]
        self.features = problem.asked_features.get(seat.name, frozenset())
        joined = [r for r in asked if not set(r.seats) <= {seat.name, ENGINE}]
        self.joined = {f for r in joined for s, f in r.operands if s == seat.name}
        self.fixed = {d.feature for d in problem.keeps if d.seat == seat.name and d.feature}

    def all(self) -> SeatModes:
        out = SeatModes(self.seat, [])
        for option in options(self.problem, self.seat):
            out.offered += 1
            if option.source == EMPTY:
                out.modes.append(Mode(option))
                continue
            modes = list(self._modes(option))
            out.modes += modes
            if not modes:
                as_is = self._as_is(option)
                for requirement in self.alone:
                    if not self._holds(requirement, as_is.__getitem__):
                        out.removed[requirement.name] = out.removed.get(requirement.name, 0) + 1
        out.modes.sort(key=lambda m: (m.label, m.option.lot))
        return out

    def _as_is(self, option: Option) -> dict[str, Fact]:
        return {f: self._fact(option, f) for f in sorted(self.features)}

    def _fact(self, option: Option, feature: str) -> Fact:
        if option.found is not None:
            return self.problem.found_fact(option.found, feature)
        return self.problem.kind_fact(option.part, feature, used=False)

    def _wall_fact(self, option: Option, feature: str) -> Fact:
        """The readings of a wall on this very part; the drawing's wall is no reading."""
        if option.found is None or feature not in self.problem.readings(option.found):
            return Fact(option.part, feature, "unknown", why="wall not read on this part")
        return self.problem.found_fact(option.found, feature)

    def _ok(self, verdict: Verdict) -> bool:
        return verdict is Verdict.YES if self.certain else verdict is not Verdict.NO

    def _holds(self, requirement: Requirement, fact: Callable[[str], Fact]) -> bool:
        return self._ok(self.problem.verdict(requirement, self._sides(requirement, fact)))

    def _sides(self, requirement: Requirement, fact: Callable[[str], Fact]) -> list[Fact | None]:
        return [self.problem.engine_fact(f) if s == ENGINE else fact(f) for s, f in requirement.operands]

    # the sets of operations

    def _modes(self, option: Option) -> Iterator[Mode]:
        as_is = self._as_is(option)
        offered = {o.name: o for o in self.problem.operations_for(option.kind)}
        work: dict[str, Cut | Recoded] = {}
        for operation in offered.values():
            done = self._work(option, operation, as_is)
            if done is not None and operation.feature not in self.fixed:
                work[operation.name] = done
        closures = {name: c for name in work if (c := self._closure(option, name, offered, work)) is not None}
        choices = self._choices(as_is, closures, offered, work)
        seen: set[frozenset[str]] = set()
        for chosen in product(*choices):
            names = frozenset().union(*(closures[name] for name in chosen if name))
            if names in seen:
                continue
            seen.add(names)
            operations = tuple(offered[name] for name in sorted(names))
            if not _compatible(operations):
                continue
            mode = self._mode(option, operations, as_is, work)
            if mode is not None:
                yield mode

    def _work(self, option: Option, operation: Operation, as_is: dict[str, Fact]) -> Cut | Recoded | None:
        """What the operation changes on this part; None when it cannot or would change nothing."""
        if operation.effect == SERVICE or not operation.feature:
            return None
        if operation.feature not in as_is:
            as_is[operation.feature] = self._fact(option, operation.feature)
        before = as_is[operation.feature]
        if operation.effect in CODE_WORK:
            return (
                Recoded(operation, before, _after(operation, before)) if self._permitted(operation, before) else None
            )
        return self._cut(option, operation, before) if operation.effect in CUTS else None

    def _permitted(self, operation: Operation, before: Fact) -> bool:
        if operation.effect != "remove_feature" and (operation.to_value is None or _is_amount(operation.to_value)):
            return False
        if not before.settles:
            return not self.certain
        if before.low is not None:
            return False
        said = [_permits(operation, {spelled_code(c) for c in a.codes}) for a in before.alternatives]
        return all(said) if self.certain else any(said)

    def _cut(self, option: Option, operation: Operation, before: Fact) -> Cut | Recoded | None:
        if not before.settles:
            return None if self.certain else Recoded(operation, before, _after(operation, before))
        if before.low is None or before.high is None or (self.certain and operation.tolerance is None):
            return None
        left = self._room(option, operation, before)
        if self.certain and not left.known:
            return None
        way = 1 if operation.effect == WIDEN else -1
        near, far = before.high + 1 if way > 0 else -(before.low - 1), FAR
        if left.limit is not None:
            far = way * left.limit - (operation.tolerance or 0)
        if near > far:
            return None
        return Cut(operation, before, left, ((near, far) if way > 0 else (-far, -near),))

    def _room(self, option: Option, operation: Operation, before: Fact) -> Room:
        def fact(feature: str) -> Fact:
            if feature == operation.wall_feature:
                return self._wall_fact(option, feature)
            return self._fact(option, feature)

        limits = option.record.limits if option.record is not None else ()
        words = {name: f.label for name, f in self.problem.features.items()}
        stating = [self.problem.kind_fact(option.part, operation.feature, used=False)]
        if option.found is not None:
            stating.append(self.problem.read_fact(option.found, operation.feature))
        left = room(operation, before, stating, fact, limits, seat=self.seat.name, part=option.part, words=words)
        if operation.tolerance is not None:
            return left
        lacking = Missing(
            self.seat.name,
            operation.feature,
            option.part,
            "no tolerance on record for this cut",
            f"state how closely {operation.label} holds its size",
        )
        return Room(left.limit, left.basis, left.claims, (*left.open, lacking))

    def _closure(
        self, option: Option, name: str, offered: Mapping[str, Operation], work: Mapping[str, Cut | Recoded]
    ) -> frozenset[str] | None:
        """The operation with all it needs on this part; None when something it needs cannot be done."""
        out: set[str] = set()
        waiting = [name]
        while waiting:
            operation = offered[waiting.pop()]
            if operation.name in out:
                continue
            if operation.effect != SERVICE and operation.name not in work:
                if operation.name != name and self._already(option, operation):
                    continue
                return None
            out.add(operation.name)
            for needed in operation.needs:
                if needed in offered:
                    waiting.append(needed)
                elif self._barred(option, needed):
                    return None
        return frozenset(out)

    def _barred(self, option: Option, name: str) -> bool:
        """Whether a needed operation would be one of this part's, were it not wished away."""
        operation = self.problem.operations.get(name)
        if operation is None or not operation.kind or f"no-operation:{name}" not in self.problem.wishes:
            return False
        return operation.kind in self.problem.lineage(option.kind) and not self._already(option, operation)

    def _already(self, option: Option, operation: Operation) -> bool:
        """Whether the result of a code operation is there already, known."""
        if operation.effect not in CODE_WORK:
            return False
        fact = self._fact(option, operation.feature)
        wanted = _result(operation)
        return fact.settles and all({spelled_code(c) for c in a.codes} == wanted for a in fact.alternatives)

    def _choices(
        self,
        as_is: Mapping[str, Fact],
        closures: Mapping[str, frozenset[str]],
        offered: Mapping[str, Operation],
        work: Mapping[str, Cut | Recoded],
    ) -> list[list[str]]:
        """For each feature that may be changed for its own sake, the operations that may, and '' for none."""
        by_feature: dict[str, list[str]] = defaultdict(list)
        for name in closures:
            feature = offered[name].feature
            if feature in self.features:
                by_feature[feature].append(name)
        out = []
        for feature, names in sorted(by_feature.items()):
            touching = [r for r in self.alone if (self.seat.name, feature) in r.operands]
            single = all({f for s, f in r.operands if s == self.seat.name} == {feature} for r in touching)
            if feature not in self.joined and single and all(self._holds(r, as_is.__getitem__) for r in touching):
                continue
            out.append(["", *names])
        return out

    def _mode(
        self,
        option: Option,
        operations: tuple[Operation, ...],
        as_is: Mapping[str, Fact],
        work: Mapping[str, Cut | Recoded],
    ) -> Mode | None:
        """The mode, when what concerns this part alone holds and every operation has, or may have, a cause."""
        needed = {n for o in operations for n in o.needs}
        facts = dict(as_is)
        cuts: dict[str, Cut] = {}
        recoded: dict[str, Recoded] = {}
        for operation in operations:
            done = work.get(operation.name)
            if isinstance(done, Cut):
                cuts[operation.feature] = done
            elif isinstance(done, Recoded):
                recoded[operation.feature] = done
                facts[operation.feature] = done.after
        own = {feature: cut.own for feature, cut in cuts.items()}
        broken: set[str] = set()
        for requirement in self.alone:
            mine = [f for s, f in requirement.operands if s == self.seat.name]
            cut_here = [i for i, (s, f) in enumerate(requirement.operands) if s == self.seat.name and f in cuts]
            if not cut_here:
                if not self._holds(requirement, facts.__getitem__):
                    return None
            elif len(cut_here) == 1:
                feature = requirement.operands[cut_here[0]][1]
                cut = cuts[feature]
                spans = requirement.sizes(
                    self._sides(requirement, facts.__getitem__),
                    cut_here[0],
                    cut.capability,
                    cut.before.quantity,
                    self.certain,
                )
                own[feature] = meet(own[feature], spans)
                if not own[feature]:
                    return None
            if len(cut_here) > 1:
                continue
            for feature in mine:
                if feature in recoded and not cut_here:
                    before = recoded[feature].before
                    if not self._holds(requirement, lambda f, k=feature, b=before: b if f == k else facts[f]):  # type: ignore[misc]
                        broken.add(feature)
                elif feature in cuts and not self._holds(requirement, facts.__getitem__):
                    broken.add(feature)
        for feature in (*cuts, *recoded):
            name = (cuts.get(feature) or recoded[feature]).operation.name
            if (
                name not in needed
                and feature not in broken
                and feature not in self.joined
                and not self._met_inside(feature, cuts)
            ):
                return None
        return Mode(
            option,
            operations,
            facts,
            {
                f: Cut(c.operation, c.before, c.room, own[f], c.operation.name in needed or f in broken)
                for f, c in cuts.items()
            },
            {
                f: Recoded(c.operation, c.before, c.after, c.operation.name in needed or f in broken)
                for f, c in recoded.items()
            },
            () if self.certain else self._open(option, cuts, recoded),
        )

    def _met_inside(self, feature: str, cuts: Mapping[str, Cut]) -> bool:
        """Whether another cut of this part meets this one in a rule, so that its cause is found with it."""
        return any(
            (self.seat.name, feature) in r.operands
            and sum(s == self.seat.name and f in cuts for s, f in r.operands) > 1
            for r in self.alone
        )

    def _open(self, option: Option, cuts: Mapping[str, Cut], recoded: Mapping[str, Recoded]) -> tuple[Missing, ...]:
        """What has to be known for the work and is not; only a possible plan has any."""
        out = [m for c in cuts.values() for m in c.room.open]
        work: list[tuple[str, Cut | Recoded]] = [*cuts.items(), *recoded.items()]
        for feature, done in work:
            before = done.before
            settled = before.settles
            if isinstance(done, Recoded) and settled and done.operation.effect in CODE_WORK:
                said = [_permits(done.operation, {spelled_code(c) for c in a.codes}) for a in before.alternatives]
                settled = all(said)
            if not settled:
                measure = how_to_settle(self.seat.name, self.problem.features.get(feature), feature, {})
                out.append(Missing(self.seat.name, feature, option.part, before.why or "not known", measure))
        return tuple(out)


def _is_amount(value: object) -> bool:
    return isinstance(value, Amount)


def _permits(operation: Operation, codes: set[str]) -> bool:
    if operation.effect == "set_code":
        return codes != {NONE} and codes != _result(operation)
    return (codes == {NONE}) == (operation.effect == "add_feature")


def _result(operation: Operation) -> set[str]:
    value = operation.to_value
    if operation.effect == "remove_feature":
        return {NONE}
    return set() if value is None or isinstance(value, Amount) else codes_of(value)


def _after(operation: Operation, before: Fact) -> Fact:
    value = operation.to_value
    if operation.effect in CUTS:
        return Fact(before.subject, before.feature, "unknown", why="the size before the cut is not known")
    codes = tuple(sorted(_result(operation)))
    shown = as_written(value) if value is not None and operation.effect != "remove_feature" else NONE
    said = (operation.said,) if operation.said else ()
    return Fact(before.subject, before.feature, "machined", "", (Alternative(codes=codes, claims=said, shown=shown),))


def _compatible(operations: Iterable[Operation]) -> bool:
    """No operation excludes another of the set, and no two change one feature."""
    names = {o.name for o in operations}
    features = [o.feature for o in operations if o.effect != SERVICE]
    return len(features) == len(set(features)) and not any(names & set(o.excludes) for o in operations)
