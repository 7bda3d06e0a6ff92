"""Random questions for what comes after a plan: tighter than `pump_random`'s, so that many are impossible."""

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import Any

from pump_random import amount, random_bundle
from pump_witness import Choice, Witness

from graph.model.bundle import Bundle
from graph.model.record import Demand
from graph.model.value import Amount, Code


def hard_bundle(seed: int) -> Bundle:
    """A small question with several demands, wishes and safety rules."""
    r = random.Random(f"hard {seed}")
    bundle = random_bundle(seed, best=1)

    def one(seat: str, feature: str, kind: str, value: Any = None, to: int | None = None) -> Demand:
        return Demand("build/B1", seat, feature, kind, value, to)

    pool = [
        one("impeller", "diameter", "at_least", amount(r.randint(196, 204))),
        one("impeller", "diameter", "same", amount(r.randint(192, 202))),
        one("impeller", "diameter", "between", amount(r.randint(190, 196)), r.randint(196, 199)),
        one("casing", "bore", "at_most", amount(r.randint(200, 206))),
        one("casing", "bore", "at_least", amount(r.randint(204, 212))),
        one("casing", "flange", "same", Code(r.choice(("four", "six")))),
        one("shaft", "", "keep"),
        one("casing", "", "keep"),
        one("casing", "bore", "keep"),
        one("seal", "height", "at_most", amount(r.randint(147, 152))),
    ]
    demands = tuple(r.sample(pool, r.randint(1, 3)))
    rules = tuple(replace(rule, safety=r.random() < 0.2) for rule in bundle.layout.rules)
    offered = ("no-new", "no-donor", "no-machining", "keep:impeller", "keep:casing", "no-used:impeller")
    wishes = tuple(sorted(w for w in offered if r.random() < 0.15))
    return replace(
        bundle,
        layout=replace(bundle.layout, rules=rules),
        build=replace(bundle.build, demands=demands),
        question=replace(bundle.question, wishes=wishes),
    )


Key = tuple[str, int]


def dropped(bundle: Bundle, gone: frozenset[Key], moved: dict[Key, Demand] | None = None) -> Bundle:
    """The bundle without these (kind, place), or with other demands in their place."""
    moved = moved or {}
    demands = []
    for i, d in enumerate(bundle.build.demands):
        if ("demand", i) in moved:
            demands.append(moved["demand", i])
        elif ("demand", i) not in gone:
            demands.append(d)
    rules = tuple(x for i, x in enumerate(bundle.layout.rules) if ("rule", i) not in gone)
    wishes = tuple(w for i, w in enumerate(bundle.question.wishes) if ("wish", i) not in gone)
    return replace(
        bundle,
        layout=replace(bundle.layout, rules=rules),
        build=replace(bundle.build, demands=tuple(demands)),
        question=replace(bundle.question, wishes=wishes),
    )


class TooMany(Exception):
    """More choices than are worth trying."""


class Wishing(Witness):
    """The witness, with the wishes that it does not know."""

    def choices(self, seat: str, kind: str, may_be_empty: bool) -> Iterator[Choice]:
        wishes = self.bundle.question.wishes
        place = self.bundle.layout.seat(seat)
        assert place is not None
        for choice in super().choices(seat, kind, may_be_empty):
            if choice.source in ("kept", "donor") and f"no-used:{seat}" in wishes:
                continue
            if choice.source == "new" and "only-stock" in wishes:
                assert choice.part is not None
                if sum(s.quantity for s in choice.part.stock) < place.quantity:
                    continue
            yield choice


def tried(bundle: Bundle, certain: bool, most: int = 120) -> list[int]:
    """The costs of all plans by trying everything."""
    witness = Wishing(bundle)
    if witness.combinations(certain) > most:
        raise TooMany
    return [cost for cost, _ in witness.plans(certain)]


def possible(bundle: Bundle, most: int = 400) -> bool:
    """Whether there is any plan, by trying everything until one is found."""
    witness = Wishing(bundle)
    if witness.combinations(certain=False) > most:
        raise TooMany
    return next(witness.worked(certain=False), None) is not None


def minimal_ways(bundle: Bundle, soft: list[Key]) -> list[frozenset[Key]]:
    """All minimal sets to give up, by trying every subset."""
    found: list[frozenset[Key]] = []
    for size in range(len(soft) + 1):
        for some in combinations(soft, size):
            gone = frozenset(some)
            if not any(f <= gone for f in found) and possible(dropped(bundle, gone)):
                found.append(gone)
    return found


def loosened(d: Demand, by: int) -> Demand:
    assert isinstance(d.value, Amount)
    at = d.value.amount
    match d.type:
        case "at_least":
            return replace(d, value=amount(at - by))
        case "at_most":
            return replace(d, value=amount(at + by))
        case "same":
            return replace(d, type="between", value=amount(at - by), value_to=at + by)
    assert d.value_to is not None
    return replace(d, value=amount(at - by), value_to=d.value_to + by)


def priced(bundle: Bundle, gone: frozenset[Key], order: list[Key]) -> tuple[bool, int]:
    """(hangs on something, cost) of giving these up, sizes moved one quantum after the other."""
    certain = bool(tried(dropped(bundle, gone), True))
    moved: dict[Key, Demand] = {}
    for key in sorted(gone, key=order.index):
        d = bundle.build.demands[key[1]] if key[0] == "demand" else None
        if d is None or not isinstance(d.value, Amount):
            continue
        for by in range(1, 40):
            now = {**moved, key: loosened(d, by)}
            if tried(dropped(bundle, gone, now), certain):
                moved = now
                break
    return not certain, tried(dropped(bundle, gone, moved), certain)[0]
