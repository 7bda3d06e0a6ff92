"""The customer's wishes, from the words that a person types to those that a question holds."""

from collections.abc import Iterable

from graph.desk import names
from graph.errors import BadPartNumber, BadQuestion, NotFound
from graph.index.catalogue import Catalogue
from graph.model.value import spelled_code
from graph.planning.problem import WISHES


def wishes(catalogue: Catalogue, typed: Iterable[str]) -> tuple[str, ...]:
    """The wishes in order, each once: case and blanks do not matter, a part is named by its number.

    Raises
    ------
    BadQuestion
        A word that is no wish, or a part, a seat or an operation that there is not; all of them at once.
    """
    seats = {spelled_code(s.name): s.name for layout in catalogue.layouts for s in layout.seats}
    work = {spelled_code(o.name): o.name for o in catalogue.all_operations}
    found: set[str] = set()
    faults: list[str] = []
    for text in typed:
        word, colon, what = (piece.strip() for piece in text.partition(":"))
        word = "-".join(word.lower().split())
        if word + colon not in WISHES:
            faults.append(f"{text!r} is no wish")
        elif not colon:
            found.add(word)
        elif word == "no-part":
            try:
                found.add(f"{word}:{_part(catalogue, what)}")
            except (NotFound, BadPartNumber, BadQuestion) as error:
                faults.append(f"{text!r}: {error.message}")
        else:
            known = work if word == "no-operation" else seats
            name = known.get(spelled_code(what)) or known.get("-".join(spelled_code(what).split()))
            if name is None:
                faults.append(f"{text!r}: there is no {'operation' if known is work else 'seat'} {what!r}")
            else:
                found.add(f"{word}:{name}")
    if faults:
        raise BadQuestion(
            "; ".join(faults),
            fix="wishes: no-new, no-donor, no-machining, only-stock, keep:SEAT, no-used:SEAT, no-part:NUMBER,"
            " no-operation:NAME",
        )
    return tuple(sorted(found))


def _part(catalogue: Catalogue, text: str) -> str:
    if text.startswith("part/"):
        return catalogue.part(text).key
    return names.thing(catalogue.find_parts, "part", text).key
