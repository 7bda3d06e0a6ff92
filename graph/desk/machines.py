"""A machine with its year or serial number, led to the engines that it had.

Rule 1: a year or a serial number narrows, it never chooses between two engines.
Rule 2: what contradicts what is on record is said, never passed over.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import Final

from graph.desk.desk import Desk
from graph.desk.search import few, spelled_name
from graph.identifiers import serial_count
from graph.index.catalogue import Catalogue
from graph.index.records import Row as RecordRow
from graph.index.records import fitment_of
from graph.model.fact import Fact
from graph.model.record import Fitment
from graph.model.statement import subject
from graph.rules.facts import settle
from graph.rules.spoken import fact_text
from graph.rules.threads import designation, same_thread

_YEAR: Final = re.compile(r"(?:19|20)\d\d(?:[.,][05])?", re.ASCII)
CLASH: Final = "clash"
OUTSIDE: Final = "outside"
APART: Final = 1_000_000
"""Lengths this far apart (0.1 mm) are told apart with a calliper on a dirty unit; common practice, no source."""


@dataclass(frozen=True, slots=True)
class EngineGuess:
    """An engine that a machine's year or serial number admits, with the fitments that say so."""

    key: str
    title: str
    fitments: tuple[Fitment, ...]


@dataclass(frozen=True, slots=True)
class DecidingLook:
    """A feature by which the engines differ, and what each of them shows; the best seen first."""

    label: str
    look: str
    shows: tuple[tuple[str, str], ...]  # (engine key, value)


@dataclass(frozen=True, slots=True)
class MachineAnswer:
    """Which engines a machine had. Several: `serials` says whether a serial number decides, `looks` what else does.

    `unread`: words beside the machine's name that are no year and lie in no range of serial numbers on record.
    `doubt`: why none of the engines may be taken: CLASH, the serial number is of other years than the one that was
    said; OUTSIDE, it is of the sort of these engines' ranges and lies in none of them.
    """

    machine: str
    title: str
    year: str
    serial: str
    engines: tuple[EngineGuess, ...]
    serials: bool
    looks: tuple[DecidingLook, ...]
    unread: str = ""
    doubt: str = ""


def machine(desk: Desk, text: str) -> MachineAnswer | None:
    """The engines of the machine that is named, narrowed by a year or serial number in the text; None: no machine.

    A serial number alone leads to the machine whose range holds it.
    """
    words = text.split()
    said = next((word for word in words if _YEAR.fullmatch(word.strip("(),;"))), "")  # T12-2010 is no year
    if said:
        words.remove(said)
    year = said.strip("(),;").replace(",", ".")
    for taken in range(len(words), 0, -1):
        for start in range(len(words) - taken + 1):
            name = " ".join(words[start : start + taken])
            rest = [*words[:start], *words[start + taken :]]
            key = _machine_named(desk, name)
            if key:
                return _engines_of(desk, key, year, " ".join(rest))
    serial = " ".join(words)
    held = {subject("machine", f.machine_maker, f.machine) for f in _serial_fitments(desk.catalogue, serial)}
    if len(held) == 1:
        return _engines_of(desk, held.pop(), year, serial)
    return None


def _machine_named(desk: Desk, name: str) -> str:
    wanted = spelled_name(name)
    found = [
        key
        for kind, key, maker, own, _ in few(desk.catalogue)
        if kind == "machine" and wanted and wanted in (spelled_name(own), spelled_name(f"{maker} {own}"))
    ]
    return found[0] if len(found) == 1 else ""


def _engines_of(desk: Desk, key: str, year: str, rest: str) -> MachineAnswer:
    all_ = desk.catalogue.fitments(machine=key)
    of_year = [f for f in all_ if not year or _admits(f, year)]
    number = rest or ("" if "." in year else year)  # a bare 2010 may be a serial number
    by_serial = [f for f in all_ if in_range(number, f.serial_from, f.serial_to)]
    serial, doubt = "", ""
    if rest and by_serial:
        serial = rest
        held = [f for f in by_serial if f in of_year]
        if not held:
            held, doubt = [f for f in all_ if f in by_serial or f in of_year], CLASH
    else:
        held = [f for f in all_ if f in by_serial or f in of_year]
        if rest and held and all(_outside(rest, f) for f in held):
            doubt = OUTSIDE
    engines = tuple(
        EngineGuess(name, _title(desk, name), tuple(f for f in held if f.engine == name))
        for name in sorted({f.engine for f in held})
    )
    several = len(engines) > 1
    title = f"{all_[0].machine_maker} {all_[0].machine}" if all_ else key
    return MachineAnswer(
        key,
        title,
        year,
        serial,
        engines,
        several and not serial and all(f.serial_from or f.serial_to for f in held),
        deciding_looks(desk, [e.key for e in engines]) if several else (),
        "" if serial else rest,
        doubt,
    )


