"""Whether machining brings a part to keep what another keeps: the edge's condition on the state after machining."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from graph.interchange.follows import ends, keeps
from graph.model.fact import Alternative, Fact
from graph.model.interchange import Keeps
from graph.model.record import Operation, Part, Rule
from graph.model.value import NONE, Code, CodeSet, spelled_code
from graph.model.verdict import Missing
from graph.planning.room import REDUCE, WIDEN, room
from graph.rules.decide import Pairs

CODE_WORK = ("set_code", "add_feature", "remove_feature")


@dataclass(frozen=True, slots=True)
class Mend:
    """The condition as it is said; with something missing it is none yet."""

    text: str
    missing: tuple[Missing, ...] = ()


def cut_mend(
    ours: Fact,
    theirs: Fact,
    offered: Iterable[Operation],
    *,
    low: bool,
    high: bool,
    wide: int | None,
    part: Part,
    fact: Callable[[str], Fact],
    suit: str,
    seat: str,
    words: Mapping[str, str],
    mates: Sequence[Operation],
) -> Mend | None:
    """The second part cut to suit, so that it suits every partner that the first suits as it is.

    `low`, `high`: whether the size is bounded from below and above; `wide`: how narrow the span is at least that a
    partner leaves (None: open on one side).
    """
    first, second = ends(ours), ends(theirs)
    waiting: Mend | None = None
    for operation in offered:
        if operation.tolerance is None or operation.effect not in (WIDEN, REDUCE) or _tied(operation, mates):
            continue
        left = room(operation, theirs, [theirs], fact, part.limits, seat=seat, part=part.key, words=words)
        called = words.get(operation.feature, operation.feature)
        done = "set" if operation.reversible else "cut"
        text = f"once its {called} is {done} to suit the same {suit} ({operation.label})"
        if not reaches(operation, first, second, low=low, high=high, wide=wide, limit=None):
            continue
        if left.known:
            if reaches(operation, first, second, low=low, high=high, wide=wide, limit=left.limit):
                return Mend(text)
        elif left.limit is None or reaches(operation, first, second, low=low, high=high, wide=wide, limit=left.limit):
            waiting = waiting or Mend(f"{text}; how far it may go is not known", left.open)
    return waiting


def reaches(
    operation: Operation,
    first: tuple[int, int],
    second: tuple[int, int],
    *,
    low: bool,
    high: bool,
    wide: int | None,
    limit: int | None,
) -> bool:
    """Whether for every span that holds the first size the second, as it is or cut, lies in it (docs/interchange.md).

    Without a limit the part's own room is not looked at.
    """
    capability = operation.tolerance or 0
    if operation.effect == REDUCE:
        first, second = (-first[1], -first[0]), (-second[1], -second[0])
        low, high = high, low
        limit = None if limit is None else -limit
    if not low or (high and second[1] > first[1]):
        return False
    if wide is not None and (wide < 2 * capability or wide < second[1] - second[0] + capability):
        return False
    return limit is None or max(first[0] + 2 * capability, second[1] + 1 + capability) <= limit


def code_mend(
    rules: Sequence[tuple[Rule, tuple[int, ...], Pairs, bool]],
    ours: Fact,
    theirs: Fact,
    offered: Iterable[Operation],
    mates: Sequence[Operation],
) -> Mend | None:
    """The second part's code changed, so that every rule on it is kept."""
    for operation in offered:
        if operation.effect not in CODE_WORK or _tied(operation, mates):
            continue
        result = _result(operation)
        if not result or not all(_permits(operation, a, result) for a in theirs.alternatives):
            continue
        after = Fact(theirs.subject, theirs.feature, "machined", "", (Alternative(codes=result),))
        if all(keeps(r, own, [ours], [after], pairs, sets=sets) is Keeps.KEPT for r, own, pairs, sets in rules):
            return Mend(f"once this is done to it: {operation.label}")
    return None


def _tied(operation: Operation, mates: Sequence[Operation]) -> bool:
    """Whether it needs other work on the same part that changes something, too."""
    names = {o.name for o in mates if o.effect != "service"}
    return any(needed in names for needed in operation.needs)


def _result(operation: Operation) -> tuple[str, ...]:
    if operation.effect == "remove_feature":
        return (NONE,)
    value = operation.to_value
    if isinstance(value, Code):
        return (value.code,)
    return value.codes if isinstance(value, CodeSet) else ()


def _permits(operation: Operation, before: Alternative, result: tuple[str, ...]) -> bool:
    codes = {spelled_code(c) for c in before.codes}
    if operation.effect == "set_code":
        return codes != {NONE} and codes != {spelled_code(c) for c in result}
    return (codes == {NONE}) == (operation.effect == "add_feature")
