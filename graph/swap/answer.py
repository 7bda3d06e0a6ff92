"""The answer to *does it fit?*: every joint judged as it stands, then the whole (semantics, section 2).

Rule 1: one direction a call; nothing is inferred from the other direction.
Rule 2: the whole is never better than its joints without a checked plan, and never worse than *not known*
without a proof that no recorded operation mends it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from graph.errors import BadQuestion
from graph.model.bundle import Bundle
from graph.model.fact import Fact
from graph.model.fits import FitsAnswer, FitsEvidence, JointVerdict
from graph.model.plan import Plan, PlanAnswer
from graph.model.record import Feature, Part, Rule, Seat
from graph.model.verdict import Missing, RuleVerdict, Verdict, worst
from graph.rules.facts import settle
from graph.rules.judge import judge, unfilled
from graph.rules.spoken import ENGINE
from graph.swap.cautions import cautions
from graph.swap.match import Compared, match
from graph.swap.notes import asserted, called, overlapping, superseded, turning
from graph.swap.sentence import sentence

UNIT = "unit"  # the seat word for claims about the unit as a whole
KIND = "kind of part"


@dataclass(frozen=True, slots=True)
class _Ground:
    """The evidence, looked up by name."""

    evidence: FitsEvidence
    seats: Mapping[str, str]  # seat → part key, as asked
    parts: Mapping[str, Part]
    features: Mapping[str, Feature]
    accepted: Mapping[str, frozenset[tuple[str, str]]]
    parents: Mapping[str, str]
    words: Mapping[str, str]


def fits(evidence: FitsEvidence, mend: Callable[[Bundle], PlanAnswer]) -> FitsAnswer:
    """Whether the unit goes onto the engine, or the asked part into its seat.

    `mend` answers the plan question of the evidence; it is asked only where the joints do not fit as they
    stand. What is *not known* names the fact and the measurement that settles it.

    Raises
    ------
    BadQuestion
        A seat that the layout lacks, a seat without a part or the reverse, or an engine or part that the
        evidence does not hold.
    """
    ground = _ground(evidence)
    joints = _joints(ground)
    as_it_stands = worst([joint.verdict for joint in joints])
    verdict, plan, further = _whole(evidence, joints, as_it_stands, mend)
    compared = _match(ground)
    open_facts = () if verdict in (Verdict.YES, Verdict.NO) else _open(joints, further)
    words = dict(ground.words)
    shown = cautions(compared, joints, evidence.kinds, words) if verdict is not Verdict.NO else ()
    if plan is not None:
        shown = tuple(dict.fromkeys((*shown, *plan.cautions)))
    return FitsAnswer(
        question=evidence.question,
        snapshot=evidence.snapshot,
        verdict=verdict,
        as_it_stands=as_it_stands,
        sentence=sentence(
            evidence, joints, verdict, compared=compared, open_facts=open_facts, plan=plan, words=words
        ),
        joints=joints,
        match=tuple(one.line for one in compared),
        cautions=shown,
        open=open_facts,
        notes=_notes(ground, compared, verdict),
        plan=plan,
    )


def _ground(evidence: FitsEvidence) -> _Ground:
    asked = evidence.question
    parts = {p.key: p for p in evidence.parts}
    if bool(asked.seat) != bool(asked.part):
        raise BadQuestion("a seat and a part are asked together or not at all", fix="name both, or neither")
    if asked.seat and evidence.layout.seat(asked.seat) is None:
        raise BadQuestion(
            f"the layout {evidence.layout.name} has no seat {asked.seat!r}", fix="name one of its seats"
        )
    if asked.part and asked.part not in parts:
        raise BadQuestion(f"{asked.part!r} is not in the evidence", fix="publish the part first")
    if asked.engine and evidence.engine is None:
        raise BadQuestion(f"{asked.engine!r} is not in the evidence", fix="publish the engine first")
    seats = {**dict(evidence.unit.parts), **({asked.seat: asked.part} if asked.seat else {})}
    words = {
        **{s.name: spoken(s.name) for s in evidence.layout.seats},
        **{f.name: f.label or spoken(f.name) for f in evidence.features},
        **{j.name: j.label or spoken(j.name) for j in evidence.layout.joints},
        ENGINE: "engine",
    }
    return _Ground(
        evidence=evidence,
        seats={seat: part for seat, part in seats.items() if part},
        parts=parts,
        features={f.name: f for f in evidence.features},
        accepted={name: frozenset(pairs) for name, pairs in evidence.accepted},
        parents={k.name: k.parent for k in evidence.kinds},
        words=words,
    )


def spoken(name: str) -> str:
    """A key as a person says it.

    >>> spoken("compressor_wheel")
    'compressor wheel'
    """
    return name.replace("_", " ").replace("-", " ")


def _joints(ground: _Ground) -> tuple[JointVerdict, ...]:
    evidence, only = ground.evidence, ground.evidence.question.seat
    layout = evidence.layout
    empty = frozenset(s.name for s in layout.seats if s.name not in ground.seats)
    free = frozenset(s.name for s in layout.seats if s.may_be_empty)
    wanted = [r for r in layout.rules if _asked(r, ground)]
    facts = {operand: _fact(operand, ground) for rule in wanted for operand in rule.operands}
    keys = {**ground.seats, UNIT: evidence.unit.key, ENGINE: evidence.engine.key if evidence.engine else ""}
    judged: dict[str, list[RuleVerdict]] = {}
    for rule in wanted:
        sides, away = facts, empty
        engine = {feature: facts[seat, feature] for seat, feature in rule.operands if seat == ENGINE}
        offered = unfilled(rule, engine) if empty & free & set(rule.seats) else None
        if offered is not None:
            sides, away = {**facts, **dict(zip(rule.operands, offered, strict=True))}, empty - set(rule.seats)
        said = judge(
            rule,
            sides,
            accepted=ground.accepted,
            features=ground.features,
            parts=keys,
            empty=away,
            may_be_empty=free,
            spoken=ground.words,
        )
        if said is not None and not (offered is not None and said.verdict is Verdict.YES):
            judged.setdefault(rule.joint, []).append(said)
    ruled = {r.joint for r in layout.rules}
    for joint in layout.joints:
        touched = (not only or only in joint.seats) and (evidence.engine is not None or ENGINE not in joint.seats)
        if joint.name not in ruled and touched:
            judged[joint.name] = [_nothing_decides(joint.name, ground)]
    if evidence.engine is not None and not only and not any(ENGINE in r.seats for r in layout.rules):
        judged["engine"] = [_nothing_decides("engine", ground)]
    for seat in layout.seats:
        said = _right_kind(seat, ground)
        if said is not None and (not only or seat.name == only):
            judged.setdefault(said.joint, []).append(said)
    order = {j.name: i for i, j in enumerate(layout.joints)}
    return tuple(
        JointVerdict(name, ground.words.get(name, spoken(name)), worst([r.verdict for r in rules]), tuple(rules))
        for name, rules in sorted(judged.items(), key=lambda item: order.get(item[0], len(order)))
    )


def _asked(rule: Rule, ground: _Ground) -> bool:
    only = ground.evidence.question.seat
    return (ground.evidence.engine is not None or ENGINE not in rule.seats) and (not only or only in rule.seats)


def _fact(operand: tuple[str, str], ground: _Ground) -> Fact | None:
    seat, name = operand
    feature = ground.features.get(name)
    if feature is None:
        return None
    if seat == ENGINE:
        engine = ground.evidence.engine
        return settle(engine.claims, feature, subject=engine.key) if engine is not None else None
    if seat == UNIT:
        return settle(ground.evidence.unit.claims, feature, subject=ground.evidence.unit.key)
    part = ground.parts.get(ground.seats.get(seat, ""))
    return settle(part.claims, feature, subject=part.key) if part is not None else None


def _nothing_decides(joint: str, ground: _Ground) -> RuleVerdict:
    """A joint without a rule: what is not on record is never a pass."""
    label = ground.words.get(joint, spoken(joint))
    why = "no fit rule is on record for this joint"
    missing = Missing("", "", "", f"{label}: {why}", f"put on record what decides the joint {label}")
    reason = f"{label}: not known ({why})."
    return RuleVerdict(joint, "", "", Verdict.UNKNOWN, (), None, None, "", None, reason, False, (missing,))


def _right_kind(seat: Seat, ground: _Ground) -> RuleVerdict | None:
    """Whether the seat's part is of a kind that the seat takes; None where it plainly is."""
    key = ground.seats.get(seat.name)
    where = ground.words.get(seat.name, seat.name)
    if key is None:
        if seat.may_be_empty:
            return None
        verdict, why = Verdict.UNKNOWN, f"{where} must be filled and no part is on record for it"
    elif key not in ground.parts:
        verdict, why = Verdict.UNKNOWN, f"nothing is on record about {key} in {where}"
    else:
        kind, takes, name = ground.parts[key].kind, seat.kind, called(key, ground.parts)
        if takes in _lineage(kind, ground.parents):
            return None
        if kind in ground.parents and takes in ground.parents:
            verdict, why = Verdict.NO, f"{name} is a {spoken(kind)}, and {where} takes a {spoken(takes)}"
        else:
            verdict, why = Verdict.UNKNOWN, f"which kind of part {name} is, is not on record"
    missing = Missing(seat.name, KIND, key or "", why, f"say which part, of which kind, sits in {where}")
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
        reason=f"{why}: {verdict.value}.",
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


