"""What follows from facts that are not known: the plan in each case, what holds in all, and what settles it.

Rule 1: a case puts a fact between two sizes (or at one code) as if it had been read so; what is certain then holds
for every value in between. Nothing is inferred from single values.
Rule 2: a case that cannot be settled so is said to be open, with the cost below which no plan in it lies.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, pairwise

from graph.errors import Unanswerable
from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.depth import Condition, OutcomeCase, UnknownAnswer
from graph.model.fact import Fact
from graph.model.plan import Plan, PlanAnswer
from graph.model.record import Core, FoundPart
from graph.model.value import NONE, Amount, Code
from graph.model.verdict import Missing, Proof, Verdict
from graph.planning.answer import never, plan, written
from graph.planning.compile import compiled
from graph.planning.explain import money_text
from graph.planning.options import DONOR, KEPT, NEW
from graph.planning.problem import ENGINE, Problem
from graph.planning.requirement import EVERYWHERE
from graph.planning.room import WIDEN
from graph.planning.search import k_best
from graph.rules.spoken import number

MOST_CASES = 24
"""Cases of one tree; with more the rest stay open."""

MOST_TREES = 24
"""Sets of measurements that are tried."""

OTHER = "*"
"""Any code but those that are told apart."""

RESOLUTION = {"length": 100_000}
"""Sizes closer than this (0.01 mm) are not told apart; other quantities down to one quantum."""


@dataclass(frozen=True, slots=True)
class Gap:
    """One fact that is not known: of one very part (kept, or a donor's), of a kind (new), or the engine's.

    `positions` are read together: the thinnest of the walls counts. `low`..`high`: between these it lies on record.
    """

    seat: str
    source: str
    lot: str
    part: str
    feature: str
    positions: tuple[str, ...]
    quantity: str
    low: int
    high: int
    codes: tuple[str, ...]
    bounded: bool = field(compare=False)
    missing: Missing = field(compare=False)


Range = tuple[int, int] | str
Given = tuple[tuple[Gap, Range], ...]


@dataclass(frozen=True, slots=True)
class _Seen:
    """One case looked at: the certain and the possible optimum, and the gaps on which the possible one hangs."""

    sure: Plan | None
    maybe: Plan | None
    gaps: tuple[Gap, ...]
    beyond: tuple[Missing, ...]
    splits: tuple[tuple[Gap, tuple[int, ...]], ...]

    @property
    def settled(self) -> bool:
        return self.sure is not None or self.maybe is None


@dataclass(slots=True)
class _Tree:
    bundle: Bundle
    stop: Callable[[], bool]
    resolution: dict[str, int]
    seen: dict[Given, _Seen] = field(default_factory=dict)
    quick: dict[Given, bool] = field(default_factory=dict)

    def look(self, given: Given) -> _Seen:
        if given not in self.seen:
            self.seen[given] = self._look(given)
        return self.seen[given]

    def _look(self, given: Given) -> _Seen:
        if self.stop():
            raise Unanswerable("the cases were not settled before the limit was reached", fix="give it more time")
        problem = Problem(self.given(given))
        plans: list[Plan | None] = []
        for certain in (True, False):
            made = compiled(problem, certain=certain)
            found = k_best(made.network, 1, stop=self.stop)
            if found.proof is Proof.UNDECIDED:
                raise Unanswerable("the cases were not settled before the limit was reached", fix="give it more time")
            if not found.solutions:
                plans.append(None)
                continue
            one, open_, facts = written(made, found.solutions[0].choice)
            plans.append(one)
        sure, maybe = plans
        if maybe is None:
            return _Seen(sure, None, (), (), ())
        gaps, beyond = [], []
        for missing in open_:
            mine = list(gaps_of(problem, maybe, missing))
            gaps += mine
            beyond += [] if mine else [missing]
        known = {_same(gap): taken for gap, taken in given}
        splits = []
        for gap in gaps:
            taken = known.get(_same(gap), (gap.low, gap.high))
            points = tuple(sorted(set(_points(problem, maybe, facts, gap)))) if not gap.codes else ()
            if isinstance(taken, tuple):
                splits.append((gap, tuple(p for p in points if taken[0] <= p < taken[1])))
        return _Seen(sure, maybe, tuple(gaps), tuple(beyond), tuple(splits))

    def settled(self, given: Given) -> bool:
        """Whether a case is settled, without its plans."""
        if given in self.seen:
            return self.seen[given].settled
        if given not in self.quick:
            problem = Problem(self.given(given))
            sure = k_best(compiled(problem, certain=True).network, 1, stop=self.stop)
            self.quick[given] = bool(sure.solutions) or (
                sure.proof is Proof.IMPOSSIBLE
                and k_best(compiled(problem, certain=False).network, 1, stop=self.stop).proof is Proof.IMPOSSIBLE
            )
        return self.quick[given]

    def given(self, given: Given) -> Bundle:
        """The bundle as if these facts had been found so."""
        bundle = self.bundle
        for gap, taken in given:
            bundle = completed(bundle, gap, taken)
        return bundle

    def grow(self, allowed: frozenset[tuple[str, ...]] | None = None) -> list[Given]:
        """The leaves of the tree that splits only the allowed gaps (None: all)."""
        leaves: list[Given] = []
        waiting: list[Given] = [()]
        while waiting:
            given = waiting.pop(0)
            now = self.look(given)
            parts = None
            if not now.settled and len(waiting) + len(leaves) < MOST_CASES:
                parts = self._parts(given, now, allowed)
            if parts is None:
                leaves.append(given)
            else:
                waiting = parts + waiting
        return self._merged(leaves)

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
        if not (first.settled and second.settled) or (first.sure is None) is not (second.sure is None):
            return False
        return first.sure is None or second.sure is None or first.sure.identity == second.sure.identity

    def _parts(self, given: Given, now: _Seen, allowed: frozenset[tuple[str, ...]] | None) -> list[Given] | None:
        known = {_same(gap): (i, taken) for i, (gap, taken) in enumerate(given)}
        offered = [(gap, points) for gap, points in now.splits if allowed is None or _same(gap) in allowed]
        # What is not known at all comes before what is known too roughly.
        for gap, points in sorted(offered, key=lambda offer: offer[0].bounded):
            here = known.get(_same(gap))
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
            if _same(other) == _same(gap) and isinstance(taken, tuple):
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


def _same(gap: Gap) -> tuple[str, ...]:
    """What tells one fact from another."""
    return (gap.seat, gap.source, gap.lot, gap.part, gap.feature, *gap.positions)


def gaps_of(problem: Problem, one: Plan, missing: Missing) -> Iterator[Gap]:
    """The facts behind what a plan hangs on; none where it is a limit or a tolerance that nobody stated."""
    seat, feature = missing.seat, missing.feature
    known = problem.features.get(feature)
    if (
        known is None
        or known.type in ("set", "text")
        or missing.why.startswith(("no limit", "no tolerance", "no least"))
    ):
        return
    found = None
    if seat == ENGINE:
        source, lot, part = ENGINE, "", problem.bundle.engine.key
        fact = problem.engine_fact(feature)
        places: list[tuple[str, ...]] = []
    else:
        choice = next(c for c in one.seats if c.seat == seat)
        source, lot, part = choice.source, choice.lot if choice.source == DONOR else "", choice.part
        if source not in (KEPT, DONOR, NEW):
            return
        found = _found(problem.bundle, source, lot, seat)
        fact = problem.kind_fact(part, feature, used=False) if found is None else problem.found_fact(found, feature)
        places = [
            o.wall_positions for o in problem.operations.values() if o.wall_feature == feature and o.wall_positions
        ]
        if places:
            read = (
                {a.position for a in problem.found_fact(found, feature).alternatives} if found is not None else set()
            )
            unread = tuple(p for p in places[0] if p not in read)
            if unread:
                low, high = reach(problem, feature)
                quantity = known.type
                yield Gap(seat, source, lot, part, feature, unread, quantity, low, high, (), False, missing)
                return
    if known.type == "code":
        codes = (
            tuple(sorted({c for a in fact.alternatives for c in a.codes}))
            if fact.settles
            else _codes(problem, feature)
        )
        yield Gap(seat, source, lot, part, feature, ("",), "", 0, 0, codes, fact.settles, missing)
        return
    if not fact.settles or fact.low is None or fact.high is None:
        low, high = reach(problem, feature)
        yield Gap(seat, source, lot, part, feature, ("",), known.type, low, high, (), False, missing)
        return
    for position in dict.fromkeys(a.position for a in fact.alternatives):
        rivals = [a for a in fact.alternatives if a.position == position]
        low, high = min(a.low or 0 for a in rivals), max(a.high or 0 for a in rivals)
        measured = source in (KEPT, DONOR) and found is not None and any(c.feature == feature for c in found.readings)
        if low < high and (measured or len(rivals) > 1):  # a drawing's tolerance is nothing that somebody forgot
            yield Gap(seat, source, lot, part, feature, (position,), fact.quantity, low, high, (), True, missing)


def reach(problem: Problem, feature: str) -> tuple[int, int]:
    """From nothing to four times the largest size on record, of the feature or of what rules hold it against."""
    names = _related(problem, feature)
    bundle = problem.bundle
    claims = [c for p in bundle.parts for c in p.claims] + list(bundle.engine.claims)
    claims += [c for core in (bundle.core, *bundle.donors) for f in core.found for c in f.readings]
    sizes = [c.value.amount for c in claims if c.feature in names and isinstance(c.value, Amount)]
    sizes += [x.min or x.max or 0 for part in bundle.parts for x in part.limits if x.feature == feature]
    return 0, 4 * max([abs(x) for x in sizes], default=1_000_000_000)


def _related(problem: Problem, feature: str) -> set[str]:
    """The feature with all that some rule holds it against."""
    names = {feature}
    for rule in problem.layout.rules:
        if any(f == feature for _, f in rule.operands):
            names |= {f for _, f in rule.operands}
    return names


def _codes(problem: Problem, feature: str) -> tuple[str, ...]:
    """The codes on record for a feature and for what rules hold it against, those that work can make included."""
    names = _related(problem, feature)
    bundle = problem.bundle
    claims = [c for p in bundle.parts for c in p.claims] + list(bundle.engine.claims)
    claims += [c for core in (bundle.core, *bundle.donors) for f in core.found for c in f.readings]
    made = [o.to_value for o in bundle.operations if o.feature in names]
    codes = {v.code for v in made if isinstance(v, Code)}
    codes |= {c.value.code for c in claims if c.feature in names and isinstance(c.value, Code)} | {NONE}
    codes |= {d.value.code for d in problem.bundle.build.demands if d.feature in names and isinstance(d.value, Code)}
    for left, right in (pair for pairs in problem.accepted.values() for pair in pairs):
        codes |= {left, right} if any(c in codes for c in (left, right)) else set()
    return tuple(sorted(codes))


def _found(bundle: Bundle, source: str, lot: str, seat: str) -> FoundPart | None:
    donors = tuple(d for d in bundle.donors if d.tag == lot)
    cores = (bundle.core,) if source == KEPT else donors if source == DONOR else ()
    return next((f for core in cores for f in core.found if f.seat == seat), None)


def completed(bundle: Bundle, gap: Gap, taken: Range) -> Bundle:
    """The bundle as if the fact had been found so."""
    values: list[tuple[Amount | Code, int | None]]
    if isinstance(taken, str):
        values = [(Code(f"none of these: {', '.join(gap.codes)}" if taken == OTHER else taken), None)]
    else:
        low, high = taken
        even = high - (low + high) % 2  # a claim has a middle, so the last quantum may need one of its own
        values = [(Amount((low + even) // 2, gap.quantity), (even - low) // 2)]
        values += [(Amount(high, gap.quantity), 0)] if even < high else []
    rank = Rank.MEASURED if gap.source in (KEPT, DONOR) else Rank.DRAWING

    def claims(before: Sequence[Claim]) -> tuple[Claim, ...]:
        mine = [c for c in before if c.feature == gap.feature and c.position in gap.positions]
        low_end = max((c.limit_min for c in mine if c.limit_min is not None), default=None)
        high_end = min((c.limit_max for c in mine if c.limit_max is not None), default=None)
        rest = [c for c in before if c not in mine]
        made = [
            Claim(
                f"if:{gap.seat}:{gap.feature}:{p}:{n}", gap.part, gap.feature, value, "if it turns out so", rank,
                tolerance=slack, position=p, limit_min=low_end, limit_max=high_end,
            )
            for p in gap.positions
            for n, (value, slack) in enumerate(values)
        ]  # fmt: skip
        return (*rest, *made)

    if gap.source == ENGINE:
        return replace(bundle, engine=replace(bundle.engine, claims=claims(bundle.engine.claims)))
    if gap.source == NEW:
        parts = tuple(replace(p, claims=claims(p.claims)) if p.key == gap.part else p for p in bundle.parts)
        return replace(bundle, parts=parts)

    def read(core: Core) -> Core:
        found = tuple(replace(f, readings=claims(f.readings)) if f.seat == gap.seat else f for f in core.found)
        return replace(core, found=found)

    if gap.source == KEPT:
        return replace(bundle, core=read(bundle.core))
    return replace(bundle, donors=tuple(read(d) if d.tag == gap.lot else d for d in bundle.donors))


def _points(problem: Problem, one: Plan, facts: dict[tuple[str, str], Fact | None], gap: Gap) -> Iterator[int]:
    """Sizes at which something that the plan hangs on changes: the last size of the lower part."""
    place = (gap.seat, gap.feature)
    for requirement in problem.requirements:
        if place not in requirement.operands or requirement.operands.count(place) > 1:
            continue
        sides = [facts.get(o) for o in requirement.operands]
        for certain in (True, False):
            spans = requirement.sizes(sides, requirement.operands.index(place), 0, gap.quantity, certain)
            for low, high in () if spans is EVERYWHERE else spans:
                yield from (low - 1, high)
    for step in one.steps:
        operation = problem.operations[step.operation]
        if step.seat != gap.seat or operation.wall_feature != gap.feature or step.least is None:
            continue
        part = problem.parts.get(step.part)
        least = max(
            (x.min for x in (part.limits if part else ()) if x.feature == gap.feature and x.min), default=None
        )
        choice = next(c for c in one.seats if c.seat == gap.seat)
        found = _found(problem.bundle, choice.source, choice.lot, gap.seat)
        before = (
            problem.kind_fact(step.part, step.feature, used=False)
            if found is None
            else problem.found_fact(found, step.feature)
        )
        if least is None or before.low is None or before.high is None:
            continue
        change = step.least + step.tolerance - before.low
        if operation.effect != WIDEN:
            change = before.high - (step.least - step.tolerance)
        share = 2 if operation.wall_share == "half" else 1
        yield -(-change // share) + (operation.core_shift or 0) + least - 1


def unknown(
    bundle: Bundle, *, stop: Callable[[], bool] = never, resolution: dict[str, int] | None = None
) -> tuple[UnknownAnswer, tuple[Bundle, ...]]:
    """The cases of a question that hangs on missing facts, and for each the bundle as if they had turned out so.

    A question that hangs on nothing is one case. `resolution`: quanta that are told apart, by quantity.

    Raises
    ------
    Unanswerable
        Stopped before it was settled.
    """
    bundle = replace(bundle, question=replace(bundle.question, best=1))
    answer = replace(plan(bundle, stop=stop), bundle=None)
    if answer.proof is Proof.UNDECIDED:
        raise Unanswerable("the question was not settled before the limit was reached", fix="give it more time")
    tree = _Tree(bundle, stop, RESOLUTION if resolution is None else resolution)
    leaves = tree.grow()
    cases = tuple(_case(tree, given) for given in leaves)
    sets = _deciding(tree, leaves)
    beyond = tuple(dict.fromkeys(m for given in leaves for m in tree.look(given).beyond))
    holds = tuple(_holds(cases))
    complete = all(c.settled for c in cases)
    said = _sentence(answer, cases, sets, complete)
    found = UnknownAnswer(bundle.question, bundle.snapshot, answer, holds, cases, sets, beyond, complete, said)
    return found, tuple(tree.given(given) for given in leaves)


def _deciding(tree: _Tree, leaves: Sequence[Given]) -> tuple[tuple[Missing, ...], ...]:
    """The minimal sets of facts that settle the verdict as far as all of them together do, smallest first."""
    split: dict[tuple[str, ...], Missing] = {}
    for given in leaves:
        for gap, _ in given:
            split.setdefault(_same(gap), gap.missing)
    if not split:
        return ()
    left = [given for given in leaves if not tree.look(given).settled]
    found: list[frozenset[tuple[str, ...]]] = []
    tried = 0
    for size in range(len(split) + 1):
        for some in combinations(split, size):
            mine = frozenset(some)
            if any(f <= mine for f in found):
                continue
            tried += 1
            if tried > MOST_TREES:
                break
            open_ = [] if size == len(split) else [g for g in tree.grow(mine) if not tree.look(g).settled]
            if all(any(_inside(g, other) for other in left) for g in open_):
                found.append(mine)
    return tuple(tuple(split[key] for key in split if key in mine) for mine in found if mine)


def _inside(given: Given, other: Given) -> bool:
    """Whether all that is so in one case is so in the other."""
    mine = {_same(gap): taken for gap, taken in given}
    for gap, wide in other:
        narrow = mine.get(_same(gap))
        if isinstance(wide, str) or isinstance(narrow, str) or narrow is None:
            if narrow != wide:
                return False
        elif not (wide[0] <= narrow[0] and narrow[1] <= wide[1]):
            return False
    return True


def _case(tree: _Tree, given: Given) -> OutcomeCase:
    now = tree.look(given)
    conditions = tuple(_condition(gap, taken) for gap, taken in given)
    when = " and ".join(c.text for c in conditions) or "as it stands"
    shown = now.sure or now.maybe
    least = now.maybe.cost if now.maybe is not None else None
    if now.sure is not None:
        verdict = Verdict.WITH_WORK
        price = money_text(now.sure.cost, now.sure.currency)
        said = f"{when}: it can be done, for {'at least ' if now.sure.at_least else ''}{price}"
    elif now.maybe is None:
        verdict, said = Verdict.NO, f"{when}: it cannot be done"
    else:
        verdict, said = Verdict.UNKNOWN, f"{when}: still not known"
    return OutcomeCase(conditions, verdict, now.settled, shown, least, said)


def _condition(gap: Gap, taken: Range) -> Condition:
    where = f" at {', '.join(gap.positions)}" if gap.positions != ("",) else ""
    whose = {DONOR: f" of {gap.lot}", NEW: f" of a new {gap.part.rpartition('/')[2]}"}.get(gap.source, "")
    what = f"{gap.seat} {gap.feature}".replace("_", " ") + whose + where
    fact = (gap.seat, gap.feature, gap.part, gap.source, gap.lot, gap.positions)
    if isinstance(taken, str):
        said = f"{what} is {'something else' if taken == OTHER else taken}"
        return Condition(*fact, "", None, None, taken, said)
    low = taken[0] if gap.bounded or taken[0] > gap.low else None
    high = taken[1] if gap.bounded or taken[1] < gap.high else None
    said = what
    if low is not None:
        said += f" at least {number(low, gap.quantity)}"
    if high is not None:
        open_end = gap.quantity in RESOLUTION and high % 1000 == 999
        word, end = ("less than", high + 1) if open_end else ("at most", high)
        said += f"{' and' if low is not None else ''} {word} {number(end, gap.quantity)}"
    return Condition(*fact, gap.quantity, low, high, "", said)


def _holds(cases: Sequence[OutcomeCase]) -> Iterator[str]:
    plans = [c.plan for c in cases if c.verdict is not Verdict.NO]
    if all(c.verdict is Verdict.WITH_WORK for c in cases):
        dearest = max(p.cost for p in plans if p is not None)
        currency = next(p.currency for p in plans if p is not None)
        yield f"it can be done in every case, for {money_text(dearest, currency)} at most"
    if all(c.verdict is Verdict.NO for c in cases):
        yield "it cannot be done in any case"
    if not plans or any(p is None for p in plans):
        return
    first = plans[0]
    assert first is not None
    for choice in first.seats:
        same = [next(c for c in p.seats if c.seat == choice.seat) for p in plans if p is not None]
        if all((c.part, c.source, c.operations) == (choice.part, choice.source, choice.operations) for c in same):
            work = f", {', '.join(choice.operations)}" if choice.operations else ""
            yield f"{choice.seat}: {choice.source} {choice.part}{work}".rstrip()


def _sentence(
    answer: PlanAnswer, cases: Sequence[OutcomeCase], sets: Sequence[Sequence[Missing]], complete: bool
) -> str:
    if len(cases) == 1 and not cases[0].conditions:
        return answer.sentence
    said = "; ".join(c.sentence for c in cases)
    asks = " and ".join(dict.fromkeys(m.measure for m in sets[0])) if sets else ""
    out = f"{said[0].upper()}{said[1:]}."
    if asks:
        out += f" What settles it: {asks}."
    return out if complete else f"{out} In the cases still not known it hangs on more than that."
