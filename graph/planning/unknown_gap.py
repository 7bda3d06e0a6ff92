"""A fact that is not known: what it may be, where that makes a difference, and the bundle as if it had been read."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.fact import Fact
from graph.model.plan import Plan
from graph.model.record import Core, FoundPart
from graph.model.value import NONE, Amount, Code
from graph.model.verdict import Missing
from graph.planning.options import DONOR, KEPT, NEW
from graph.planning.problem import ENGINE, Problem
from graph.planning.requirement import EVERYWHERE
from graph.planning.room import WIDEN

OTHER = "*"
"""Any code but those that are told apart."""


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


def same(gap: Gap) -> tuple[str, ...]:
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


def points_of(problem: Problem, one: Plan, facts: dict[tuple[str, str], Fact | None], gap: Gap) -> Iterator[int]:
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
