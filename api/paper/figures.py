"""The shop's own figures as papers and pages say them: name, value with unit, since when and on whose word."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

from api.pages.terms import days, money
from api.pages.wording import _
from api.paper.quote import Quote
from graph.model.figures import CREDIT, SUBLET, TAX, VALIDITY, WARRANTY, Figure, HourlyRate

FIGURES: Final = {
    TAX: _("Tax rate"),
    VALIDITY: _("Days of validity"),
    WARRANTY: _("Warranty from the hand-over"),
    CREDIT: _("Core credit"),
    SUBLET: _("Done elsewhere"),
}
FIGURE_OF: Final = {
    CREDIT: _("Core credit, grade %(of)s"),
    SUBLET: _("Done elsewhere: %(of)s"),
}
"""What the shop's own figures are called."""


def on_record(said: Figure | HourlyRate) -> str:
    """Which version of a figure it is: since which day, on whose word, in which change set."""
    since = said.as_of if isinstance(said, Figure) else said.time[:10]
    return _("the shop's figure as of %(since)s, set by %(who)s on %(day)s (change %(n)s)") % {
        "since": since,
        "who": said.who,
        "day": said.time[:10],
        "n": said.said,
    }


def figure_name(one: Figure) -> str:
    """What a figure is, as a person says it."""
    return (FIGURE_OF[one.figure] % {"of": one.label}) if one.of else FIGURES[one.figure]


def figure_value(one: Figure) -> str:
    """The value of a figure with its unit."""
    if one.percent:
        return f"{one.percent} %"
    if one.price is not None:
        return money(one.price, one.currency)
    return days(one.days) if one.days else _("not set")


def quote_ground(quote: Quote, rates: Sequence[HourlyRate]) -> tuple[str, ...]:
    """What is on record, since when and on whose word, and what somebody typed."""
    lines = [_("Parts: prices on record, each as of its day.")]
    lines += [
        _("Work: times on record, at %(rate)s for an hour of %(name)s, %(word)s.")
        % {"rate": money(rate.per_hour, rate.currency), "name": rate.name, "word": on_record(rate)}
        for rate in rates
    ] or [_("Work: no rate for an hour is on record.")]
    lines += [
        _("%(what)s: %(figure)s, %(word)s.")
        % {"what": figure_name(one), "figure": figure_value(one), "word": on_record(one)}
        for one in quote.taken
    ]
    lines += [_("%(what)s: price typed in at the counter.") % {"what": what} for what in quote.typed]
    lines += [
        _("%(what)s, done elsewhere: its price is not set; it is not in this sum.") % {"what": line.what}
        for line in quote.sublet
        if line.amount is None
    ]
    sorts = {one.figure for one in quote.taken}
    if quote.rate is None:
        lines.append(_("Tax rate: not set, and none was typed in."))
    elif TAX not in sorts:
        lines.append(_("Tax rate: typed in at the counter."))
    if not quote.valid_until:
        lines.append(_("Days of validity: not set, and none were typed in."))
    elif VALIDITY not in sorts:
        lines.append(_("Days of validity: typed in at the counter."))
    return tuple(lines)


def warranty_terms(term: Figure | None, handed_over: str) -> tuple[str, ...]:
    """The shop's warranty and how long it runs. `handed_over`: the day on which the job was collected; or empty."""
    if term is None or not term.days:
        return (_("Not set: write down what was agreed."),)
    lines = [
        _("%(days)s from the hand-over, %(word)s.") % {"days": days(term.days), "word": on_record(term)},
    ]
    try:
        last = date.fromisoformat(handed_over[:10]) + timedelta(days=term.days)
        lines.append(
            _("Handed over on %(day)s; it runs to %(last)s.") % {"day": handed_over[:10], "last": last.isoformat()}
        )
    except (ValueError, OverflowError):
        lines.append(_("The day of the hand-over is not on record: name a job that was collected."))
    return tuple(lines)
