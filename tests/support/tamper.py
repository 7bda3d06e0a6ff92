"""Alters one fact of a right, saved answer, consistently: sums and digests follow, so that only the evidence tells.

`alterations(answer)` gives every alteration of the answer's first plan that this program knows, by name; a
seed decides how far each number moves.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random
from typing import Any

from graph.model.plan import CostLine, Plan, PlanAnswer, SeatChoice, Step
from graph.model.verdict import Missing, Operand, Proof, RuleVerdict, Verdict


def summed(plan: Plan) -> Plan:
    """The plan with its cost as its lines now add up."""
    return replace(plan, cost=sum(line.amount or 0 for line in plan.costs))


def with_first(answer: PlanAnswer, plan: Plan) -> PlanAnswer:
    """The answer with another first plan, in order again, the bound following."""
    plans = tuple(sorted((plan, *answer.plans[1:]), key=lambda p: (p.cost, p.identity)))
    return replace(answer, plans=plans, bound=plans[0].cost if answer.bound is not None else None)


def one(things: tuple[Any, ...], index: int, **fields: object) -> tuple[Any, ...]:
    """The tuple with fields of one entry changed."""
    return (*things[:index], replace(things[index], **fields), *things[index + 1 :])


def without(things: tuple[Any, ...], index: int) -> tuple[Any, ...]:
    return (*things[:index], *things[index + 1 :])


def alterations(answer: PlanAnswer, seed: int) -> Iterator[tuple[str, PlanAnswer]]:
    """(what was altered, the altered answer), each with one alteration."""
    random = Random(seed)
    plan = answer.plans[0]
    for name, altered in _of_plan(plan, random):
        if altered != plan:
            yield name, with_first(answer, summed(altered) if not name.startswith("total") else altered)
    yield from ((name, altered) for name, altered in _of_answer(answer, random) if altered != answer)


def _of_plan(plan: Plan, random: Random) -> Iterator[tuple[str, Plan]]:
    yield from _costs(plan, random)
    yield from _seats(plan, random)
    yield from _steps(plan, random)
    yield from _joints(plan, random)
    yield from _consumed(plan)
    yield "total cost", replace(plan, cost=plan.cost - random.randint(1, 900))
    yield "total at least", replace(plan, at_least=not plan.at_least)
    yield "total deposits", replace(plan, deposits=plan.deposits + random.randint(1, 900))
    yield "total time", replace(plan, time=plan.time - random.randint(1, 900))
    yield "total lead days", replace(plan, lead_days=(plan.lead_days or 0) + random.randint(1, 9))
    yield "total currency", replace(plan, currency="XTS")


def _costs(plan: Plan, random: Random) -> Iterator[tuple[str, Plan]]:
    for i, line in enumerate(plan.costs):
        changes: dict[str, dict[str, object]] = {
            "price": {"amount": (line.amount or 0) + random.choice([-1, 1]) * random.randint(1, 500)},
            "price gone": {"amount": None},
            "quantity": {"quantity": line.quantity + random.randint(1, 3)},
            "day": {"as_of": "2026-01-31"},
            "statement": {"said": "s-nobody"},
            "kind": {"kind": "part" if line.kind != "part" else "donor"},
            "seat": {"seat": "nowhere"},
        }
        for name, fields in changes.items():
            yield f"cost line {i} {name}", replace(plan, costs=one(plan.costs, i, **fields))
        yield f"cost line {i} left out", replace(plan, costs=without(plan.costs, i))
        yield f"cost line {i} twice", replace(plan, costs=(*plan.costs, line))
    yield (
        "cost line added",
        replace(plan, costs=(*plan.costs, CostLine("discount", "service", "", -random.randint(1, 999)))),
    )


def _seats(plan: Plan, random: Random) -> Iterator[tuple[str, Plan]]:
    for i, choice in enumerate(plan.seats):
        changes: dict[str, dict[str, object]] = {
            "quantity": {"quantity": choice.quantity + random.randint(1, 3)},
            "part": {"part": random.choice([c.part for c in plan.seats if c.part != choice.part])},
            "unknown part": {"part": "part/O/nobody"},
            "emptied": {"part": "", "source": "empty", "operations": ()},
            "operation added": {"operations": tuple(sorted({*choice.operations, "polish"}))},
            "source": {"source": "donor" if choice.source == "kept" else "kept", "lot": ""},
            "lot": {"lot": "P-99"},
        }
        for name, fields in changes.items():
            yield f"seat {choice.seat} {name}", replace(plan, seats=one(plan.seats, i, **fields))
        for operation in choice.operations:
            yield f"seat {choice.seat} less {operation}", _less(plan, i, operation)
        yield f"seat {choice.seat} left out", replace(plan, seats=without(plan.seats, i))
    yield "seats turned about", replace(plan, seats=plan.seats[::-1])


def _less(plan: Plan, index: int, operation: str) -> Plan:
    """The plan without one operation, its step and its labour."""
    choice: SeatChoice = plan.seats[index]
    gone = next(s for s in plan.steps if (s.seat, s.operation) == (choice.seat, operation))
    names = tuple(o for o in choice.operations if o != operation)
    lines = [c for c in plan.costs if not (c.kind == "labour" and c.seat == choice.seat and c.amount == gone.cost)]
    return replace(
        plan,
        seats=one(plan.seats, index, operations=names),
        steps=tuple(s for s in plan.steps if s != gone),
        costs=tuple(lines),
        time=plan.time - gone.time,
    )


def _steps(plan: Plan, random: Random) -> Iterator[tuple[str, Plan]]:
    for i, step in enumerate(plan.steps):
        where = f"step {step.seat}.{step.operation}"
        for name in ("before", "least", "target", "low", "high", "limit"):
            value = getattr(step, name)
            moved = random.choice([-1, 1]) * random.randint(1, 99_999)
            yield f"{where} {name}", replace(plan, steps=one(plan.steps, i, **{name: (value or 0) + moved}))
            yield f"{where} {name} gone", replace(plan, steps=one(plan.steps, i, **{name: None}))
        for name in ("tolerance", "time"):
            value = getattr(step, name) + random.randint(1, 99)
            yield f"{where} {name}", replace(plan, steps=one(plan.steps, i, **{name: value}))
        for name in ("feature", "label", "equipment", "caution", "to_code", "part", "seat", "operation"):
            yield f"{where} {name}", replace(plan, steps=one(plan.steps, i, **{name: "another"}))
        yield f"{where} reversible", replace(plan, steps=one(plan.steps, i, reversible=not step.reversible))
        yield f"{where} claims", replace(plan, steps=one(plan.steps, i, claims=(*step.claims, "c-nobody")))
        yield f"{where} cost", _priced(plan, i, step.cost + random.randint(1, 500))
        yield f"{where} deeper", _deeper(plan, i, random)
        yield f"{where} left out", replace(plan, steps=without(plan.steps, i))
        yield f"{where} twice", replace(plan, steps=(*plan.steps, step))
        if step.limit is not None:
            yield f"{where} basis", replace(plan, steps=one(plan.steps, i, limit_basis=""))
            yield f"{where} limit claims", replace(plan, steps=one(plan.steps, i, claims=()))


def _priced(plan: Plan, index: int, cost: int) -> Plan:
    """The plan with another price of one step, in its line too."""
    step: Step = plan.steps[index]
    kind = "labour" if step.seat else "service"
    at = next(i for i, c in enumerate(plan.costs) if (c.kind, c.seat, c.amount) == (kind, step.seat, step.cost))
    return replace(plan, steps=one(plan.steps, index, cost=cost), costs=one(plan.costs, at, amount=cost))


def _deeper(plan: Plan, index: int, random: Random) -> Plan:
    """The plan with one cut moved as a whole, window and machined operand with it."""
    step: Step = plan.steps[index]
    if step.least is None or step.target is None or step.low is None or step.high is None:
        return plan
    by = random.choice([-1, 1]) * random.randint(1, 9) * 100_000
    moved = {name: getattr(step, name) + by for name in ("least", "target", "low", "high")}
    joints = plan.joints
    for i, verdict in enumerate(joints):
        for j, operand in enumerate(verdict.operands):
            if (operand.seat, operand.feature) == (step.seat, step.feature):
                assert operand.low is not None
                assert operand.high is not None
                operands = one(verdict.operands, j, low=operand.low + by, high=operand.high + by)
                joints = one(joints, i, operands=operands)
    return replace(plan, steps=one(plan.steps, index, **moved), joints=joints)


def _joints(plan: Plan, random: Random) -> Iterator[tuple[str, Plan]]:
    for i, verdict in enumerate(plan.joints):
        where = f"rule {verdict.joint}.{verdict.rule}"
        for name, fields in _verdict(verdict, random):
            yield f"{where} {name}", replace(plan, joints=one(plan.joints, i, **fields))
        yield f"{where} left out", replace(plan, joints=without(plan.joints, i))
        yield f"{where} twice", replace(plan, joints=(*plan.joints, verdict))
    stranger = replace(plan.joints[0], rule="another")
    yield "rule added", replace(plan, joints=(*plan.joints, stranger))


def _verdict(verdict: RuleVerdict, random: Random) -> Iterator[tuple[str, dict[str, object]]]:
    for other in (v for v in Verdict if v is not verdict.verdict):
        yield f"verdict {other.value}", {"verdict": other}
    for name in ("min", "max", "margin"):
        value = getattr(verdict, name)
        yield name, {name: (value or 0) + random.randint(1, 9999)}
        if value is not None:
            yield f"{name} gone", {name: None}
    yield "type", {"type": "stack"}
    yield "safety", {"safety": not verdict.safety}
    yield "statement", {"said": "u-nobody"}
    yield "missing", {"missing": (Missing("gear", "od", "part/O/G2", "no claim", "measure it"),)}
    yield "operands turned about", {"operands": verdict.operands[::-1]}
    for j, operand in enumerate(verdict.operands):
        for name, fields in _operand(operand, random):
            yield f"{operand.seat}.{operand.feature} {name}", {"operands": one(verdict.operands, j, **fields)}


def _operand(operand: Operand, random: Random) -> Iterator[tuple[str, dict[str, object]]]:
    for name in ("low", "high"):
        yield name, {name: (getattr(operand, name) or 0) + random.choice([-1, 1]) * random.randint(1, 9999)}
    yield "status", {"status": "heard" if operand.status != "heard" else "known"}
    yield "part", {"part": "part/O/nobody"}
    yield "codes", {"codes": (*operand.codes, "another")}
    yield "claims", {"claims": (*operand.claims, "c-nobody")}
    if operand.low is not None:
        yield "quantity", {"quantity": "mass"}
    if operand.status == "known":
        yield "claims gone", {"claims": ()}


def _consumed(plan: Plan) -> Iterator[tuple[str, Plan]]:
    for i, used in enumerate(plan.consumed):
        changes: dict[str, dict[str, object]] = {
            "quantity": {"quantity": used.quantity + 1},
            "part": {"part": "part/O/nobody"},
            "reason": {"because": ()},
            "statement": {"said": ("n-nobody",)},
        }
        for name, fields in changes.items():
            yield f"consumed {used.part} {name}", replace(plan, consumed=one(plan.consumed, i, **fields))
        yield f"consumed {used.part} left out", replace(plan, consumed=without(plan.consumed, i))


def _of_answer(answer: PlanAnswer, random: Random) -> Iterator[tuple[str, PlanAnswer]]:
    changes: dict[str, Callable[[], dict[str, object]]] = {
        "question": lambda: {"question": replace(answer.question, engine="engine/B/another")},
        "snapshot": lambda: {"snapshot": replace(answer.snapshot, shelf=answer.snapshot.shelf + 1)},
        "bound": lambda: {"bound": (answer.bound or 0) - random.randint(1, 99)},
        "open": lambda: {"open": (Missing("gear", "od", "part/O/G2", "no claim", "measure it"),)},
        "plan twice": lambda: {"plans": (answer.plans[0], *answer.plans)[: len(answer.plans)]},
        "plans turned about": lambda: {"plans": answer.plans[::-1]},
        "no plans": lambda: {"plans": ()},
    }
    for name, fields in changes.items():
        yield name, replace(answer, **fields())  # type: ignore[arg-type]
    for verdict in (v for v in Verdict if v is not answer.verdict):
        yield f"answer {verdict.value}", replace(answer, verdict=verdict)
    for proof in (Proof.IMPOSSIBLE, Proof.UNDECIDED):
        yield f"answer {proof.value}", replace(answer, proof=proof)
    if len(answer.plans) > 1:
        for i in range(len(answer.plans)):
            plans = without(answer.plans, i)
            yield f"plan {i} dropped", replace(answer, plans=plans, bound=plans[0].cost)
