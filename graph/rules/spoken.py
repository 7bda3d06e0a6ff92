"""How facts are said in a reason: values with units, seats and features by their labels."""

from collections.abc import Mapping
from typing import Final

from graph.model.fact import Alternative, Fact
from graph.model.record import Rule
from graph.model.statement import name_in
from graph.model.value import Amount, Code, Value
from ontology.quantities import USUAL, shown

ENGINE = "engine"
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
    return least if low == high else f"{least} to {number(high, quantity, difference=difference)}"


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
    return f"{text} ({alternative.shown})" if foreign else text


def fact_text(fact: Fact | None) -> str:
    """All that survives of a fact: positions joined by "and", rival claims by "or"."""
    if fact is None or not fact.alternatives:
        return "not known"
    if len(fact.alternatives) == 1:  # as most facts have
        [only] = fact.alternatives
        return alternative_text(only, fact.quantity) + (f" at {only.position}" if only.position else "")
    places = dict.fromkeys(a.position for a in fact.alternatives)
    said = []
    for place in places:
        rivals = dict.fromkeys(alternative_text(a, fact.quantity) for a in fact.alternatives if a.position == place)
        said.append(" or ".join(rivals) + (f" at {place}" if place else ""))
    return " and ".join(said)


def operand_name(seat: str, feature: str, words: Mapping[str, str]) -> str:
    """The feature of a seat by their labels: "compressor wheel exducer"."""
    return f"{words.get(seat) or in_words(seat)} {words.get(feature) or in_words(feature)}"


def wanted(rule: Rule, admitted: str, quantity: str, words: Mapping[str, str]) -> str:
    """What a rule asks for; `admitted` is the name of its accepted set."""
    if rule.type == "thread":
        return "the threads must be the same"
    if rule.type in ("accepted", "control"):
        return f"the pair must be one that {words.get(admitted, admitted)} admits"
    if rule.type == "same":
        within = f" within {number(rule.max, quantity, difference=True)}" if quantity and rule.max else ""
        return f"they must be the same{within}"
    if rule.type == "at_most":
        if not rule.right:
            return f"at most {number(rule.max or 0, quantity)} is allowed"
        return (
            f"at least {number(rule.min, quantity, difference=True)} must remain"
            if rule.min
            else "the first may not be larger"
        )
    if rule.type == "at_least":
        if not rule.right:
            return f"at least {number(rule.min or 0, quantity)} is wanted"
        return (
            f"at least {number(rule.min, quantity, difference=True)} more is wanted"
            if rule.min
            else "the first may not be smaller"
        )
    if rule.min is None or rule.max is None:
        return (
            f"at least {number(rule.min, quantity, difference=True)} is wanted"
            if rule.min is not None
            else f"at most {number(rule.max or 0, quantity, difference=True)} is allowed"
        )
    return (
        f"{number(rule.min, quantity, difference=True)} to {number(rule.max, quantity, difference=True)} is allowed"
    )
