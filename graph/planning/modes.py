"""The modes of a seat: an option with one set of operations that may be done to it.

Rule 1: a mode is left out only when no plan can use it: a rule that looks at nothing but this part and the
engine's side breaks, a used part is worn beyond a limit, or an operation has no cause.
Rule 2: what a cut's size must be with regard to other seats is decided in `compile`, never here.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import product

from graph.model.fact import Fact
from graph.model.record import Operation, Seat
from graph.model.verdict import Missing, Verdict
from graph.planning.options import DONOR, EMPTY, KEPT, NEW, Option, options, options_key
from graph.planning.problem import ENGINE, SERVICE, Problem
from graph.planning.requirement import Requirement, meet
from graph.planning.wear import WearLimit, wear_limits
from graph.planning.work import Cut, PartWork, Recoded, compatible
from graph.rules.judge import how_to_settle, judge, unfilled
from graph.rules.spoken import fact_text
from graph.rules.undecided import seat_lacks_rule

Worn = tuple[tuple[WearLimit, Fact], ...]
"""The limits of a used part, each with the fact as it is."""


@dataclass(frozen=True, slots=True, eq=False)
class Mode:
    """An option with one set of operations. `facts`: after the work, but as it was for what is cut."""

    option: Option
    operations: tuple[Operation, ...] = ()  # by name
    facts: Mapping[str, Fact] = field(default_factory=dict)
    cuts: Mapping[str, Cut] = field(default_factory=dict)
    recoded: Mapping[str, Recoded] = field(default_factory=dict)
    open: tuple[Missing, ...] = ()
    rests: tuple[str, ...] = ()  # the statements by which a used part is not worn beyond its limits

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the operations, sorted."""
        return tuple(o.name for o in self.operations)

    @property
    def changed(self) -> bool:
        """Whether the seat counts as changed."""
        return self.option.source in (NEW, DONOR) or any(o.effect != SERVICE for o in self.operations)

    @property
    def label(self) -> tuple[bool, str, str, tuple[str, ...]]:
        """What tells two modes of one seat apart as plans; of equal plans that which keeps the part comes first."""
        return self.option.source != KEPT, self.option.part, self.option.source, self.names


@dataclass(slots=True, eq=False)
class SeatModes:
    """All modes of one seat by label; `offered`: how many options there were."""

    seat: Seat
    modes: list[Mode]
    offered: int
    _refusals: Callable[[], Iterator[str]]

    @property
    def removed(self) -> dict[str, int]:
        """The requirement or limit in words, and how many options that have no mode it removes."""
        counted: dict[str, int] = {}
        for reason in self._refusals():
            counted[reason] = counted.get(reason, 0) + 1
        return counted


def all_modes(problem: Problem, *, certain: bool) -> list[SeatModes]:
    """The modes of every seat, seats by name; the same object where all evidence is the same.

    None is certain where some joint has no rule.
    """
    if certain and problem.undecided:
        return [
            SeatModes(seat, [], 0, lambda: iter(())) for seat in sorted(problem.layout.seats, key=lambda s: s.name)
        ]
    return [_SeatWork(problem, seat, certain).all() for seat in sorted(problem.layout.seats, key=lambda s: s.name)]


