"""The tree of cases: the case that may be cheapest is split at the facts its plan hangs on, while work is left.

Rule 1: a case puts a fact between two sizes (or at one code) as if it had been read so; what is certain then holds
for every value in between. Nothing is inferred from single values.
Rule 2: a case for which no work is left is a leaf of which nothing is said.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import combinations, pairwise

from graph.model.bundle import Bundle
from graph.model.plan import Plan
from graph.model.verdict import Missing, Proof
from graph.planning.answer import written
from graph.planning.compile import Compiled, compiled
from graph.planning.problem import Problem
from graph.planning.search import SearchResult, k_best
from graph.planning.unknown_gap import OTHER, Gap, Given, completed, gaps_of, points_of, same

MOST_CASES = 24
"""Cases of one tree; with more the rest stay open."""

MOST_TREES = 24
"""Sets of measurements that are tried."""

MOST_WORK = 1_800_000
"""Pairs of options weighed in all looks together (one look at a core with many donors takes some 150,000)."""

KEPT_BACK = 500_000
"""Of these, for putting like cases together and for what settles the question."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One case looked at: the certain and the possible optimum, and where the latter may be split."""

    sure: Plan | None
    maybe: Plan | None
    beyond: tuple[Missing, ...]
    splits: tuple[tuple[Gap, tuple[int, ...]], ...]

    @property
    def settled(self) -> bool:
        """Whether it follows for every value of the facts."""
        return self.sure is not None or self.maybe is None


