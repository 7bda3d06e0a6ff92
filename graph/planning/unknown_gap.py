"""A fact that is not known: what it may be, where that makes a difference, and the bundle as if it had been read."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, pairwise, product
from typing import Literal

from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.fact import Alternative, Fact
from graph.model.plan import Plan
from graph.model.record import Core, FoundPart
from graph.model.value import NONE, Amount, Code
from graph.model.verdict import Missing, Verdict
from graph.planning.compile import Compiled
from graph.planning.modes import Mode
from graph.planning.options import DONOR, EMPTY, KEPT, NEW
from graph.planning.problem import ENGINE, Problem
from graph.planning.requirement import EVERYWHERE, FAR, Requirement, Span, Spans, clean, meet
from graph.planning.room import WIDEN
from graph.planning.wear import wear_limits
from graph.rules.judge import unfilled
from graph.rules.undecided import NO_RULE

OTHER = "*"
"""Any code but those that are told apart."""

NO_FACT = ("no limit", "no tolerance", "no least", NO_RULE)
"""How it begins where what lacks is no fact of a part, so that no reading settles it."""

MOST_PARTNERS = 64
"""Sets of mating values by which a size's parts are found; more only leave the parts coarser."""


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


@dataclass(frozen=True, slots=True)
class Look:
    """One plan of a case: what it was chosen from, what it hangs on, and the facts after its work."""

    made: Compiled
    choice: tuple[int, ...]
    plan: Plan
    open: tuple[Missing, ...]
    facts: dict[tuple[str, str], Fact | None]

    def gaps(self) -> list[Gap]:
        """The missing facts that the plan hangs on, each once; what is not known at all before what is rough."""
        found = {same(g): g for m in self.open for g in gaps_of(self.made.problem, self.plan, m)}
        return sorted(found.values(), key=lambda gap: gap.bounded)


Range = tuple[int, int] | str
Given = tuple[tuple[Gap, Range], ...]


def same(gap: Gap) -> tuple[str, ...]:
    """What tells one fact from another."""
    return (gap.seat, gap.source, gap.lot, gap.part, gap.feature, *gap.positions)


def gaps_of(problem: Problem, one: Plan, missing: Missing) -> Iterator[Gap]:
    """The facts behind what a plan hangs on; none where it is a limit or a tolerance that nobody stated."""
    seat, feature = missing.seat, missing.feature
    known = problem.features.get(feature)
    if known is None or known.type in ("set", "text") or missing.why.startswith(NO_FACT):
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


def asked(look: Look, gap: Gap) -> Range | None:
    """The widest stretch in which all that the plan asks of the fact is certain; None: there is none.

    Only a guess where more than one fact is open: whoever asks looks whether it is so.
    """
    problem, place = look.made.problem, (gap.seat, gap.feature)
    empty = {c.seat for c in look.plan.seats if c.source == EMPTY}
    touching = [r for r in problem.requirements if r.operands.count(place) == 1 and not empty & set(r.seats)]
    if gap.codes:
        for code in gap.codes:
            fact = Fact(gap.part, gap.feature, "known", "", (Alternative(codes=(code,)),))
            judged = ([fact if o == place else look.facts.get(o) for o in r.operands] for r in touching)
            if all(r.verdict(s) is Verdict.YES for r, s in zip(touching, judged, strict=True)) and all(
                _does_without(problem, r, fact) for r in problem.requirements if empty & set(r.seats)
            ):
                return code
        return None
    spans: Spans = ((gap.low, gap.high),)
    for requirement in touching:
        sides = [look.facts.get(o) for o in requirement.operands]
        spans = meet(spans, requirement.sizes(sides, requirement.operands.index(place), 0, gap.quantity, True))
    for low, high in _worn(look.made, look.choice, gap):
        spans = meet(spans, ((low, high),))
    for point in _wall_points(problem, look.plan, gap):
        spans = meet(spans, ((point + 1, FAR),))
    return max(spans, key=lambda span: span[1] - span[0], default=None)


def _does_without(problem: Problem, requirement: Requirement, fact: Fact) -> bool:
    """Whether the engine, with this fact of it, wants nothing of a seat that stays empty."""
    theirs = {f: problem.engine_fact(f) for s, f in requirement.operands if s == ENGINE}
    if requirement.rule is None or fact.feature not in theirs:
        return True
    sides = unfilled(requirement.rule, {**theirs, fact.feature: fact})
    return sides is None or requirement.verdict(sides) is Verdict.YES


def drawn(problem: Problem, gap: Gap) -> Range | None:
    """What the drawing of the part's kind says of a fact that was not read; None: nothing between the gap's ends."""
    fact = problem.kind_fact(gap.part, gap.feature, used=False) if gap.source in (KEPT, DONOR) else None
    if gap.codes or fact is None or not fact.settles or fact.low is None or fact.high is None:
        return None
    low, high = max(fact.low, gap.low), min(fact.high, gap.high)
    return (low, high) if low <= high and (low, high) != (gap.low, gap.high) else None