class _SeatWork:
    """Finds the modes of one seat; `certain` says how to take what is not known.

    `key` names all that the modes of an option are made of beside the option itself.
    """

    def __init__(self, problem: Problem, seat: Seat, certain: bool) -> None:
        self.problem = problem
        self.seat = seat
        self.certain = certain
        asked = problem.asked_of(seat.name)
        self.alone = [r for r in asked if set(r.seats) <= {seat.name, ENGINE}]
        self.features = problem.asked_features.get(seat.name, frozenset())
        joined = [r for r in asked if not set(r.seats) <= {seat.name, ENGINE}]
        self.joined = {f for r in joined for s, f in r.operands if s == seat.name}
        self.fixed = frozenset(d.feature for d in problem.keeps if d.seat == seat.name and d.feature)
        self.walls = problem.walls
        self.own = problem.own_parts(seat.name) if seat.name in problem.unruled else None
        kept = problem.kept
        theirs = {f for r in self.alone for s, f in r.operands if s == ENGINE}
        self.key: Hashable = (
            certain,
            problem.ground,
            kept.mark(seat),
            kept.marks(asked),
            kept.marks(problem.engine_fact(f) for f in sorted(theirs)),
            self.fixed,
            problem.barred_work,
            self.own,
        )

    def all(self) -> SeatModes:
        kept = self.problem.kept
        offered, keys = kept.once(options_key(self.problem, self.seat), self._offered)

        def made() -> SeatModes:
            modes: list[Mode] = []
            without: list[Option] = []
            for key, option in zip(keys, offered, strict=True):
                found = kept.once(("modes", self.key, key), partial(self._of_option, option))
                modes += found
                without += [] if found else [option]
            modes.sort(key=lambda m: (m.label, m.option.lot))
            return SeatModes(self.seat, modes, len(offered), partial(self._refusals, without))

        return kept.once(("seat", self.key, keys), made)

    def _offered(self) -> tuple[list[Option], tuple[Hashable, ...]]:
        """The options, and what stands for the evidence of each."""
        mark = self.problem.kept.mark
        found = list(options(self.problem, self.seat))
        return found, tuple((o.source, o.part, mark(o.record), o.lot, mark(o.found)) for o in found)

    def _of_option(self, option: Option) -> Sequence[Mode]:
        if option.source == EMPTY:
            if not all(self._ok(self._left_empty(r)) for r in self.alone):
                return ()
            return (Mode(option, open=tuple(self._unsure())),)
        if self.certain and self._off_record(option):
            return ()
        return tuple(self._modes(PartWork(self.problem, option, self.certain)))

    def _off_record(self, option: Option) -> bool:
        """Whether nothing on record says that this part goes here."""
        return self.own is not None and option.source in (NEW, DONOR) and option.part not in self.own

    def _refusals(self, without: Sequence[Option]) -> Iterator[str]:
        """What removed the options that have no mode, each reason once an option."""
        for option in without:
            if option.source == EMPTY:
                yield from (r.name for r in self.alone if not self._ok(self._left_empty(r)))
            else:
                yield from self._refused(PartWork(self.problem, option, self.certain))

    def _refused(self, work: PartWork) -> Iterator[str]:
        """What the part, as it is, does not meet."""
        as_is = self._as_is(work)
        yield from (r.name for r in self.alone if not self._holds(r, as_is.__getitem__))
        for limit, fact in self._worn(work):
            if not self._ok(limit.verdict(fact)):
                found = f", found {fact_text(fact)}," if work.option.source == KEPT else ""
                yield limit.text + found

    def _as_is(self, work: PartWork) -> dict[str, Fact]:
        return {f: work.fact(f) for f in sorted(self.features)}

    def _worn(self, work: PartWork) -> Worn:
        return tuple((x, work.fact(x.feature)) for x in wear_limits(self.problem, work.option, self.walls))

    def _ok(self, verdict: Verdict) -> bool:
        return verdict is Verdict.YES if self.certain else verdict is not Verdict.NO

    def _holds(self, requirement: Requirement, fact: Callable[[str], Fact]) -> bool:
        return self._ok(self.problem.verdict(requirement, self._sides(requirement, fact)))

    def _left_empty(self, requirement: Requirement) -> Verdict:
        """What a rule on the seat alone says of nothing sitting there."""
        sides = self._of_nothing(requirement)
        return Verdict.YES if sides is None else self.problem.verdict(requirement, sides)

    def _of_nothing(self, requirement: Requirement) -> list[Fact | None] | None:
        if requirement.rule is None or requirement.demand is not None:
            return None
        theirs = {f: self.problem.engine_fact(f) for s, f in requirement.operands if s == ENGINE}
        return unfilled(requirement.rule, theirs)

    def _unsure(self) -> Iterator[Missing]:
        """What nobody knows of the engine's side where nothing sits."""
        problem = self.problem
        for requirement in self.alone:
            sides = self._of_nothing(requirement)
            if requirement.rule is None or sides is None:
                continue
            said = judge(
                requirement.rule,
                dict(zip(requirement.operands, sides, strict=True)),
                accepted=problem.accepted,
                features=problem.features,
                parts={ENGINE: problem.bundle.engine.key},
                spoken=problem.words,
            )
            if said is not None:
                yield from said.missing

    def _sides(self, requirement: Requirement, fact: Callable[[str], Fact]) -> list[Fact | None]:
        return [self.problem.engine_fact(f) if s == ENGINE else fact(f) for s, f in requirement.operands]

    # the sets of operations

    def _modes(self, work: PartWork) -> Iterator[Mode]:
        offered = {o.name: o for o in self.problem.operations_for(work.option.kind)}
        if self._beyond_work(work, offered):
            return
        as_is = self._as_is(work)
        worn = self._worn(work)
        able: dict[str, Cut | Recoded] = {}
        for operation in offered.values():
            if operation.effect == SERVICE or not operation.feature or operation.feature in self.fixed:
                continue
            if operation.feature not in as_is:
                as_is[operation.feature] = work.fact(operation.feature)
            done = work.done(operation, as_is[operation.feature])
            if done is not None:
                able[operation.name] = done
        closures = {name: c for name in able if (c := work.closure(name, offered, able)) is not None}
        choices = self._choices(as_is, closures, offered, worn)
        seen: set[frozenset[str]] = set()
        for chosen in product(*choices):
            names = frozenset().union(*(closures[name] for name in chosen if name))
            if names in seen:
                continue
            seen.add(names)
            operations = tuple(offered[name] for name in sorted(names))
            if not compatible(operations):
                continue
            mode = self._mode(work, operations, as_is, able, worn)
            if mode is not None:
                yield mode

    def _beyond_work(self, work: PartWork, offered: Mapping[str, Operation]) -> bool:
        """Whether something that no operation can mend breaks, so that the part has no mode."""
        mended = {o.feature for o in offered.values() if o.effect != SERVICE} - self.fixed
        for requirement in self.alone:
            if not any(s == self.seat.name and f in mended for s, f in requirement.operands) and not self._holds(
                requirement, work.fact
            ):
                return True
        return any(x.feature not in mended and not self._ok(x.verdict(fact)) for x, fact in self._worn(work))

    def _choices(
        self,
        as_is: Mapping[str, Fact],
        closures: Mapping[str, frozenset[str]],
        offered: Mapping[str, Operation],
        worn: Worn,
    ) -> list[list[str]]:
        """For each feature that may be changed for its own sake, the operations that may, and '' for none."""
        by_feature: dict[str, list[str]] = defaultdict(list)
        beyond = {limit.feature for limit, fact in worn if not self._ok(limit.verdict(fact))}
        for name in closures:
            feature = offered[name].feature
            if feature in self.features or feature in beyond:
                by_feature[feature].append(name)
        out = []
        for feature, names in sorted(by_feature.items()):
            touching = [r for r in self.alone if (self.seat.name, feature) in r.operands]
            single = all({f for s, f in r.operands if s == self.seat.name} == {feature} for r in touching)
            holds = single and all(self._holds(r, as_is.__getitem__) for r in touching)
            if holds and feature not in self.joined and feature not in beyond:
                continue
            out.append(["", *names])
        return out

    def _mode(
        self,
        work: PartWork,
        operations: tuple[Operation, ...],
        as_is: Mapping[str, Fact],
        able: Mapping[str, Cut | Recoded],
        worn: Worn,
    ) -> Mode | None:
        """The mode, when what concerns this part alone holds and every operation has, or may have, a cause."""
        altered = any(o.effect != SERVICE for o in operations)
        if self.certain and self.own is not None and altered:  # no rule says what it may be altered to
            return None
        needed = {n for o in operations for n in o.needs}
        facts = dict(as_is)
        cuts: dict[str, Cut] = {}
        recoded: dict[str, Recoded] = {}
        for operation in operations:
            done = able.get(operation.name)
            if isinstance(done, Cut):
                cuts[operation.feature] = done
            elif isinstance(done, Recoded):
                recoded[operation.feature] = done
                facts[operation.feature] = done.after
        own = {feature: cut.own for feature, cut in cuts.items()}
        broken = {x.feature for x, fact in worn if not self._ok(x.verdict(fact))}
        if not broken <= {*cuts, *recoded}:
            return None
        kept = tuple((x, fact) for x, fact in worn if x.feature not in cuts and x.feature not in recoded)
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
            work.option,
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
            () if self.certain else self._open(work, cuts, recoded, kept),
            tuple(sorted(set().union(*(x.claims(fact) for x, fact in kept)))),
        )

    def _met_inside(self, feature: str, cuts: Mapping[str, Cut]) -> bool:
        """Whether another cut of this part meets this one in a rule, so that its cause is found with it."""
        return any(
            (self.seat.name, feature) in r.operands
            and sum(s == self.seat.name and f in cuts for s, f in r.operands) > 1
            for r in self.alone
        )

    def _open(
        self, work: PartWork, cuts: Mapping[str, Cut], recoded: Mapping[str, Recoded], kept: Worn
    ) -> tuple[Missing, ...]:
        """What has to be known for the work and of the wear, and is not; only a possible plan has any."""
        out = [m for c in cuts.values() for m in c.room.open]
        done: list[Cut | Recoded] = [*cuts.values(), *recoded.values()]
        for one in (d for d in done if not work.well_known(d)):
            feature = one.operation.feature
            measure = how_to_settle(self.seat.name, self.problem.features.get(feature), feature, {})
            out.append(Missing(self.seat.name, feature, work.option.part, one.before.why or "not known", measure))
        out += [x.missing(fact) for x, fact in kept if x.verdict(fact) is Verdict.UNKNOWN]
        if self._off_record(work.option) or (self.own is not None and done):
            out.append(seat_lacks_rule(self.seat.name, work.option.part, self.problem.words))
        return tuple(out)