def _title(desk: Desk, engine: str) -> str:
    found = desk.catalogue.engine(engine)
    return f"{found.maker} {found.name}" + (f": {found.label}" if found.label else "")


def _admits(fitment: Fitment, year: str) -> bool:
    """Whether the year lies in the span; a whole year is both its halves, at either end."""
    first, last = _halves(year)
    return (not fitment.year_from or _halves(fitment.year_from)[0] <= last) and (
        not fitment.year_to or first <= _halves(fitment.year_to)[1]
    )


def _halves(year: str) -> tuple[int, int]:
    whole, _, half = year.partition(".")
    first = 2 * int(whole)
    if half in ("", "0"):
        return first, first + (0 if half else 1)
    return first + 1, first + 1


def in_range(serial: str, first: str, last: str) -> bool:
    """Whether a serial number lies in a range of numbers of its own kind; nothing is in an unstated range.

    >>> in_range("t12-2140", "T12-0100", "T12-2140"), in_range("T14-2000", "T12-0100", "T12-2140")
    (True, False)
    """
    own = serial_count(serial)
    ends = [serial_count(end) for end in (first, last) if end]
    if own is None or not ends or any(end is None or end[0] != own[0] for end in ends):
        return False
    low, high = serial_count(first), serial_count(last)
    return (low is None or low[1] <= own[1]) and (high is None or own[1] <= high[1])


def _outside(serial: str, fitment: Fitment) -> bool:
    """Whether the fitment's own range says that it is not of that number."""
    own = serial_count(serial)
    ends = [serial_count(end) for end in (fitment.serial_from, fitment.serial_to) if end]
    alike = own is not None and bool(ends) and all(end is not None and end[0] == own[0] for end in ends)
    return alike and not in_range(serial, fitment.serial_from, fitment.serial_to)


def _serial_fitments(catalogue: Catalogue, serial: str) -> list[Fitment]:
    return [f for f in _with_serials(catalogue) if in_range(serial, f.serial_from, f.serial_to)]


@lru_cache(maxsize=2)
def _with_serials(catalogue: Catalogue) -> tuple[Fitment, ...]:
    made = (
        fitment_of(RecordRow(s.sheet, s.id, s.fields, {}))
        for s in catalogue.sheet("fitments")
        if s.fields.get("serial_from") or s.fields.get("serial_to")
    )
    return tuple(made)


def _told_apart(one: Fact, other: Fact) -> bool:
    """Whether a look or a calliper shows which of the two is there, whatever their tolerances."""
    if None not in (one.low, one.high, other.low, other.high):
        assert one.low is not None and one.high is not None and other.low is not None and other.high is not None
        gap = max(other.low - one.high, one.low - other.high)
        return one.quantity == other.quantity and gap > (APART if one.quantity == "length" else 0)
    codes = [[c for a in fact.alternatives for c in a.codes] for fact in (one, other)]
    if len(codes[0]) == len(codes[1]) == 1:
        return same_thread(codes[0][0], codes[1][0]) is False
    return {designation(c) for c in codes[0]} != {designation(c) for c in codes[1]}


def deciding_looks(desk: Desk, engines: Iterable[str], most: int = 4) -> tuple[DecidingLook, ...]:
    """What is known of each of these engines and differs between any two; from outside first, at most `most`."""
    keys = list(engines)
    known: dict[str, dict[str, Fact]] = {}
    for key in keys:
        claims = desk.catalogue.engine(key).claims
        for feature in desk.catalogue.features:
            fact = settle(claims, feature, subject=key) if feature.look else None
            if fact is not None and fact.status == "known":
                known.setdefault(feature.name, {})[key] = fact
    features = {f.name: f for f in desk.catalogue.features}
    looks = [
        DecidingLook(features[name].label, features[name].look, tuple((key, fact_text(facts[key])) for key in keys))
        for name, facts in known.items()
        if len(facts) == len(keys) and any(_told_apart(a, b) for a, b in combinations(facts.values(), 2))
    ]
    places = ("outside", "gauge", "stripped")
    looks.sort(
        key=lambda one: (
            places.index(one.look) if one.look in places else 9,
            -len({value for _, value in one.shows}),
            one.label,
        )
    )
    return tuple(looks[:most])
