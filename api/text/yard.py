"""The shelf's and the interchange's answers as plain text."""

from collections.abc import Iterable, Sequence

from api.text.layout import bullets, columns, heading, paragraph
from api.words import money, named, spoken, told
from graph.model.interchange import Derived, Disagreement, InterchangeAnswer, InterchangeReport
from graph.model.verdict import Verdict
from graph.model.yard import JobPlan, Promise, RushAnswer, ShelfAnswer

MARK = {
    Verdict.YES: "fits",
    Verdict.WITH_WORK: "fits with work",
    Verdict.UNKNOWN: "not known",
    Verdict.NO: "does not fit",
}


def shelf_lines(answer: ShelfAnswer) -> list[str]:
    """The sentence, then job by job in the list's order its core, parts, work and cost, then who is left out and why.

    Parts: a donor's before new ones, by seat.
    """
    lines = paragraph(told(answer.sentence))
    for one in answer.jobs:
        lines += heading(f"{one.job.name}: {named(one.job.build)} on core {one.tag}")
        lines += _job_lines(one, answer.currency)
    if answer.left_out:
        lines += heading("Left out")
        lines += bullets(f"{left.job.name}: {told(left.reason)}." for left in answer.left_out)
    if answer.saved:
        lines += ["", f"Donors torn down once save {money(answer.saved, answer.currency)} of the sum of the plans."]
    lines += ["", f"Read from catalogue {answer.snapshot.catalogue}, shelf {answer.snapshot.shelf}."]
    return lines


def _job_lines(one: JobPlan, currency: str) -> list[str]:
    plan = one.answer.plans[0]
    due = f", due {one.job.due}" if one.job.due else ""
    who = f" for {one.job.customer}" if one.job.customer else ""
    lines = paragraph(f"{money(one.cost, currency, at_least=plan.at_least)}{who}{due}.")
    if one.cost > one.alone:
        lines += paragraph(f"Were it the only job, it would cost no less than {money(one.alone, currency)}.")
    rows = [
        (word, f"core {c.lot}" if c.lot else "", spoken(c.seat), f"{c.quantity} x {named(c.part)}")
        for source, word in (("donor", "from"), ("new", "new"))
        for c in plan.seats
        if c.source == source
    ]
    lines += columns(rows)
    work = [f"{s.label} ({spoken(s.seat)})" for s in plan.steps if s.seat]
    if work:
        lines += paragraph(f"Work: {', '.join(work)}.")
    if one.order:
        lines += paragraph(f"To be ordered: {', '.join(named(part) for part in one.order)}.")
    return lines


def rush_lines(answer: RushAnswer) -> list[str]:
    """What the rush job displaces, then the whole day with it."""
    lines = paragraph(answer.sentence)
    currency = answer.together.currency
    lines += columns(
        (
            gone.job,
            f"{gone.before or 'left out'} -> {gone.after or 'left out'}",
            f"{money(gone.cost_before, currency)} -> {money(gone.cost_after, currency)}",
        )
        for gone in answer.displaced
    )
    return [*lines, "", *shelf_lines(answer.together)]


def promise_lines(promises: Sequence[Promise]) -> list[str]:
    """What is promised to which job, by whom, until when; oldest first."""
    if not promises:
        return ["Nothing is promised."]
    rows = []
    for promise in promises:
        if promise.seat:
            what = f"the {promise.seat} of core {promise.tag}"
        elif promise.tag:
            what = f"core {promise.tag}"
        else:
            what = f"{promise.quantity} x {named(promise.part)} out of stock"
        by = f"by {promise.who}" if promise.who else "by nobody named"
        rows.append((promise.job, what, f"{by}, {f'until {promise.until}' if promise.until else 'until released'}"))
    return columns(rows)


def interchange_lines(answer: InterchangeAnswer) -> list[str]:
    """What else could sit there, where it could sit itself, and what is asserted, each with its reasons."""
    lines = paragraph(answer.sentence)
    seats = ", ".join(dict.fromkeys(seat for _, seat in answer.seats))
    layouts = ", ".join(dict.fromkeys(layout for layout, _ in answer.seats))
    lines += paragraph(f"Looked at: {spoken(seats)} in {spoken(layouts)}. Surest first, then by number.")
    for title, found, whose in (
        ("What may sit in its place", answer.instead, "other"),
        ("Whose place it may take", answer.stands_in, "part"),
    ):
        lines += heading(title)
        lines += _derived_lines(found, whose) or ["  nothing on record"]
    if answer.asserted:
        lines += heading("What somebody asserts, held against the features")
        lines += _asserted_lines(answer.asserted)
    lines += ["", "Derived from the features on record alone; what no feature says, such as a setting, is not in it."]
    lines += [f"Read from catalogue {answer.snapshot.catalogue}."]
    return lines


def _derived_lines(found: Iterable[Derived], whose: str) -> list[str]:
    rows: dict[tuple[str, str, str, str], list[str]] = {}
    for d in found:
        why = "; ".join(d.conditions) or "; ".join(dict.fromkeys(m.measure for m in d.missing))
        if not why and d.verdict is Verdict.YES:
            why = "every rule of the seat is kept, no duty feature gets worse"
        rows.setdefault((MARK[d.verdict], named(getattr(d, whose)), d.seat, why), []).append(d.layout)
    return columns(
        (mark, name, f"{spoken(seat)} ({spoken(', '.join(layouts))})", why)
        for (mark, name, seat, why), layouts in rows.items()
    )


def _asserted_lines(found: Iterable[Disagreement]) -> list[str]:
    lines = []
    for one in found:
        said = one.asserted
        by = f" ({one.by})" if one.by else ""
        on = f", on condition: {said.condition}" if said.condition else ""
        lines += paragraph(f"- {named(said.other)} for {named(said.part)}{by}{on}", "  ", "  ")
        lines += paragraph(f"{one.how}: {one.text}", "    ")
    return lines


def report_lines(answer: InterchangeReport) -> list[str]:
    """Every asserted interchange against the derived one, refuted ones first; then what nobody asserts."""
    order = ("refuted", "not without its condition", "not borne out", "only with work", "agrees")
    lines = paragraph(f"{len(answer.asserted)} interchanges are asserted.")
    for how in order:
        mine = [d for d in answer.asserted if d.how == how]
        if mine:
            lines += heading(f"{how[0].upper()}{how[1:]}")
            lines += _asserted_lines(mine)
    lines += heading("Derived, asserted by nobody (for information; surest first, then by seat and number)")
    rows = [
        (MARK[one.verdict], spoken(one.seat), f"{named(one.other)} for {named(one.part)}", "; ".join(one.conditions))
        for one in answer.unasserted
    ]
    return lines + (columns(rows) or ["  none"])
