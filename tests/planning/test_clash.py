"""Minimal clashes and the cheapest ways out, against a witness that tries every plan, subset and size.

The witness (tests/support/pump_witness.py, depth_random.py) shares no code with the planner or the checker.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest
from depth_random import TooMany, dropped, hard_bundle, minimal_ways, possible, priced

from graph.model.bundle import Bundle
from graph.model.depth import Clash
from graph.model.verdict import Verdict
from graph.planning.answer import plan
from graph.planning.check.clash import check_why
from graph.planning.clash import members
from graph.planning.relax import relaxable, ways_out
from graph.planning.why import why

Held = Callable[..., None]
BATCHES = 6
EACH = 25
FEWER = 25


def alone(bundle: Bundle, found: Clash, without: tuple[str, int] | None = None) -> Bundle:
    """The clash's members (but one) in the clash's seats, and nothing else."""
    keys = {(m.kind, m.place) for m in found.members} - {without}
    seats = tuple(s for s in bundle.layout.seats if s.name in found.seats)
    fewer = dropped(bundle, frozenset(members(bundle)) - keys)
    return replace(fewer, layout=replace(fewer.layout, seats=seats))


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(BATCHES))
def test_a_clash_is_impossible_and_possible_without_any_one_of_its_members(batch: int, held: Held) -> None:
    seen: Counter[str] = Counter()
    for seed in range(batch * EACH, (batch + 1) * EACH):
        bundle = hard_bundle(seed)
        answer = why(bundle)
        assert check_why(answer, bundle) == [], seed
        found = answer.clash
        if found is None:
            try:
                assert possible(bundle, most=120) or answer.causes, seed
                seen["possible"] += 1
            except TooMany:
                seen["large"] += 1
            continue
        try:
            assert not possible(alone(bundle, found)), seed
            for member in found.members:
                assert possible(alone(bundle, found, (member.kind, member.place))), (seed, member)
            seen["clash"] += 1
        except TooMany:
            seen["large"] += 1
    held("minimal clash", "brute force, each member dropped", seen["clash"])
    assert seen["clash"] >= 10, seen
    assert seen["possible"] >= 1, seen


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(BATCHES))
def test_the_ways_out_are_the_minimal_ones_by_price(batch: int, held: Held) -> None:
    """Witness: every set to give up, every size moved quantum by quantum, every plan."""
    seen: Counter[str] = Counter()
    for seed in range(batch * FEWER, (batch + 1) * FEWER):
        bundle = hard_bundle(seed)
        if plan(bundle).verdict is not Verdict.NO:
            continue
        soft = relaxable(bundle)
        try:
            truth = minimal_ways(bundle, soft)
            expected = sorted(priced(bundle, gone, members(bundle)) for gone in truth)
        except TooMany:
            continue
        ways, complete = ways_out(bundle, best=3)
        ours = [(w.answer.verdict is Verdict.UNKNOWN, w.answer.plans[0].cost) for w in ways]
        assert complete
        assert ours == expected[:3], seed
        assert all(frozenset((c.kind, c.place) for c in w.changes) in truth for w in ways), seed
        seen["ways" if ours else "none"] += 1
    held("cheapest relaxation", "brute force", seen["ways"] + seen["none"])
    assert seen["ways"] >= 3
    assert seen["none"] >= 1