def _whole(
    evidence: FitsEvidence,
    joints: tuple[JointVerdict, ...],
    as_it_stands: Verdict,
    mend: Callable[[Bundle], PlanAnswer],
) -> tuple[Verdict, Plan | None, tuple[Missing, ...]]:
    """The verdict of the whole, the plan behind *fits with work*, and what else the plan question left open."""
    if as_it_stands is Verdict.YES:
        return Verdict.YES, None, ()
    beyond_work = [r for j in joints for r in j.rules if r.rule in (KIND, "") and r.verdict is not Verdict.YES]
    if any(r.verdict is Verdict.NO for r in beyond_work):
        return Verdict.NO, None, ()  # no operation makes one kind of part another
    if beyond_work or evidence.mend is None:
        return Verdict.UNKNOWN, None, ()
    answer = mend(evidence.mend)
    if answer.plans and answer.verdict in (Verdict.YES, Verdict.WITH_WORK):
        return Verdict.WITH_WORK, answer.plans[0], ()
    if answer.verdict is Verdict.NO and as_it_stands is Verdict.NO:
        return Verdict.NO, None, ()
    return Verdict.UNKNOWN, None, answer.open


def _open(joints: tuple[JointVerdict, ...], further: tuple[Missing, ...]) -> tuple[Missing, ...]:
    """The missing facts, each once."""
    out: dict[tuple[str, str, str], Missing] = {}
    named = [m for j in joints for r in j.rules if r.verdict is Verdict.UNKNOWN for m in r.missing]
    for missing in (*named, *further):
        what = missing.why if not missing.feature else ""
        out.setdefault((missing.seat, missing.feature, what), missing)
    return tuple(out.values())


