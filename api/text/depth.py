"""Why not, what then, which core, how far, what least, by other measures: as plain text."""

from collections.abc import Iterator

from api.text.layout import bullets, columns, heading, paragraph
from api.text.plan import plan_lines
from api.words import MARKS, NOT_KNOWN, days, duration, money, named
from graph.model.depth import Least, Member, Objectives, Ranked, Ranking, UnknownAnswer, WhyAnswer
from graph.model.record import Snapshot

SHOWN = 10
"""Rows of a ranking that are only bounded and still shown."""


def why_lines(answer: WhyAnswer) -> list[str]:
    """The sentence, the clash member by member with both values and sources, then the ways out with their plans."""
    lines = paragraph(answer.sentence)
    if answer.clash is not None:
        lines += heading("What cannot all be met (drop any one, and the rest can)")
        for member in answer.clash.members:
            lines += bullets([member.text])
            lines += [line for text in _about(member) for line in paragraph(text, "      ", "  ")]
    if answer.causes:
        lines += heading("What stands in the way")
        lines += bullets(answer.causes)
    if answer.ways:
        lines += heading("The ways out, cheapest first")
        lines += bullets(way.sentence for way in answer.ways)
        if not answer.complete:
            lines += paragraph("There may be cheaper ones: not all were looked through.", "  ")
        first = answer.ways[0].answer.plans[0]
        lines += heading("The plan of the first way out")
        lines += plan_lines(first)
    return lines + _read(answer.snapshot, answer.question.day)


def _about(member: Member) -> Iterator[str]:
    if member.have:
        yield member.have
    yield from member.limits
    if member.safety:
        yield "a safety rule: never given up"
    if member.sources:
        yield f"source: {'; '.join(member.sources)}"


def unknown_lines(answer: UnknownAnswer) -> list[str]:
    """The sentence, what holds in every case, the cases, and the measurements that decide."""
    lines = paragraph(answer.sentence)
    if answer.holds:
        lines += heading("In every case in which it can be done")
        lines += bullets(answer.holds)
    lines += heading("The cases")
    for case in answer.cases:
        lines += bullets([case.sentence])
        if case.plan is not None and not case.settled and case.least is not None:
            lines += paragraph(f"not below {money(case.least, case.plan.currency)}", "      ")
    if answer.decide:
        lines += heading("What settles it, the smallest set first")
        for number, wanted in enumerate(answer.decide, 1):
            asks = dict.fromkeys(f"{m.measure} ({named(m.part) or m.seat})" for m in wanted)
            lines += paragraph(f"{number}. {' and '.join(asks)}", "  ", "   ")
    if answer.beyond:
        lines += heading("Open beside it")
        lines += bullets(f"{m.seat} {m.feature}: {m.why} ({m.measure})" for m in answer.beyond)
    return lines + _read(answer.snapshot, answer.question.day)


def ranking_lines(ranking: Ranking) -> list[str]:
    """One row each: mark, name, cost or the bound, what it needs."""
    lines = paragraph(ranking.sentence)
    rows = [_row(row, ranking.currency) for row in ranking.ranked]
    lines += ["", *columns(rows[: ranking.exact])]
    rest = rows[ranking.exact :]
    if rest:
        lines += heading("Not worked out: none of these is better than the last one above")
        lines += columns(rest[:SHOWN])
        if len(rest) > SHOWN:
            lines += paragraph(f"and {len(rest) - SHOWN} more", "  ")
    return lines + _read(ranking.snapshot, "")


def _row(row: Ranked, currency: str) -> tuple[str, str, str, str]:
    mark = "." if row.verdict is None else MARKS[row.verdict]
    if row.cost is not None:
        unsure = row.answer is not None and bool(row.answer.plans) and row.answer.plans[0].at_least
        price = money(row.cost, currency, at_least=unsure)
    elif row.verdict is None and row.least is not None:
        price = money(row.least, currency, at_least=True)
    else:
        price = "-" if row.verdict is not None else NOT_KNOWN
    return mark, row.name, price, row.needs


def least_lines(answer: Least) -> list[str]:
    """The sentence and the plan."""
    lines = paragraph(answer.sentence)
    for plan in answer.answer.plans[:1]:
        lines += heading("The change")
        lines += plan_lines(plan)
    return lines + _read(answer.answer.snapshot, answer.answer.question.day)


def objectives_lines(answer: Objectives) -> list[str]:
    """One plan in full, or a table of those that none beats in both money and time."""
    if not answer.plans:
        return paragraph("There is no certain plan.") + _read(answer.snapshot, answer.question.day)
    if answer.order:
        lines = paragraph(f"The best by {', then '.join(answer.order)}.")
        return lines + plan_lines(answer.plans[0].plan) + _read(answer.snapshot, answer.question.day)
    lines = paragraph("Plans of which none is both cheaper and quicker:")
    lines += columns(
        (
            money(one.cost, one.plan.currency),
            duration(one.time),
            f"{one.changes} seats changed",
            f"{one.lasting} operations for good",
            days(one.lead_days),
        )
        for one in answer.plans
    )
    if not answer.complete:
        lines += paragraph("There may be more between them: not all were looked through.")
    return lines + _read(answer.snapshot, answer.question.day)


def _read(snapshot: Snapshot, day: str) -> list[str]:
    when = f", as of {day}" if day else ""
    return ["", f"Read from catalogue {snapshot.catalogue}, shelf {snapshot.shelf}{when}."]
