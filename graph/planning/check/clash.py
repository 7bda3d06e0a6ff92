"""A stated clash, judged: together impossible, each member dropped possible, by the checker's own code.

A clash is judged in its own seats: what cannot be met there cannot be met in the whole unit.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

from graph.model.bundle import Bundle
from graph.model.depth import Change, Clash, WhyAnswer
from graph.model.record import Demand
from graph.model.value import Amount
from graph.model.verdict import Proof, Verdict
from graph.planning.check.answer import about, check
from graph.planning.check.bound import optimum_of
from graph.planning.check.compare import compared
from graph.planning.check.refusal import UNCONFIRMED, Refusal
from graph.planning.check.shared import Shared

Member = tuple[str, int]


def check_why(
    answer: WhyAnswer, bundle: Bundle, stop: Callable[[], bool] | None = None, shared: Shared | None = None
) -> list[Refusal]:
    """Everything in the answer that the evidence does not bear out; an empty list confirms it.

    That no other way out is cheaper is not judged; that each way is one, that no part of it is needless, and
    what it costs, is.
    """
    shared = Shared() if shared is None else shared
    found = list(_about(answer, bundle))
    if answer.clash is not None:
        found += _clash(answer.clash, bundle, stop, shared)
    elif answer.verdict is Verdict.NO and not found:
        found += _barren(bundle, stop, shared)
    for index, way in enumerate(answer.ways):
        where = f"ways[{index}]"
        asked = _given_up(bundle, way.changes)
        if asked is None:
            found.append(Refusal("way", where, "it gives up what the question does not ask, or a safety rule"))
            continue
        for refusal in check(way.answer, asked, stop, shared):
            found.append(replace(refusal, where=f"{where}.{refusal.where}"))
        if not way.answer.plans:
            found.append(Refusal("way", where, "it leads to no plan"))
        if len(way.changes) > 1:
            found += _needless(bundle, way.changes, where, stop, shared)
    return found


def _about(answer: WhyAnswer, bundle: Bundle) -> Iterator[Refusal]:
    yield from about(answer, bundle)
    if (answer.verdict is Verdict.NO) is not (answer.proof is Proof.IMPOSSIBLE):
        yield Refusal("proof", "proof", "impossible and 'does not fit' are said together or not at all")
    if answer.verdict is not Verdict.NO and (answer.clash is not None or answer.ways):
        yield Refusal("clash", "clash", "a clash is shown for a question that is not called impossible")
    if answer.verdict is Verdict.NO and answer.clash is None and not answer.causes:
        yield Refusal("causes", "causes", "nothing is named that stands in the way")


def _clash(clash: Clash, bundle: Bundle, stop: Callable[[], bool] | None, shared: Shared) -> Iterator[Refusal]:
    members = [(m.kind, m.place) for m in clash.members]
    if not members or len(set(members)) != len(members) or not all(_exists(bundle, m) for m in members):
        yield Refusal("clash", "clash", "it names nothing, something twice, or something that is not asked")
        return
    known = {s.name for s in bundle.layout.seats}
    if not clash.seats or not set(clash.seats) <= known:
        yield Refusal("clash", "clash.seats", "it is said of seats that the layout lacks")
        return
    beyond = {s for m in members for s in _seats_of(bundle, m)} - set(clash.seats)
    if beyond:
        yield Refusal("clash", "clash.seats", f"a member looks at {', '.join(sorted(beyond))}, which it leaves out")
        return
    for member, key in zip(clash.members, members, strict=True):
        where = f"clash.members[{members.index(key)}]"
        rest = _only(bundle, [m for m in members if m != key], clash.seats)
        case = shared.case(rest)
        for refusal in compared(case, member.without, "possible", f"{where}.without"):
            yield Refusal("clash-not-minimal", refusal.where, f"without it there is no such plan: {refusal.text}")
        if member.kind == "rule" and member.safety != bundle.layout.rules[member.place].safety:
            yield Refusal("clash", where, "whether it is a safety rule is said wrongly")
    right = optimum_of(shared.case(_only(bundle, members, clash.seats)), mode="possible", stop=stop)
    if right.costs:
        yield Refusal("clash", "clash", f"all of it can be met together, for {right.costs[0]}")
    elif right.stopped:
        yield Refusal(UNCONFIRMED, "clash", "the checker was stopped before it had tried everything")


def _barren(bundle: Bundle, stop: Callable[[], bool] | None, shared: Shared) -> Iterator[Refusal]:
    """Without a clash some seat must be one that nothing can fill whatever is asked."""
    for seat in bundle.layout.seats:
        right = optimum_of(shared.case(_only(bundle, [], (seat.name,))), mode="possible", stop=stop)
        if not right.costs and not right.stopped:
            return
    yield Refusal("causes", "causes", "every seat can be filled, so that something clashes and is not named")


def _exists(bundle: Bundle, member: Member) -> bool:
    kind, place = member
    rows = {"rule": bundle.layout.rules, "demand": bundle.build.demands, "wish": bundle.question.wishes}.get(kind, ())
    return 0 <= place < len(rows)


def _seats_of(bundle: Bundle, member: Member) -> set[str]:
    """The seats that a member looks at."""
    kind, place = member
    if kind == "rule":
        return {s for s in bundle.layout.rules[place].seats if s != "engine"}
    if kind == "demand":
        return {bundle.build.demands[place].seat}
    word, _, seat = bundle.question.wishes[place].partition(":")
    return {seat} if word in ("keep", "no-used") else set()


def _only(bundle: Bundle, members: list[Member], seats: tuple[str, ...]) -> Bundle:
    """The bundle with these members and seats alone."""
    picked: dict[str, list[int]] = {"rule": [], "demand": [], "wish": []}
    for kind, place in members:
        picked[kind].append(place)
    rules = tuple(bundle.layout.rules[i] for i in sorted(picked["rule"]))
    layout = replace(
        bundle.layout,
        seats=tuple(s for s in bundle.layout.seats if s.name in seats),
        joints=tuple(j for j in bundle.layout.joints if j.name in {r.joint for r in rules}),
        rules=rules,
    )
    build = replace(bundle.build, demands=tuple(bundle.build.demands[i] for i in sorted(picked["demand"])))
    wishes = tuple(bundle.question.wishes[i] for i in sorted(picked["wish"]))
    return replace(bundle, layout=layout, build=build, question=replace(bundle.question, wishes=wishes, best=1))


def _given_up(bundle: Bundle, changes: tuple[Change, ...]) -> Bundle | None:
    """The bundle after these changes; None where they may not be made."""
    rules = list(enumerate(bundle.layout.rules))
    demands: list[tuple[int, Demand | None]] = list(enumerate(bundle.build.demands))
    wishes = list(enumerate(bundle.question.wishes))
    for change in changes:
        if not _exists(bundle, (change.kind, change.place)):
            return None
        if change.kind == "rule":
            if bundle.layout.rules[change.place].safety or change.becomes is not None:
                return None
            rules = [(i, r) for i, r in rules if i != change.place]
        elif change.kind == "wish":
            if change.becomes is not None:
                return None
            wishes = [(i, w) for i, w in wishes if i != change.place]
        else:
            if change.becomes is not None and not _looser(bundle.build.demands[change.place], change.becomes):
                return None
            demands = [(i, change.becomes if i == change.place else d) for i, d in demands]
    return replace(
        bundle,
        layout=replace(bundle.layout, rules=tuple(r for _, r in rules)),
        build=replace(bundle.build, demands=tuple(d for _, d in demands if d is not None)),
        question=replace(bundle.question, wishes=tuple(w for _, w in wishes), best=1),
    )


def _looser(asked: Demand, becomes: Demand) -> bool:
    """Whether a demand only moved: the same seat and feature, and its ends no closer than they were."""
    if (asked.seat, asked.feature, asked.build) != (becomes.seat, becomes.feature, becomes.build):
        return False
    if not isinstance(asked.value, Amount) or not isinstance(becomes.value, Amount):
        return False
    low, high = _ends(asked)
    new_low, new_high = _ends(becomes)
    return (new_low is None or (low is not None and new_low <= low)) and (
        new_high is None or (high is not None and new_high >= high)
    )


def _ends(demand: Demand) -> tuple[int | None, int | None]:
    assert isinstance(demand.value, Amount)
    size = demand.value.amount
    if demand.type == "at_least":
        return size, None
    if demand.type == "at_most":
        return None, size
    return size, size if demand.value_to is None else demand.value_to


def _needless(
    bundle: Bundle, changes: tuple[Change, ...], where: str, stop: Callable[[], bool] | None, shared: Shared
) -> Iterator[Refusal]:
    """Every change is needed: with any one of them left out the question is still impossible."""
    for index, change in enumerate(changes):
        rest = tuple(replace(c, becomes=None) for c in changes if c is not change)
        fewer = _given_up(bundle, rest)
        assert fewer is not None
        right = optimum_of(shared.case(fewer), mode="possible", stop=stop)
        if right.costs:
            yield Refusal("way-not-minimal", f"{where}.changes[{index}]", "it need not be given up")
        elif right.stopped:
            yield Refusal(UNCONFIRMED, f"{where}.changes[{index}]", "the checker was stopped before it was tried")
