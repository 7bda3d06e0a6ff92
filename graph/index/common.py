"""The evidence that plan questions have in common, handed out as the same objects from one question to the next."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from graph.index.catalogue import Catalogue
from graph.index.shelf import Shelf
from graph.model.record import Consume, Feature, FoundPart, Layout, Operation, Part, ServiceDue

FEW: Final = 1_000
"""Parts of one question that are kept for the next; of more, each question reads its own."""


def inside(layout: Layout) -> Layout:
    """The layout without the joints to an engine."""
    inner = {joint.name for joint in layout.joints if "engine" not in joint.seats}
    return replace(
        layout,
        joints=tuple(j for j in layout.joints if j.name in inner),
        rules=tuple(r for r in layout.rules if r.joint in inner and "engine" not in r.seats),
    )


def plated(catalogue: Catalogue, seats: Iterable[tuple[str, str]], said: str) -> tuple[FoundPart, ...]:
    """What sits in a unit as supplied."""
    same = catalogue.same
    return same.row(same.one(FoundPart(seat, part, said=said, plate=True)) for seat, part in seats)


def unworn(catalogue: Catalogue) -> tuple[Feature, ...]:
    """The features of a model, not of a used specimen: nothing has worn, so that none waits for a reading."""
    features = catalogue.features
    return catalogue.same.once(
        "unworn", (features,), lambda: tuple(replace(feature, wears=False) for feature in features)
    )


def parts(catalogue: Catalogue, keys: Iterable[str]) -> tuple[Part, ...]:
    """Those of these parts that there are; the same objects as before while there is room."""
    wanted = set(keys)
    return catalogue.known.parts(wanted) if len(wanted) <= FEW else catalogue.parts(wanted)


def fitting(catalogue: Catalogue, layout: Layout) -> tuple[Part, ...]:
    """The parts of a kind that a seat of the layout takes."""
    same, kinds = catalogue.same, catalogue.kinds_below(seat.kind for seat in layout.seats)
    found: tuple[str, ...] = same.once(("fitting", kinds), (), lambda: catalogue.keys_of_kinds(kinds))
    return parts(catalogue, found) if len(found) <= FEW else catalogue.parts_of_kinds(kinds)


def consumes(catalogue: Catalogue, layout: Layout) -> tuple[Consume, ...]:
    """What work on a unit of the layout uses up."""
    return catalogue.same.once(("consumes", layout.name), (), lambda: catalogue.consumes(layout.name))


def services(catalogue: Catalogue, layout: Layout) -> tuple[ServiceDue, ...]:
    """The services that follow work on a unit of the layout."""
    return catalogue.same.once(("services", layout.name), (), lambda: catalogue.services(layout.name))


def operations(catalogue: Catalogue, layout: Layout) -> tuple[Operation, ...]:
    """The operations that a part in the layout may get, and every service."""
    kinds = tuple(sorted({seat.kind for seat in layout.seats}))
    return catalogue.same.once(("operations", kinds), (), lambda: catalogue.operations(catalogue.kinds_below(kinds)))


def dressed(catalogue: Catalogue, shelf: Shelf, parts: Iterable[Part], day: str) -> tuple[Part, ...]:
    """The parts with what they cost on a day and what is on hand of them."""
    parts = tuple(parts)
    keys = [part.key for part in parts]
    prices, stocks = shelf.prices(keys, day), shelf.stocks(keys)

    def dressed(part: Part) -> Part:
        new, used, stock = prices.get((part.key, "new")), prices.get((part.key, "used")), stocks.get(part.key, ())
        return catalogue.same.once(
            ("dressed", new, used, stock), (part,), lambda: replace(part, price_new=new, price_used=used, stock=stock)
        )

    return catalogue.same.row(map(dressed, parts))
