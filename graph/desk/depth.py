"""What comes after a plan: why not, what then, which core, how far, what least; all judged before it leaves."""

from collections.abc import Sequence
from dataclasses import replace

from graph.desk import names
from graph.desk.desk import CHECK_SECONDS, PLAN_SECONDS, Desk, within
from graph.desk.judging import UNSURE
from graph.errors import AnswerRefused, BadQuestion
from graph.index.gather import whole_bundle
from graph.model.bundle import PlanQuestion
from graph.model.depth import WhyAnswer
from graph.planning.check import Refusal
from graph.planning.check.clash import check_why
from graph.planning.why import why as why_not


def question(
    desk: Desk, core: str, build: str, engine: str = "", *, best: int = 1, wishes: Sequence[str] = (), day: str = ""
) -> PlanQuestion:
    """The plan question that these names ask.

    Raises
    ------
    NotFound, Ambiguous, BadQuestion
        A name that leads nowhere or to several things, or no engine is named and the build is for none.
    """
    wanted = names.build(desk.catalogue, build)
    key = names.thing(desk.catalogue.find_engines, "engine", engine).key if engine else wanted.engine
    if not key:
        raise BadQuestion(f"build {wanted.name} is for no engine in particular", fix="name the engine")
    core_key = names.core(desk.shelf, core).key
    return PlanQuestion(core_key, wanted.key, key, best, day, tuple(sorted(set(wishes))))


def why(
    desk: Desk,
    core: str,
    build: str,
    engine: str = "",
    *,
    best: int = 3,
    waive: bool = False,
    wishes: Sequence[str] = (),
    day: str = "",
    seconds: float = 3 * PLAN_SECONDS,
) -> WhyAnswer:
    """Why the core cannot become the build: the minimal clash, and the cheapest ways out with their plans.

    Raises
    ------
    AnswerRefused
        The checker does not bear it out; it stays here.
    Unanswerable
        Stopped before it was settled.
    """
    asked = question(desk, core, build, engine, wishes=wishes, day=day)
    bundle = whole_bundle(desk.catalogue, desk.shelf, asked)
    answer = why_not(bundle, best=best, waive=waive, stop=within(seconds))
    _refuse(check_why(answer, bundle, within(CHECK_SECONDS)))
    return replace(answer, bundle=bundle)


def _refuse(found: Sequence[Refusal]) -> None:
    refusals = [r for r in found if r.code != UNSURE]
    if refusals:
        listed = "; ".join(f"{r.code} at {r.where}: {r.text}" for r in refusals[:5])
        raise AnswerRefused(
            f"the checker refuses this answer ({len(refusals)} findings): {listed}",
            fix="this is a fault of the program; report it with the question",
        )
