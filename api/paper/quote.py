"""A written quote from a checked plan: parts, labour, work done elsewhere, tax, deposit, and how long it holds.

What is typed in counts; where nothing is, the shop's own figure; where there is none, it is not set, and the quote
says so. Money is in minor units throughout.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from api.pages.wording import _
from api.paper.credit import share
from api.words import spoken
from graph.errors import BadQuestion
from graph.model.figures import SUBLET, TAX, VALIDITY, Figure, ShopFigures
from graph.model.plan import CostLine, Plan
from ontology.currencies import read_money
from ontology.quantities import Unreadable

WORK: Final = ("labour", "service")
LONGEST: Final = 365
"""Days for which a quote holds at most."""
_PERCENT: Final = re.compile(r"[0-9]{1,3}(?:\.[0-9]{1,6})?")


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed in at the counter; empty: nothing. `prices`: of work done elsewhere, by its name."""

    tax: str = ""
    valid: str = ""
    sublet: tuple[str, ...] = ()
    prices: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Quote:
    """The addends by where they stand; `tax` and `total` are None when no rate is set, `valid_until` is empty when no
    days are. `taken`: the shop's own figures that are in it; `typed`: the names of the work whose price was typed in.
    """

    parts: tuple[CostLine, ...]
    labour: tuple[CostLine, ...]
    sublet: tuple[CostLine, ...]
    net: int
    rate: Decimal | None
    tax: int | None
    total: int | None
    deposit: int
    at_least: bool
    valid_until: str
    taken: tuple[Figure, ...]
    typed: tuple[str, ...]


def quote_of(plan: Plan, figures: ShopFigures, typed: Typed, *, day: str) -> Quote:
    """The quote. Work done elsewhere costs what was typed in or is on record for it, never the shop's own hours.

    Raises
    ------
    BadQuestion
        A rate, day, price or name of work that cannot be; all are named.
    """
    faults: list[str] = []
    taken: list[Figure] = []
    rate = _rate(typed.tax, figures, taken, faults)
    until = _until(day, typed.valid, figures, taken, faults)
    work = [c for c in plan.costs if c.kind in WORK]
    strangers = [name for name in typed.sublet if name not in {c.what for c in work}]
    strangers += [name for name in typed.prices if name not in {c.what for c in work}]
    faults += [
        _("there is no work called %(name)s in this plan") % {"name": repr(name)} for name in dict.fromkeys(strangers)
    ]
    faults += [
        _("a price is typed in for %(what)s, which is not marked as done elsewhere") % {"what": name}
        for name, text in typed.prices.items()
        if text.strip() and name not in typed.sublet and name not in strangers
    ]
    own = [c for c in plan.costs if c.what not in typed.sublet or c.kind not in WORK]
    away = [_away(c, plan, figures, typed, taken, faults) for c in work if c.what in typed.sublet]
    if faults:
        raise BadQuestion("; ".join(faults), fix=_("mend what is named and ask again"))
    lines = [*own, *away]
    net = sum(c.amount or 0 for c in lines)
    taxed = None if rate is None else share(net, rate)
    return Quote(
        tuple(c for c in own if c.kind not in WORK),
        tuple(c for c in own if c.kind in WORK),
        tuple(away),
        net,
        rate,
        taxed,
        None if taxed is None else net + taxed,
        plan.deposits,
        plan.at_least or any(c.amount is None for c in lines),
        until,
        tuple(taken),
        tuple(c.what for c in away if typed.prices.get(c.what, "").strip()),
    )


def work_named(plan: Plan) -> dict[str, str]:
    """The operation behind each line of work, by the line's name; what is no operation is left out."""
    steps = ((f"{s.label} ({spoken(s.seat)})" if s.seat else s.label, s.operation) for s in plan.steps)
    return dict(steps)


def sublet_price(plan: Plan, figures: ShopFigures, what: str) -> Figure | None:
    """What is on record for a line of work that is sent out; None: nothing, or in another currency."""
    found = figures.one(SUBLET, work_named(plan).get(what, ""))
    return found if found is not None and found.currency == plan.currency else None


def _away(
    line: CostLine, plan: Plan, figures: ShopFigures, typed: Typed, taken: list[Figure], faults: list[str]
) -> CostLine:
    text = typed.prices.get(line.what, "").strip()
    if text:
        try:
            price = read_money(text, plan.currency)
            if price >= 0:
                return CostLine(line.what, line.kind, line.seat, price, line.quantity)
            wrong = _("%(text)s is below nothing") % {"text": repr(text)}
        except Unreadable as error:
            wrong = str(error)
        faults.append(_("the price of %(what)s: %(wrong)s") % {"what": line.what, "wrong": wrong})
    found = sublet_price(plan, figures, line.what)
    if found is None:
        return CostLine(line.what, line.kind, line.seat, None, line.quantity)
    taken.append(found)
    return CostLine(line.what, line.kind, line.seat, found.price, line.quantity, found.as_of)


def _rate(text: str, figures: ShopFigures, taken: list[Figure], faults: list[str]) -> Decimal | None:
    plain = text.strip().removesuffix("%").strip().replace(",", ".")
    if not plain:
        found = figures.one(TAX)
        if found is None:
            return None
        taken.append(found)
        return Decimal(found.percent)
    rate = Decimal(plain) if _PERCENT.fullmatch(plain) else Decimal(-1)
    if not 0 <= rate <= 100:
        faults.append(_("%(text)s is no tax rate from 0 to 100 per cent") % {"text": repr(text)})
        return None
    return rate


def _until(day: str, valid: str, figures: ShopFigures, taken: list[Figure], faults: list[str]) -> str:
    text = valid.strip()
    found = None if text else figures.one(VALIDITY)
    if found is not None and found.days is not None:
        taken.append(found)
        days = found.days
    elif not text:
        return ""
    elif text.isascii() and text.isdigit() and len(text) < 5 and 1 <= int(text) <= LONGEST:
        days = int(text)
    else:
        faults.append(_("%(text)s is no number of days from 1 to %(most)s") % {"text": repr(valid), "most": LONGEST})
        return ""
    try:
        return (date.fromisoformat(day) + timedelta(days=days)).isoformat()
    except (ValueError, OverflowError):
        faults.append(_("%(day)s is no day") % {"day": repr(day)})
        return ""
