"""A core identified: candidates with what speaks for and against each, foreign parts, and the next look."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np

from graph.identify import bayes
from graph.identify.models import LOOKS, NONE_PRIOR, Models
from graph.identify.seen import Seen, merged, said
from graph.model.bench import Foreign, Identification, NextLook, SeenValue, UnitCandidate, Weighed
from graph.model.record import Snapshot, Weakness

SURE: Final = 0.95
"""From this probability on the sentence names the unit; below it, it asks for another look."""

CLOSE: Final = 0.8
"""Looks that tell at least this share of what the best one tells are close: the cheapest of them comes first."""

LEAST_GAIN: Final = 0.001
"""A look that tells less is not worth asking for. [bit]"""

LISTED: Final = 5
"""How many units are listed, and how many looks."""


def identify(
    models: Models,
    seen: Sequence[Seen],
    *,
    built: str = "",
    found: Mapping[str, str] | None = None,
    none: float = NONE_PRIOR,
    listed: int = LISTED,
    cannot_tell: frozenset[int] = frozenset(),
    snapshot: Snapshot,
    weaknesses: Sequence[Weakness] = (),
) -> Identification:
    """Which unit the observations speak for.

    `built` is the unit by the plate, if the caller knows it; else the plate's own text says it. `found` are parts
    that somebody named in their seats. `cannot_tell` are traits that need not be asked again.
    """
    together, remarks = merged(seen, models)
    chances_before = bayes.prior(len(models.units), none)
    chances = bayes.posterior(models.table, chances_before, said(together, models))
    order = sorted(range(len(models.units)), key=lambda i: (-chances[i], models.units[i].key))[:listed]
    candidates = [_candidate(i, models, together, chances_before, chances) for i in order]
    nothing = _candidate(len(models.units), models, together, chances_before, chances)
    candidates = sorted([*candidates, nothing], key=lambda c: (-c.probability, not c.unit, c.unit))
    built = built or _by_plate(models, together)
    questions = _questions(models, chances, frozenset(s.trait for s in together) | cannot_tell)
    best = candidates[0]
    settled = bool(best.unit) and best.probability >= SURE
    return Identification(
        seen=tuple(_seen(models, s) for s in together),
        candidates=tuple(candidates),
        others=float(max(0.0, 1.0 - sum(c.probability for c in candidates))),
        questions=tuple(questions[:listed]),
        built=built,
        foreign=tuple(_foreign(models, together, built, found or {})),
        settled=settled,
        sentence=_sentence(candidates, questions, settled, bool(together)),
        remarks=(*models.remarks, *remarks),
        weaknesses=tuple(weaknesses),
        snapshot=snapshot,
    )


def _title(models: Models, place: int) -> str:
    if place == len(models.units):
        return "none of the units on record"
    unit = models.units[place]
    return f"{unit.maker} {unit.name}".strip()


def _candidate(
    place: int, models: Models, seen: Sequence[Seen], before: bayes.Floats, after: bayes.Floats
) -> UnitCandidate:
    weighed = tuple(_weighed(models, s, place) for s in seen)
    unit = models.units[place].key if place < len(models.units) else ""
    return UnitCandidate(unit, _title(models, place), float(before[place]), float(after[place]), weighed)


def _weighed(models: Models, seen: Seen, place: int) -> Weighed:
    trait = models.traits[seen.trait]
    code = int(models.table.codes[seen.trait, place]) if place < len(models.units) else -1
    says = "not on record" if code < 0 else "agrees" if code in seen.open else "contradicts"
    k = len(trait.values)
    return Weighed(
        trait.seat,
        trait.feature.name,
        trait.label,
        seen.shown,
        "not on record" if code < 0 else trait.values[code].shown,
        says,
        trait.reliability,
        k,
        len(seen.open),
        bayes.likelihood(trait.reliability, k, len(seen.open), says),
    )


def _seen(models: Models, one: Seen) -> SeenValue:
    trait = models.traits[one.trait]
    left = tuple(trait.values[i].shown for i in sorted(one.open))
    return SeenValue(trait.seat, trait.feature.name, trait.label, one.shown, left, one.written)


def _by_plate(models: Models, seen: Sequence[Seen]) -> str:
    for one in seen:
        if models.traits[one.trait].feature.type == "text" and len(one.open) == 1:
            (place,) = one.open
            if place < len(models.units):
                return models.units[place].key
    return ""


def _questions(models: Models, chances: bayes.Floats, asked: frozenset[int]) -> list[NextLook]:
    """The looks not taken yet: of those that tell nearly as much as the best, the cheapest first, and so on."""
    gains = bayes.gains(models.table, chances)
    left = [i for i in range(len(models.traits)) if i not in asked and gains[i] >= LEAST_GAIN]
    left.sort(key=lambda i: (-gains[i], models.traits[i].label))
    out = []
    while left:
        close = [i for i in left if gains[i] >= CLOSE * gains[left[0]]]
        first = min(close, key=lambda i: (_cost(models, i), -gains[i], models.traits[i].label))
        left.remove(first)
        out.append(_look(models, chances, first, float(gains[first])))
    return out


def _cost(models: Models, place: int) -> int:
    look = models.traits[place].feature.look
    return LOOKS.index(look) if look in LOOKS else len(LOOKS)


def _look(models: Models, chances: bayes.Floats, place: int, gain: float) -> NextLook:
    trait = models.traits[place]
    shares = bayes.shares(models.table, chances, place)
    order = np.argsort(-shares, kind="stable")
    values = tuple((trait.values[i].shown, float(shares[i])) for i in order)
    return NextLook(trait.seat, trait.feature.name, trait.label, trait.feature.look, gain, values)


def _foreign(models: Models, seen: Sequence[Seen], built: str, found: Mapping[str, str]) -> list[Foreign]:
    """The seats in which something was seen, or a part found, that the unit by the plate was not built with."""
    place = models.unit(built) if built else None
    if place is None:
        return []
    codes = models.table.codes
    own = dict(models.units[place].parts)
    out = [
        Foreign(seat, own[seat], (part,), _other_part(models, place, seat, part))
        for seat, part in sorted(found.items())
        if part and own.get(seat, part) != part
    ]
    named = {one.seat for one in out}
    for seat in sorted({models.traits[s.trait].seat for s in seen} - {""} - named):
        here = [s for s in seen if models.traits[s.trait].seat == seat]
        against = [s for s in here if codes[s.trait, place] >= 0 and int(codes[s.trait, place]) not in s.open]
        if not against:
            continue
        alike = [
            i
            for i in range(len(models.units))
            if all(int(codes[s.trait, i]) in s.open or codes[s.trait, i] < 0 for s in here)
            and all(codes[s.trait, i] >= 0 for s in against)
        ]
        parts = {part: models.units[i] for i in alike for name, part in models.units[i].parts if name == seat}
        out.append(
            Foreign(seat, own.get(seat, ""), tuple(sorted(parts)), _changed(models, place, seat, against, parts))
        )
    return out


def _other_part(models: Models, place: int, seat: str, part: str) -> str:
    whose = ", ".join(f"{u.maker} {u.name}" for u in models.units if (seat, part) in u.parts)
    called = f"{models.parts[part].maker} {models.parts[part].number}" if part in models.parts else part
    mine = dict(models.units[place].parts)[seat]
    own = f"{models.parts[mine].maker} {models.parts[mine].number}" if mine in models.parts else mine
    return (
        f"The plate says {_title(models, place)}, built with {own}, but in the seat {seat.replace('-', ' ')} "
        f"sits {called}{f', the part of {whose}' if whose else ''}: somebody changed it."
    )


def _changed(models: Models, place: int, seat: str, against: Sequence[Seen], parts: Iterable[str]) -> str:
    spoken = seat.replace("-", " ")
    seen = ", ".join(
        f"{models.traits[s.trait].feature.label} {s.shown} instead of "
        f"{models.traits[s.trait].values[int(models.table.codes[s.trait, place])].shown}"
        for s in against
    )
    named = ", ".join(f"{models.parts[p].maker} {models.parts[p].number}" for p in parts if p in models.parts)
    whose = f"that is the part {named}" if named else "no part on record shows that: look again, it may be worn"
    tail = f": somebody changed the {spoken}" if named else ""
    return f"The plate says {_title(models, place)}, but the {spoken} has {seen}; {whose}{tail}."


def _sentence(
    candidates: Sequence[UnitCandidate], questions: Sequence[NextLook], settled: bool, anything: bool
) -> str:
    best = candidates[0]
    if not anything:
        start = "Nothing was seen yet, so every unit on record is as likely as the next."
    elif settled:
        start = f"This core is {best.title}, with probability {best.probability:.3f}."
    elif best.unit and (alike := _as_likely(candidates)) > 1:
        start = f"Not known yet; {alike} units are equally likely, each with probability {best.probability:.3f}."
    elif best.unit:
        start = f"Not known yet; most likely {best.title}, with probability {best.probability:.3f}."
    else:
        start = f"Not known; most likely none of the units on record, with probability {best.probability:.3f}."
    if settled or not questions:
        return start
    look = questions[0]
    return f"{start} Look next at the {look.label}{_how(look.look)}."


def _as_likely(candidates: Sequence[UnitCandidate]) -> int:
    """How many units are as likely as the first, to the digits that are told."""
    first = f"{candidates[0].probability:.3f}"
    return sum(bool(c.unit) and f"{c.probability:.3f}" == first for c in candidates)


def _how(look: str) -> str:
    return {"outside": ", from outside", "stripped": ", once stripped", "gauge": ", with a gauge"}.get(look, "")
