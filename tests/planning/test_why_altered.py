"""An answer to why not from the demo shop, altered in one place and sealed again: the checker refuses it.

The alterations keep the file's digest right, so that only the evidence and the checker's own work can tell.
"""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from demo_graph.tours import DAY
from graph.desk import Desk, depth
from graph.desk.desk import within
from graph.desk.judging import judge
from graph.model.depth import Change, Member, WayOut, WhyAnswer
from graph.model.plan import Plan
from graph.model.value import Amount
from graph.model.verdict import Proof, Verdict
from graph.planning.saved import saved


@pytest.fixture(scope="module")
def asked(demo_desk: Desk) -> WhyAnswer:
    """The 66 wheel in a cover that may be bored to 64 mm (demo_graph/README.md)."""
    return depth.why(demo_desk, "HB-008", "largest-own-cover", "BR6-C", best=1, day=DAY)


def with_members(answer: WhyAnswer, members: tuple[Member, ...]) -> WhyAnswer:
    assert answer.clash is not None
    return replace(answer, clash=replace(answer.clash, members=members))


def with_way(answer: WhyAnswer, **fields: object) -> WhyAnswer:
    return replace(answer, ways=(replace(answer.ways[0], **fields), *answer.ways[1:]))  # type: ignore[arg-type]


def with_plan(way: WayOut, plan: Plan) -> WayOut:
    return replace(way, answer=replace(way.answer, plans=(plan,), bound=plan.cost))


def alterations(answer: WhyAnswer) -> Iterator[tuple[str, WhyAnswer, set[str]]]:
    """(what was altered, the answer then, codes of which one at least must be among the refusals)."""
    assert answer.clash is not None and answer.bundle is not None
    members, way = answer.clash.members, answer.ways[0]
    for number, member in enumerate(members):
        rest = members[:number] + members[number + 1 :]
        yield f"member {number} dropped", with_members(answer, rest), {"clash", "clash-not-minimal"}
        dearer = replace(member.without, cost=member.without.cost + 1)
        more = (*members[:number], replace(member, without=dearer), *members[number + 1 :])
        yield f"price without member {number}", with_members(answer, more), {"clash-not-minimal"}
    named = {(m.kind, m.place) for m in members}
    rules = answer.bundle.layout.rules
    free = [i for i in range(len(rules)) if ("rule", i) not in named]
    seats = {*answer.clash.seats, "engine"}
    within_, beyond = (next(i for i in free if (set(rules[i].seats) <= seats) is inside) for inside in (True, False))
    for place, code in ((within_, "clash-not-minimal"), (beyond, "clash")):
        added = replace(members[0], kind="rule", place=place, safety=rules[place].safety)
        yield f"rule {place} added", with_members(answer, (*members, added)), {code}
    yield "a member named twice", with_members(answer, (*members, members[0])), {"clash"}
    rule = next(m for m in members if m.kind == "rule")
    turned = tuple(replace(m, safety=not m.safety) if m is rule else m for m in members)
    yield "called a safety rule", with_members(answer, turned), {"clash"}
    held = next(m for m in members if any(o.low is not None for j in m.without.joints for o in j.operands))
    joints = tuple(
        replace(j, operands=tuple(replace(o, low=o.low - 1_000_000) if o.low is not None else o for o in j.operands))
        for j in held.without.joints
    )
    shown = tuple(replace(m, without=replace(m.without, joints=joints)) if m is held else m for m in members)
    yield "a value of a joint", with_members(answer, shown), {"clash-not-minimal"}
    plan = way.answer.plans[0]
    yield "a way's price", replace(answer, ways=(with_plan(way, replace(plan, cost=plan.cost - 100)),)), {"total"}
    (change,) = way.changes
    assert change.becomes is not None and isinstance(change.becomes.value, Amount)
    nearer = replace(change.becomes, value=replace(change.becomes.value, amount=change.becomes.value.amount + 10_000))
    yield "a way's size", with_way(answer, changes=(replace(change, becomes=nearer),)), {"demand", "joint", "plan"}
    safe = next((i for i, r in enumerate(answer.bundle.layout.rules) if r.safety), None)
    if safe is not None:
        yield "a safety rule given up", with_way(answer, changes=(Change("rule", safe, None, ""),)), {"way"}
    yield "the proof word", replace(answer, proof=Proof.FOUND), {"proof"}
    yield "the verdict", replace(answer, verdict=Verdict.UNKNOWN, proof=Proof.UNDECIDED), {"clash"}


@pytest.mark.slow
def test_the_answer_stands_as_it_was_given(asked: WhyAnswer, demo_desk: Desk) -> None:
    judgement = judge(saved(asked), [demo_desk.evidence_again], within(60))
    assert judgement.refusals == ()
    assert judgement.against == "store"


@pytest.mark.slow
def test_each_alteration_is_refused(asked: WhyAnswer, demo_desk: Desk) -> None:
    names: list[str] = []
    wrong: list[tuple[str, set[str]]] = []
    for name, altered, codes in alterations(asked):
        judgement = judge(saved(altered), [demo_desk.evidence_again], within(60))
        found = {r.code for r in judgement.refusals} - {"optimality-not-confirmed"}
        if not found & codes:
            wrong.append((name, found))
        names.append(name)
    assert not wrong
    assert len(names) >= 13, names


@pytest.mark.slow
def test_altered_evidence_is_told_by_the_store(asked: WhyAnswer, demo_desk: Desk) -> None:
    """The demand for the wheel, lowered in question and evidence alike, so that the answer would follow from it."""
    assert asked.bundle is not None
    demands = tuple(
        replace(d, value=replace(d.value, amount=d.value.amount - 10)) if isinstance(d.value, Amount) else d
        for d in asked.bundle.build.demands
    )
    bundle = replace(asked.bundle, build=replace(asked.bundle.build, demands=demands))
    judgement = judge(saved(replace(asked, bundle=bundle)), [demo_desk.evidence_again], within(60))
    assert "evidence-altered" in {r.code for r in judgement.refusals}
    flipped = saved(asked).replace(b'"proved impossible"', b'"proved cheapest"', 1)
    assert {r.code for r in judge(flipped, [], within(60)).refusals} == {"bad-file"}
