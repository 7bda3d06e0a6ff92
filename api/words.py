"""Numbers, names and verdicts as a person reads them: one spelling for terminal, page and paper."""

import re

from graph.model.statement import name_in
from graph.model.verdict import Proof, Verdict
from graph.rules import spoken as phrases
from ontology.currencies import money_shown
from ontology.quantities import shown

NOT_KNOWN = phrases.NOT_KNOWN
MARKS = {Verdict.YES: "+", Verdict.WITH_WORK: "~", Verdict.UNKNOWN: "?", Verdict.NO: "x"}
SOURCES = {"kept": "keep", "new": "new", "donor": "from donor", "empty": "leave empty"}
PROOFS = {
    Proof.CHEAPEST: "proved cheapest",
    Proof.BEST: "proved best by the measures asked for",
    Proof.FOUND: "found and checked; a cheaper one may exist",
    Proof.IMPOSSIBLE: "proved impossible with the parts and operations on record",
    Proof.UNDECIDED: "undecided: stopped by the time limit, nothing proved",
}


def money(minor: int | None, currency: str = "", *, at_least: bool = False) -> str:
    """An amount of money; what is not known is said.

    >>> money(148050, "EUR")
    '1,480.50 EUR'
    >>> money(148050, "EUR", at_least=True)
    'at least 1,480.50 EUR'
    >>> money(148050, "JPY")
    '148,050 JPY'
    >>> money(None)
    'price not known'
    """
    if minor is None:
        return "price not known"
    text = money_shown(minor, currency, thousands=",")
    return f"at least {text}" if at_least else text


def duration(ms: int) -> str:
    """A working time, in minutes and, from two hours on, in hours too.

    >>> duration(95 * 60_000), duration(200 * 60_000), duration(90_000)
    ('95 min', '3 h 20 min (200 min)', '1.5 min')
    """
    tenths = (ms + 3_000) // 6_000
    minutes = f"{tenths // 10}" if tenths % 10 == 0 else f"{tenths // 10}.{tenths % 10}"
    if tenths < 1_200:
        return f"{minutes} min"
    whole = (tenths + 5) // 10
    return f"{whole // 60} h {whole % 60:02d} min ({minutes} min)"


def days(count: int | None) -> str:
    """A lead time.

    >>> days(0), days(1), days(None)
    ('from stock', '1 day', 'lead time not known')
    """
    if count is None:
        return "lead time not known"
    if count == 0:
        return "from stock"
    return "1 day" if count == 1 else f"{count} days"


named = name_in
"""The name inside a key."""


def size(amount: int | None, quantity: str) -> str:
    """A stored amount with its unit, or *not known*."""
    return NOT_KNOWN if amount is None else shown(amount, quantity)


spoken = phrases.in_words
"""A key of the workbook as running text."""

wished = phrases.wished
"""A customer's wish as it is said."""

_KEY = re.compile(r"\b(?:part|core|unit|engine|build|machine)/[^\s,;()]+")


def told(text: str) -> str:
    """Running text with the keys in it as names.

    >>> told("without it: part/Ostrel/46-20-140 (kept)")
    'without it: Ostrel 46-20-140 (kept)'
    """
    return _KEY.sub(lambda key: named(key[0]), text)
