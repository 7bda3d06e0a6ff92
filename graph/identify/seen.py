"""What was seen, read from a person's words or a core's readings: which feature, and which values it leaves open."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from graph.errors import Ambiguous, BadPartNumber, BadQuantity, BadQuestion, NotFound
from graph.identifiers import spelling
from graph.identify.models import ABSENT, ABSENT_WORDS, ELSE, Models, Trait, words_in
from graph.model.claim import Claim
from graph.model.value import Amount, Code, spelled_code
from graph.rules.decide import spelled_thread
from graph.rules.spoken import as_written, span
from ontology.quantities import SIGNED, read_measure

ELSE_WORDS: Final = ("other", "else", ELSE)
FLAT: Final = ("flat", "straight", "square")
ANGLED: Final = ("angled", "slanted")
"""Words for an angle of nought, and for any other."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One observation: the number of its trait, the values it leaves open, and how it was put.

    `apart`: another reading at the same place contradicts it.
    """

    trait: int
    open: frozenset[int]
    shown: str
    written: str = ""
    apart: bool = False


def read_seen(text: str, models: Models) -> Seen:
    """An observation such as `boost control=vanes`, `downpipe != angled` or `inducer = 52.4 mm ± 0.1`.

    The feature goes by its name, its label, `seat.feature`, or by words of these and of the joint it decides; the
    value by its code, by words that only one recorded value has, or as a size with its unit.

    Raises
    ------
    BadQuestion
        No `=`, or nothing on one side of it.
    NotFound
        No such feature, or a value that it never has; the message lists what there is.
    Ambiguous
        Words that several features or values have.
    """
    match = re.fullmatch(r"\s*([^=!]+?)\s*(!?=)\s*(.+?)\s*", text, re.DOTALL)
    if not match:
        raise BadQuestion(
            f"{text!r} is no observation", fix="write FEATURE=VALUE, for instance 'boost control=vanes'"
        )
    name, sign, value = match.groups()
    places = _traits_called(name, models)
    found: list[Seen] = []
    errors: list[Exception] = []
    for place in places:
        try:
            left_open, shown = _value(models.traits[place], value)
        except (NotFound, Ambiguous, BadQuantity) as error:
            errors.append(error)
            continue
        if sign == "!=":
            left_open = frozenset(range(len(models.traits[place].values))) - left_open
            shown = f"not {shown}"
        found.append(Seen(place, left_open, shown, text.strip()))
    recorded = [s for s in found if any(i < len(models.traits[s.trait].values) - 1 for i in s.open)] or found
    if len(recorded) == 1:
        return recorded[0]
    if recorded:
        listed = ", ".join(_dotted(models.traits[s.trait]) for s in recorded)
        raise Ambiguous(f"{name!r} may be several features: {listed}", fix="write the seat before it, seat.feature")
    if len(errors) == 1:
        raise errors[0]
    listed = ", ".join(_dotted(models.traits[place]) for place in places)
    raise NotFound(f"none of the features {listed} shows {value!r}", fix="write seat.feature=value")


def merged(seen: Iterable[Seen], models: Models) -> tuple[list[Seen], list[str]]:
    """One observation a feature: what was read twice counts once; readings that differ leave both values open."""
    by_trait: dict[int, list[Seen]] = {}
    for one in seen:
        by_trait.setdefault(one.trait, []).append(one)
    out, remarks = [], []
    for place, several in sorted(by_trait.items()):
        first = several[0]
        shown = list(dict.fromkeys(s.shown for s in several))
        common = frozenset.intersection(*(s.open for s in several))
        apart = not common or any(s.apart for s in several)
        both = frozenset.union(*(s.open for s in several)) if apart else common
        if apart:
            remarks.append(
                f"{models.traits[place].label} was seen as {' and as '.join(shown)}; both are left open, look again"
            )
        elif len(several) > 1:
            remarks.append(f"{models.traits[place].label} was given {len(several)} times; it counts once")
        out.append(Seen(place, both, " / ".join(shown), first.written))
    return out, remarks


def from_plate(text: str, models: Models) -> Seen | None:
    """What a plate's text says: the unit whose number stands in it (the longest), or a number not on record."""
    place = next((i for i, t in enumerate(models.traits) if t.feature.type == "text" and t.seat == ""), None)
    if place is None or not text.strip():
        return None
    return Seen(place, _plate_values(models.traits[place], text), text.strip(), f"plate={text.strip()}")


def from_claim(seat: str, claim: Claim, models: Models, *, apart: bool = False) -> Seen | None:
    """A reading on a core as an observation; None when its feature tells nothing of identity."""
    place = models.place(seat, claim.feature)
    if place is None:
        return None
    trait, value = models.traits[place], claim.value
    if isinstance(value, Amount):
        left_open = _within(trait, value.amount - claim.slack, value.amount + claim.slack)
    else:
        codes = (value.code,) if isinstance(value, Code) else value.codes
        said_so = {spelled_thread(c) for c in codes}
        left_open = frozenset(
            i for i, v in enumerate(trait.values) if said_so == {spelled_thread(c) for c in v.codes}
        )
        left_open = left_open or frozenset({len(trait.values) - 1})
    return Seen(place, left_open, as_written(value), f"{seat}.{claim.feature}={as_written(value)}", apart)


