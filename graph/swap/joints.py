"""Every joint judged as it stands: each rule by the facts of its two sides, each seat by the kind of its part.

What a joint comes to follows from its rules and from what fills the seats that they look at: it is judged once and
kept while there is room, and so is all that a unit's parts come to among themselves.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from graph.model.fact import Fact
from graph.model.fits import JointVerdict
from graph.model.record import Feature, Seat
from graph.model.said import say
from graph.model.verdict import Missing, Operand, RuleVerdict, Verdict, worst
from graph.rules.judge import VERDICTS, operand_of, unfilled
from graph.rules.spoken import ENGINE
from graph.rules.undecided import joint_lacks_rule, seat_lacks_rule
from graph.swap.ground import Ground, Placed, Ruled, spoken
from graph.swap.notes import called

KIND = "kind of part"


@dataclass(frozen=True, slots=True)
class Inner:
    """What follows from a unit alone: the joints that the engine has no part in, and seats with a wrong kind."""

    joints: Mapping[str, JointVerdict]
    kinds: tuple[RuleVerdict, ...]


def joints_of(ground: Ground) -> tuple[JointVerdict, ...]:
    """The joints that the question touches, in the layout's order."""
    evidence, only, frame = ground.evidence, ground.evidence.question.seat, ground.frame
    inner = _inner(ground)
    out = dict(inner.joints)
    for name, ruled in frame.outer.items():
        for joint in _joint(name, ruled, ground):
            out[name] = joint
    for place in evidence.layout.joints:
        touched = (not only or only in place.seats) and (evidence.engine is not None or ENGINE not in place.seats)
        if place.name not in frame.joints and touched:
            out[place.name] = _joined(place.name, [_nothing_decides(place.name, ground)], ground)
    if evidence.engine is not None and not only and not frame.outer:
        out["engine"] = _joined("engine", [_nothing_decides("engine", ground)], ground)
    if only and not any(_asked(one, ground) for ruled in frame.joints.values() for one in ruled.rules):
        out[f"seat {only}"] = _joined(f"seat {only}", [_undecided(only, ground)], ground)
    for said in inner.kinds:
        before = out[said.joint].rules if said.joint in out else ()
        out[said.joint] = _joined(said.joint, [*before, said], ground)
    last = len(frame.order)
    return tuple(sorted(out.values(), key=lambda joint: frame.order.get(joint.joint, last)))


def _joined(name: str, rules: Sequence[RuleVerdict], ground: Ground) -> JointVerdict:
    label = ground.frame.joined.get(name) or spoken(name)
    return JointVerdict(name, label, worst([one.verdict for one in rules]), tuple(rules))


def _joint(name: str, ruled: Ruled, ground: Ground) -> tuple[JointVerdict, ...]:
    """One joint; none, where no rule of it is asked about or applies."""
    only = ground.evidence.question.seat
    if only and only not in ruled.seats:
        return ()
    key = ("joint", ground.evidence.layout.name, name, only, *[ground.keys.get(seat, "") for seat in ruled.seats])
    found: tuple[JointVerdict, ...] | None = ground.kept.together.get(key)
    if found is None:
        asked = [_judged(one, ground) for one in ruled.rules if _asked(one, ground)]
        said = [one for one in asked if one is not None]
        found = ground.kept.together.put(key, (_joined(name, said, ground),) if said else ())
    return found


def _inner(ground: Ground) -> Inner:
    evidence, only = ground.evidence, ground.evidence.question.seat
    key = ("inner", evidence.unit.key)
    found: Inner | None = None if only else ground.kept.get(key)
    if found is None:
        joints: dict[str, JointVerdict] = {}
        for name, ruled in ground.frame.joints.items():
            if not ruled.outer:
                joints.update((name, joint) for joint in _joint(name, ruled, ground))
        kinds = (_right_kind(seat, ground) for seat in evidence.layout.seats if not only or seat.name == only)
        found = Inner(joints, tuple(one for one in kinds if one is not None))
        if not only:
            ground.kept.put(key, found)
    return found


def _asked(placed: Placed, ground: Ground) -> bool:
    only = ground.evidence.question.seat
    return (ground.evidence.engine is not None or not placed.outer) and (not only or only in placed.seats)


