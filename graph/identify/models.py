"""The units on record as rows of coded features: what each was built with, as far as it tells one from another.

Rule 1: a value that is disputed, only heard, or not on record counts as not on record.
Rule 2: sizes whose tolerances touch are one value; a unit without the seat shows *no such part*.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

import numpy as np

from graph.errors import BadPartNumber
from graph.identifiers import spelling
from graph.identify.bayes import Table
from graph.model.fact import Fact
from graph.model.record import Feature, Layout, Part, Unit
from graph.model.value import NONE
from graph.rules.decide import spelled_thread
from graph.rules.facts import settle
from graph.rules.reliability import reliability as trusted
from graph.rules.spoken import number, span

NONE_PRIOR: Final = 0.05
"""The chance, before anything was seen, that a core is of no unit on record; a choice, not a measurement."""

ABSENT: Final = "no such part"
ELSE: Final = "something else"
LOOKS: Final = ("outside", "stripped", "gauge", "")
"""From the cheapest look to the dearest."""


@dataclass(frozen=True, slots=True)
class TraitValue:
    """One value that a feature can show: codes, or sizes from `low` to `high`."""

    shown: str
    codes: tuple[str, ...] = ()
    low: int | None = None
    high: int | None = None

    def meets(self, low: int, high: int) -> bool:
        """Whether a size between these ends may be this value's."""
        return self.low is not None and self.high is not None and self.low <= high and low <= self.high


@dataclass(frozen=True, slots=True)
class Trait:
    """One feature of one seat ('' is the unit as a whole) as evidence of identity; *something else* comes last."""

    seat: str
    feature: Feature
    reliability: float
    values: tuple[TraitValue, ...]
    words: frozenset[str]

    @property
    def label(self) -> str:
        """Seat and feature, as a person names them."""
        return f"{self.seat.replace('-', ' ')} {self.feature.label}".strip()

    @property
    def quantity(self) -> str:
        """The quantity of its sizes; '' for codes."""
        return "" if self.feature.type in ("code", "set", "text") else self.feature.type


@dataclass(frozen=True, slots=True)
class Models:
    """All units with their traits, ready to be weighed; `remarks` say what could not be used."""

    units: tuple[Unit, ...]
    traits: tuple[Trait, ...]
    table: Table
    parts: Mapping[str, Part]
    remarks: tuple[str, ...] = ()

    def place(self, seat: str, feature: str) -> int | None:
        """The number of a trait."""
        return next((i for i, t in enumerate(self.traits) if (t.seat, t.feature.name) == (seat, feature)), None)

    def unit(self, key: str) -> int | None:
        """The number of a unit."""
        return next((i for i, u in enumerate(self.units) if u.key == key), None)


def build(
    units: Sequence[Unit], parts: Iterable[Part], layouts: Iterable[Layout], features: Iterable[Feature]
) -> Models:
    """The models of these units; `parts` are those that sit in them."""
    by_key = {p.key: p for p in parts}
    seats = {layout.name: {s.name: s.may_be_empty for s in layout.seats} for layout in layouts}
    called = _joint_words(layouts)
    remarks: list[str] = []
    known: dict[tuple[str, str], Fact] = {}
    usable = []
    for feature in features:
        reliability = trusted(feature.identity_reliability)
        if reliability is not None:
            usable.append((feature, reliability))
        elif feature.identity_reliability:
            remarks.append(f"{feature.label}: the reliability {feature.identity_reliability!r} is no number up to 1")
    traits: list[Trait] = []
    rows: list[list[int]] = []
    for seat in ("", *sorted({s for names in seats.values() for s in names})):
        for feature, reliability in usable:
            if feature.type == "text":
                if seat == "" and units:
                    traits.append(_plate(feature, reliability, units))
                    rows.append(list(range(len(units))))
                continue
            facts = [_fact(unit, seat, feature, by_key, seats, known) for unit in units]
            values, codes = _coded(facts)
            if values:
                words = _words(f"{seat} {feature.name} {feature.label}") | called.get((seat, feature.name), set())
                traits.append(Trait(seat, feature, reliability, (*values, TraitValue(ELSE)), frozenset(words)))
                rows.append(codes)
    coded = np.asarray(rows, dtype=np.int32).reshape(len(rows), len(units))
    table = Table.of(coded, [t.reliability for t in traits], [len(t.values) for t in traits])
    return Models(tuple(units), tuple(traits), table, by_key, tuple(remarks))


def words_in(text: str) -> list[str]:
    """The words of a text, lower case, a plural's s taken off."""
    found = re.findall(r"[^\W_]+", text.casefold())
    return [w[:-1] if len(w) > 3 and w.endswith("s") and not w.endswith("ss") else w for w in found]


def _words(text: str) -> set[str]:
    return set(words_in(text))


