"""Finding, by the index, the parts that could take one part's place in a seat: by codes and sizes they must share."""

from collections.abc import Iterator
from typing import Final

from graph.index.catalogue import Catalogue
from graph.interchange.follows import spread
from graph.interchange.place import Place
from graph.model.record import Part
from graph.model.value import spelled_code

ENOUGH: Final = 50
"""Candidates so few are read and decided one by one; more are first narrowed by a further code or size."""


def candidates(catalogue: Catalogue, place: Place, part: Part) -> tuple[Part, ...]:
    """The parts of the seat's kind that agree with this one in what no work here changes; itself is among them.

    Complete for every edge, sure or on condition, in both directions: an edge needs equal codes where a rule asks
    for the same, and where a rule bounds a size on both sides, sizes no further apart than its window is wide.
    """
    kinds = set(catalogue.kinds_below([place.seat.kind]))
    spans = list(_spans(place, part))
    if not spans:
        return catalogue.parts_of_kinds(kinds)
    found = (key for key in catalogue.saying(spans, ENOUGH) if key.startswith("part/"))
    return tuple(p for p in catalogue.parts(found) if p.kind in kinds)


def _spans(place: Place, part: Part) -> Iterator[tuple[str, int | str, int | str]]:
    changed = {o.feature for o in place.operations}
    for touch in place.touches:
        wide = spread(touch.rule)
        if wide is None or touch.alone or len(touch.own) != 1 or touch.features[0] in changed:
            continue
        fact = place.fact(part, touch.features[0])
        if touch.rule.type == "same" and fact.quantity == "angle":
            continue  # whole turns apart is the same
        if fact.settles and fact.low is not None and fact.high is not None:
            yield touch.features[0], fact.high - wide, fact.low + wide
    for touch in place.touches:
        if touch.rule.type != "same" or touch.alone or len(touch.own) != 1:
            continue
        feature = touch.features[0]
        fact = place.fact(part, feature)
        if feature in changed or not fact.settles:
            continue
        words = {code for a in fact.alternatives for code in a.codes}
        if len(words) == 1 and all(a.low is None for a in fact.alternatives):
            code = spelled_code(words.pop())
            yield feature, code, code
