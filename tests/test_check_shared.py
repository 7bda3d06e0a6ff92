"""Memories that questions share change no judgement: each is held against the same without, worked out afresh."""

from collections.abc import Callable, Iterator
from dataclasses import replace

import check_cases
import pytest
import tamper
from check_random import random_bundle

from graph.model.bundle import Bundle
from graph.model.claim import Claim
from graph.model.record import Core, FoundPart
from graph.model.value import Amount
from graph.planning.check import Shared, check
from graph.planning.check.bound import optimum_of
from graph.planning.check.case import Case, Mode

MODES: tuple[Mode, ...] = ("certain", "possible")


def same(bundle: Bundle, shared: Shared) -> None:
    """The first plan (bounds count most there) and all of them, for certain and for possible."""
    case, alone = shared.case(bundle), Case(bundle)
    for mode in MODES:
        for best in (1, 50):
            assert optimum_of(case, best=best, mode=mode).plans == optimum_of(alone, best=best, mode=mode).plans


def larger(claim: Claim) -> Claim:
    if not isinstance(claim.value, Amount):
        return claim
    return replace(claim, value=replace(claim.value, amount=claim.value.amount + 1))


def read_larger(core: Core) -> Core:
    return replace(core, found=tuple(replace(f, readings=tuple(map(larger, f.readings))) for f in core.found))


def unread(core: Core) -> Core:
    return replace(core, found=tuple(FoundPart(f.seat, f.part, f.state) for f in core.found))


ALTERATIONS: tuple[Callable[[Bundle], Bundle], ...] = (
    lambda b: replace(b, core=read_larger(b.core)),
    lambda b: replace(b, core=unread(b.core)),
    lambda b: replace(b, core=replace(b.core, found=b.core.found[1:])),
    lambda b: replace(b, donors=tuple(map(read_larger, b.donors))),
    lambda b: replace(b, donors=()),
    lambda b: replace(b, engine=replace(b.engine, claims=tuple(map(larger, b.engine.claims)))),
    lambda b: replace(b, parts=tuple(replace(p, claims=tuple(map(larger, p.claims))) for p in b.parts)),
    lambda b: replace(b, parts=tuple(replace(p, limits=()) for p in b.parts)),
    lambda b: replace(b, parts=b.parts[1:]),
    lambda b: replace(
        b,
        parts=tuple(
            replace(p, price_new=p.price_new and replace(p.price_new, price=p.price_new.price + 7)) for p in b.parts
        ),
    ),
    lambda b: replace(b, rates=tuple(replace(r, per_hour=r.per_hour * 50) for r in b.rates)),
    lambda b: replace(b, operations=b.operations[1:]),
    lambda b: replace(b, operations=tuple(replace(o, tolerance=0) for o in b.operations)),
    lambda b: replace(b, features=tuple(replace(f, wears=not f.wears) for f in b.features)),
    lambda b: replace(b, layout=replace(b.layout, rules=b.layout.rules[1:])),
    lambda b: replace(
        b,
        layout=replace(
            b.layout, rules=tuple(replace(r, max=None if r.max is None else r.max + 1) for r in b.layout.rules)
        ),
    ),
    lambda b: replace(b, layout=replace(b.layout, seats=tuple(replace(s, quantity=2) for s in b.layout.seats))),
    lambda b: replace(b, build=replace(b.build, demands=())),
    lambda b: replace(b, accepted=()),
    lambda b: replace(b, question=replace(b.question, wishes=("no-donor",))),
    lambda b: replace(b, question=replace(b.question, wishes=("no-machining",))),
)


def altered(bundle: Bundle) -> Iterator[Bundle]:
    yield bundle
    yield from (alter(bundle) for alter in ALTERATIONS)


@pytest.mark.slow
def test_no_question_is_answered_from_what_another_bundle_says() -> None:
    """One memory for bundles that name the same things and differ in one record, in either order."""
    for seed in range(5):
        bundles = list(altered(random_bundle(seed)))
        assert len({repr(b) for b in bundles}) > len(bundles) // 2
        forward, back = Shared(), Shared()
        for one, other in zip(bundles, reversed(bundles), strict=True):
            same(one, forward)
            same(other, back)


def test_unlike_bundles_share_nothing_that_differs() -> None:
    shared = Shared()
    for seed in range(30):
        same(random_bundle(seed), shared)


def test_the_cores_of_a_shelf_share_what_they_are_asked() -> None:
    """Every core of a bundle in its turn the one that is asked about, the others its donors."""
    for seed in range(15):
        bundle = random_bundle(seed)
        shared = Shared()
        cores = (bundle.core, *bundle.donors)
        for core in (*cores, *cores):
            rest = tuple(sorted((c for c in cores if c.key != core.key), key=lambda c: c.tag))
            same(replace(bundle, core=core, donors=rest), shared)


def test_altered_answers_are_refused_alike() -> None:
    answer = check_cases.answer(2)
    assert answer.bundle is not None
    shared = Shared()
    for name, wrong in list(tamper.alterations(answer, 5))[::3]:
        assert check(wrong, answer.bundle, shared=shared) == check(wrong, answer.bundle), name
