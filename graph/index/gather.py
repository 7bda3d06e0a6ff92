"""Gathering all the evidence for one question from the catalogue and the shelf, in few queries.

What a question cannot use is left out (other kinds of part, donors without a usable seat), so that the work
does not grow with the catalogue; what it can use is complete, sorted and the same every time.
"""

from collections.abc import Iterable
from dataclasses import replace

from graph.errors import BadQuestion
from graph.index import common
from graph.index.catalogue import Catalogue
from graph.index.shelf import Shelf
from graph.model.bundle import Bundle, PlanQuestion
from graph.model.claim import Claim
from graph.model.fits import FitsEvidence, FitsQuestion
from graph.model.record import (
    Build,
    Core,
    Engine,
    FoundPart,
    Layout,
    Part,
    Snapshot,
    Source,
    Unit,
)
from graph.model.statement import subject

MEND_WISHES = ("no-donor", "no-new")
"""What a unit may be mended with: its own parts and machining."""


def plan_bundle(catalogue: Catalogue, shelf: Shelf, question: PlanQuestion) -> Bundle:
    """The evidence for a plan question.

    Raises
    ------
    NotFound
        The core, the build or the engine is not there.
    """
    build = catalogue.build(question.build)
    engine = catalogue.known.engine(question.engine)
    layout = catalogue.layout(build.layout)
    cores = {core.key: core for core in shelf.cores()}
    core = cores.pop(question.core, None) or shelf.core(question.core.removeprefix("core/"))
    fitting = common.fitting(catalogue, layout)
    donors = () if "no-donor" in question.wishes else _donors(catalogue, layout, cores.values(), fitting)
    named = {found.part for one in (core, *donors) for found in one.found if found.part}
    named |= {consume.part for consume in common.consumes(catalogue, layout)}
    others = common.parts(catalogue, named - {part.key for part in fitting})
    if "no-new" in question.wishes:
        once = {kind.name for kind in catalogue.kinds if kind.one_time}
        fitting = tuple(part for part in fitting if part.kind in once or part.key in named)
    parts = _merged(fitting, others)
    return _bundle(
        catalogue,
        shelf,
        question,
        layout=layout,
        build=build,
        engine=engine,
        core=core,
        donors=donors,
        parts=parts,
    )


def for_build(catalogue: Catalogue, bundle: Bundle, question: PlanQuestion) -> Bundle:
    """The evidence for another build of the same layout, core, wishes and day as a bundle's question.

    Raises
    ------
    NotFound
        The build or the engine is not there.
    """
    engine = catalogue.known.engine(question.engine)
    readings = [claim for one in (bundle.core, *bundle.donors) for found in one.found for claim in found.readings]
    return replace(
        bundle,
        question=question,
        build=catalogue.build(question.build),
        engine=engine,
        sources=_sources(catalogue, bundle.parts, [*engine.claims, *readings]),
    )


def whole_bundle(catalogue: Catalogue, shelf: Shelf, question: PlanQuestion) -> Bundle:
    """The same with all that the question's wishes leave out, for asking what would be without them.

    Raises
    ------
    NotFound
        The core, the build or the engine is not there.
    """
    return replace(plan_bundle(catalogue, shelf, replace(question, wishes=())), question=question)


def shelf_bundle(catalogue: Catalogue, shelf: Shelf, question: PlanQuestion) -> tuple[Bundle, tuple[Core, ...]]:
    """The evidence for a build from any core: a bundle with all donors and an empty core, and the cores, by tag.

    Raises
    ------
    NotFound
        The build or the engine is not there.
    """
    build = catalogue.build(question.build)
    layout = catalogue.layout(build.layout)
    every = shelf.cores()
    seats = {seat.name for seat in layout.seats}
    cores = tuple(core for core in every if any(found.seat in seats for found in core.found))
    fitting = common.fitting(catalogue, layout)
    donors = () if "no-donor" in question.wishes else _donors(catalogue, layout, every, fitting)
    named = {found.part for one in (*cores, *donors) for found in one.found if found.part}
    named |= {consume.part for consume in common.consumes(catalogue, layout)}
    parts = _merged(fitting, common.parts(catalogue, named - {part.key for part in fitting}))
    bundle = _bundle(
        catalogue,
        shelf,
        question,
        layout=layout,
        build=build,
        engine=catalogue.known.engine(question.engine),
        core=Core("core/", "", layout.name, own=True),
        donors=donors,
        parts=parts,
    )
    return bundle, cores


