"""Questions too large to try, against CP-SAT over raw sizes: costs and infeasibility.

The formulation (tests/support/raw_cp_sat.py) shares no code with the planner or the checker: whole sizes, sums of
them, no tables of pairs.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest
from raw_cp_sat import GaveUp, Raw, medium_bundle

from graph.model.verdict import Verdict
from graph.planning.answer import plan

BATCHES = 6
EACH = 30
Held = Callable[..., None]


def contents(raw: Raw) -> set[str]:
    """What makes this question hard."""
    bundle, rules = raw.bundle, raw.bundle.layout.rules
    out = set()
    if any(r.type == "stack" for r in rules):
        out.add("stack")
    if any(s.may_be_empty for s in bundle.layout.seats):
        out.add("empty seat")
    if any(len([o for o in ops if o.effect != "service"]) > 1 for mine in raw.modes.values() for _, ops in mine):
        out.add("several operations a part")
    sides = [o for r in rules for o in r.operands if o[0] != "engine"]
    if any(not raw.as_is(mode[0], f).sure for s, f in sides for mode in raw.modes[s] if mode[0].part):
        out.add("missing fact")
    if any(r.safety for r in rules):
        out.add("safety joint")
    for place in raw.size:
        if len({s for r in rules if place in r.operands for s in r.seats}) > 2:
            out.add("shared machined feature")
    return out


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(BATCHES))
def test_the_cheapest_plans_cost_what_cp_sat_finds_from_raw_sizes(batch: int, held: Held) -> None:
    """Three plans of every fourth question, one of the others; impossible only where CP-SAT proves it, too."""
    seen: Counter[str] = Counter()
    for seed in range(batch * EACH, (batch + 1) * EACH):
        best = 3 if seed % 4 == 0 else 1
        bundle = medium_bundle(seed)
        bundle = replace(bundle, question=replace(bundle.question, best=best))
        answer = plan(bundle)
        raw = Raw(bundle, certain=True)
        try:
            theirs = raw.ranked(best)
            verdicts = {Verdict.YES, Verdict.WITH_WORK}
            if not theirs:
                theirs = Raw(bundle, certain=False).ranked(best)
                verdicts = {Verdict.UNKNOWN if theirs else Verdict.NO}
        except GaveUp:
            seen["gave up"] += 1
            continue
        assert answer.verdict in verdicts, seed
        assert [p.cost for p in answer.plans] == [cost for cost, _ in theirs], seed
        seen["plans" if theirs else "impossible"] += 1
        seen.update(contents(raw))
    held("k best costs", "raw CP-SAT", seen["plans"])
    held("infeasibility", "raw CP-SAT", seen["impossible"])
    assert seen["gave up"] <= 2
    assert seen["impossible"] >= 1
    for what in ("stack", "empty seat", "several operations a part", "safety joint"):
        assert seen[what] >= 8, seen
    assert seen["shared machined feature"] >= 8, seen
    assert seen["missing fact"] >= 3, seen
