"""What a core is credited: the share of its deposit that its grade earns by the shop's rule.

Money is in minor units; a share of an amount is rounded half up to the minor unit, once.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from api.pages.wording import _
from graph.errors import BadQuestion
from graph.model.figures import Figure

_GRADE: Final = re.compile(r"([A-Za-z0-9]+)\s*[:=]\s*(\d+(?:\.\d+)?)\s*%?")


def share(amount: int, percent: Decimal) -> int:
    """A percentage of an amount, rounded half up to the minor unit.

    >>> share(146240, Decimal("19")), share(105, Decimal("50"))
    (27786, 53)
    """
    return int((Decimal(amount) * percent / 100).quantize(Decimal(1), ROUND_HALF_UP))


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


def rule_on_record(shares: Iterable[Figure]) -> dict[str, Decimal]:
    """The shop's own rule: the share of each grade that is set."""
    return {one.of.upper(): Decimal(one.percent) for one in shares}


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
