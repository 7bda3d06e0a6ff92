"""What an operation does to the part that may fill a seat: a cut with its limit, or a code that changes.

Rule 1: how far a size must go with regard to other seats is decided in `meeting`, never here.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from graph.model.fact import Alternative, Fact
from graph.model.record import Operation
from graph.model.said import say
from graph.model.value import Amount, spelled_code
from graph.model.verdict import Missing
from graph.planning.options import EMPTY, Option
from graph.planning.problem import SERVICE, Problem
from graph.planning.requirement import FAR, Spans, codes_of
from graph.planning.room import REDUCE, WIDEN, Room, room
from graph.rules.spoken import as_written

CUTS = (WIDEN, REDUCE)
CODE_WORK = ("set_code", "add_feature", "remove_feature")
NONE = "none"


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


class PartWork:
    """The work on one option; `certain` says how to take what is not known."""

    def __init__(self, problem: Problem, option: Option, certain: bool) -> None:
        self.problem = problem
        self.option = option
        self.certain = certain

    def fact(self, feature: str) -> Fact:
        """A feature as it is."""
        if self.option.found is not None:
            return self.problem.found_fact(self.option.found, feature)
        return self.problem.kind_fact(self.option.part, feature, used=False)

    def done(self, operation: Operation, before: Fact) -> Cut | Recoded | None:
        """What the operation changes on this part; None when it cannot or would change nothing."""
        if operation.effect in CODE_WORK:
            return (
                Recoded(operation, before, _after(operation, before)) if self._permitted(operation, before) else None
            )
        return self._cut(operation, before) if operation.effect in CUTS else None

    def _permitted(self, operation: Operation, before: Fact) -> bool:
        if operation.effect != "remove_feature" and (operation.to_value is None or _is_amount(operation.to_value)):
            return False
        if not before.settles:
            return not self.certain
        if before.low is not None:
            return False
        said = [_permits(operation, {spelled_code(c) for c in a.codes}) for a in before.alternatives]
        return all(said) if self.certain else any(said)

    def _cut(self, operation: Operation, before: Fact) -> Cut | Recoded | None:
        if not before.settles:
            return None if self.certain else Recoded(operation, before, _after(operation, before))
        if before.low is None or before.high is None or (self.certain and operation.tolerance is None):
            return None
        left = self.room(operation, before)
        if self.certain and not left.known:
            return None
        way = 1 if operation.effect == WIDEN else -1
        near, far = before.high + 1 if way > 0 else -(before.low - 1), FAR
        if left.limit is not None:
            far = way * left.limit - (operation.tolerance or 0)
        if near > far:
            return None
        return Cut(operation, before, left, ((near, far) if way > 0 else (-far, -near),))

    def _wall(self, feature: str) -> Fact:
        """The readings of a wall on this very part; the drawing's wall is no reading."""
        found = self.option.found
        if found is None or feature not in self.problem.readings(found):
            return Fact(self.option.part, feature, "unknown", why=say("wall not read on this part"))
        return self.problem.found_fact(found, feature)

    def room(self, operation: Operation, before: Fact) -> Room:
        """How far the cut may go, and what is missing to say so."""
        option, seat = self.option, self.option.seat.name

        def fact(feature: str) -> Fact:
            return self._wall(feature) if feature == operation.wall_feature else self.fact(feature)

        limits = option.record.limits if option.record is not None else ()
        words = self.problem.labels
        stating = [self.problem.kind_fact(option.part, operation.feature, used=False)]
        if option.found is not None:
            stating.append(self.problem.read_fact(option.found, operation.feature))
        left = room(operation, before, stating, fact, limits, seat=seat, part=option.part, words=words)
        if operation.tolerance is not None:
            return left
        lacking = Missing(
            seat,
            operation.feature,
            option.part,
            "no tolerance on record for this cut",
            f"state how closely {operation.label} holds its size",
        )
        return Room(left.limit, left.basis, left.claims, (*left.open, lacking))

    def barred(self, name: str) -> bool:
        """Whether a needed operation would be one of this part's, were it not wished away."""
        operation = self.problem.operations.get(name)
        if operation is None or not operation.kind or f"no-operation:{name}" not in self.problem.wishes:
            return False
        return operation.kind in self.problem.lineage(self.option.kind) and not self.already(operation)

    def already(self, operation: Operation) -> bool:
        """Whether the result of a code operation is there already, known."""
        if operation.effect not in CODE_WORK:
            return False
        fact = self.fact(operation.feature)
        wanted = _result(operation)
        return fact.settles and all({spelled_code(c) for c in a.codes} == wanted for a in fact.alternatives)

    def closure(
        self, name: str, offered: Mapping[str, Operation], work: Mapping[str, Cut | Recoded]
    ) -> frozenset[str] | None:
        """The operation with all it needs on this part; None when something it needs cannot be done."""
        out: set[str] = set()
        waiting = [name]
        while waiting:
            operation = offered[waiting.pop()]
            if operation.name in out:
                continue
            if operation.effect != SERVICE and operation.name not in work:
                if operation.name != name and self.already(operation):
                    continue
                return None
            out.add(operation.name)
            for needed in operation.needs:
                if needed in offered:
                    waiting.append(needed)
                elif self.barred(needed):
                    return None
        return frozenset(out)

    def well_known(self, done: Cut | Recoded) -> bool:
        """Whether all that the work needs to know of its feature is known."""
        before = done.before
        if isinstance(done, Recoded) and before.settles and done.operation.effect in CODE_WORK:
            return all(_permits(done.operation, {spelled_code(c) for c in a.codes}) for a in before.alternatives)
        return before.settles


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
        return Fact(before.subject, before.feature, "unknown", why=say("the size before the cut is not known"))
    codes = tuple(sorted(_result(operation)))
    shown = as_written(value) if value is not None and operation.effect != "remove_feature" else NONE
    said = (operation.said,) if operation.said else ()
    return Fact(before.subject, before.feature, "machined", "", (Alternative(codes=codes, claims=said, shown=shown),))


def compatible(operations: Iterable[Operation]) -> bool:
    """No operation excludes another of the set, and no two change one feature."""
    names = {o.name for o in operations}
    features = [o.feature for o in operations if o.effect != SERVICE]
    return len(features) == len(set(features)) and not any(names & set(o.excludes) for o in operations)


def rooms(problem: Problem, option: Option, feature: str) -> list[tuple[Operation, Room]]:
    """How far each cut on record may take a known size of this part, wished-away cuts left out."""
    work = PartWork(problem, option, False)
    before = work.fact(feature)
    if not before.settles or before.low is None or option.source == EMPTY:
        return []
    offered = problem.operations_for(option.kind)
    return [(o, work.room(o, before)) for o in offered if o.effect in CUTS and o.feature == feature]