def _judged(placed: Placed, ground: Ground) -> RuleVerdict | None:
    """What a rule says; None: it does not apply, since a seat is empty and may be."""
    sides = [_side(seat, name, feature, ground) for seat, name, feature in placed.operands]
    away = ground.empty & placed.seats
    offered = None
    if away & ground.frame.free:
        offered = unfilled(placed.ruling.rule, {side.feature: fact for side, fact in sides if side.seat == ENGINE})
        if offered is None:
            return None
        sides = [
            (operand_of(side.seat, side.feature, side.part, fact), fact)
            for (side, _), fact in zip(sides, offered, strict=True)
        ]
        away = frozenset()
    said = placed.ruling.judged(
        [fact for _, fact in sides],
        tuple([side for side, _ in sides]),
        features=ground.frame.features,
        parts=ground.keys,
        empty=away,
    )
    return None if offered is not None and said.verdict is Verdict.YES else said


def _side(seat: str, name: str, feature: Feature | None, ground: Ground) -> tuple[Operand, Fact | None]:
    facts = ground.settled(seat)
    if feature is None or facts is None:
        return operand_of(seat, name, ground.keys.get(seat, ""), None), None
    return facts.operand(seat, feature), facts.fact(feature)


def _nothing_decides(joint: str, ground: Ground) -> RuleVerdict:
    """A joint without a rule: what is not on record is never a pass."""
    label = ground.frame.joined.get(joint) or spoken(joint)
    seats = next((place.seats for place in ground.evidence.layout.joints if place.name == joint), (ENGINE,))
    missing = joint_lacks_rule(joint, seats, {joint: label})
    reason = say("{values}: not known ({gaps}).", values=label, gaps=missing.why)
    return RuleVerdict(joint, "", "", Verdict.UNKNOWN, (), None, None, "", None, reason, False, (missing,))


def _undecided(seat: str, ground: Ground) -> RuleVerdict:
    """A part in a seat of which no rule is asked: that it goes there is not on record."""
    where = ground.frame.words.get(seat, seat)
    missing = seat_lacks_rule(seat, ground.keys.get(seat, ""), ground.frame.words)
    if any(seat in ruled.seats for ruled in ground.frame.outer.values()):
        why, measure = say("its rules look at the engine, and none was named"), say("name the engine")
        missing = replace(missing, why=why, measure=measure)
    reason = say("{values}: not known ({gaps}).", values=where, gaps=missing.why)
    return RuleVerdict(f"seat {seat}", "", "", Verdict.UNKNOWN, (), None, None, "", None, reason, False, (missing,))


def _right_kind(seat: Seat, ground: Ground) -> RuleVerdict | None:
    """Whether the seat's part is of a kind that the seat takes; None where it plainly is."""
    key = ground.seats.get(seat.name)
    where = ground.frame.words.get(seat.name, seat.name)
    if key is None:
        if seat.may_be_empty:
            return None
        verdict, why = Verdict.UNKNOWN, say("{seat} must be filled and no part is on record for it", seat=where)
    elif key not in ground.parts:
        verdict, why = Verdict.UNKNOWN, say("nothing is on record about {part} in {seat}", part=key, seat=where)
    else:
        kind, takes, name = ground.parts[key].kind, seat.kind, called(key, ground.parts)
        if takes in _lineage(kind, ground.frame.parents):
            return None
        if kind in ground.frame.parents and takes in ground.frame.parents:
            verdict, why = Verdict.NO, say(
                "{part} is a {kind}, and {seat} takes a {wanted}",
                part=name, kind=spoken(kind), seat=where, wanted=spoken(takes),
            )  # fmt: skip
        else:
            verdict, why = Verdict.UNKNOWN, say("which kind of part {part} is, is not on record", part=name)
    missing = Missing(
        seat.name, KIND, key or "", why, say("say which part, of which kind, sits in {seat}", seat=where)
    )
    return RuleVerdict(
        joint=f"seat {seat.name}",
        rule=KIND,
        type="same",
        verdict=verdict,
        operands=(),
        min=None,
        max=None,
        quantity="",
        margin=None,
        reason=say("{values}: {verdict}.", values=why, verdict=VERDICTS[verdict]),
        safety=True,
        missing=(missing,) if verdict is Verdict.UNKNOWN else (),
        said=seat.said,
    )


def _lineage(kind: str, parents: Mapping[str, str]) -> list[str]:
    out: list[str] = []
    while kind and kind not in out:
        out.append(kind)
        kind = parents.get(kind, "")
    return out