def unit_bundle(catalogue: Catalogue, shelf: Shelf, unit: str, engine: str, day: str) -> Bundle:
    """The question *what must change on this unit, as supplied, so that it goes onto that engine?*

    Raises
    ------
    NotFound
        The unit or the engine is not there.
    """
    one, onto = catalogue.unit(unit), catalogue.known.engine(engine)
    layout = catalogue.layout(one.layout)
    question = PlanQuestion(one.key, subject("build", one.key), onto.key, day=day)
    named = {part for _, part in one.parts} | {consume.part for consume in common.consumes(catalogue, layout)}
    bundle = _bundle(
        catalogue,
        shelf,
        question,
        layout=layout,
        build=Build(subject("build", one.key), one.key, layout.name, onto.key),
        engine=onto,
        core=Core(
            key=one.key,
            tag=one.key,
            layout=one.layout,
            as_built=one.key,
            own=True,
            found=common.plated(catalogue, sorted(one.parts), one.said),
            said=one.said,
        ),
        donors=(),
        parts=_merged(common.fitting(catalogue, layout), common.parts(catalogue, named)),
    )
    return replace(bundle, features=common.unworn(catalogue))


def _donors(catalogue: Catalogue, layout: Layout, cores: Iterable[Core], fitting: Iterable[Part]) -> tuple[Core, ...]:
    """The cores with a part to give; `fitting`: every part that fits a seat of the layout."""
    kinds = {seat.name: set(catalogue.kinds_below([seat.kind])) for seat in layout.seats}
    donors = [core for core in cores if core.may_donate]
    kind_of = {part.key: part.kind for part in fitting}

    def usable(found: FoundPart) -> bool:
        return found.state == "present" and kind_of.get(found.part) in kinds.get(found.seat, ())

    return tuple(core for core in donors if any(usable(found) for found in core.found))


def _merged(*groups: Iterable[Part]) -> tuple[Part, ...]:
    by_key = {part.key: part for group in groups for part in group}
    return tuple(by_key[key] for key in sorted(by_key))


def _bundle(
    catalogue: Catalogue,
    shelf: Shelf,
    question: PlanQuestion,
    *,
    layout: Layout,
    build: Build,
    engine: Engine,
    core: Core,
    donors: tuple[Core, ...],
    parts: tuple[Part, ...],
) -> Bundle:
    readings = [claim for one in (core, *donors) for found in one.found for claim in found.readings]
    return Bundle(
        question=question,
        snapshot=Snapshot(catalogue.id, shelf.n),
        layout=layout,
        build=build,
        engine=engine,
        core=core,
        donors=catalogue.same.row(donors),
        parts=common.dressed(catalogue, shelf, parts, question.day),
        kinds=catalogue.kinds,
        features=catalogue.features,
        accepted=_accepted(catalogue, [layout]),
        operations=common.operations(catalogue, layout),
        consumes=common.consumes(catalogue, layout),
        services=common.services(catalogue, layout),
        rates=shelf.rates(),
        sources=_sources(catalogue, parts, [*engine.claims, *readings]),
    )


def _accepted(catalogue: Catalogue, layouts: Iterable[Layout]) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    sets = {rule.set for layout in layouts for rule in layout.rules if rule.set}
    return catalogue.same.row(named for named in catalogue.accepted if named[0] in sets)


