"""The question line: what a person typed, understood as a sentence, a thing, or a machine with its year or serial.

Rule 1: only an exact spelling is taken; everything that is merely like it is offered.
Rule 2: a year or a serial number narrows, it never chooses between two engines.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from rapidfuzz import fuzz
from rapidfuzz.distance import OSA

from graph.desk.desk import Desk
from graph.desk.showing import facts_of
from graph.errors import BadPartNumber
from graph.identifiers import spelling
from graph.index.catalogue import Catalogue
from graph.index.records import Row as RecordRow
from graph.index.records import fitment_of
from graph.model.record import Fitment
from graph.model.statement import subject
from graph.model.value import spelled_code

KINDS: Final = ("core", "build", "unit", "engine", "machine", "part")
"""The order of equally sure things."""
LEAST: Final = 70.0
"""How like a name must be to be offered, of 100; below it a list is mostly noise (tried on the demo's numbers)."""
MOST_NAMES: Final = 50_000
"""Units, engines and machines that are compared one by one; more are narrowed by trigrams, as parts are."""
MOST_NEAR: Final = 400
_YEAR: Final = re.compile(r"\b(?:19|20)\d\d(?:[.,][05])?\b")
_TAIL: Final = re.compile(r"^(.*?)(\d+)$")
_ENDS: Final = ".?!"


@dataclass(frozen=True, slots=True)
class Guess:
    """One thing that may be meant. `score` of 100; `why`: written, spelled, begins, contains, like, or the mark."""

    kind: str
    key: str
    name: str
    title: str
    why: str
    score: float

    @property
    def sure(self) -> bool:
        """Whether it is spelled exactly so."""
        return self.why in ("written", "spelled")


@dataclass(frozen=True, slots=True)
class Sentence:
    """One of three sentences and the words that fill it: fits (unit, engine), turn (core, build, engine), what."""

    kind: str
    words: tuple[str, ...]


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
    """

    machine: str
    title: str
    year: str
    serial: str
    engines: tuple[EngineGuess, ...]
    serials: bool
    looks: tuple[DecidingLook, ...]
    unread: str = ""


def sentence(text: str) -> Sentence | None:
    """The sentence that was typed, if it is one.

    >>> sentence("Will OV46-220 fit BR6-C?")
    Sentence(kind='fits', words=('OV46-220', 'BR6-C'))
    >>> sentence("turn HB-017 into larger-wheels for BR6-C")
    Sentence(kind='turn', words=('HB-017', 'larger-wheels', 'BR6-C'))
    >>> sentence("What is HB-017?")
    Sentence(kind='what', words=('HB-017',))
    """
    plain = " ".join(text.split()).rstrip(_ENDS).strip()
    for kind, pattern in _SENTENCES:
        match = pattern.fullmatch(plain)
        if match:
            return Sentence(kind, tuple(word.strip() for word in match.groups("")))
    return None


_SENTENCES: Final = (
    (
        "fits",
        re.compile(r"(?:will|does|can)\s+(?:an?\s+|the\s+)?(.+?)\s+(?:fit|go)\s+(?:on\s+|onto\s+|to\s+)?(.+)", re.I),
    ),
    ("turn", re.compile(r"(?:turn|make)\s+(?:core\s+)?(.+?)\s+into\s+(.+?)(?:\s+for\s+(.+))?", re.I)),
    ("what", re.compile(r"what(?:'s|\s+is)\s+(?:this|it)", re.I)),
    ("what", re.compile(r"what(?:'s|\s+is)\s+(?:an?\s+|the\s+)?(.+)", re.I)),
)


def guesses(desk: Desk, text: str, *, kinds: Iterable[str] = KINDS, most: int = 12) -> tuple[Guess, ...]:
    """What may be meant: exact first, then the most alike; equally alike by kind, then name. At most `most`."""
    wanted = " ".join(text.split())[:200]
    asked = tuple(kinds)
    found: dict[str, Guess] = {}
    if not wanted:
        return ()
    for guess in _all(desk, wanted, asked):
        held = found.get(guess.key)
        if held is None or _order(guess) < _order(held):
            found[guess.key] = guess
    return tuple(sorted(found.values(), key=_order))[:most]


def _order(guess: Guess) -> tuple[float, int, str]:
    return (-guess.score, KINDS.index(guess.kind), guess.name)


def _all(desk: Desk, text: str, kinds: tuple[str, ...]) -> Iterator[Guess]:
    spelled = _spelled(text)
    if "core" in kinds:
        for tag in desk.names(most=MOST_NAMES)["cores"]:
            yield from _like(spelled, "core", subject("core", tag), tag, tag)
    if "build" in kinds:
        for build in desk.catalogue.builds:
            yield from _like(spelled, "build", build.key, build.name, f"{build.name}: {build.label}", build.label)
    for kind, find in (
        ("unit", desk.catalogue.find_units),
        ("engine", desk.catalogue.find_engines),
        ("machine", desk.catalogue.find_machines),
        ("part", desk.catalogue.find_parts),
    ):
        if kind not in kinds:
            continue
        for name in dict.fromkeys((text, text.split(maxsplit=1)[-1])):
            try:
                hits = find(name)
            except BadPartNumber:
                continue
            for hit in hits:
                score = {"written": 100.0, "spelled": 99.0, "begins": 93.0, "contains": 88.0}[hit.how]
                if name != text and spelled_code(hit.maker) != spelled_code(text.split(maxsplit=1)[0]):
                    continue
                title = f"{hit.maker} {hit.name}" + (f": {hit.label}" if hit.label else "")
                yield Guess(kind, hit.key, hit.name, title, hit.how, score)
    for kind, key, maker, name, label in _near(desk.catalogue, spelled, kinds):
        title = f"{maker} {name}".strip() + (f": {label}" if label else "")
        yield from _like(spelled, kind, key, name, title, label, maker)
    if "part" in kinds or "unit" in kinds:
        yield from _marked(desk.catalogue, text, spelled)


def _spelled(text: str) -> str:
    try:
        return spelling(text)
    except BadPartNumber:
        return ""


def _like(
    spelled: str, kind: str, key: str, name: str, title: str, label: str = "", maker: str = ""
) -> Iterator[Guess]:
    own = _spelled(name)
    if not spelled or not own:
        return
    full = _spelled(f"{maker} {name}")
    if spelled in (own, full):
        yield Guess(kind, key, name, title, "spelled", 99.0)
        return
    alike = max(100 * OSA.normalized_similarity(spelled, other) for other in (own, full))
    if label and len(spelled) >= 5:
        alike = max(alike, fuzz.partial_ratio(spelled, _spelled(label)) - 10)
    if alike >= LEAST:
        yield Guess(kind, key, name, title, "like", min(alike, 98.0))


def _near(catalogue: Catalogue, spelled: str, kinds: tuple[str, ...]) -> Iterator[tuple[str, str, str, str, str]]:
    """Things whose names share a piece with the text: all units, engines and machines, parts by trigram."""
    few = _few(catalogue)
    for thing in few:
        if thing[0] in kinds:
            yield thing
    wanted = tuple(k for k in kinds if k == "part" or (not few and k in ("unit", "engine", "machine")))
    pieces = {spelled[i : i + 3] for i in range(len(spelled) - 2)}
    if not wanted or not pieces:
        return
    match = " OR ".join(f'"{piece}"' for piece in sorted(pieces))
    query = f"""SELECT t.type, t.key, t.maker, t.name, t.label FROM
        (SELECT rowid, rank FROM words WHERE words MATCH ? ORDER BY rank LIMIT ?) w
        JOIN thing t ON t.id = w.rowid WHERE t.type IN ({",".join("?" * len(wanted))})"""  # noqa: S608
    found = catalogue.index.ask(query, (match, MOST_NEAR, *wanted))
    yield from ((kind, key, maker, name, label) for kind, key, maker, name, label in found)


@lru_cache(maxsize=2)
def _few(catalogue: Catalogue) -> tuple[tuple[str, str, str, str, str], ...]:
    counted = sum(catalogue.count(kind) for kind in ("unit", "engine", "machine"))
    if counted > MOST_NAMES:
        return ()
    query = """SELECT type, key, maker, name, label FROM thing WHERE type IN ('unit', 'engine', 'machine')
        ORDER BY type, name, maker"""
    return tuple((kind, key, maker, name, label) for kind, key, maker, name, label in catalogue.index.ask(query))


def _marked(catalogue: Catalogue, text: str, spelled: str) -> Iterator[Guess]:
    """Parts that somebody says bear this casting number or other mark."""
    marks = _marks(catalogue)
    wanted = spelled_code(text)
    for label, code, key, title in marks:
        if code == wanted or (spelled and _spelled(code) == spelled):
            yield Guess("part", key, title, title, f"{label} {code}", 97.0)
        elif any(c.isdigit() for c in code) and len(spelled) >= 4:
            alike = 100 * OSA.normalized_similarity(spelled, _spelled(code))
            if alike >= 80:
                yield Guess("part", key, title, title, f"{label} {code}", alike - 5)


@lru_cache(maxsize=2)
def _marks(catalogue: Catalogue) -> tuple[tuple[str, str, str, str], ...]:
    """(label, code, part key, title) of every code that is seen from outside and tells parts apart."""
    named = {f.name: f.label for f in catalogue.features if f.type == "code" and f.identity_reliability}
    if not named:
        return ()
    query = f"""SELECT DISTINCT s.feature, s.value, t.key, t.maker || ' ' || t.name FROM saying s
        JOIN thing t ON t.id = s.thing WHERE s.feature IN ({",".join("?" * len(named))}) AND t.type = 'part'
        ORDER BY s.feature, s.value, t.key LIMIT ?"""  # noqa: S608
    rows = catalogue.index.ask(query, (*sorted(named), MOST_NAMES))
    return tuple((named[feature], str(code), key, title) for feature, code, key, title in rows)


def machine(desk: Desk, text: str) -> MachineAnswer | None:
    """The engines of the machine that is named, narrowed by a year or serial number in the text; None: no machine.

    A serial number alone leads to the machine whose range holds it.
    """
    year = next(iter(_YEAR.findall(text)), "").replace(",", ".")
    words = (_YEAR.sub(" ", text) if year else text).split()
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
    wanted = _spelled(name)
    found = [
        key
        for kind, key, maker, own, _ in _few(desk.catalogue)
        if kind == "machine" and wanted and wanted in (_spelled(own), _spelled(f"{maker} {own}"))
    ]
    return found[0] if len(found) == 1 else ""


def _engines_of(desk: Desk, key: str, year: str, rest: str) -> MachineAnswer:
    all_ = desk.catalogue.fitments(machine=key)
    held = [f for f in all_ if not year or _admits(f, year)]
    by_serial = [f for f in held if in_range(rest, f.serial_from, f.serial_to)] if rest else []
    serial = rest if by_serial else ""
    held = by_serial or held
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
        several and all(f.serial_from or f.serial_to for f in held),
        deciding_looks(desk, [e.key for e in engines]) if several else (),
        "" if by_serial else rest,
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
    own = _serial(serial)
    ends = [_serial(end) for end in (first, last) if end]
    if own is None or not ends or any(end is None or end[0] != own[0] for end in ends):
        return False
    low, high = _serial(first), _serial(last)
    return (low is None or low[1] <= own[1]) and (high is None or own[1] <= high[1])


def _serial(text: str) -> tuple[str, int] | None:
    """A serial number as its letters before and the count at its end: T12-0100 is (T12, 100)."""
    pieces = re.split(r"[\s–-]+", text.strip().upper())
    match = _TAIL.match(pieces[-1]) if pieces else None
    return ("".join(pieces[:-1]) + match[1], int(match[2])) if match else None


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


def deciding_looks(desk: Desk, engines: Iterable[str], most: int = 4) -> tuple[DecidingLook, ...]:
    """What is known of each of these engines and differs between any two; from outside first, at most `most`."""
    keys = list(engines)
    features = {f.name: f for f in desk.catalogue.features}
    known: dict[str, dict[str, str]] = {}
    for key in keys:
        for fact in facts_of(desk.catalogue.engine(key).claims, desk.catalogue.features, key):
            if fact.status == "known":
                known.setdefault(fact.feature, {})[key] = fact.value
    looks = [
        DecidingLook(features[name].label, features[name].look, tuple((key, values[key]) for key in keys))
        for name, values in known.items()
        if len(values) == len(keys) and len(set(values.values())) > 1 and features[name].look
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