def _traits_called(name: str, models: Models) -> list[int]:
    wanted = spelled_code(name.replace("_", " "))
    exact = [i for i, t in enumerate(models.traits) if wanted in _names(t)]
    if exact:
        return exact
    asked = set(words_in(name))
    found = [i for i, t in enumerate(models.traits) if asked and asked <= t.words]
    if not found:
        listed = ", ".join(sorted({_dotted(t) for t in models.traits})) or "none"
        raise NotFound(f"there is no feature {name!r} that tells units apart", fix=f"features on record: {listed}")
    return found


def _names(trait: Trait) -> set[str]:
    names = {trait.feature.name.replace("_", " "), trait.feature.label}
    if trait.seat:
        seat = trait.seat
        names |= {f"{seat}.{trait.feature.name}".replace("_", " "), f"{seat} {trait.feature.label}"}
        names.add(f"{seat.replace('-', ' ')} {trait.feature.label}")
    return {spelled_code(n) for n in names}


def _dotted(trait: Trait) -> str:
    return f"{trait.seat}.{trait.feature.name}" if trait.seat else trait.feature.name


def _value(trait: Trait, text: str) -> tuple[frozenset[int], str]:
    if "|" in text:
        each = [_value(trait, one.strip()) for one in text.split("|")]
        return frozenset().union(*(o for o, _ in each)), " or ".join(s for _, s in each)
    word = spelled_code(text)
    if word in ELSE_WORDS:
        return frozenset({len(trait.values) - 1}), ELSE
    if trait.feature.type == "text":
        return _plate_values(trait, text), text
    if word in ABSENT_WORDS:
        gone = frozenset(i for i, v in enumerate(trait.values) if v.codes in ((ABSENT,), ("none",)))
        if gone:
            return gone, text
    return _size(trait, text, word) if trait.quantity else _code(trait, text, word)


def _size(trait: Trait, text: str, word: str) -> tuple[frozenset[int], str]:
    if trait.quantity == "angle" and word in (*FLAT, *ANGLED):
        flat = frozenset(i for i, v in enumerate(trait.values) if v.meets(0, 0))
        everything = frozenset(range(len(trait.values)))
        return (flat or frozenset({len(trait.values) - 1}), text) if word in FLAT else (everything - flat, text)
    offered = frozenset(i for i, v in enumerate(trait.values) if v.shown == text.strip())
    if offered:
        return offered, text.strip()
    number, _, slack = re.sub(r"\+/?-", "±", text).partition("±")
    try:
        reading = read_measure(number.strip(), trait.quantity, trait.feature.unit)
        off = (
            read_measure(slack.strip(), trait.quantity, reading.unit or trait.feature.unit, difference=True).amount
            if slack.strip()
            else 0
            if trait.quantity == "count"
            else int(reading.rounding)
        )
    except BadQuantity as error:
        raise BadQuantity(
            f"{trait.label}: {error.message}", fix=f"{error.fix}; on record: {_listed(trait)}, or other"
        ) from error
    if off < 0 or (reading.amount < 0 and trait.quantity not in SIGNED):
        raise BadQuantity(f"{trait.label}: {text!r} is below zero", fix=f"on record: {_listed(trait)}, or other")
    return _within(trait, reading.amount - off, reading.amount + off), span(
        reading.amount - off, reading.amount + off, trait.quantity
    )


def _within(trait: Trait, low: int, high: int) -> frozenset[int]:
    """The recorded sizes that meet the interval; something else when none does."""
    met = frozenset(i for i, v in enumerate(trait.values) if v.meets(low, high))
    return met or frozenset({len(trait.values) - 1})


def _code(trait: Trait, text: str, word: str) -> tuple[frozenset[int], str]:
    exact = [i for i, v in enumerate(trait.values) if word in v.codes or word == v.shown]
    exact = exact or [
        i for i, v in enumerate(trait.values) if spelled_thread(text) in {spelled_thread(c) for c in v.codes}
    ]
    asked = set(words_in(text))
    found = exact or [i for i, v in enumerate(trait.values) if v.codes and asked and asked <= set(words_in(v.shown))]
    if len(found) == 1:
        return frozenset(found), trait.values[found[0]].shown
    if found:
        several = ", ".join(trait.values[i].shown for i in found)
        raise Ambiguous(f"{trait.label}: {text!r} may be {several}", fix="write the whole value, or several with |")
    raise NotFound(
        f"{trait.label}: no unit on record shows {text!r}", fix=f"on record: {_listed(trait)}; or write other"
    )


def _listed(trait: Trait) -> str:
    return ", ".join(v.shown for v in trait.values[:-1])


def _plate_values(trait: Trait, text: str) -> frozenset[int]:
    try:
        spelled = spelling(text)
    except BadPartNumber:
        return frozenset({len(trait.values) - 1})
    inside = [(len(v.codes[0]), i) for i, v in enumerate(trait.values) if v.codes and v.codes[0] in spelled]
    longest = max((length for length, _ in inside), default=0)
    return frozenset(i for length, i in inside if length == longest) or frozenset({len(trait.values) - 1})


def said(seen: Sequence[Seen], models: Models) -> list[tuple[int, frozenset[int]]]:
    """The observations as the arithmetic takes them."""
    return [(s.trait, s.open) for s in seen if len(s.open) < len(models.traits[s.trait].values)]
