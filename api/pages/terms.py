"""The core's own words as the pages say them: verdicts, outcomes, ranks, money, times; from the one catalogue."""

from collections.abc import Iterable, Mapping
from typing import Final

from api.pages.wording import _
from graph.model.verdict import Proof
from graph.rules import spoken as phrases
from ontology.currencies import money_shown

WORDS: Final = {
    # verdicts
    "fits": _("fits"),
    "fits with work": _("fits with work"),
    "not known": _("not known"),
    "does not fit": _("does not fit"),
    # what becomes of a part
    "reuse": _("reuse"),
    "machine": _("machine"),
    "replace": _("replace"),
    "scrap": _("scrap"),
    "too close to call": _("too close to call"),
    # what is in a seat
    "present": _("present"),
    "missing": _("missing"),
    "cracked": _("cracked"),
    # how one thing stands to another
    "same": _("same"),
    "larger": _("larger"),
    "smaller": _("smaller"),
    "different": _("different"),
    "agrees": _("agrees"),
    "contradicts": _("contradicts"),
    "not on record": _("not on record"),
    "kept": _("kept"),
    "kept once machined": _("kept once machined"),
    "the first suits nothing here": _("the first suits nothing here"),
    "broken": _("broken"),
    # who says so
    "measured": _("measured"),
    "drawing": _("drawing"),
    "maker": _("maker"),
    "supplier": _("supplier"),
    "shop": _("shop"),
    "heard": _("heard"),
    # how sure a fact is
    "known": _("known"),
    "disputed": _("disputed"),
    "unknown": _("unknown"),
    "machined": _("machined"),
    # sorts of things
    "part": _("part"),
    "turbocharger": _("turbocharger"),
    "unit": _("turbocharger"),
    "engine": _("engine"),
    "core": _("core"),
    "build": _("build"),
    "casting": _("casting"),
    # where a part of a build comes from
    "keep": _("keep"),
    "new": _("new"),
    "from donor": _("from donor"),
    "leave empty": _("leave empty"),
}
"""A word that the core says, and what stands on a page for it."""

WISHES: Final = {
    "no-new": _("no new parts but those always renewed"),
    "no-donor": _("nothing from donor cores"),
    "no-machining": _("no work on any part"),
    "only-stock": _("new parts only out of stock"),
    "keep": _("keep the {}"),
    "no-used": _("no used {}"),
    "no-part": _("not the part {}"),
    "no-operation": _("do not {}"),
}
"""How a customer's wish is said; the braces hold what it is about."""

PROOFS: Final = {
    Proof.CHEAPEST: _("proved cheapest"),
    Proof.BEST: _("proved best by the measures asked for"),
    Proof.FOUND: _("found and checked; a cheaper one may exist"),
    Proof.IMPOSSIBLE: _("proved impossible with the parts and operations on record"),
    Proof.UNDECIDED: _("undecided: stopped by the time limit, nothing proved"),
}
SECTIONS: Final = {
    "core": _("From the core"),
    "donor": _("From donor cores"),
    "part": _("Parts"),
    "consumed": _("Used up"),
    "kit": _("Kits"),
    "in-kit": _("in the kit"),
}
SOURCES: Final = {"kept": _("keep"), "new": _("new"), "donor": _("from donor"), "empty": _("leave empty")}


def wish_said(wish: str, words: Mapping[str, str] | None = None) -> str:
    """One wish of the customer's; `words`: how operations are called."""
    return phrases.wished(wish, words, WISHES)


def wished(wishes: Iterable[str], words: Mapping[str, str] | None = None) -> str:
    """The customer's wishes in their order, empty where there are none.

    >>> wished(["keep:turbine-housing", "no-donor"])
    'Wished: keep the turbine housing; nothing from donor cores.'
    """
    told = "; ".join(wish_said(wish, words) for wish in wishes)
    return _("Wished: %(wishes)s.") % {"wishes": told} if told else ""


def word(said: object) -> str:
    """A word of the core, or of one of its enumerations, as a page says it; any other text stays what it is.

    >>> word("does not fit"), word("46-20-262")
    ('does not fit', '46-20-262')
    """
    text = str(getattr(said, "value", said))
    return WORDS.get(text, text)


def money(minor: int | None, currency: str = "", *, at_least: bool = False) -> str:
    """An amount of money; what is not known is said.

    >>> money(148050, "EUR", at_least=True), money(None)
    ('at least 1,480.50 EUR', 'price not known')
    """
    if minor is None:
        return _("price not known")
    text = money_shown(minor, currency, thousands=",")
    return _("at least %(sum)s") % {"sum": text} if at_least else text


def days(count: int | None) -> str:
    """A lead time.

    >>> days(0), days(1), days(2), days(None)
    ('from stock', '1 day', '2 days', 'lead time not known')
    """
    if count is None:
        return _("lead time not known")
    if count == 0:
        return _("from stock")
    return _("1 day") if count == 1 else _("%(n)s days") % {"n": count}