Hope = Literal["none", "maybe", "sure"]
"""What a fact's own joints say of a stretch: no mating part goes, some may, or of each joint one surely does."""


def parts_of(look: Look, gap: Gap) -> tuple[list[tuple[Hope, int, int]], bool]:
    """The range of a size in stretches, low to high, at whose ends something changes in a joint or limit of its own.

    False: work may change what goes there, so that the stretches need not be all there are.
    """
    problem, place = look.made.problem, (gap.seat, gap.feature)
    modes = {s.seat.name: s.modes for s in look.made.seats}
    named = {o.wall_feature for o in problem.operations.values()} | {
        o.limit_feature for o in problem.operations.values()
    }
    told = gap.feature not in named and not any(_worked(m, gap.feature) for m in modes.get(gap.seat, ()))
    joints: list[tuple[Spans, Spans]] = []  # where it surely goes, where it may
    points = set(_wall_points(problem, look.plan, gap))
    for requirement in (r for r in problem.requirements if place in r.operands):
        if requirement.operands.count(place) > 1:
            told = False
            continue
        partners: list[list[Fact | None]] = []
        for seat, feature in requirement.operands:
            if (seat, feature) == place or seat == ENGINE:
                partners.append([problem.engine_fact(feature) if seat == ENGINE else None])
                continue
            told = told and not any(_worked(m, feature) for m in modes.get(seat, ()))
            known = {problem.number(f): f for m in modes.get(seat, ()) if (f := m.facts.get(feature)) is not None}
            partners.append([known[n] for n in sorted(known)] or [None])
        some = list(islice(product(*partners), MOST_PARTNERS + 1))
        told = told and len(some) <= MOST_PARTNERS
        at = requirement.operands.index(place)
        sure, maybe = (
            clean([x for sides in some for x in requirement.sizes(sides, at, 0, gap.quantity, certain)])
            for certain in (True, False)
        )
        points |= {
            end
            for sides in some
            for certain in (True, False)
            for low, high in requirement.sizes(sides, at, 0, gap.quantity, certain)
            for end in (low - 1, high)
        }
        empty = any(m.option.source == EMPTY for s in requirement.seats for m in modes.get(s, ()))
        joints.append((EVERYWHERE, EVERYWHERE) if empty else (sure, maybe))
    for span in _worn(look.made, look.choice, gap):
        joints.append(((span,), (span,)))
        points |= {span[0] - 1, span[1]}
    ends = [gap.low - 1, *sorted(p for p in points if gap.low <= p < gap.high), gap.high]
    out: list[tuple[Hope, int, int]] = []
    for before, high in pairwise(ends):
        hope = _hope(joints, before + 1, high)
        alike = out and out[-1][0] == hope
        out.append((hope, out.pop()[1] if alike else before + 1, high))
    return out, told


def hardest(problem: Problem, gap: Gap, taken: Range) -> list[Range]:
    """The values at each of which nothing may be possible, so that nothing is at any value of the stretch.

    How far a cut may go is reckoned from the worst end of a stretch, so that the best end is looked at too.
    """
    if isinstance(taken, str):
        return [taken]
    low, high = (taken[0], taken[0]), (taken[1], taken[1])
    place = gap.seat, gap.feature
    operations = problem.operations.values()
    ruled = any(place in r.operands for r in problem.requirements) or any(
        o.feature == gap.feature for o in operations
    )
    bounded = {o.effect for o in operations if gap.feature in (o.wall_feature, o.limit_feature)}
    walls = any(o.wall_feature == gap.feature for o in operations)
    if not ruled and (walls or bounded == {WIDEN}):
        return [high]
    return [taken, low, high]


def _hope(joints: Sequence[tuple[Spans, Spans]], low: int, high: int) -> Hope:
    if any(not any(a <= high and low <= b for a, b in maybe) for _, maybe in joints):
        return "none"
    return "sure" if all(any(a <= low and high <= b for a, b in sure) for sure, _ in joints) else "maybe"


def _worked(mode: Mode, feature: str) -> bool:
    return feature in mode.cuts or feature in mode.recoded


def _worn(made: Compiled, choice: Sequence[int], gap: Gap) -> Iterator[Span]:
    """Between which a used part that the plan takes may measure."""
    option = made.chosen(choice)[gap.seat].option if gap.seat != ENGINE else None
    for limit in wear_limits(made.problem, option, made.problem.walls) if option is not None else ():
        if limit.feature == gap.feature and limit.quantity == gap.quantity:
            yield -FAR if limit.min is None else limit.min, FAR if limit.max is None else limit.max


def _wall_points(problem: Problem, one: Plan, gap: Gap) -> Iterator[int]:
    """Up to which a wall is too thin for the plan's cut."""
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
