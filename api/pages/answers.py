"""The answers to *will it fit*, *what would it take* and *what do I fetch*, each at an address of its own."""

from dataclasses import replace
from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from api.current import CurrentDesk, today
from api.pages.evidence import Evidence
from api.pages.frame import Count, Text, _, page, remembered, trouble
from api.pages.terms import wished
from api.pages.view import alternatives, differing, margin, seat_states
from api.pages.wishing import Wanted, WantedPlan, for_any_build, form, left_out, operation_labels
from api.picture.section import section_svg
from api.picture.steps import steps_svg
from api.words import named
from graph.desk import Desk
from graph.desk.matching import against_originals
from graph.errors import BadQuestion, SpoolwrightError
from graph.model.fits import FitsAnswer
from graph.model.plan import Plan, PlanAnswer

router = APIRouter()
SIDE_BY_SIDE: Final = 5


@router.get("/fits")
def fits(
    request: Request, desk: CurrentDesk, unit: Text = "", engine: Text = "", both: Text = "", as_of: Text = ""
) -> HTMLResponse:
    """Does it fit, joint by joint, and the other way round."""
    day = as_of or today()
    try:
        answers = remembered.get(
            desk, ("fits", unit, engine, both, day), lambda: desk.fits(unit, engine, both=both == "yes", day=day)
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    pictures = [
        section_svg(desk.catalogue.layout(_layout(desk, a)).seats, seat_states(a.plan), f"half{n}")
        for n, a in enumerate(answers)
    ]
    return page(
        request,
        desk,
        "fits.html",
        answers=answers,
        day=day,
        margin=margin,
        evidence=Evidence(desk),
        pictures=pictures,
        settle_href="/settle?" + urlencode({"unit": unit, "engine": engine, "as_of": as_of}),
        others_href="/others?" + urlencode({"unit": unit, "engine": engine, "as_of": as_of}),
        keep=_("Will %(unit)s fit %(engine)s?") % {"unit": unit, "engine": engine},
    )


def _layout(desk: Desk, answer: FitsAnswer) -> str:
    return desk.catalogue.unit(answer.question.unit).layout


@router.get("/others")
def others(request: Request, desk: CurrentDesk, unit: Text = "", engine: Text = "", as_of: Text = "") -> HTMLResponse:
    """Up to five other turbochargers for the engine beside the one that was asked for, what differs marked."""
    day = as_of or today()
    try:
        asked = desk.fits(unit, engine, day=day)[0]
        found = remembered.get(
            desk, ("others", unit, engine, day), lambda: alternatives(desk, asked, day, SIDE_BY_SIDE)
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "others.html",
        columns=[asked, *found.shown],
        found=found,
        day=day,
        differing=differing([asked, *found.shown]),
        fits_href=lambda one: (
            "/fits?"
            + urlencode(
                {
                    "unit": named(one.question.unit),
                    "engine": named(one.question.engine),
                    "both": "yes",
                    "as_of": as_of,
                }
            )
        ),
        keep=_("Other turbochargers for %(engine)s") % {"engine": engine},
    )


def planned(desk: Desk, asked: Wanted, best: int, day: str) -> PlanAnswer:
    """The answer to a plan question; one that was given before at this snapshot is given again."""
    return remembered.get(
        desk,
        ("plan", asked.core, asked.build, asked.engine, asked.wishes, best, day),
        lambda: desk.plan(asked.core, asked.build, asked.engine, best=best, wishes=asked.wishes, day=day),
    )


def way_asked(desk: Desk, asked: Wanted, number: int, day: str) -> tuple[PlanAnswer, Plan]:
    """The answer to a plan question and the way of that number in it, counted from 1.

    Raises
    ------
    BadQuestion
        There is no such way.
    """
    answer = planned(desk, asked, number, day)
    if number > len(answer.plans):
        raise BadQuestion(answer.sentence, fix=_("take a way that there is"))
    return answer, answer.plans[number - 1]


@router.get("/plan")
def plan(
    request: Request, desk: CurrentDesk, asked: WantedPlan, best: Count = 3, way: Count = 1, without: Text = ""
) -> Response:
    """What it takes, cheapest first; one way in full, up to five side by side. `without`: numbers of parts that the
    customer does not want, which lead to the same question with them as wishes."""
    if "without" in request.query_params:
        return RedirectResponse(left_out(request.query_params.multi_items(), without), 303)
    day = asked.as_of or today()
    try:
        answer = planned(desk, asked, max(best, way), day)
        if way > 1 and way > len(answer.plans):
            raise BadQuestion(answer.sentence, fix=_("take a way that there is"))
        layout = desk.catalogue.layout(desk.catalogue.build(answer.question.build).layout)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    wanted = asked.with_wishes(answer.question.wishes)
    told = [(name, text) for name, text in request.query_params.multi_items() if name != "way"]
    chosen = answer.plans[way - 1] if answer.plans else None
    to_measure = {gap.seat for gap in answer.open}
    told_wishes = wished(wanted.wishes, operation_labels(desk))
    kept = _("Turn %(core)s into %(build)s for %(engine)s") % {
        "core": asked.core,
        "build": asked.build,
        "engine": named(answer.question.engine),
    }
    return page(
        request,
        desk,
        "plan.html",
        answer=answer,
        day=day,
        on_plan=lambda path, number: wanted.at(path, plan=number),
        asked={**request.query_params, "plan_engine": asked.engine},
        wished=told_wishes,
        wishing=form(desk, wanted, layout.name, best),
        margin=margin,
        evidence=Evidence(desk),
        way=way,
        way_href=lambda n: "/plan?" + urlencode([*told, ("way", n)]),
        section=section_svg(layout.seats, seat_states(chosen, to_measure), "half") if chosen else "",
        picture=steps_svg(chosen, "stairs") if chosen else "",
        against=against_originals(desk.catalogue, answer, way) if chosen else (),
        shown=answer.plans[:SIDE_BY_SIDE],
        why_href=wanted.at("/why"),
        settle_href=wanted.at("/settle"),
        least_href=Wanted(core=asked.core, wishes=tuple(for_any_build(desk, wanted.wishes)), as_of=asked.as_of).at(
            "/reach"
        ),
        rank_href=replace(wanted, core="").at("/rank"),
        engine_name=named(answer.question.engine),
        keep=f"{kept}. {told_wishes}" if told_wishes else kept,
    )
