"""One cut as the bench needs it: limits and tolerance class, what it leaves, datum, checks, and the wall."""

from math import isfinite
from typing import Final

from graph.engineering import fits, housing
from graph.errors import BadQuantity, OutOfRange
from graph.model.claim import Claim, Rank
from graph.model.plan import Step
from graph.model.routing import Cut, Gap, MeasuredBefore, SheetBlock, WallBlock, WallRow
from graph.model.value import Amount
from graph.model.verdict import RuleVerdict, Verdict
from graph.routesheet.ground import Ground
from graph.rules.spoken import as_written, number, operand_name

MM: Final = fits.MM
MICROMETRE: Final = MM // 1000
ROUND: Final = frozenset({"diameter", "bore", "bores", "port", "journal", "od"})
"""Words in a feature's name or label by which it is a diameter."""

DATUM: Final = "pilot"
"""The word in a feature's name or label that makes it the face a cut is indicated to."""


def cut_of(ground: Ground, step: Step) -> Cut | None:
    """The cut that a step makes; None for a step that cuts nothing."""
    if step.target is None:
        return None
    operation = ground.operations[step.operation]
    widens = operation.effect == "widen_to_suit"
    zone, grade, note = _class(ground, step, widens=widens)
    width = None if step.low is None or step.high is None else step.high - step.low
    words = {*step.feature.replace("_", "-").split("-"), *ground.label(step.feature).casefold().split()}
    return Cut(
        feature=step.feature,
        label=ground.label(step.feature),
        quantity=step.quantity,
        widens=widens,
        diameter=bool(words & ROUND) or operation.wall_share == "half",
        before=step.before,
        target=step.target,
        low=step.low,
        high=step.high,
        tolerance=step.tolerance,
        limit=step.limit,
        limit_basis=step.limit_basis,
        zone=zone,
        grade=grade,
        class_note=note,
        places=_places(ground, step),
        gaps=tuple(_gap(ground, step, rule) for rule in _meeting(ground, step)),
        fine=width // 10 if width else None,
    )


def _class(ground: Ground, step: Step, *, widens: bool) -> tuple[str, str, str]:
    """The metric zone that is the window, the coarsest grade inside it, and why there is none."""
    if step.quantity != "length" or step.target is None or step.low is None or step.high is None:
        return "", "", "no window in length"
    part = ground.parts.get(step.part)
    try:
        for claim in part.claims if part else ():
            if claim.feature == step.feature and claim.rank < Rank.HEARD and isinstance(claim.value, Amount):
                fits.nominal_of(claim.value)
    except BadQuantity:
        return "", "", "drawn in inches: the metric classes do not apply"
    if step.low == step.high:
        return "", "", "the window is a single size"
    zone, nominal = _zone(step.low, step.high, widens=widens)
    return zone, *_grade(nominal or step.target, step.high - step.low)


