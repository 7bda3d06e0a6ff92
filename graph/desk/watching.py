"""Kept questions, answered in a word, and what becomes of their answers when something changes."""

from collections import Counter
from collections.abc import Sequence

from graph.desk.desk import Desk
from graph.desk.jobs import stock
from graph.errors import SpoolwrightError
from graph.model.watch import Question, Said, Turned

ON_HAND, NONE_FREE, NONE = "on hand", "promised to others", "not on hand"
UNANSWERED = "no answer"
"""What is said where the question cannot be answered, for instance because a core is gone."""

WATCH_SECONDS = 10.0
"""How long the search for a plan may take that is only watched."""


def said(desk: Desk, question: Question, day: str) -> Said:
    """The answer of now."""
    try:
        return _said(desk, question, day)
    except SpoolwrightError as error:
        return Said(UNANSWERED, error.message)


def _said(desk: Desk, question: Question, day: str) -> Said:
    if question.kind == "fits":
        answer = desk.fits(question.unit, question.engine, seat=question.seat, part=question.part, day=day)[0]
        return Said(answer.verdict.value, answer.sentence)
    if question.kind == "plan":
        plan = desk.plan(question.core, question.build, question.engine, day=day, seconds=WATCH_SECONDS)
        if plan.plans:
            return Said(plan.verdict.value, plan.sentence, plan.plans[0].cost, plan.plans[0].currency)
        return Said(plan.verdict.value, plan.sentence)
    return _on_hand(desk, question.part)


def _on_hand(desk: Desk, part: str) -> Said:
    found = stock(desk, part)
    name = f"{found.maker} {found.number}"
    if found.on_hand <= 0:
        return Said(NONE, f"{name} is not on hand.")
    if found.free <= 0:
        return Said(NONE_FREE, f"{found.on_hand} of {name} are on hand, all promised to jobs.")
    return Said(ON_HAND, f"{found.free} of {name} are on hand and not promised.")


def summary(all_: Sequence[Turned], what: str = "answer") -> list[str]:
    """How many answers turn from what to what, the most first; then what comes to another price; then the rest.

    `what`: what one of them is called.
    """
    if not all_:
        return ["No question is kept."]
    ways = Counter((t.before.word, t.after.word) for t in all_ if t.turned)
    order = sorted(ways.items(), key=lambda w: (-w[1], w[0]))
    lines = [
        f"{n} {what} turns from {a} to {b}." if n == 1 else f"{n} {what}s turn from {a} to {b}."
        for (a, b), n in order
    ]
    same = [t for t in all_ if not t.turned]
    dearer = sum(t.before.cost != t.after.cost for t in same)
    if dearer:
        lines.append(f"{dearer} {'plan comes' if dearer == 1 else 'plans come'} to another price.")
    rest = len(same) - dearer
    if rest:
        lines.append(f"1 {what} stays as it is." if rest == 1 else f"{rest} {what}s stay as they are.")
    return lines
