"""What is asked after a plan: why not, which core, how far, what else could sit here, what would settle it."""

from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from api.current import CurrentDesk, today
from api.pages.frame import Count, Text, _, page, remembered, trouble
from api.pages.terms import wished
from api.pages.wishing import WantedPlan, operation_labels
from graph.desk import depth
from graph.desk.bench import Bench
from graph.desk.yard import Yard
from graph.errors import BadQuestion, SpoolwrightError
from graph.model.depth import Ranking

router = APIRouter()


@router.get("/why")
def why(request: Request, desk: CurrentDesk, asked: WantedPlan) -> HTMLResponse:
    """What clashes, and the cheapest ways out."""
    day = asked.as_of or today()
    core, build, engine, wishes = asked.core, asked.build, asked.engine, asked.wishes
    try:
        answer = remembered.get(
            desk,
            ("why", core, build, engine, wishes, day),
            lambda: depth.why(desk, core, build, engine, wishes=wishes, day=day),
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "why.html",
        answer=answer,
        wished=wished(answer.question.wishes, operation_labels(desk)),
        day=day,
        plan_href=asked.at("/plan"),
        keep=_("Why can %(core)s not become %(build)s?") % {"core": core, "build": build},
    )


@router.get("/rank")
def rank(
    request: Request, desk: CurrentDesk, asked: WantedPlan, best: Count = 3, customers: Text = ""
) -> HTMLResponse:
    """Which core of the shelf is the best for a build."""
    day = asked.as_of or today()
    build, engine, wishes = asked.build, asked.engine, asked.wishes
    try:
        answer = remembered.get(
            desk,
            ("rank", build, engine, best, customers, wishes, day),
            lambda: depth.rank(desk, build, engine, best=best, customers=customers == "yes", wishes=wishes, day=day),
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    wanted = asked.with_wishes(answer.wishes)

    def href(name: str) -> str:
        return replace(wanted, core=name).at("/plan")

    keep = _("Which core is best for %(build)s?") % {"build": build}
    return _ranking(request, desk, answer, day=day, href=href, what="cores", keep=keep)


@router.get("/reach")
def reach(request: Request, desk: CurrentDesk, asked: WantedPlan) -> HTMLResponse:
    """All builds that a core can become."""
    day = asked.as_of or today()
    core, wishes = asked.core, asked.wishes
    try:
        answer = remembered.get(
            desk, ("reach", core, wishes, day), lambda: depth.reach(desk, core, wishes=wishes, day=day)
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    wanted = asked.with_wishes(answer.wishes)

    def href(name: str) -> str:
        return replace(wanted, build=name, engine="").at("/plan")

    keep = _("What can %(core)s become?") % {"core": core}
    return _ranking(request, desk, answer, day=day, href=href, what="builds", keep=keep)


def _ranking(request: Request, desk: CurrentDesk, answer: Ranking, **more: Any) -> HTMLResponse:
    return page(
        request, desk, "ranking.html", answer=answer, wished=wished(answer.wishes, operation_labels(desk)), **more
    )


@router.get("/interchange")
def interchange(request: Request, desk: CurrentDesk, part: Text = "", seat: Text = "") -> HTMLResponse:
    """What else could sit where a part sits, and whose place it could take."""
    try:
        answer = Yard(desk).interchange(part, seat)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    keep = _("What can stand in for %(part)s?") % {"part": part}
    return page(request, desk, "interchange.html", answer=answer, keep=keep)


@router.get("/settle")
def settle(
    request: Request,
    desk: CurrentDesk,
    asked: WantedPlan,
    unit: Text = "",
) -> HTMLResponse:
    """What to measure so that it is known, and what each outcome would mean."""
    day = asked.as_of or today()
    core, build, engine, wishes = asked.core, asked.build, asked.engine, asked.wishes
    bench = Bench(desk)
    try:
        if core and build:
            answer = remembered.get(
                desk,
                ("settle", core, build, engine, wishes, day),
                lambda: bench.settle_plan(core, build, engine, wishes=wishes, day=day),
            )
            back = asked.at("/plan")
        elif unit and engine:
            answer = bench.settle_fits(unit, engine, day=day)
            back = "/fits?" + urlencode({"unit": unit, "engine": engine, "as_of": asked.as_of})
        else:
            raise BadQuestion(
                _("nothing is asked"), fix=_("name a core and a build, or a turbocharger and an engine")
            )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "settle.html",
        answer=answer,
        day=day,
        wished=wished(wishes, operation_labels(desk)) if core and build else "",
        core=core,
        back=back,
        currency=bench.currency,
        keep=_("What to measure: %(what)s") % {"what": answer.question},
    )
