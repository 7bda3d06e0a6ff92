"""The checker's own optimum against trying everything, quantum by quantum (tests/support/check_brute.py)."""

from dataclasses import replace
from itertools import pairwise

import pytest
from check_brute import Brute, TooLarge
from check_random import DEEP, meeting_bundle, random_bundle

from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.record import FoundPart, Layout, Operation, Part, Rule, Seat
from graph.model.value import Amount
from graph.planning.check import optimum
from graph.planning.check.case import Case, Mode
from graph.planning.check.choices import Option
from graph.planning.check.derive import derived
from graph.planning.check.sizes import Setting

SEEDS = 125


@pytest.mark.slow
def test_the_first_plans_by_cost_and_identity_are_those_of_trying_everything() -> None:
    compared = with_plans = machined = both_sides = worn = left_out = tied = 0
    for seed in range(SEEDS):
        bundle = random_bundle(seed)
        modes: tuple[Mode, ...] = ("certain", "possible")
        for mode in modes:
            try:
                witness = Brute(bundle, mode == "certain")
                plans = witness.plans()
            except TooLarge:
                continue
            placed = tuple(sorted((cost, identity) for identity, cost in plans.items()))
            assert optimum(bundle, best=10_000, mode=mode).plans == placed, (seed, mode)
            for best in (1, 3):
                assert optimum(bundle, best=best, mode=mode).plans == placed[:best], (seed, mode, best)
            cuts = [sum("cut" in name for *_, names in identity for name in names) for identity in plans]
            compared += 1
            with_plans += bool(plans)
            machined += max(cuts, default=0) > 0
            both_sides += max(cuts, default=0) > 1
            worn += witness.refused["worn"] > 0
            left_out += witness.refused["left out"] > 0
            tied += any(a[0] == b[0] for a, b in pairwise(placed[:4]))
    assert compared >= 200
    assert with_plans >= 80
    assert machined >= 20
    assert both_sides >= 2
    assert worn >= 30
    assert left_out >= 15
    assert tied >= 20


@pytest.mark.slow
def test_parts_cut_against_one_another_cost_what_trying_every_size_finds() -> None:
    both_sides = three = 0
    for seed in range(80):
        bundle = meeting_bundle(seed)
        modes: tuple[Mode, ...] = ("certain", "possible")
        for mode in modes:
            plans = Brute(bundle, mode == "certain").plans()
            found = optimum(bundle, best=10_000, mode=mode)
            assert found.plans == tuple(sorted((cost, identity) for identity, cost in plans.items())), (seed, mode)
            cuts = [sum(bool(names) for *_, names in identity) for identity in plans]
            both_sides += max(cuts, default=0) == 2
            three += max(cuts, default=0) == 3
    assert both_sides >= 25
    assert three >= 4


def test_the_target_of_the_left_side_is_set_first_and_the_right_follows() -> None:
    """Worked out by hand: see `planned` below.

    s0 is 10 and may be widened to 14, s1 is 10 and may be reduced to 6; s0 - s1 must be 5..6. Either alone gives
    4 at most, so both are cut. s0 may be 11..14 (5 - 4 = 1 is the least), its middle is 12; then s1 is 6..7.
    The least pair: s0 costs 2 a quantum and s1 costs 1, so s1 goes to 6 and s0 to 11.
    """
    case = Case(planned())
    chosen = {s: (Option(s, f"part/{s}", "kept"), (f"cut-{s}",)) for s in ("s0", "s1")}
    right = derived(case, chosen, "certain")
    assert right.objections == ()
    assert right.settings == {
        ("s0", "x"): Setting(least=11, target=12, low=11, high=14),
        ("s1", "x"): Setting(least=6, target=6, low=6, high=7),
    }


def planned() -> Bundle:
    base = meeting_bundle(0)
    limits = {"s0": (None, 14), "s1": (6, None)}
    effects = {"s0": "widen_to_suit", "s1": "reduce_to_suit"}
    rates = {"s0": 2, "s1": 1}
    parts = tuple(
        Part(
            f"part/{s}",
            "O",
            s,
            f"k{s[1:]}",
            "",
            (Claim(f"c-{s}", f"part/{s}", "x", Amount(10, "length"), "one", Rank.DRAWING, "", 0, *limits[s]),),
        )
        for s in ("s0", "s1")
    )
    operations = tuple(
        Operation(f"cut-{s}", "", f"k{s[1:]}", "x", effects[s], 0, 1, DEEP * rates[s], tolerance=0)
        for s in ("s0", "s1")
    )
    layout = Layout(
        "l",
        (Seat("s0", "k0"), Seat("s1", "k1")),
        (),
        (
            Rule("j", "gap", "clearance", ("s0", "x"), (("s1", "x"),), 5, 6),
            Rule("j", "onto", "at_least", ("s0", "x"), (("engine", "x"),)),
        ),
    )
    core = replace(base.core, found=tuple(FoundPart(s, f"part/{s}") for s in ("s0", "s1")))
    build = replace(base.build, demands=())
    return replace(base, layout=layout, parts=parts, operations=operations, core=core, build=build)