def _match(ground: _Ground) -> tuple[Compared, ...]:
    evidence = ground.evidence
    layouts = {one.name: one for one in (*evidence.original_layouts, evidence.layout)}
    asked = evidence.question
    ours = replace(evidence.unit, parts=tuple(ground.seats.items()))
    if evidence.engine is not None:
        originals = [(unit, layouts.get(unit.layout)) for unit in evidence.originals]
    elif asked.seat:
        originals = [(evidence.unit, evidence.layout)]
    else:
        return ()
    return match(
        ours, evidence.layout, originals, parts=ground.parts, features=evidence.features, only_seat=asked.seat
    )


def _notes(ground: _Ground, compared: tuple[Compared, ...], verdict: Verdict) -> tuple[str, ...]:
    evidence = ground.evidence
    asked = evidence.question
    keys = [asked.part] if asked.part else [ground.seats[s] for s in ground.seats]
    notes = superseded(keys, evidence.supersessions, ground.parts, asked.day)
    notes += overlapping(evidence.fitments)
    notes += asserted(evidence.interchanges, keys, asked.seat, ground.parts, verdict)
    notes += turning(compared, evidence.kinds, ground.words)
    if evidence.engine is not None and not evidence.originals:
        notes.append("No factory unit of this engine is on record, so nothing says how this compares to original.")
    return tuple(notes)