def _zone(low: int, high: int, *, widens: bool) -> tuple[str, int]:
    """The tolerance zone about a whole or half millimetre whose limits are just these, and that nominal size."""
    letters = [*fits.UPPER, *fits.FINE_UPPER, *fits.LOWER, *fits.FINE_LOWER, "js"]
    half = MM // 2
    for nominal in range((low // half - 2) * half, high + 2 * half, half):
        for grade in fits.GRADES:
            for letter in letters:
                zone = f"{letter.upper() if widens else letter}{grade}"
                try:
                    upper, lower = fits.limits(nominal / MM, zone)
                except OutOfRange:
                    continue
                if (nominal + lower * MICROMETRE, nominal + upper * MICROMETRE) == (low, high):
                    return f"{nominal / MM:g} {zone}", nominal
    return "", 0


def _grade(nominal: int, width: int) -> tuple[str, str]:
    for grade in sorted(fits.GRADES, reverse=True):
        try:
            tolerance = fits.tolerance(nominal / MM, grade)
        except OutOfRange:
            return "", "outside the table of standard tolerances"
        if tolerance * MICROMETRE <= width:
            return f"IT{grade} ({tolerance / 1000:g} mm)", ""
    return "", "narrower than IT5"


def _places(ground: Ground, step: Step) -> tuple[MeasuredBefore, ...]:
    """Where it was read before; one place without a name where it was not."""
    choice = ground.choices.get(step.seat)
    read = ground.readings(choice, step.feature) if choice else ()
    rows = [
        MeasuredBefore(c.position, c.value.amount, c.tolerance, as_written(c.value), c.date, c.source)
        for c in read
        if isinstance(c.value, Amount)
    ]
    return tuple(sorted(rows, key=lambda row: (row.position, row.date))) or (
        MeasuredBefore("", None, None, "not read on this part"),
    )


def _meeting(ground: Ground, step: Step) -> list[RuleVerdict]:
    """The number rules that look at what the step cuts, those with another part first."""
    found = [
        rule
        for rule in ground.plan.joints
        if any((o.seat, o.feature) == (step.seat, step.feature) and o.low is not None for o in rule.operands)
    ]
    return sorted(found, key=lambda rule: (len(rule.operands) == 1, rule.type != "clearance"))


def _gap(ground: Ground, step: Step, rule: RuleVerdict) -> Gap:
    others = [o for o in rule.operands if (o.seat, o.feature) != (step.seat, step.feature)]
    words = {name: feature.label for name, feature in ground.features.items()}
    words |= {seat: seat.replace("-", " ") for seat in ground.seats}
    against = " and ".join(operand_name(o.seat, o.feature, words) for o in others) or "a limit"
    low = high = None
    if len(rule.operands) == 2 and rule.type in ("clearance", "interference", "at_most", "at_least"):
        left, right = rule.operands
        if None not in (left.low, left.high, right.low, right.high):
            low, high = left.low - right.high, left.high - right.low  # type: ignore[operator]
            if rule.type in ("interference", "at_most"):
                low, high = -high, -low
    shown = " and ".join(o.shown for o in others)
    return Gap(against, shown, low, high, rule.min, rule.max, rule.quantity or step.quantity, rule.joint)


def datum_of(ground: Ground, step: Step) -> str:
    """The part's own pilot with its size; empty when none is on record."""
    for name, feature in ground.features.items():
        if DATUM not in f"{name} {feature.label}".casefold() or feature.type != "length" or name == step.feature:
            continue
        fact = ground.fact(step.seat, name)
        if fact.settles and fact.low is not None and fact.high is not None:
            ends = dict.fromkeys((fact.low, fact.high))
            return f"{feature.label} {' to '.join(number(end, fact.quantity) for end in ends)}"
    return ""


def checks_of(ground: Ground, step: Step, cut: Cut | None) -> tuple[str, ...]:
    """What is measured after the step, and how surely."""
    if cut is None:
        return ()
    out = []
    if cut.diameter:
        out.append("measure in two directions, 90° apart, at every place named")
    if cut.fine:
        out.append(
            f"instrument surer than {number(cut.fine, cut.quantity)}, a tenth of the window (common practice,"
            " no source)"
        )
    unit_says = step.caution.casefold()
    if cut.quantity == "length" and cut.diameter and cut.widens:
        runout, contour, _ = housing.DEMANDS
        if "runout" not in unit_says:
            out.append(f"{runout.what} at most {runout.most:g} {runout.unit} ({runout.source})")
        if "contour" in f"{step.feature} {cut.label}".casefold():
            out.append("to the profile of this very wheel, as measured; a diameter alone is no contour")
            out.append(f"{contour.what} at most {contour.most:g} {contour.unit} ({contour.source})")
    if "journal" in f"{step.feature} {cut.label}".casefold() and not cut.widens:
        journal = housing.DEMANDS[2]
        out.append(f"{journal.what} at most {journal.most:g} {journal.unit} ({journal.source})")
    return tuple(out)


def wall_of(ground: Ground, step: Step, at: int) -> tuple[WallBlock, tuple[SheetBlock, ...]] | None:
    """The wall that a cut leaves at every position that its operation names; None where it names no wall.

    Worked out anew from the readings of this very part, at the target with the shop's tolerance on top.
    """
    operation = ground.operations.get(step.operation)
    if operation is None or not operation.wall_feature or step.target is None:
        return None
    before = ground.fact(step.seat, step.feature)
    share = 2 if operation.wall_share == "half" else 1
    if before.low is None or before.high is None or not before.settles:
        depth = None
    elif operation.effect == "widen_to_suit":
        depth = step.target + step.tolerance - before.low
    else:
        depth = before.high - step.target + step.tolerance
    removal = None if depth is None else -(-max(depth, 0) // share)
    read: dict[str, Claim] = {}
    for claim in ground.readings(ground.choices[step.seat], operation.wall_feature):
        if isinstance(claim.value, Amount) and claim.rank < Rank.HEARD:
            read[claim.position] = min(read.get(claim.position, claim), claim, key=_thinnest)
    thinnest: dict[str, housing.WallReading | None] = {}
    for place in operation.wall_positions or ("",):
        taken = read.get(place)
        if taken is None or taken.tolerance is None or removal is None or not isinstance(taken.value, Amount):
            thinnest[place] = None
        else:
            thinnest[place] = housing.WallReading(taken.value.amount / MM, taken.tolerance / MM, removal / MM)
    part = ground.parts.get(step.part)
    stated = [
        x
        for x in (part.limits if part else ())
        if x.feature == operation.wall_feature and x.min is not None and x.rank < Rank.HEARD
    ]
    strictest = max(stated, key=lambda x: (x.min or 0, -x.rank, x.source), default=None)
    limit = strictest.min if strictest else None
    shift = operation.core_shift
    found = housing.wall_left(thinnest, None if shift is None else shift / MM, None if limit is None else limit / MM)
    rows = tuple(
        WallRow(
            row.position,
            read[row.position].value.amount if row.position in read else None,  # type: ignore[union-attr]
            read[row.position].tolerance if row.position in read else None,
            removal or 0,
            None if row.left is None or not isfinite(row.left) else round(row.left * MM),
            _word(row.verdict),
            row.reason,
        )
        for row in found.positions
    )
    sources = {source.name: source for source in ground.bundle.sources}
    set_by = ""
    if strictest:
        source = sources.get(strictest.source)
        set_by = f"{strictest.source}, {source.who or source.title}" if source else strictest.source
    block = WallBlock(
        at, ground.label(operation.wall_feature), "length", shift, limit, set_by, rows, _word(found.verdict)
    )
    return block, tuple(SheetBlock(b.code, f"step {at}, {b.text}", b.lifted_by) for b in found.blocks)


def _thinnest(claim: Claim) -> tuple[bool, int]:
    """Of several readings at one place the one that tells least of a wall: without uncertainty, then the thinnest."""
    assert isinstance(claim.value, Amount)
    return claim.tolerance is not None, claim.value.amount - claim.slack


def _word(verdict: Verdict) -> str:
    return {Verdict.YES: "keeps its limit", Verdict.NO: "breaks its limit"}.get(verdict, "not known")
