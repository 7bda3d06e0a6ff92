"""A plan as stated, held against what the evidence makes of its choices."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

from graph.model.fact import Fact
from graph.model.plan import CostLine, Plan, SeatChoice, Step
from graph.model.record import Operation
from graph.model.value import spelled_code
from graph.model.verdict import Operand, RuleVerdict, Verdict
from graph.planning.check.case import ENGINE, Case, Mode, Place, Ruled
from graph.planning.check.choices import CUTS, Option, coded, kind_operations
from graph.planning.check.derive import Derived, derived
from graph.planning.check.money import Line, seat_quantity
from graph.planning.check.refusal import Refusal
from graph.planning.check.sequence import out_of_order
from graph.planning.check.undecided import hangs_on_record, silent_joints
from graph.planning.check.unfilled import unsure
from graph.planning.check.work import Work
from graph.planning.check.worn import wears


def compared(case: Case, plan: Plan, mode: Mode, where: str) -> list[Refusal]:
    """Everything in which the plan differs from the evidence."""
    found = list(_seats(case, plan))
    if found:  # without one choice for each seat there is nothing to hold the rest against
        return [Refusal(r.code, f"{where}.{r.where}", r.text) for r in found]
    right = derived(case, {c.seat: (Option.of(c), c.operations) for c in plan.seats}, mode)
    found += [Refusal(o.code, o.where, o.text) for o in right.objections]
    found += _steps(case, plan, right)
    found += out_of_order(case, plan.steps)
    found += _joints(case, plan, right)
    found += _consumed(plan, right)
    found += _costs(plan, right)
    found += _totals(plan, right)
    found += _confirm(case, plan)
    return [Refusal(r.code, f"{where}.{r.where}", r.text) for r in found]


def _seats(case: Case, plan: Plan) -> Iterator[Refusal]:
    if not in_layout(case, plan):
        yield Refusal("seats", "seats", "not every seat of the layout stands there once, in its order")
    for choice in plan.seats:
        yield from _seat(case, choice)


def in_layout(case: Case, plan: Plan) -> bool:
    """Whether every seat of the layout stands there once, in its order."""
    return [c.seat for c in plan.seats] == [s.name for s in case.bundle.layout.seats]


def _seat(case: Case, choice: SeatChoice) -> Iterator[Refusal]:
    where = f"seats.{choice.seat}"
    if choice.source not in ("kept", "donor", "new", "empty"):
        yield Refusal("option", where, f"{choice.source!r} is no source")
    if choice.source != "empty" and choice.quantity != seat_quantity(case, choice.seat):
        yield Refusal("quantity", where, f"the seat holds {seat_quantity(case, choice.seat)}, not {choice.quantity}")
    lots = {"kept": ("", case.bundle.core.tag), "donor": tuple(case.donors)}.get(choice.source, ("",))
    if choice.lot not in lots:
        yield Refusal("option", where, f"{choice.lot!r} is no place that a {choice.source} part comes from here")
    if tuple(sorted(set(choice.operations))) != choice.operations:
        yield Refusal("operation", where, "the operations are not sorted, or one stands twice")


def _steps(case: Case, plan: Plan, right: Derived) -> Iterator[Refusal]:
    expected: dict[tuple[str, str], Operation] = {}
    for seat, (option, names) in right.work.chosen.items():
        mine = kind_operations(case, option)
        expected |= {(seat, n): mine[n] for n in names if n in mine}
    expected |= {("", n): case.operations[n] for n in right.sums.services}
    stated = [(s.seat, s.operation) for s in plan.steps]
    for seat, name in expected:
        if stated.count((seat, name)) != 1:
            yield Refusal("steps", f"steps.{seat}.{name}", f"is due once, stated {stated.count((seat, name))} times")
    for step in plan.steps:
        where = f"steps.{step.seat}.{step.operation}"
        operation = expected.get((step.seat, step.operation))
        if operation is None:
            yield Refusal("steps", where, "is neither chosen nor due")
        else:
            yield from _step(case, step, operation, right, where)


def _step(case: Case, step: Step, operation: Operation, right: Derived, where: str) -> Iterator[Refusal]:
    option = right.work.chosen[step.seat][0] if step.seat else None
    same: dict[str, tuple[object, object]] = {
        "label": (step.label, operation.label),
        "part": (step.part, option.part if option else ""),
        "feature": (step.feature, operation.feature),
        "tolerance": (step.tolerance, operation.tolerance or 0),
        "reversible": (step.reversible, operation.reversible),
        "equipment": (step.equipment, operation.equipment),
        "caution": (step.caution, operation.caution),
        "time": (step.time, right.sums.times.get((step.seat, operation.name))),
    }
    kind = "labour" if step.seat else "service"
    lines = [x for x in right.sums.lines if (x.kind, x.seat, x.what) == (kind, step.seat, operation.name)]
    same["cost"] = (step.cost, sum(x.amount or 0 for x in lines))
    place = (step.seat, operation.feature)
    cut = right.work.cuts.get(place)
    setting = right.settings.get(place)
    if cut is None or operation.effect not in CUTS:
        for name in ("before", "least", "target", "low", "high", "limit"):
            same[name] = (getattr(step, name), None)
    elif setting is not None:
        same |= {
            "quantity": (step.quantity, cut.before.quantity),
            "before": (step.before, cut.origin),
            "least": (step.least, setting.least),
            "target": (step.target, setting.target),
            "low": (step.low, setting.low),
            "high": (step.high, setting.high),
        }
        if not (cut.limit.unknown and step.limit is None):
            same["limit"] = (step.limit, cut.limit.value)
        if step.limit is not None and not step.limit_basis:
            yield Refusal("limit", where, "the limit has no basis")
    if operation.effect not in (*CUTS, "service") and operation.effect:
        assert option is not None
        made = coded(operation, right.work.fact(place, {}, undone=place)).alternatives[0]
        codes = {spelled_code(c) for c in made.codes}
        stated = {spelled_code(c) for c in step.to_code.split("|")} if step.to_code else set()
        if codes != stated:
            yield Refusal("step", where, f"it makes {sorted(codes)}, not {step.to_code!r}")
    elif step.to_code:
        yield Refusal("step", where, f"it makes no code, {step.to_code!r} is stated")
    for name, (stated_value, value) in same.items():
        if stated_value != value:
            yield Refusal("step", where, f"{name} is {value!r}, {stated_value!r} is stated")
    yield from _cited(case, step, operation, option, right, where)


def _cited(
    case: Case, step: Step, operation: Operation, option: Option | None, right: Derived, where: str
) -> Iterator[Refusal]:
    """A step may cite the claims of what it changes, its limits, and the operation's own statement."""
    may = {operation.said, *(s.said for s in case.bundle.services if s.operation == operation.name)}
    place = (step.seat, operation.feature)
    if option is not None and operation.effect != "service":
        before = right.work.fact(place, {}, undone=place)
        may |= {c for a in before.alternatives for c in a.claims}
    cut = right.work.cuts.get(place)
    if cut is not None:
        may |= cut.limit.seen
        if step.limit is not None and not cut.limit.unknown and not cut.limit.said <= set(step.claims) | {""}:
            yield Refusal("claims", where, f"the limit rests on {sorted(cut.limit.said)}, which are not all cited")
    for claim in step.claims:
        if claim not in may or not claim:
            yield Refusal("claims", where, f"{claim!r} says nothing of this step")


