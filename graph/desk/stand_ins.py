"""What the features say of stand-ins for the parts that plans take new: derived ones, and doubts about asserted ones
and about numbers that took their place.

Rule 1: a stand-in must hold in every use of the number: each seat, each job.
Rule 2: nothing is offered that a demand or a wish of the job was not asked about; work is for one part only.
"""

from collections.abc import Iterable, Iterator

from graph.errors import BadQuestion, NotFound
from graph.index.catalogue import Catalogue
from graph.interchange import interchange
from graph.interchange.answer import AGREES, OPEN, REFUTED, given_up, places, standing
from graph.model.bundle import Bundle
from graph.model.interchange import InterchangeAnswer
from graph.model.picking import StandIn
from graph.model.plan import Plan, SeatChoice
from graph.model.record import Feature, Part, Snapshot
from graph.model.verdict import Verdict
from graph.rules.facts import settle
from graph.rules.spoken import fact_text

DERIVED = "derived"


def stand_ins(catalogue: Catalogue, snapshot: Snapshot, jobs: Iterable[tuple[Plan, Bundle]]) -> tuple[StandIn, ...]:
    """By number: what may surely take a new part's place in all its uses, and what is asserted without being so."""
    derived: dict[str, dict[str, StandIn]] = {}
    doubts: dict[tuple[str, str], StandIn] = {}
    asked: dict[tuple[str, str], InterchangeAnswer] = {}
    for plan, bundle in jobs:
        for choice in plan.seats:
            if choice.source != "new" or not choice.part:
                continue
            where = choice.part, choice.seat
            if where not in asked:
                try:
                    asked[where] = interchange(catalogue, snapshot, *where)
                except (BadQuestion, NotFound):
                    continue
            found = {} if choice.operations else _sure(catalogue, asked[where], choice, bundle)
            before = derived.get(choice.part)
            derived[choice.part] = (
                found if before is None else {other: s for other, s in before.items() if other in found}
            )
            for one in asked[where].asserted:
                said = one.asserted
                if said.part == choice.part and one.how != AGREES:
                    doubts[said.part, said.other] = StandIn(said.part, said.other, one.how, one.text)
            for doubt in _of_numbers(catalogue, choice, bundle):
                before_ = doubts.get((doubt.part, doubt.other))
                if before_ is None or before_.how != REFUTED:
                    doubts[doubt.part, doubt.other] = doubt
    sure = [s for found in derived.values() for s in found.values()]
    return tuple(sorted((*sure, *doubts.values()), key=lambda s: (s.part, s.other, s.how)))


def _of_numbers(catalogue: Catalogue, choice: SeatChoice, bundle: Bundle) -> Iterator[StandIn]:
    """Doubts about the numbers that took the part's place, step after step, and those that go both ways with it.

    A supersession says what the maker sells, not that it fits here.
    """
    part = catalogue.part(choice.part)
    both = {s.old if s.new == part.key else s.new for s in catalogue.supersessions(part.key) if s.two_way}
    others = catalogue.parts(given_up(catalogue, [part]).get(part.key, frozenset()) | both)
    if not others:
        return
    where = [p for p in places(catalogue) if (p.layout.name, p.seat.name) == (bundle.layout.name, choice.seat)]
    asked = _demanded(bundle, choice)
    for place in where:
        for other in others:
            how, text = standing(place.decide(part, other))
            if how != REFUTED and not _alike(part, other, asked):
                how, text = OPEN, f"the build asks for {', '.join(f.label for f in asked)} in this seat"
            if how != AGREES:
                yield StandIn(part.key, other.key, how, text)


def _demanded(bundle: Bundle, choice: SeatChoice) -> list[Feature]:
    """The features that the build asks for in the seat."""
    names = {d.feature for d in bundle.build.demands if d.seat == choice.seat and d.feature}
    return [f for f in bundle.features if f.name in names]


def _sure(catalogue: Catalogue, answer: InterchangeAnswer, choice: SeatChoice, bundle: Bundle) -> dict[str, StandIn]:
    edges = [d for d in answer.instead if d.verdict is Verdict.YES and d.layout == bundle.layout.name]
    barred = {w.removeprefix("no-part:") for w in bundle.question.wishes if w.startswith("no-part:")}
    features = _demanded(bundle, choice)
    parts = {p.key: p for p in catalogue.parts({choice.part, *(d.other for d in edges)})}
    return {
        d.other: StandIn(choice.part, d.other, DERIVED, "; ".join(d.conditions))
        for d in edges
        if d.other not in barred and _alike(parts[choice.part], parts[d.other], features)
    }


def _alike(first: Part, second: Part, features: Iterable[Feature]) -> bool:
    """Whether what the build demands of the seat is the same of both."""
    return all(
        fact_text(settle(first.claims, f, subject=first.key))
        == fact_text(settle(second.claims, f, subject=second.key))
        for f in features
    )
