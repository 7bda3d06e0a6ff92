"""The desk's route sheets: of a plan asked for, or of a saved answer that is judged first."""

from collections.abc import Sequence

from graph.desk.desk import Desk
from graph.desk.judging import UNSURE
from graph.errors import SavedRefused
from graph.model.plan import PlanAnswer
from graph.model.routing import RouteSheet
from graph.planning.saved import answer_of
from graph.routesheet import Original, Site, route_sheet


def sheet_asked(
    desk: Desk,
    core: str,
    build: str,
    engine: str = "",
    *,
    plan: int = 1,
    wishes: Sequence[str] = (),
    day: str = "",
    site: Site | None = None,
) -> RouteSheet:
    """The sheet of one plan of a plan question."""
    answer = desk.plan(core, build, engine, best=plan, wishes=wishes, day=day)
    return _sheet(desk, answer, plan, site)


def sheet_saved(desk: Desk, data: bytes, *, plan: int = 1, site: Site | None = None) -> RouteSheet:
    """The sheet of one plan of a saved answer.

    Raises
    ------
    SavedRefused
        An answer that does not stand.
    """
    judgement = desk.judge_here(data)
    if any(refusal.code != UNSURE for refusal in judgement.refusals):
        first = next(refusal for refusal in judgement.refusals if refusal.code != UNSURE)
        raise SavedRefused(
            f"a saved answer does not stand: {first.where}: {first.text}", fix="ask the question again"
        )
    return _sheet(desk, answer_of(data), plan, site)


def originals(desk: Desk, engine: str) -> tuple[Original, ...]:
    """The units that an engine left the factory with, by name, as the desk's catalogue has them."""
    found = []
    for key in sorted({fitment.unit for fitment in desk.catalogue.fitments(engine=engine)}):
        unit = desk.catalogue.unit(key)
        parts = desk.catalogue.parts([part for _, part in unit.parts])
        found.append(Original(unit, {part.key: part for part in parts}))
    return tuple(found)


def _sheet(desk: Desk, answer: PlanAnswer, plan: int, site: Site | None) -> RouteSheet:
    return route_sheet(answer, plan, originals=originals(desk, answer.question.engine), site=site)
