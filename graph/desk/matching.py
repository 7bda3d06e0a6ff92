"""A plan against the units that its engine left the factory with: same, larger, smaller (semantics, section 9)."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from graph.index.catalogue import Catalogue
from graph.model.fact import Alternative, Fact
from graph.model.plan import Plan, PlanAnswer, Step
from graph.model.record import Unit
from graph.model.verdict import MatchLine
from graph.rules.facts import settle
from graph.rules.spoken import fact_text
from graph.swap.match import compare, match


@dataclass(frozen=True, slots=True)
class Against:
    """Every duty feature, seat by seat, against one unit."""

    original: str
    lines: tuple[MatchLine, ...]


def against_originals(catalogue: Catalogue, answer: PlanAnswer, number: int = 1) -> tuple[Against, ...]:
    """Plan `number` (from 1) of an answer against each unit on record for its engine, by key; none, when none is."""
    return tuple(_lines(catalogue, answer, number))


def _lines(catalogue: Catalogue, answer: PlanAnswer, number: int) -> Iterator[Against]:
    bundle, plan = answer.bundle, answer.plans[number - 1]
    if bundle is None:
        return
    filled = tuple((choice.seat, choice.part) for choice in plan.seats if choice.part)
    ours = Unit("", "", bundle.build.name, bundle.layout.name, parts=filled)
    keys = sorted({fitment.unit for fitment in catalogue.fitments(engine=answer.question.engine)})
    for original in catalogue.units(keys):
        found = catalogue.parts(part for one in (ours, original) for _, part in one.parts)
        parts = {part.key: part for part in found}
        layout = catalogue.layout(original.layout)
        features = {feature.name: feature for feature in catalogue.features}
        lines = []
        for one in match(ours, bundle.layout, [(original, layout)], parts=parts, features=catalogue.features):
            step = _cut(plan, one.line)
            there = parts.get(dict(original.parts).get(one.line.seat, ""))
            if step is not None and there is not None:
                made = _made(step)
                theirs = settle(there.claims, features[one.line.feature], subject=there.key)
                lines.append(replace(one.line, compared=compare(made, theirs), ours=fact_text(made)))
            else:
                lines.append(one.line)
        yield Against(f"{original.maker} {original.name}", tuple(lines))


def _cut(plan: Plan, line: MatchLine) -> Step | None:
    made = (s for s in plan.steps if s.seat == line.seat and s.feature == line.feature and line.seat)
    return next((s for s in made if s.target is not None or s.to_code), None)


def _made(step: Step) -> Fact:
    """The feature as the step leaves it."""
    codes = (step.to_code,) if step.to_code else ()
    left = Alternative(step.target, step.target, codes=codes, claims=step.claims)
    return Fact(step.part, step.feature, "machined", step.quantity, (left,))