def _joints(case: Case, plan: Plan, right: Derived) -> Iterator[Refusal]:
    rules = {(r.rule.joint, r.rule.name): r for r in right.work.rules}
    stated = [(v.joint, v.rule) for v in plan.joints]
    for key in rules:
        if stated.count(key) != 1:
            yield Refusal("rule", f"joints.{key[0]}.{key[1]}", f"applies once, stated {stated.count(key)} times")
    sizes = {place: setting.target for place, setting in right.settings.items()}
    for step in plan.steps:
        place = (step.seat, step.feature)
        if place in right.work.cuts:
            sizes[place] = step.target if step.target is not None else right.work.cuts[place].start
    for place, cut in right.work.cuts.items():
        sizes.setdefault(place, cut.start)
    for verdict in plan.joints:
        rule = rules.get((verdict.joint, verdict.rule))
        where = f"joints.{verdict.joint}.{verdict.rule}"
        if rule is None:
            yield Refusal("rule", where, "does not apply to what this plan builds")
        else:
            yield from _rule(case, verdict, rule, right, sizes, where)


def _rule(
    case: Case, stated: RuleVerdict, ruled: Ruled, right: Derived, sizes: Mapping[Place, int], where: str
) -> Iterator[Refusal]:
    rule = ruled.rule
    verdict, margin = right.work.verdict(ruled, sizes)
    same = {
        "type": (stated.type, rule.type),
        "min": (stated.min, rule.min),
        "max": (stated.max, rule.max),
        "safety": (stated.safety, rule.safety),
        "said": (stated.said, rule.said),
        "verdict": (stated.verdict, verdict),
        "margin": (stated.margin, margin),
    }
    for name, (stated_value, value) in same.items():
        if stated_value != value:
            yield Refusal("rule", where, f"{name} is {value!r}, {stated_value!r} is stated")
    if [(o.seat, o.feature) for o in stated.operands] != list(rule.operands):
        yield Refusal("operand", where, "the operands are not the rule's")
        return
    facts = [right.work.fact(place, sizes) for place in rule.operands]
    if margin is not None and stated.quantity != facts[0].quantity:
        yield Refusal("rule", where, f"the quantity is {facts[0].quantity!r}, {stated.quantity!r} is stated")
    for operand, fact in zip(stated.operands, facts, strict=True):
        yield from _operand(case, operand, fact, right, f"{where}.{operand.seat}.{operand.feature}")
    open_facts = {o for o, f in zip(rule.operands, facts, strict=True) if not f.settles}
    named = {(m.seat, m.feature) for m in stated.missing}
    if not open_facts <= named:
        yield Refusal("missing", where, f"{sorted(open_facts - named)} are not known and not named")
    if named - set(rule.operands) or (named and stated.verdict is not Verdict.UNKNOWN):
        yield Refusal("missing", where, "names a fact that is not missing here")


