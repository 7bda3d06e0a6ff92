"""How facts are said in a reason: values with units, seats and features by their labels."""

from collections.abc import Iterable, Mapping
from functools import reduce
from typing import Final

from graph.model.fact import Alternative, Fact
from graph.model.record import Rule
from graph.model.said import say
from graph.model.statement import name_in
from graph.model.value import Amount, Code, Value
from ontology.quantities import USUAL, shown

ENGINE = "engine"
NOT_KNOWN: Final = say("not known")
WISHES: Final = {
    "no-new": "no new parts but those always renewed",
    "no-donor": "nothing from donor cores",
    "no-machining": "no work on any part",
    "only-stock": "new parts only out of stock",
    "keep": "keep the {}",
    "no-used": "no used {}",
    "no-part": "not the part {}",
    "no-operation": "do not {}",
}


def in_words(name: str) -> str:
    """A key of the workbook as running text.

    >>> in_words("compressor_cover"), in_words("shaft-wheel"), in_words("OV46-140")
    ('compressor cover', 'shaft wheel', 'OV46-140')
    """
    return name.replace("_", " ").replace("-", " ") if name.islower() else name


def wished(wish: str, words: Mapping[str, str] | None = None, phrases: Mapping[str, str] = WISHES) -> str:
    """A customer's wish as it is said; `words`: how operations are called; `phrases`: in another language.

    >>> wished("keep:turbine-housing"), wished("no-part:part/Ostrel/46-20-262"), wished("no-new")
    ('keep the turbine housing', 'not the part Ostrel 46-20-262', 'no new parts but those always renewed')
    """
    word, _, what = wish.partition(":")
    told = name_in(what) if word == "no-part" else (words or {}).get(what) or what.replace("-", " ")
    return phrases.get(word, wish).format(told)


def number(amount: int, quantity: str, *, difference: bool = False) -> str:
    """An amount in the quantity's usual unit.

    >>> number(714_500_000, "length")
    '71.45 mm'
    """
    return shown(amount, quantity, difference=difference) if quantity else str(amount)


def span(low: int, high: int, quantity: str, *, difference: bool = False) -> str:
    """An interval as a person says it: "71.4 mm", or "71.4 mm to 71.5 mm"."""
    least = number(low, quantity, difference=difference)
    if low == high:
        return least
    return say("{low} to {high}", low=least, high=number(high, quantity, difference=difference))


def as_written(value: Value) -> str:
    """The value in its original text and unit; what it is stored as when no text was kept."""
    if isinstance(value, Amount):
        return f"{value.text} {value.unit}".strip() if value.text else number(value.amount, value.quantity)
    if value.text:
        return value.text
    return value.code if isinstance(value, Code) else " | ".join(value.codes)


def alternative_text(alternative: Alternative, quantity: str) -> str:
    """One surviving value; a text in another unit than the usual one stands beside it."""
    if alternative.low is None or alternative.high is None:
        return alternative.shown or " | ".join(alternative.codes)
    text = span(alternative.low, alternative.high, quantity)
    usual = USUAL[quantity].symbol if quantity else ""
    foreign = alternative.shown and not alternative.shown.endswith(usual)
    return say("{size} ({as_written})", size=text, as_written=alternative.shown) if foreign else text


def fact_text(fact: Fact | None) -> str:
    """All that survives of a fact: positions joined by "and", rival claims by "or"."""
    if fact is None or not fact.alternatives:
        return NOT_KNOWN
    if len(fact.alternatives) == 1:  # as most facts have
        [only] = fact.alternatives
        return _at(alternative_text(only, fact.quantity), only.position)
    places = dict.fromkeys(a.position for a in fact.alternatives)
    said = []
    for place in places:
        rivals = dict.fromkeys(alternative_text(a, fact.quantity) for a in fact.alternatives if a.position == place)
        said.append(_at(reduce(lambda one, other: say("{one} or {other}", one=one, other=other), rivals), place))
    return reduce(lambda one, other: say("{one} and {other}", one=one, other=other), said)


def _at(text: str, position: str) -> str:
    return say("{size} at {position}", size=text, position=position) if position else text


def against(texts: Iterable[str]) -> str:
    """Texts that are held against one another."""
    return reduce(lambda one, other: say("{one} against {other}", one=one, other=other), texts)


def operand_name(seat: str, feature: str, words: Mapping[str, str]) -> str:
    """The feature of a seat by their labels: "compressor wheel exducer"."""
    return f"{words.get(seat) or in_words(seat)} {words.get(feature) or in_words(feature)}"


def wanted(rule: Rule, admitted: str, quantity: str, words: Mapping[str, str]) -> str:
    """What a rule asks for; `admitted` is the name of its accepted set."""
    if rule.type == "thread":
        return say("the threads must be the same")
    if rule.type in ("accepted", "control"):
        return say("the pair must be one that {set} admits", set=words.get(admitted, admitted))
    if rule.type == "same":
        if not quantity or not rule.max:
            return say("they must be the same")
        return say("they must be the same within {size}", size=number(rule.max, quantity, difference=True))
    if rule.type == "at_most":
        if not rule.right:
            return say("at most {size} is allowed", size=number(rule.max or 0, quantity))
        if not rule.min:
            return say("the first may not be larger")
        return say("at least {size} must remain", size=number(rule.min, quantity, difference=True))
    if rule.type == "at_least":
        if not rule.right:
            return say("at least {size} is wanted", size=number(rule.min or 0, quantity))
        if not rule.min:
            return say("the first may not be smaller")
        return say("at least {size} more is wanted", size=number(rule.min, quantity, difference=True))
    if rule.min is None:
        return say("at most {size} is allowed", size=number(rule.max or 0, quantity, difference=True))
    if rule.max is None:
        return say("at least {size} is wanted", size=number(rule.min, quantity, difference=True))
    low, high = (number(end, quantity, difference=True) for end in (rule.min, rule.max))
    return say("{low} to {high} is allowed", low=low, high=high)
