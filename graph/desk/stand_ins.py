"""What the features say of stand-ins for the parts that plans take new: derived ones, and doubts about asserted ones.

Rule 1: a stand-in must hold in every use of the number: each seat, each job.
Rule 2: nothing is offered that a demand or a wish of the job was not asked about; work is for one part only.
"""

from collections.abc import Iterable

from graph.errors import BadQuestion, NotFound
from graph.index.catalogue import Catalogue
from graph.interchange import interchange
from graph.interchange.answer import AGREES
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
    sure = [s for found in derived.values() for s in found.values()]
    return tuple(sorted((*sure, *doubts.values()), key=lambda s: (s.part, s.other, s.how)))


def _sure(catalogue: Catalogue, answer: InterchangeAnswer, choice: SeatChoice, bundle: Bundle) -> dict[str, StandIn]:
    edges = [d for d in answer.instead if d.verdict is Verdict.YES and d.layout == bundle.layout.name]
    barred = {w.removeprefix("no-part:") for w in bundle.question.wishes if w.startswith("no-part:")}
    demanded = {d.feature for d in bundle.build.demands if d.seat == choice.seat and d.feature}
    features = [f for f in bundle.features if f.name in demanded]
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
