"""Laying a plan out as a route sheet."""

from collections.abc import Sequence

from graph.model.plan import PlanAnswer, Step
from graph.model.routing import (
    AssemblyPage,
    Fitted,
    JointCheck,
    PartPage,
    RouteSheet,
    SheetBlock,
    SheetStep,
    WallBlock,
)
from graph.model.statement import digest
from graph.model.verdict import RuleVerdict, Verdict
from graph.routesheet import cutting, procedures, rotor
from graph.routesheet.differences import Original, Site, differences
from graph.routesheet.ground import Ground
from graph.routesheet.records import records_of
from graph.routesheet.sketch import sketch_of
from graph.rules.spoken import as_written, number
from ontology.currencies import money_shown

MEASURED = ("clearance", "interference", "stack")
"""Rules that are measured when the parts come together."""


def route_sheet(
    answer: PlanAnswer, plan: int = 1, *, originals: Sequence[Original] = (), site: Site | None = None
) -> RouteSheet:
    """The sheet of one plan of an answer that carries its evidence.

    `originals` are the units that the engine left the factory with, `site` is where it works.

    Raises
    ------
    BadQuestion
        There is no such plan, or the answer carries no evidence.
    OutOfRange
        A height or a pressure that no formula takes.
    """
    ground = Ground.of(answer, plan)
    steps = tuple(_step(ground, step, at) for at, step in enumerate(ground.plan.steps, 1))
    walls, blocks = _walls(ground)
    pages = tuple(
        page for seat in ground.seats if seat in ground.choices and (page := _page(ground, seat, steps, walls))
    )
    bundle = ground.bundle
    changes = differences(ground, originals, site or Site())
    on_steps = {f"{step.label}: {step.caution}" for step in ground.plan.steps}
    plain = [caution for caution in ground.plan.cautions if caution.text not in on_steps]
    cautions = dict.fromkeys(plain) | dict.fromkeys(c for change in changes for c in change.cautions)
    return RouteSheet(
        title=f"{bundle.core.tag} into {bundle.build.label or bundle.build.name} for {bundle.engine.maker}"
        f" {bundle.engine.name}",
        core=bundle.core.tag,
        build=bundle.build.name,
        engine=f"{bundle.engine.maker} {bundle.engine.name}",
        day=answer.question.day,
        plan=plan,
        identity=digest([list(map(str, row)) for row in ground.plan.identity])[:12],
        snapshot=answer.snapshot,
        sentence=_told(answer, plan),
        holds=_holds(answer, ground, walls),
        confirm=ground.plan.confirm,
        blocks=(*rotor.blocks(ground), *blocks),
        route=steps,
        pages=pages,
        assembly=_assembly(ground, {page.seat for page in pages}),
        records=records_of(ground, steps),
        changes=changes,
        cautions=tuple(cautions),
        sources=_sources(ground, steps),
        wishes=answer.question.wishes,
    )


def _told(answer: PlanAnswer, plan: int) -> str:
    """What the sheet is for, in a sentence; the answer's own tells of its first plan."""
    if plan == 1:
        return answer.sentence
    chosen = answer.plans[plan - 1]
    price = money_shown(chosen.cost, chosen.currency, thousands=",")
    doubt = "Not known yet whether it can be done: see what must be settled. " if answer.open else ""
    return f"{doubt}Way {plan}, for {'at least ' if chosen.at_least else ''}{price}; way 1 is the cheapest."


def _step(ground: Ground, step: Step, at: int) -> SheetStep:
    cut = cutting.cut_of(ground, step)
    changes = f"{ground.label(step.feature)} becomes {step.to_code}" if step.to_code else ""
    return SheetStep(
        number=at,
        operation=step.operation,
        label=step.label,
        seat=step.seat,
        part=step.part,
        cut=cut,
        sketch=sketch_of(cut) if cut else None,
        changes=changes,
        tool=step.equipment,
        datum=cutting.datum_of(ground, step) if cut else "",
        checks=cutting.checks_of(ground, step, cut),
        caution=step.caution,
        reversible=step.reversible,
        time=step.time,
        sources=ground.sources(step.claims),
    )


def _walls(ground: Ground) -> tuple[dict[str, list[WallBlock]], list[SheetBlock]]:
    walls: dict[str, list[WallBlock]] = {}
    blocks: list[SheetBlock] = []
    for at, step in enumerate(ground.plan.steps, 1):
        found = cutting.wall_of(ground, step, at)
        if found is not None:
            walls.setdefault(step.seat, []).append(found[0])
            blocks += found[1]
    return walls, blocks


def _holds(answer: PlanAnswer, ground: Ground, walls: dict[str, list[WallBlock]]) -> tuple[str, ...]:
    """What must be settled before the first cut: open facts of a plan that is only possible, unknown walls."""
    out = []
    if answer.verdict is Verdict.UNKNOWN:
        out += [f"{gap.measure} ({gap.seat}: {gap.why})" for gap in answer.open]
        out += [f"{joint.reason}" for joint in ground.plan.joints if joint.verdict is Verdict.UNKNOWN]
    for found in walls.values():
        out += [
            f"step {block.step}, {block.feature} {row.position}: {row.reason}"
            for block in found
            for row in block.rows
            if row.verdict == "not known"
        ]
    return tuple(dict.fromkeys(out))