def _joint_words(layouts: Iterable[Layout]) -> dict[tuple[str, str], set[str]]:
    """The words of the joints that a seat's feature decides: the outlet's angle is also called by the downpipe."""
    out: dict[tuple[str, str], set[str]] = defaultdict(set)
    for layout in layouts:
        labels = {j.name: j.label for j in layout.joints}
        for rule in layout.rules:
            for operand in rule.operands:
                out[operand] |= _words(f"{rule.joint} {rule.name} {labels.get(rule.joint, '')}")
    return out


def _fact(
    unit: Unit,
    seat: str,
    feature: Feature,
    parts: Mapping[str, Part],
    seats: Mapping[str, Mapping[str, bool]],
    known: dict[tuple[str, str], Fact],
) -> Fact | None:
    """What the unit was built with; None when it has no such part."""
    key = unit.key if seat == "" else next((part for name, part in unit.parts if name == seat), "")
    if not key and seats.get(unit.layout, {}).get(seat, True):
        return None
    if (key, feature.name) not in known:
        claims = unit.claims if seat == "" else parts[key].claims if key in parts else ()
        known[key, feature.name] = settle(claims, feature, subject=key)
    return known[key, feature.name]


def _coded(facts: Sequence[Fact | None]) -> tuple[list[TraitValue], list[int]]:
    """The values that occur, in order, and each unit's number among them; none: no unit has one on record."""
    settled = [f for f in facts if f is not None and f.status == "known"]
    sizes = [f for f in settled if f.low is not None]
    quantity = sizes[0].quantity if sizes else ""
    groups: list[tuple[int, int]] = []
    for low, high in sorted({(f.low, f.high) for f in sizes if f.low is not None and f.high is not None}):
        if groups and low <= groups[-1][1]:
            groups[-1] = (groups[-1][0], max(groups[-1][1], high))
        else:
            groups.append((low, high))
    values = [TraitValue(_size_text(low, high, quantity, sizes), (), low, high) for low, high in groups]
    codes = {_spelled(_codes(f)): _codes(f) for f in settled if f.low is None}
    values += [TraitValue(" | ".join(codes[one]), codes[one]) for one in sorted(codes)]
    if not values:
        return [], []
    if any(f is None for f in facts):
        values.append(TraitValue(ABSENT, (ABSENT,)))
    return values, [_number(f, values) for f in facts]


def _number(fact: Fact | None, values: Sequence[TraitValue]) -> int:
    if fact is None:
        return len(values) - 1
    if fact.status != "known":
        return -1
    if fact.low is None:
        return next(i for i, v in enumerate(values) if v.codes and _spelled(v.codes) == _spelled(_codes(fact)))
    return next(i for i, v in enumerate(values) if v.meets(fact.low, fact.low))


def _codes(fact: Fact) -> tuple[str, ...]:
    return tuple(sorted({code for a in fact.alternatives for code in a.codes}))


def _spelled(codes: Iterable[str]) -> tuple[str, ...]:
    """Codes as they are compared: "M14 x 1.5" is "m14x1.5"."""
    return tuple(sorted(map(spelled_thread, codes)))


def _size_text(low: int, high: int, quantity: str, sizes: Iterable[Fact]) -> str:
    """The nominal size where all claims in the group have the same one, else from where to where.

    A size that was written in another unit is said as it was written, with the usual unit to four digits beside it.
    """
    group = [f for f in sizes if f.low is not None and f.high is not None and low <= f.low <= high]
    middles = {((f.low or 0) + (f.high or 0)) // 2 for f in group}
    if len(middles) > 1:
        return span(low, high, quantity)
    usual = number(middles.pop(), quantity)
    amount, _, unit = usual.partition(" ")
    written = {a.shown for f in group for a in f.alternatives if a.shown}
    foreign = {text for text in written if not text.endswith(f" {unit}")}
    if not unit or len(written) != 1 or not foreign:
        return usual
    rounded = f"{Decimal(f'{Decimal(amount):.4g}'):f}"
    rounded = rounded.rstrip("0").rstrip(".") if "." in rounded else rounded
    about = "" if Decimal(rounded) == Decimal(amount) else "about "
    return f"{foreign.pop()} ({about}{rounded} {unit})"


def _plate(feature: Feature, reliability: float, units: Sequence[Unit]) -> Trait:
    """What is written on the unit: its own number."""
    values = []
    for unit in units:
        try:
            spelled = spelling(unit.name)
        except BadPartNumber:
            spelled = unit.name
        values.append(TraitValue(f"{unit.maker} {unit.name}", (spelled,)))
    words = frozenset(_words(f"{feature.name} {feature.label}"))
    return Trait("", feature, reliability, (*values, TraitValue(ELSE)), words)


ABSENT_WORDS: Final = (NONE, "absent", "no", ABSENT)
"""What people say for a part or a port that is not there."""
