"""Gathering what a pick list needs: the plans' parts, and all that kits, supersessions and interchanges lead to."""

from collections.abc import Sequence
from dataclasses import replace

from graph.desk.promised import promised
from graph.desk.stand_ins import stand_ins
from graph.index.catalogue import Catalogue
from graph.index.shelf import Shelf
from graph.model.bundle import Bundle
from graph.model.picking import PickEvidence
from graph.model.plan import Plan
from graph.model.record import Interchange, KitLine, Snapshot


def pick_evidence(catalogue: Catalogue, shelf: Shelf, jobs: Sequence[tuple[Plan, Bundle]], day: str) -> PickEvidence:
    """The evidence for a pick list over these plans, closed over kits, later and earlier numbers, and stand-ins."""
    plans = [plan for plan, _ in jobs]
    snapshot = Snapshot(catalogue.id, shelf.n)
    derived = stand_ins(catalogue, snapshot, jobs)
    open_ = {one.other for one in derived}
    open_ |= {choice.part for plan in plans for choice in plan.seats if choice.part}
    open_ |= {used.part for plan in plans for used in plan.consumed}
    met: set[str] = set()
    kits: dict[str, KitLine] = {}
    interchanges: dict[str, Interchange] = {}
    while open_ - met:
        now = sorted(open_ - met)
        met.update(now)
        for part in now:
            for line in catalogue.kits(part):
                kits[line.said] = line
                open_.add(line.part)
            for step in catalogue.supersessions(part):
                open_ |= {step.old, step.new}
            for stand_in in catalogue.interchange(part):
                if stand_in.part == part:
                    interchanges[stand_in.said] = stand_in
                    open_.add(stand_in.other)
    prices, stocks = shelf.prices(met, day), shelf.stocks(met)
    parts = tuple(
        replace(
            part,
            price_new=prices.get((part.key, "new")),
            price_used=prices.get((part.key, "used")),
            stock=stocks.get(part.key, ()),
        )
        for part in catalogue.parts(met)
    )
    return PickEvidence(
        snapshot=snapshot,
        day=day,
        parts=parts,
        kits=tuple(sorted(kits.values(), key=lambda line: (line.kit, line.part, line.said))),
        interchanges=tuple(sorted(interchanges.values(), key=lambda i: (i.part, i.other, i.said))),
        stand_ins=derived,
        promises=promised(shelf, day),
    )