def _sources(catalogue: Catalogue, parts: Iterable[Part], claims: Iterable[Claim]) -> tuple[Source, ...]:
    names = {claim.source for claim in claims}
    for part in parts:
        names |= {claim.source for claim in part.claims} | {limit.source for limit in part.limits}
    return tuple(source for source in catalogue.sources if source.name in names)


def fits_evidence(catalogue: Catalogue, shelf: Shelf, question: FitsQuestion, *, mend: bool = True) -> FitsEvidence:
    """The evidence for a fits question; `mend` off leaves out the plan question behind *fits with work*.

    Raises
    ------
    NotFound
        The unit, the engine or the part is not there.
    BadQuestion
        A seat without a part or the other way round, or a seat that the unit's layout lacks.
    """
    known = catalogue.known
    unit = known.unit(question.unit)
    layout = catalogue.layout(unit.layout)
    if bool(question.seat) != bool(question.part):
        raise BadQuestion("a seat and a part are asked for together", fix="name both, or neither")
    if question.seat and layout.seat(question.seat) is None:
        raise BadQuestion(f"layout {layout.name!r} has no seat {question.seat!r}", fix="name one of its seats")
    if question.part and not known.parts([question.part]):
        catalogue.part(question.part)  # says what is not found
    engine = known.engine(question.engine) if question.engine else None
    fitments = known.fitments(engine=question.engine, unit=question.unit)
    originals = known.units({f.unit for f in fitments if engine and f.engine == engine.key})
    named = {part for one in (unit, *originals) for _, part in one.parts}
    parts = known.parts(named | ({question.part} - {""}))
    layouts = [layout, *(catalogue.layout(name) for name in sorted({one.layout for one in originals}))]
    keys = [part.key for part in parts]
    return FitsEvidence(
        question=question,
        snapshot=Snapshot(catalogue.id, shelf.n),
        layout=layout,
        unit=unit,
        engine=engine,
        originals=originals,
        original_layouts=tuple(layouts[1:]),
        fitments=fitments,
        parts=parts,
        kinds=catalogue.kinds,
        features=catalogue.features,
        accepted=_accepted(catalogue, layouts),
        interchanges=known.interchanges(keys),
        supersessions=known.supersessions(keys),
        sources=known.sources([*parts, unit, *originals, *([engine] if engine else [])]),
        mend=_mend(catalogue, shelf, question, unit=unit, layout=layout, engine=engine) if mend else None,
    )


def _mend(
    catalogue: Catalogue, shelf: Shelf, question: FitsQuestion, *, unit: Unit, layout: Layout, engine: Engine | None
) -> Bundle:
    """The plan question *can machining alone make this unit go?*, about the unit as supplied.

    The unit plays the core and belongs to the customer. It is a model, not a used specimen: nothing on it has
    worn, so no feature waits for a reading. Without an engine the joints to one are left out.
    """
    seats = dict(unit.parts) | ({question.seat: question.part} if question.seat else {})
    if engine is None:
        layout = catalogue.same.once("inside", (layout,), lambda: common.inside(layout))
    core = Core(
        key=unit.key,
        tag=unit.key,
        layout=unit.layout,
        as_built=unit.key,
        own=True,
        found=common.plated(catalogue, sorted(seats.items()), unit.said),
        said=unit.said,
    )
    build = Build(subject("build", unit.key), unit.key, layout.name, question.engine)
    asked = PlanQuestion(core.key, build.key, question.engine, day=question.day, wishes=MEND_WISHES)
    named = {*seats.values(), *(consume.part for consume in common.consumes(catalogue, layout))}
    bundle = _bundle(
        catalogue,
        shelf,
        asked,
        layout=layout,
        build=build,
        engine=engine or Engine("", "", ""),
        core=core,
        donors=(),
        parts=common.parts(catalogue, named),
    )
    return replace(bundle, features=common.unworn(catalogue))
