"""A plan answer as plain text."""

from collections.abc import Callable, Mapping, Sequence

from api.text.layout import bullets, columns, heading, paragraph
from api.words import MARKS, PROOFS, SOURCES, days, duration, money, named, size, spoken, told, wished
from graph.desk.matching import Against
from graph.model.plan import Plan, PlanAnswer, SeatChoice, Step
from graph.model.verdict import Missing, Verdict
from graph.swap.match import SAME

Compared = Callable[[int], Sequence[Against]]
"""Gives plan `number` (from 1) against the units that its engine left the factory with."""


def answer_lines(answer: PlanAnswer, compared: Compared = lambda number: ()) -> list[str]:
    """The sentence first, then every plan, cheapest first; for none, why and what to measure."""
    lines = paragraph(answer.sentence)
    lines += paragraph(f"{PROOFS[answer.proof][0].upper()}{PROOFS[answer.proof][1:]}.")
    lines += wish_lines(answer.question.wishes)
    if answer.bound is not None and not answer.plans:
        lines += paragraph(f"No plan costs less than {money(answer.bound)}.")
    if answer.causes:
        lines += heading("What stands in the way")
        lines += bullets(told(cause) for cause in answer.causes)
    if answer.open:
        lines += heading("Not known, and what settles it")
        lines += bullets(gap_text(gap) for gap in answer.open)
    many = len(answer.plans) > 1
    for number, plan in enumerate(answer.plans, 1):
        lines += heading(f"Plan {number} of {len(answer.plans)}" if many else "The plan")
        lines += plan_lines(plan)
        lines += [line for one in compared(number) for line in against_lines(one)]
    snapshot = answer.snapshot
    lines += ["", f"Read from catalogue {snapshot.catalogue}, shelf {snapshot.shelf}, as of {answer.question.day}."]
    return lines


def gap_text(gap: Missing) -> str:
    """What to do about something that is not known, of what it is, and why it is not known."""
    of = ", ".join(part for part in (named(gap.part) or spoken(gap.seat), spoken(gap.feature)) if part)
    return f"{gap.measure} ({of}: {gap.why})"


def wish_lines(wishes: Sequence[str]) -> list[str]:
    """What the customer wants, in the order in which the answer keeps it; nothing where nothing is wished."""
    return paragraph(f"Wished: {'; '.join(wished(w) for w in wishes)}.") if wishes else []


def plan_lines(plan: Plan) -> list[str]:
    """One plan: what it costs, seats, work in order, consumed parts, joints, money, what to confirm and check."""
    total = money(plan.cost, plan.currency, at_least=plan.at_least)
    lines = paragraph(f"{total}, {duration(plan.time)} of work, parts {days(plan.lead_days)}.")
    if plan.deposits:
        lines += paragraph(f"Deposits beside it: {money(plan.deposits, plan.currency)}.")
    lines += ["", "Parts"]
    labels = {step.operation: step.label for step in plan.steps}
    lines += columns(_seat(choice, labels) for choice in plan.seats)
    if plan.steps:
        lines += ["", "Work, in this order"]
        for number, step in enumerate(plan.steps, 1):
            lines += paragraph(f"{number:>2}. {step_title(step)}", "  ", "    ")
            lines += [line for text in step_details(step, plan.currency) for line in paragraph(text, "      ", "  ")]
    if plan.consumed:
        lines += ["", "Used up"]
        lines += columns((f"{used.quantity} x", named(used.part), "; ".join(used.because)) for used in plan.consumed)
    lines += ["", "Joints after the work"]
    lines += columns((MARKS[rule.verdict], spoken(rule.joint), rule.reason) for rule in plan.joints)
    lines += ["", "Money"]
    lines += columns(
        (money(line.amount, plan.currency), line.what + (f" (as of {line.as_of})" if line.as_of else ""))
        for line in plan.costs
    )
    if plan.confirm:
        lines += ["", "Confirm at strip-down"]
        lines += bullets(plan.confirm)
    if plan.cautions:
        lines += ["", "Check, and with whom"]
        lines += bullets(caution.text for caution in plan.cautions)
    return lines