def _page(
    ground: Ground, seat: str, steps: Sequence[SheetStep], walls: dict[str, list[WallBlock]]
) -> PartPage | None:
    """A page for every part that is worked on, is balanced by itself, or is an actuator; the others need none."""
    choice = ground.choices[seat]
    if not choice.part and not choice.operations:
        return None
    mine = tuple(step for step in steps if step.seat == seat)
    rotates = ground.rotates(seat)
    actuator = procedures.actuators(ground, seat)
    turns = seat in rotor.balanced(ground)
    if not mine and not turns and actuator is None:
        return None
    cuts = [step.cut for step in mine if step.cut is not None]
    part = ground.parts.get(choice.part)
    more = [actuator] if actuator else []
    if (honing := procedures.honing(ground, [step.operation for step in mine])) is not None:
        more.append(honing)
    if cuts and not rotates:
        more.append(procedures.coating(ground, seat, [cut.feature for cut in cuts]))
    told = {cut.feature for cut in cuts} | {ground.operations[s.operation].wall_feature for s in mine}
    return PartPage(
        seat=seat,
        title=seat.replace("-", " "),
        part=f"{part.maker} {part.number}" if part else choice.part,
        label=part.label if part else "",
        kind=ground.kind_of(seat),
        source=choice.source,
        lot=choice.lot or (ground.bundle.core.tag if choice.source == "kept" else ""),
        quantity=choice.quantity,
        steps=mine,
        read=_read(ground, seat, told),
        sizes=_sizes(ground, seat, {cut.feature for cut in cuts}),
        walls=tuple(walls.get(seat, ())),
        balance=(rotor.part_target(ground, seat),) if turns else (),
        procedures=tuple(more),
        cautions=_speed_caution(ground, seat) if rotates else (),
    )


def _read(ground: Ground, seat: str, told: set[str]) -> tuple[tuple[str, str], ...]:
    out = []
    for claim in ground.readings(ground.choices[seat]):
        if claim.feature not in told:
            place = f", {claim.position}" if claim.position else ""
            who = ", ".join(text for text in (claim.source, claim.date, claim.note) if text)
            out.append((f"{ground.label(claim.feature)}{place}", f"{as_written(claim.value)} ({who})"))
    return tuple(out)


def _sizes(ground: Ground, seat: str, cut: set[str]) -> tuple[tuple[str, str], ...]:
    rows = {}
    for rule in ground.plan.joints:
        for operand in rule.operands:
            if operand.seat == seat and operand.feature not in cut and operand.quantity == "length":
                rows[ground.label(operand.feature)] = operand.shown or "not known"
    return tuple(rows.items())


def _speed_caution(ground: Ground, seat: str) -> tuple[str, ...]:
    speed = rotor.running(ground, seat)
    crack = "Any crack is the end of it; nobody lifts that."
    if speed.limit is None:
        return (crack, "Its speed limit is not known: ask the maker before it runs.")
    asked = number(speed.asked, "speed") if speed.asked is not None else "not known"
    return (crack, f"Never above its own limit, {number(speed.limit, 'speed')}; the engine asks {asked}.")


def _assembly(ground: Ground, own_page: set[str]) -> AssemblyPage:
    core = rotor.core_target(ground)
    labels = {part.key: f"{part.maker} {part.number}" for part in ground.bundle.parts}
    fitted = tuple(
        Fitted(
            choice.seat,
            labels.get(choice.part, choice.part),
            ground.parts[choice.part].label if choice.part in ground.parts else "",
            choice.quantity,
            choice.source,
            choice.lot,
            choice.seat in own_page,
        )
        for choice in ground.plan.seats
    )
    return AssemblyPage(
        fitted=fitted,
        consumed=tuple((labels.get(used.part, used.part), used.quantity) for used in ground.plan.consumed),
        checks=tuple(_check(ground, rule) for rule in ground.plan.joints if _measured(rule)),
        engine_side=tuple(
            _check(ground, rule) for rule in ground.plan.joints if any(o.seat == "engine" for o in rule.operands)
        ),
        balance=(core,) if core else (),
        procedures=(procedures.assembly(ground), procedures.installation(ground)),
    )


def _measured(rule: RuleVerdict) -> bool:
    return rule.type in MEASURED and all(o.seat != "engine" for o in rule.operands)


def _check(ground: Ground, rule: RuleVerdict) -> JointCheck:
    what = " against ".join(f"{o.seat.replace('-', ' ')} {ground.label(o.feature)}" for o in rule.operands)
    ends = [(word, end) for word, end in (("at least", rule.min), ("at most", rule.max)) if end is not None]
    allowed = ", ".join(f"{word} {number(end, rule.quantity, difference=True)}" for word, end in ends)
    expected = " against ".join(o.shown or "not known" for o in rule.operands)
    return JointCheck(rule.joint, what, expected, allowed, rule.safety)


def _sources(ground: Ground, steps: Sequence[SheetStep]) -> tuple[tuple[str, str], ...]:
    """The sources that the steps name, each with its title, who says it and how far it counts."""
    named = {name for step in steps for name in step.sources}
    rows = []
    for source in ground.bundle.sources:
        if source.name in named:
            said = ", ".join(text for text in (source.title, source.who, source.rank, source.date) if text)
            rows.append((source.name, said))
    return tuple(rows)
