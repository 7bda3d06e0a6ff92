"""Why not, what then, which core, how far, what least, by other measures: as plain text."""

from collections.abc import Iterator

from api.text.layout import bullets, columns, heading, paragraph
from api.text.plan import counter_lines, plan_lines, wish_lines
from api.words import MARKS, NOT_KNOWN, days, duration, money, named, spoken, told
from graph.desk.measured import SAID
from graph.model.depth import Least, Member, Objectives, Ranked, Ranking, UnknownAnswer, WhyAnswer
from graph.model.record import Snapshot
from graph.model.verdict import Verdict

FULL = "In full, for the bench: the same with --full."
KEPT = "  All else is kept as it is, or stays empty."


def why_lines(answer: WhyAnswer, *, full: bool = False) -> list[str]:
    """The sentence, the clash member by member with both values and sources, then the ways out, cheapest first.

    In full: what each member costs in the others' place, and the first way's plan for the bench.
    """
    lines = paragraph(told(answer.sentence)) + wish_lines(answer.question.wishes)
    if answer.clash is not None:
        lines += heading("What cannot all be met (drop any one, and the rest can)")
        for member in answer.clash.members:
            lines += bullets([member.text])
            lines += [line for text in _about(member) for line in paragraph(told(text), "      ", "  ")]
    if answer.causes:
        lines += heading("What stands in the way")
        lines += bullets(told(cause) for cause in answer.causes)
    if answer.ways:
        lines += heading("The ways out, cheapest first")
        lines += bullets(told(way.sentence) for way in answer.ways)
        if not answer.complete:
            lines += paragraph("There may be cheaper ones: not all were looked through.", "  ")
        first = answer.ways[0].answer.plans[0]
        lines += heading("The plan of the first way out")
        lines += plan_lines(first) if full else [*counter_lines(first), "", FULL]
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
    lines = paragraph(told(answer.sentence)) + wish_lines(answer.question.wishes)
    if answer.holds:
        lines += heading("In every case in which it can be done")
        lines += [*bullets(told(text) for text in answer.holds), KEPT]
    lines += heading("The cases")
    for case in answer.cases:
        lines += bullets([told(case.sentence)])
        if case.plan is not None and not case.settled and case.least is not None:
            lines += paragraph(f"not below {money(case.least, case.plan.currency)}", "      ")
    if answer.decide:
        lines += heading("What settles it, the smallest set first")
        for number, wanted in enumerate(answer.decide, 1):
            asks = dict.fromkeys(f"{m.measure} ({named(m.part) or spoken(m.seat)})" for m in wanted)
            lines += paragraph(f"{number}. {' and '.join(asks)}", "  ", "   ")
    if answer.beyond:
        lines += heading("Open beside it")
        lines += bullets(f"{spoken(m.seat)} {spoken(m.feature)}: {m.why} ({m.measure})" for m in answer.beyond)
    return lines + _read(answer.snapshot, answer.question.day)


def ranking_lines(ranking: Ranking) -> list[str]:
    """What is worked out, cheapest first; then what is only bounded, by its bound; what cannot be done, last."""
    lines = paragraph(told(ranking.sentence)) + wish_lines(ranking.wishes)
    able = [row for row in ranking.ranked[: ranking.exact] if row.verdict is not Verdict.NO]
    if able:
        lines += heading("Cheapest first  (+ as it is, ~ with work, ? hangs on what is not known)")
        lines += columns(_row(row, ranking.currency) for row in able)
        lines += ["", "Left out above, and in the price: what is always renewed (bearings, rings, gaskets)."]
    rest = [row for row in ranking.ranked[ranking.exact :] if row.verdict is not Verdict.NO]
    if rest:
        lines += heading("Not worked out: none of these is cheaper than the last one above")
        named_ = (f"{row.name} {_row(row, ranking.currency)[2]}" for row in rest)
        lines += paragraph(f"{'; '.join(named_)}.", "  ", "")
    never = [row for row in ranking.ranked if row.verdict is Verdict.NO]
    if never:
        lines += heading("Cannot be done")
        lines += columns((row.name, told(row.needs)) for row in never)
    return lines + _read(ranking.snapshot, ranking.day)


def _row(row: Ranked, currency: str) -> tuple[str, str, str, str]:
    mark = "." if row.verdict is None else MARKS[row.verdict]
    if row.cost is not None:
        unsure = row.answer is not None and bool(row.answer.plans) and row.answer.plans[0].at_least
        price = money(row.cost, currency, at_least=unsure)
    elif row.verdict is None and row.least is not None:
        price = money(row.least, currency, at_least=True)
    else:
        price = "-" if row.verdict is not None else NOT_KNOWN
    return mark, row.name, price, told(row.needs)


def least_lines(answer: Least, *, full: bool = False) -> list[str]:
    """The sentence and the plan, for the counter or in full."""
    lines = paragraph(told(answer.sentence))
    for plan in answer.answer.plans[:1]:
        lines += heading("The change")
        lines += plan_lines(plan) if full else [*counter_lines(plan), "", FULL]
    return lines + _read(answer.answer.snapshot, answer.answer.question.day)


def objectives_lines(answer: Objectives) -> list[str]:
    """One plan in full, or a table of those that none beats in both money and time."""
    if not answer.plans:
        return paragraph("There is no certain plan.") + _read(answer.snapshot, answer.question.day)
    if answer.question.by:
        lines = paragraph(f"The best by {', then '.join(SAID[name] for name in answer.question.by)}.")
        return lines + plan_lines(answer.plans[0].plan) + _read(answer.snapshot, answer.question.day)
    lines = paragraph("Plans of which none is both cheaper and quicker, cheapest first:")
    lines += columns(
        (
            money(one.cost, one.plan.currency, at_least=one.plan.at_least),
            duration(one.time),
            f"{one.changes} seats changed",
            f"{one.lasting} operations for good",
            days(one.lead_days),
        )
        for one in answer.plans
    )
    if not answer.complete:
        lines += paragraph("There may be more between them: the time given was too short.")
    return lines + _read(answer.snapshot, answer.question.day)


def _read(snapshot: Snapshot, day: str) -> list[str]:
    when = f", as of {day}" if day else ""
    return ["", f"Read from catalogue {snapshot.catalogue}, shelf {snapshot.shelf}{when}."]