def _operand(case: Case, stated: Operand, fact: Fact, right: Derived, where: str) -> Iterator[Refusal]:
    if stated.seat == ENGINE:
        keys = {case.bundle.engine.key}
    else:
        option = right.work.chosen[stated.seat][0]
        keys = {option.part} if option.part else {"", case.bundle.core.key, *(c.key for c in case.donors.values())}
    if stated.part not in keys:
        yield Refusal("operand", where, f"the part is {sorted(keys)}, {stated.part!r} is stated")
    same: dict[str, tuple[object, object]] = {
        "status": (stated.status, fact.status),
        "low": (stated.low, fact.low),
        "high": (stated.high, fact.high),
        "codes": (_codes(stated.codes), _codes(c for a in fact.alternatives for c in a.codes)),
    }
    if fact.low is not None:
        same["quantity"] = (stated.quantity, fact.quantity)
    for name, (stated_value, value) in same.items():
        if stated_value != value:
            yield Refusal("operand", where, f"{name} is {value!r}, {stated_value!r} is stated")
    rests = {c for a in fact.alternatives for c in a.claims}
    if fact.status == "machined":
        may = _machined_claims(stated, right)
        if not set(stated.claims) <= may:
            yield Refusal("claims", where, f"{sorted(set(stated.claims) - may)} say nothing of it")
    elif set(stated.claims) != rests:
        yield Refusal("claims", where, f"it rests on {sorted(rests)}, {sorted(stated.claims)} are cited")


def _machined_claims(stated: Operand, right: Derived) -> set[str]:
    place = (stated.seat, stated.feature)
    before = right.work.fact(place, {}, undone=place)
    may = {c for a in before.alternatives for c in a.claims} | {right.work.changes[place].said}
    cut = right.work.cuts.get(place)
    return may | (cut.limit.seen if cut else set())


def _codes(codes: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted({spelled_code(c) for c in codes}))


def _consumed(plan: Plan, right: Derived) -> Iterator[Refusal]:
    stated = [c.part for c in plan.consumed]
    for part, (quantity, rows) in right.sums.consumed.items():
        mine = [c for c in plan.consumed if c.part == part]
        where = f"consumed.{part}"
        if stated.count(part) != 1:
            yield Refusal("consumed", where, f"is used up once, stated {stated.count(part)} times")
        for consumed in mine:
            if consumed.quantity != quantity:
                yield Refusal("consumed", where, f"{quantity} are used up, {consumed.quantity} stated")
            if not consumed.because:
                yield Refusal("consumed", where, "no reason is given")
            if {s for s in consumed.said if s} != {r.said for r in rows if r.said}:
                yield Refusal("claims", where, "cites other statements than those that use it up")
    for part in sorted(set(stated) - set(right.sums.consumed)):
        yield Refusal("consumed", f"consumed.{part}", "nothing uses it up")


def _costs(plan: Plan, right: Derived) -> Iterator[Refusal]:
    left = list(plan.costs)
    for line in right.sums.lines:
        match = next((c for c in left if _pays(c, line)), None)
        if match is not None:
            left.remove(match)
        elif line.amount != 0 or line.kind != "core":
            where = f"costs.{line.kind}.{line.seat}.{line.what}"
            yield Refusal("cost", where, f"no line for {line.amount} ({line.quantity} of {line.what})")
    for extra in left:
        yield Refusal("cost", f"costs.{extra.kind}.{extra.seat}", f"{extra.what}: {extra.amount} is not due")


