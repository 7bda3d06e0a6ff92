"""A written quote from a checked plan: parts, labour, work done elsewhere, tax, deposit; and what a core is credited.

Money is in minor units throughout; a share of an amount is rounded half up to the minor unit, once.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Final

from api.pages.wording import _
from graph.errors import BadQuestion
from graph.model.plan import CostLine, Plan

WORK: Final = ("labour", "service")
_GRADE: Final = re.compile(r"([A-Za-z0-9]+)\s*[:=]\s*(\d+(?:\.\d+)?)\s*%?")


@dataclass(frozen=True, slots=True)
class Quote:
    """The addends by where they stand; `tax` and `total` are None when no rate was given."""

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


def quote_of(plan: Plan, *, sublet: Sequence[str] = (), tax: str = "", day: str = "", valid_days: int = 14) -> Quote:
    """The quote. `sublet`: names of the work that is done elsewhere; `tax`: a rate in per cent, empty: not stated.

    Raises
    ------
    BadQuestion
        A rate, day or name of work that cannot be; all are named.
    """
    faults: list[str] = []
    rate = _rate(tax, faults)
    until = _until(day, valid_days, faults)
    work = [c for c in plan.costs if c.kind in WORK]
    strangers = [name for name in sublet if name not in {c.what for c in work}]
    faults += [_("there is no work called %(name)s in this plan") % {"name": repr(name)} for name in strangers]
    if faults:
        raise BadQuestion("; ".join(faults), fix=_("mend what is named and ask again"))
    away = tuple(c for c in work if c.what in sublet)
    taxed = None if rate is None else share(plan.cost, rate)
    return Quote(
        tuple(c for c in plan.costs if c.kind not in WORK),
        tuple(c for c in work if c.what not in sublet),
        away,
        plan.cost,
        rate,
        taxed,
        None if taxed is None else plan.cost + taxed,
        plan.deposits,
        plan.at_least,
        until,
    )


def share(amount: int, percent: Decimal) -> int:
    """A percentage of an amount, rounded half up to the minor unit.

    >>> share(146240, Decimal("19")), share(105, Decimal("50"))
    (27786, 53)
    """
    return int((Decimal(amount) * percent / 100).quantize(Decimal(1), ROUND_HALF_UP))


def _rate(text: str, faults: list[str]) -> Decimal | None:
    plain = text.strip().removesuffix("%").strip().replace(",", ".")
    if not plain:
        return None
    try:
        rate = Decimal(plain)
    except InvalidOperation:
        rate = Decimal(-1)
    if not rate.is_finite() or not 0 <= rate <= 100:
        faults.append(_("%(text)s is no tax rate from 0 to 100 per cent") % {"text": repr(text)})
        return None
    return rate


def _until(day: str, valid_days: int, faults: list[str]) -> str:
    try:
        return (date.fromisoformat(day) + timedelta(days=valid_days)).isoformat()
    except (ValueError, OverflowError):
        faults.append(_("%(day)s is no day") % {"day": repr(day)})
        return ""


@dataclass(frozen=True, slots=True)
class Credit:
    """What comes back for a core: the share of its deposit that its grade earns; None: not known."""

    grade: str
    percent: Decimal | None
    deposit: int | None
    amount: int | None
    sentence: str


def grading_rule(text: str) -> dict[str, Decimal]:
    """A shop's rule as it is written: "A: 100, B: 75, C: 40", each grade with its share of the deposit in per cent.

    Raises
    ------
    BadQuestion
        No such list, a grade named twice, or a share beyond 100.

    >>> grading_rule("A: 100, B: 75%")
    {'A': Decimal('100'), 'B': Decimal('75')}
    """
    rule: dict[str, Decimal] = {}
    for piece in filter(str.strip, re.split(r"[,;\n]", text)):
        match = _GRADE.fullmatch(piece.strip())
        grade = match[1].upper() if match else ""
        if match is None or grade in rule or Decimal(match[2]) > 100:
            raise BadQuestion(
                _("%(piece)s is no grade with its share") % {"piece": repr(piece.strip())},
                fix=_("write each grade once with a share from 0 to 100, as in A: 100, B: 75, C: 40"),
            )
        rule[grade] = Decimal(match[2])
    return rule


def credit_of(grade: str, deposit: int | None, rule: dict[str, Decimal]) -> Credit:
    """What the rule gives for this grade; nothing is assumed for a grade or a deposit that is not known."""
    percent = rule.get(grade.strip().upper()) if grade.strip() else None
    missing = []
    if not grade.strip():
        missing.append(_("the core's grade"))
    elif percent is None:
        missing.append(_("the share for grade %(grade)s") % {"grade": grade})
    if deposit is None:
        missing.append(_("the deposit"))
    if missing or percent is None or deposit is None:
        return Credit(
            grade or _("not known"), percent, deposit, None, _("Not known: %(what)s.") % {"what": ", ".join(missing)}
        )
    return Credit(grade, percent, deposit, share(deposit, percent), "")