@dataclass(slots=True)
class Tree:
    """The cases looked at so far; `left`: pairs of options that may still be weighed."""

    bundle: Bundle
    stop: Callable[[], bool]
    resolution: dict[str, int]
    left: int = field(default_factory=lambda: MOST_WORK)
    seen: dict[Given, Seen] = field(default_factory=dict)
    quick: dict[Given, bool] = field(default_factory=dict)

    def look(self, given: Given) -> Seen | None:
        """What is so in a case; None: that is not worked out, and no work is left for it."""
        if given not in self.seen:
            seen = None if self.spent() else self._look(given)
            if seen is None:
                return None
            self.seen[given] = seen
        return self.seen[given]

    def _look(self, given: Given) -> Seen | None:
        problem = Problem(self.given(given))
        plans: list[Plan | None] = []
        for certain in (True, False):
            made = compiled(problem, certain=certain)
            found = self._cheapest(made)
            if found.proof is Proof.UNDECIDED:
                return None
            if not found.solutions:
                plans.append(None)
                continue
            one, open_, facts = written(made, found.solutions[0].choice)
            plans.append(one)
        sure, maybe = plans
        if maybe is None:
            return Seen(sure, None, (), ())
        gaps, beyond = [], []
        for missing in open_:
            mine = list(gaps_of(problem, maybe, missing))
            gaps += mine
            beyond += [] if mine or _cut(maybe, missing) else [missing]
        known = {same(gap): taken for gap, taken in given}
        splits = []
        for gap in gaps:
            taken = known.get(same(gap), (gap.low, gap.high))
            points = tuple(sorted(set(points_of(problem, maybe, facts, gap)))) if not gap.codes else ()
            if isinstance(taken, tuple):
                splits.append((gap, tuple(p for p in points if taken[0] <= p < taken[1])))
        return Seen(sure, maybe, tuple(beyond), tuple(splits))

    def _cheapest(self, made: Compiled) -> SearchResult:
        self.left -= sum(len(own) for own in made.network.unary) ** 2 // 2
        found = k_best(made.network, 1, stop=self.stop)
        if found.proof is Proof.UNDECIDED:
            self.left = 0
        return found

    def spent(self) -> bool:
        """Whether nothing more may be looked at."""
        if self.stop():
            self.left = 0
        return self.left <= 0

    def settled(self, given: Given) -> bool:
        """Whether a case is known to be settled, without its plans."""
        if given in self.seen:
            return self.seen[given].settled
        if given not in self.quick:
            if self.spent():
                return False
            problem = Problem(self.given(given))
            sure = self._cheapest(compiled(problem, certain=True))
            self.quick[given] = bool(sure.solutions) or (
                sure.proof is Proof.IMPOSSIBLE
                and self._cheapest(compiled(problem, certain=False)).proof is Proof.IMPOSSIBLE
            )
        return self.quick[given]

    def given(self, given: Given) -> Bundle:
        """The bundle as if these facts had been found so."""
        bundle = self.bundle
        for gap, taken in given:
            bundle = completed(bundle, gap, taken)
        return bundle

    def grow(self, allowed: frozenset[tuple[str, ...]] | None = None) -> list[Given]:
        """The leaves of the tree that splits only the allowed gaps (None: all), each fact's parts from low to high.

        The case that may be cheapest is split first; of equal ones the deepest, then the one in the middle.
        """
        leaves: dict[tuple[int, ...], Given] = {}
        waiting: list[tuple[int, int, int, tuple[int, ...], Given]] = [(0, 0, 0, (), ())]
        while waiting:
            _, _, _, path, given = heappop(waiting)
            now = self.look(given) if given in self.seen or self.left > KEPT_BACK else None
            parts = None
            if now is not None and not now.settled and len(waiting) + len(leaves) < MOST_CASES:
                parts = self._parts(given, now, allowed)
            if parts is None or now is None or now.maybe is None:
                leaves[path] = given
                continue
            for n, part in enumerate(parts):
                off = abs(2 * n + 1 - len(parts))
                heappush(waiting, (now.maybe.cost, -len(path) - 1, off, (*path, n), part))
        return self._merged([leaves[path] for path in sorted(leaves)])

    def _merged(self, leaves: list[Given]) -> list[Given]:
        """Neighbours of which the same is said made one, where that holds for the whole."""
        out: list[Given] = []
        for given in leaves:
            whole = _joined(out[-1], given) if out else None
            if whole is not None and self._alike(out[-1], given) and self._alike(whole, given):
                out[-1] = whole
                continue
            out.append(given)
        return out

    def _alike(self, one: Given, other: Given) -> bool:
        first, second = self.look(one), self.look(other)
        if first is None or second is None:
            return False
        if not (first.settled and second.settled) or (first.sure is None) is not (second.sure is None):
            return False
        return first.sure is None or second.sure is None or first.sure.identity == second.sure.identity

    def _parts(self, given: Given, now: Seen, allowed: frozenset[tuple[str, ...]] | None) -> list[Given] | None:
        known = {same(gap): (i, taken) for i, (gap, taken) in enumerate(given)}
        offered = [(gap, points) for gap, points in now.splits if allowed is None or same(gap) in allowed]
        # What is not known at all comes before what is known too roughly.
        for gap, points in sorted(offered, key=lambda offer: offer[0].bounded):
            here = known.get(same(gap))
            if gap.codes:
                if here is None:
                    return [(*given, (gap, code)) for code in (*gap.codes, OTHER)]
                continue
            if points:
                return self._divided(given, gap, points)
        rough = [gap for gap, _ in given if not gap.codes] + [gap for gap, _ in offered if not gap.codes]
        for gap in rough:
            ends = self._sharpened(given, gap)
            if ends:
                return self._divided(given, gap, ends)
        return None

    def _divided(self, given: Given, gap: Gap, points: Sequence[int]) -> list[Given]:
        """The case in parts: each point is the last size of the lower part."""
        first, (low, high), rest = self._held(given, gap)
        ends = [low - 1, *points, high]
        return [(*rest, (first, (a + 1, b))) for a, b in pairwise(ends) if a < b]

    def _held(self, given: Given, gap: Gap) -> tuple[Gap, tuple[int, int], Given]:
        for i, (other, taken) in enumerate(given):
            if same(other) == same(gap) and isinstance(taken, tuple):
                return other, taken, given[:i] + given[i + 1 :]
        return gap, (gap.low, gap.high), given

    def _sharpened(self, given: Given, gap: Gap) -> list[int]:
        """Where the largest settled stretch at either end of a fact's range ends, by halving."""
        first, (low, high), rest = self._held(given, gap)
        fine = self.resolution.get(gap.quantity, 1)
        if high - low < fine:
            return []

        def settled(a: int, b: int) -> bool:
            return self.settled((*rest, (first, (a, b))))

        points = []
        if settled(low, low):
            good, bad = low, high
            while bad - good > fine:
                middle = (good + bad) // 2
                good, bad = (middle, bad) if settled(low, middle) else (good, middle)
            points.append(good // fine * fine)
        if settled(high, high):
            bad, good = low, high
            while good - bad > fine:
                middle = (good + bad) // 2
                good, bad = (middle, bad) if settled(middle, high) else (good, middle)
            points.append(-(-good // fine) * fine - 1)
        return sorted({p for p in points if low < p < high - 1})


def deciding(tree: Tree, leaves: Sequence[Given]) -> tuple[tuple[Missing, ...], ...]:
    """The minimal sets of facts that settle the verdict as far as all of them together do, smallest first.

    None where the work ended before all that the cases could tell was known, or before a set was found.
    """
    split: dict[tuple[str, ...], Missing] = {}
    for given in leaves:
        for gap, _ in given:
            split.setdefault(same(gap), gap.missing)
    looks = [(given, tree.look(given)) for given in leaves]
    if not split or tree.left <= 0 or any(look is None for _, look in looks):
        return ()
    left = [given for given, look in looks if look is None or not look.settled]
    needed = frozenset(key for key in split if _needed(tree, leaves, key))
    others = [key for key in split if key not in needed]
    found: list[frozenset[tuple[str, ...]]] = []
    tried = 0
    for size in range(len(others) + 1):
        for some in combinations(others, size):
            mine = needed | frozenset(some)
            if any(f <= mine for f in found):
                continue
            tried += 1
            if tried > MOST_TREES:
                break
            open_ = [] if size == len(others) else [g for g in tree.grow(mine) if not tree.settled(g)]
            if all(any(_inside(g, other) for other in left) for g in open_):
                found.append(mine)
    return tuple(tuple(split[key] for key in split if key in mine) for mine in found if mine and tree.left > 0)


def _needed(tree: Tree, leaves: Sequence[Given], key: tuple[str, ...]) -> bool:
    """Whether no other facts settle what this one does: a settled case is open with the fact left out of it."""
    for given in leaves:
        without = tuple((gap, taken) for gap, taken in given if same(gap) != key)
        if without != given and tree.settled(given) and not tree.settled(without):
            return True
    return False


def _cut(one: Plan, missing: Missing) -> bool:
    """Whether the plan itself makes the size, so that no measurement of it is wanted."""
    return any((step.seat, step.feature) == (missing.seat, missing.feature) for step in one.steps)


def _joined(one: Given, other: Given) -> Given | None:
    """Two cases that differ in one fact, whose bounds touch, as one."""
    differ = [i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b]
    if len(one) != len(other) or len(differ) != 1:
        return None
    i = differ[0]
    (gap, low), (twin, high) = one[i], other[i]
    if gap != twin or isinstance(low, str) or isinstance(high, str) or low[1] + 1 != high[0]:
        return None
    return (*one[:i], (gap, (low[0], high[1])), *one[i + 1 :])


def _inside(given: Given, other: Given) -> bool:
    """Whether all that is so in one case is so in the other."""
    mine = {same(gap): taken for gap, taken in given}
    for gap, wide in other:
        narrow = mine.get(same(gap))
        if isinstance(wide, str) or isinstance(narrow, str) or narrow is None:
            if narrow != wide:
                return False
        elif not (wide[0] <= narrow[0] and narrow[1] <= wide[1]):
            return False
    return True