def counter_lines(plan: Plan) -> list[str]:
    """One plan for the counter: what it costs, what is new or from a donor, what is done, what to know beforehand."""
    total = money(plan.cost, plan.currency, at_least=plan.at_least)
    lines = paragraph(f"{total}, {duration(plan.time)} of work, parts {days(plan.lead_days)}.")
    if plan.deposits:
        lines += paragraph(f"Deposits beside it: {money(plan.deposits, plan.currency)}.")
    for source, word in (("new", "New"), ("donor", "From donors")):
        taken = [_taken(choice) for choice in plan.seats if choice.source == source]
        lines += paragraph(f"{word}: {'; '.join(taken)}.") if taken else []
    work = [step_title(step) for step in plan.steps if step.seat]
    if work:
        lines += paragraph(f"Work, in this order: {'; '.join(work)}.")
    services = [step.label for step in plan.steps if not step.seat]
    if services:
        lines += paragraph(f"And with it: {'; '.join(services)}.")
    doubtful = [rule.reason for rule in plan.joints if rule.verdict is not Verdict.YES]
    if doubtful:
        lines += ["", "Joints that are not sure", *bullets(doubtful)]
    if plan.confirm:
        count = len(plan.confirm)
        lines += paragraph(f"{count} part{'s' if count > 1 else ''} of it nobody has measured yet: look first.")
    known = [caution.text for caution in plan.cautions if caution.code != "operation"]
    if known:
        lines += ["", "To know beforehand", *bullets(known)]
    return lines


def _taken(choice: SeatChoice) -> str:
    many = f"{choice.quantity} x " if choice.quantity > 1 else ""
    where = f" out of {choice.lot}" if choice.lot else ""
    return f"{spoken(choice.seat)} {many}{named(choice.part)}{where}"


def against_lines(one: Against) -> list[str]:
    """What changes against one factory unit, and what is known to stay the same."""
    rows = [
        (
            line.compared,
            f"{spoken(line.seat)} {spoken(line.feature)}".strip(),
            f"{line.ours}, original {line.original}",
        )
        for line in one.lines
        if line.compared != SAME
    ]
    same = [f"{spoken(line.seat)} {spoken(line.feature)}".strip() for line in one.lines if line.compared == SAME]
    lines = ["", f"Compared with the {one.original} that the engine left the factory with", *columns(rows)]
    return lines + (paragraph(f"The same: {', '.join(same)}.", "  ", "  ") if same else [])


def _seat(choice: SeatChoice, labels: Mapping[str, str]) -> tuple[str, str, str]:
    name = named(choice.part)
    what = name if choice.quantity == 1 or not choice.part else f"{choice.quantity} x {name}"
    where = f" ({choice.lot})" if choice.lot and choice.source == "donor" else ""
    work = "; ".join(labels.get(name) or spoken(name) for name in choice.operations)
    return (SOURCES[choice.source] + where, spoken(choice.seat), f"{what}; work: {work}" if work else what)


def step_title(step: Step) -> str:
    """What is done to what, and to which size."""
    title = f"{step.label}, {named(step.part)}" if step.part else step.label
    if step.target is not None:
        title += f": {spoken(step.feature)} to {size(step.target, step.quantity)}"
    elif step.to_code:
        title += f": {spoken(step.feature)} becomes {step.to_code}"
    return title


def step_details(step: Step, currency: str) -> list[str]:
    """Window, limit and its ground, time and money, equipment, what cannot be undone, cautions."""
    details = []
    if step.target is not None:
        details.append(
            f"from {size(step.before, step.quantity)}; window {size(step.low, step.quantity)}"
            f" to {size(step.high, step.quantity)}; limit {size(step.limit, step.quantity)} ({step.limit_basis})"
        )
    cost = f"{duration(step.time)}, {money(step.cost, currency)}"
    if step.target is not None and step.least is not None:
        cost += f" for the least cut that does, {size(step.least, step.quantity)}"
    details.append(cost + (f"; {step.equipment}" if step.equipment else ""))
    if step.caution:
        details.append(f"caution: {step.caution}")
    elif step.target is not None and not step.reversible:
        details.append("caution: cannot be undone")
    return details
