"""What would settle a fits question: open facts of the unit's parts, of the unit and of the engine, tried in turn."""

from collections.abc import Callable, Mapping
from dataclasses import replace

from graph.model.bench import Result, SettleAnswer
from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.fits import FitsAnswer, FitsEvidence
from graph.model.plan import PlanAnswer
from graph.model.record import Feature
from graph.model.value import Value
from graph.model.verdict import Missing, Verdict
from graph.planning.answer import plan
from graph.rules.spoken import in_words
from graph.settling.plans import ENGINE, NEVER_BEFORE, sentence
from graph.settling.points import codes_of, kind_points, step_of
from graph.settling.search import Measurable, search
from graph.settling.witness import witnessed

UNIT = "unit"
Fits = Callable[[FitsEvidence, Callable[[Bundle], PlanAnswer]], FitsAnswer]


def settle_fits(evidence: FitsEvidence, fits: Fits, stop: Callable[[], bool]) -> SettleAnswer:
    """The fewest look-ups and measurements after which it is known whether the unit goes onto the engine."""

    def mend(bundle: Bundle) -> PlanAnswer:
        return witnessed(plan(bundle, stop=stop))

    answer = fits(evidence, mend)
    now = _result(answer)
    question = f"{evidence.unit.name} onto {evidence.engine.name if evidence.engine else 'no engine'}"
    if answer.verdict is not Verdict.UNKNOWN:
        words = f"Nothing more need be measured: {answer.sentence}"
        return SettleAnswer(question, now, (), (), True, (), "nothing is open", words, evidence.snapshot)
    places: dict[tuple[str, str], Measurable] = {}
    for missing in answer.open:
        places.setdefault((missing.seat, missing.feature), _measurable(evidence, missing))
    measurables = list(places.values())

    def ask(shown: Mapping[int, Value]) -> Result:
        supposed = evidence
        for place, value in sorted(shown.items(), key=lambda item: item[0]):
            supposed = _with_value(supposed, measurables[place], value)
        return _result(fits(supposed, mend))

    found = search(measurables, ask, now, stop)
    return SettleAnswer(
        question,
        now,
        found.measurements,
        found.smallest,
        found.always,
        found.together,
        found.proof,
        sentence(found),
        evidence.snapshot,
    )


def _result(answer: FitsAnswer) -> Result:
    cost = answer.plan.cost if answer.plan and answer.verdict is Verdict.WITH_WORK else None
    return Result(
        answer.verdict.value, cost, bool(cost is not None and answer.plan and answer.plan.at_least), answer.sentence
    )


def _claims(evidence: FitsEvidence, missing: Missing) -> tuple[Claim, ...]:
    if missing.seat == ENGINE:
        return evidence.engine.claims if evidence.engine else ()
    if missing.seat == UNIT:
        return evidence.unit.claims
    return next((p.claims for p in evidence.parts if p.key == missing.part), ())


def _measurable(evidence: FitsEvidence, missing: Missing) -> Measurable:
    feature = next((f for f in evidence.features if f.name == missing.feature), None)
    points, share = _points(evidence, missing, feature) if feature else ((), 0)
    label = f"{in_words(missing.seat)} {feature.label if feature else missing.feature}".strip()
    step = step_of(points, 0, share) if share else 0
    return Measurable(
        missing.seat, missing.feature, label, "", missing.part, missing.measure, missing.why, points, step
    )


def _points(evidence: FitsEvidence, missing: Missing, feature: Feature) -> tuple[tuple[Value, ...], int]:
    claims = _claims(evidence, missing)

    def codes() -> tuple[Value, ...]:
        everyone = [*claims, *(evidence.engine.claims if evidence.engine else ())]
        several = feature.type == "set"
        return codes_of(feature.name, everyone, evidence.parts, evidence.layout, evidence.accepted, several)

    kind = next((p.kind for p in evidence.parts if p.key == missing.part), "")
    like = [c for p in evidence.parts if p.kind == kind for c in p.claims]
    return kind_points(missing.part, feature, claims, like, codes)


def _with_value(evidence: FitsEvidence, one: Measurable, value: Value) -> FitsEvidence:
    """The evidence, and the question about machining behind it, in which the fact has this value."""
    stated = Claim("supposed", one.part, one.feature, value, "supposed", Rank.DRAWING, NEVER_BEFORE)

    def claims(old: tuple[Claim, ...]) -> tuple[Claim, ...]:
        return (*(c for c in old if c.feature != one.feature), stated)

    mend = evidence.mend
    if one.seat == ENGINE and evidence.engine is not None:
        engine = replace(evidence.engine, claims=claims(evidence.engine.claims))
        return replace(evidence, engine=engine, mend=replace(mend, engine=engine) if mend else None)
    if one.seat == UNIT:
        return replace(evidence, unit=replace(evidence.unit, claims=claims(evidence.unit.claims)))
    parts = tuple(replace(p, claims=claims(p.claims)) if p.key == one.part else p for p in evidence.parts)
    if mend is not None:
        dressed = tuple(replace(p, claims=claims(p.claims)) if p.key == one.part else p for p in mend.parts)
        mend = replace(mend, parts=dressed)
    return replace(evidence, parts=parts, mend=mend)
