"""The question line: what a person typed, understood as a sentence or a thing (a machine's engines: `machines`).

Rule: only an exact spelling is taken; everything that is merely like it is offered.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from rapidfuzz import fuzz
from rapidfuzz.distance import OSA

from graph.desk.desk import Desk
from graph.errors import BadPartNumber
from graph.identifiers import spelling
from graph.index.catalogue import Catalogue
from graph.model.statement import subject
from graph.model.value import spelled_code

KINDS: Final = ("core", "build", "unit", "engine", "machine", "part")
"""The order of equally sure things."""
LEAST: Final = 70.0
"""How like a name must be to be offered, of 100; below it a list is mostly noise (tried on the demo's numbers)."""
MOST_NAMES: Final = 50_000
"""Units, engines and machines that are compared one by one; more are narrowed by trigrams, as parts are."""
MOST_NEAR: Final = 400
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
    spelled = spelled_name(text)
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


def spelled_name(text: str) -> str:
    """A name's one spelling; empty where it has none."""
    try:
        return spelling(text)
    except BadPartNumber:
        return ""


def _like(
    spelled: str, kind: str, key: str, name: str, title: str, label: str = "", maker: str = ""
) -> Iterator[Guess]:
    own = spelled_name(name)
    if not spelled or not own:
        return
    full = spelled_name(f"{maker} {name}")
    if spelled in (own, full):
        yield Guess(kind, key, name, title, "spelled", 99.0)
        return
    alike = max(100 * OSA.normalized_similarity(spelled, other) for other in (own, full))
    if label and len(spelled) >= 5:
        alike = max(alike, fuzz.partial_ratio(spelled, spelled_name(label)) - 10)
    if alike >= LEAST:
        yield Guess(kind, key, name, title, "like", min(alike, 98.0))


def _near(catalogue: Catalogue, spelled: str, kinds: tuple[str, ...]) -> Iterator[tuple[str, str, str, str, str]]:
    """Things whose names share a piece with the text: all units, engines and machines, parts by trigram."""
    listed = few(catalogue)
    for thing in listed:
        if thing[0] in kinds:
            yield thing
    wanted = tuple(k for k in kinds if k == "part" or (not listed and k in ("unit", "engine", "machine")))
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
def few(catalogue: Catalogue) -> tuple[tuple[str, str, str, str, str], ...]:
    """All units, engines and machines as (type, key, maker, name, label), if they are not too many; else none."""
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
        if code == wanted or (spelled and spelled_name(code) == spelled):
            yield Guess("part", key, title, title, f"{label} {code}", 97.0)
        elif any(c.isdigit() for c in code) and len(spelled) >= 4:
            alike = 100 * OSA.normalized_similarity(spelled, spelled_name(code))
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
