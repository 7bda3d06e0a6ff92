"""From what a person types to the key of one thing; never a guess.

A number is taken when it is written so, or when its one spelling leads to one thing only; the maker may stand
before it. Anything looser is offered, not taken.
"""

from collections.abc import Iterable
from typing import Protocol

from graph.errors import Ambiguous, BadPartNumber, BadQuestion, NotFound
from graph.identifiers import tag_spelling
from graph.index.catalogue import Catalogue
from graph.index.search import Candidate
from graph.index.shelf import Shelf
from graph.model.record import Build, Core
from graph.model.value import spelled_code

SURE = ("written", "spelled")
OFFERED = 5
"""How many similar names an error offers."""


class Find(Protocol):
    """Looks for the things of one type, as the catalogue does."""

    def __call__(self, text: str, *, only_written: bool = False) -> tuple[Candidate, ...]:
        """What the text may mean."""


def thing(find: Find, what: str, text: str) -> Candidate:
    """The one part, unit or engine that `text` names.

    Raises
    ------
    BadQuestion
        Nothing was typed.
    NotFound
        No number is spelled so; the message offers what is like it.
    Ambiguous
        Several makers have that number.
    """
    if not text.strip():
        raise BadQuestion(f"no {what} is named", fix=f"type the {what}'s number")
    offers: dict[str, Candidate] = {}
    for maker, number in _splits(text):
        found = _of_maker(find(number, only_written=True), maker)
        try:
            found = found or _of_maker(find(number), maker)
        except BadPartNumber:
            if not maker:
                raise
            continue
        sure = [c for c in found if c.how == "written"] or [c for c in found if c.how in SURE]
        if len(sure) == 1:
            return sure[0]
        if sure:
            raise Ambiguous(
                f"{text!r} is a number of {len(sure)} {what}s: {_listed(sure)}",
                fix="type the maker before the number",
            )
        offers.update((c.key, c) for c in found)
    close = list(offers.values())[:OFFERED]
    raise NotFound(
        f"there is no {what} {text!r}",
        fix=f"did you mean {_listed(close)}?" if close else f"look at the {what}'s plate or tag again",
    )


def _of_maker(found: tuple[Candidate, ...], maker: str) -> tuple[Candidate, ...]:
    return tuple(c for c in found if spelled_code(c.maker) == spelled_code(maker)) if maker else found


def _splits(text: str) -> Iterable[tuple[str, str]]:
    """The text as a bare number, then with one word more of it taken as the maker each time."""
    words = text.split()
    for count in range(len(words)):
        yield " ".join(words[:count]), " ".join(words[count:])


def _listed(candidates: Iterable[Candidate]) -> str:
    return ", ".join(f"{c.maker} {c.name}" for c in candidates)


def build(catalogue: Catalogue, text: str) -> Build:
    """The build of that name or label, whatever its case.

    Raises
    ------
    NotFound, Ambiguous
        None, or several.
    """
    wanted = spelled_code(text)
    found = [b for b in catalogue.builds if spelled_code(b.name) == wanted] or [
        b for b in catalogue.builds if wanted and spelled_code(b.label) == wanted
    ]
    if len(found) == 1:
        return found[0]
    names = ", ".join(b.name for b in found or catalogue.builds)
    if found:
        raise Ambiguous(f"{text!r} is the label of several builds: {names}", fix="use the build's name")
    raise NotFound(f"there is no build {text!r}", fix=f"builds on record: {names or 'none'}")


def core(shelf: Shelf, text: str) -> Core:
    """The core with that tag, whatever its case, spaces and dashes.

    Raises
    ------
    NotFound
        There is none.
    """
    try:
        return shelf.core(text.strip())
    except NotFound:
        wanted = tag_spelling(text)
        found = [c for c in shelf.cores() if tag_spelling(c.tag) == wanted]
        if len(found) != 1:
            raise
        return found[0]