def _pays(stated: CostLine, due: Line) -> bool:
    return (
        (stated.kind, stated.seat, stated.amount, stated.quantity) == (due.kind, due.seat, due.amount, due.quantity)
        and stated.as_of == due.as_of
        and stated.said in due.said
    )


def _totals(plan: Plan, right: Derived) -> Iterator[Refusal]:
    sums = right.sums
    same: dict[str, tuple[object, object]] = {
        "cost": (plan.cost, sums.cost),
        "at_least": (plan.at_least, sums.at_least),
        "deposits": (plan.deposits, sums.deposits),
        "time": (plan.time, sums.time),
        "lead_days": (plan.lead_days, sums.lead_days),
    }
    for name, (stated, value) in same.items():
        if stated != value:
            yield Refusal("total", name, f"{name} is {value!r}, {stated!r} is stated")
    if len(sums.currencies) > 1:
        yield Refusal("currency", "currency", f"{sorted(sums.currencies)} do not add up")
    elif sums.currencies and plan.currency not in sums.currencies:
        yield Refusal("currency", "currency", f"the currency is {min(sums.currencies)}, {plan.currency!r} is stated")


def _confirm(case: Case, plan: Plan) -> Iterator[Refusal]:
    """A used part that nobody has looked at stands under `confirm`."""
    for choice in plan.seats:
        if choice.source not in ("kept", "donor"):
            continue
        found = case.found(choice.source, choice.lot, choice.seat)
        part = case.parts.get(choice.part)
        names = [choice.seat, choice.part, *((part.number, part.label) if part else ())]
        looked_at = found is None or found.said or found.readings
        if not looked_at and not any(name and name in text for text in plan.confirm for name in names):
            yield Refusal("confirm", f"confirm.{choice.seat}", "nobody has looked at this part, and it is not said")


def changes_something(case: Case, plan: Plan) -> bool:
    """Whether the plan changes more than what is always renewed."""
    for choice in plan.seats:
        option = Option.of(choice)
        mine = kind_operations(case, option)
        if any(mine[n].effect != "service" for n in choice.operations if n in mine) or choice.source == "donor":
            return True
        part = case.parts.get(choice.part)
        if choice.source == "new" and not (part and case.one_time(part.kind)):
            return True
    return False


def hangs_on(case: Case, plan: Plan) -> list[frozenset[Place]]:
    """The facts that a possible plan hangs on, and what lacks a rule; of each entry one at least is to be named."""
    found = {frozenset({(m.seat, m.feature)}) for v in plan.joints for m in v.missing}
    chosen = {c.seat: (Option.of(c), c.operations) for c in plan.seats}
    for seat, (option, names) in chosen.items():
        worn = (w for w in wears(case, option, names) if w.verdict is Verdict.UNKNOWN)
        found |= {frozenset({(seat, w.feature)}) for w in worn} | set(unsure(case, option))
    found |= {frozenset((seat, "") for seat in seats) for seats in silent_joints(case)}
    work = Work(case, "possible", chosen)
    altered = {seat for seat, _ in work.changes}
    for seat, (option, _) in chosen.items():
        found |= {frozenset({(seat, "")})} if hangs_on_record(case, option, altered=seat in altered) else set()
    sizes = {(s.seat, s.feature): s.target for s in plan.steps if s.target is not None}
    for demand in work.demands:
        place = (demand.seat, demand.feature)
        if (place not in work.cuts or place in sizes) and work.demand(demand, sizes) is Verdict.UNKNOWN:
            found.add(frozenset({place}))
    for (seat, feature), operation in work.changes.items():
        cut = work.cuts.get((seat, feature))
        if cut is not None and cut.limit.unknown:
            named = (feature, operation.wall_feature, operation.limit_feature)
            found.add(frozenset((seat, name) for name in named if name))
        elif cut is None and not work.fact((seat, feature), {}, undone=(seat, feature)).settles:
            found.add(frozenset({(seat, feature)}))
    return sorted(found, key=sorted)


def in_order(plans: tuple[Plan, ...]) -> bool:
    """Cheapest first, ties by identity, none twice."""
    return all((a.cost, a.identity) < (b.cost, b.identity) for a, b in pairwise(plans)) and (
        len({p.identity for p in plans}) == len(plans)
    )
