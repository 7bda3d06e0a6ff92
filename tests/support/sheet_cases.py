"""Altering a plan answer's evidence, and filling a sheet's records, for the route sheet's tests."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from graph.model.claim import Claim
from graph.model.plan import Plan, PlanAnswer, Step
from graph.model.record import FoundPart, Part
from graph.model.routing import RecordField, RouteSheet
from graph.model.verdict import Operand
from graph.rules.spoken import number

MM = 10_000_000


def with_step(answer: PlanAnswer, operation: str, **changed: Any) -> PlanAnswer:
    """The answer with one step of its first plan altered."""
    plan = answer.plans[0]
    steps = tuple(replace(s, **changed) if s.operation == operation else s for s in plan.steps)
    return replace(answer, plans=(replace(plan, steps=steps), *answer.plans[1:]))


def with_plan(answer: PlanAnswer, **changed: Any) -> PlanAnswer:
    """The answer with its first plan altered."""
    return replace(answer, plans=(replace(answer.plans[0], **changed), *answer.plans[1:]))


def with_bundle(answer: PlanAnswer, **changed: Any) -> PlanAnswer:
    """The answer with its evidence altered."""
    assert answer.bundle is not None
    return replace(answer, bundle=replace(answer.bundle, **changed))


def with_found(answer: PlanAnswer, seat: str, change: Callable[[FoundPart], FoundPart]) -> PlanAnswer:
    """The answer with what was found in one seat of its core altered."""
    assert answer.bundle is not None
    core = answer.bundle.core
    found = tuple(change(one) if one.seat == seat else one for one in core.found)
    return with_bundle(answer, core=replace(core, found=found))


def with_part(answer: PlanAnswer, key: str, change: Callable[[Part], Part]) -> PlanAnswer:
    """The answer with one part's record altered."""
    assert answer.bundle is not None
    return with_bundle(answer, parts=tuple(change(p) if p.key == key else p for p in answer.bundle.parts))


def with_operand(answer: PlanAnswer, feature: str, **changed: Any) -> PlanAnswer:
    """The answer whose first plan's rules saw another value of one feature."""
    plan = answer.plans[0]

    def seen(operand: Operand) -> Operand:
        return replace(operand, **changed) if operand.feature == feature else operand

    joints = tuple(replace(r, operands=tuple(seen(o) for o in r.operands)) for r in plan.joints)
    return with_plan(answer, joints=joints)


def step_of(plan: Plan, operation: str) -> Step:
    """One step of a plan."""
    (found,) = [step for step in plan.steps if step.operation == operation]
    return found


def unread(one: FoundPart, feature: str, position: str) -> FoundPart:
    """The part without its reading of a feature at a position."""
    kept: tuple[Claim, ...] = tuple(c for c in one.readings if (c.feature, c.position) != (feature, position))
    return replace(one, readings=kept)


def entry(field: RecordField) -> str:
    """Something that may stand in a field: a size inside its limits, a small unbalance, a word."""
    if field.quantity == "length":
        assert field.low is not None and field.high is not None
        return number((field.low + field.high) // 2, "length")
    return {"unbalance": "0.05 g·mm", "speed": "1800 rpm"}.get(field.quantity, "as seen")


def filled(sheet: RouteSheet) -> dict[str, str]:
    """Every field of a sheet written down."""
    return {field.name: entry(field) for record in sheet.records for field in record.fields}
