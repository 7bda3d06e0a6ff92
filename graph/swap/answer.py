"""The answer to *does it fit?*: every joint judged as it stands, then the whole (semantics, section 2).

Rule 1: one direction a call; nothing is inferred from the other direction.
Rule 2: the whole is never better than its joints without a checked plan, and never worse than *not known*
without a proof that no recorded operation mends it.
"""

from collections.abc import Callable
from dataclasses import replace

from graph.model.bundle import Bundle
from graph.model.fits import FitsAnswer, FitsEvidence, JointVerdict
from graph.model.plan import Plan, PlanAnswer
from graph.model.verdict import Missing, Verdict, worst
from graph.rules.kept import Kept
from graph.swap.cautions import cautions
from graph.swap.ground import Ground, ground_of
from graph.swap.joints import KIND, joints_of
from graph.swap.match import Compared, match
from graph.swap.notes import asserted, overlapping, superseded, turning
from graph.swap.sentence import sentence

ROOM = 1_000
"""Things settled for one question, where its evidence is of no version that is kept."""


def fits(evidence: FitsEvidence, mend: Callable[[Bundle], PlanAnswer], kept: Kept | None = None) -> FitsAnswer:
    """Whether the unit goes onto the engine, or the asked part into its seat.

    `mend` answers the plan question of the evidence; it is asked only where the joints do not fit as they
    stand. What is *not known* names the fact and the measurement that settles it. `kept` belongs to the version
    of the catalogue that the evidence was gathered from, unaltered: what was settled of its things for other
    questions is taken from there.

    Raises
    ------
    BadQuestion
        A seat that the layout lacks, a seat without a part or the reverse, or an engine or part that the
        evidence does not hold.
    """
    ground = ground_of(evidence, kept or Kept(ROOM))
    joints = joints_of(ground)
    as_it_stands = worst([joint.verdict for joint in joints])
    verdict, plan, further = _whole(evidence, joints, as_it_stands, mend)
    compared = _match(ground)
    open_facts = () if verdict in (Verdict.YES, Verdict.NO) else _open(joints, further)
    words = ground.frame.words
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


def _match(ground: Ground) -> tuple[Compared, ...]:
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
        ours,
        evidence.layout,
        originals,
        parts=ground.parts,
        features=evidence.features,
        only_seat=asked.seat,
        kept=ground.kept,
    )


def _notes(ground: Ground, compared: tuple[Compared, ...], verdict: Verdict) -> tuple[str, ...]:
    evidence = ground.evidence
    asked = evidence.question
    keys = [asked.part] if asked.part else [ground.seats[s] for s in ground.seats]
    notes = superseded(keys, evidence.supersessions, ground.parts, asked.day)
    notes += overlapping(evidence.fitments)
    notes += asserted(evidence.interchanges, keys, asked.seat, ground.parts, verdict)
    notes += turning(compared, evidence.kinds, ground.frame.words)
    if evidence.engine is not None and not evidence.originals:
        notes.append("No factory unit of this engine is on record, so nothing says how this compares to original.")
    return tuple(notes)
