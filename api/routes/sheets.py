"""`/v1/sheets` and the print page: the route sheet of a plan, as JSON, PDF, text or a page."""

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse
from pydantic import StringConstraints

from api.current import CurrentDesk, today
from api.documented import PROBLEMS
from api.pages.wishing import WantedPlan
from api.paper.sheet import sheet_pdf
from api.paper.view import sheet_view
from api.routes.pages import Count, Text, page, trouble
from api.routes.questions import SAVED_BODY
from api.site import site_of
from api.text.sheet import sheet_lines
from graph.desk.sheeting import sheet_asked, sheet_saved
from graph.errors import NotAcceptable, SpoolwrightError
from graph.model.codec import to_json
from graph.model.routing import RouteSheet

router = APIRouter(prefix="/v1", tags=["route sheets"], responses=PROBLEMS)
pages = APIRouter(include_in_schema=False)

Form = Annotated[str, Query(description="json, pdf or text")]
Manifold = Annotated[str, Query(max_length=60, description="manifold pressure, absolute, with its unit")]
Height = Annotated[str, Query(max_length=60, description="height over sea level where it works")]
Day = Annotated[str, Query(pattern=r"^(\d{4}-\d{2}-\d{2})?$", description="YYYY-MM-DD; empty: today")]
Name = Annotated[str, Query(max_length=200)]
Wishes = Annotated[
    Sequence[Annotated[str, StringConstraints(max_length=200)]],
    Query(max_length=50, description="no-new, no-donor, no-machining, keep:SEAT …"),
]
PDF: dict[str, dict[str, str]] = {"application/pdf": {}, "text/plain": {}}
ANSWERS = {200: {"model": RouteSheet, "description": "The sheet in the form asked for", "content": PDF}}


def sheet_response(made: RouteSheet, form: str) -> Response:
    """The sheet in the form asked for.

    Raises
    ------
    NotAcceptable
        A form that there is not.
    """
    if form == "json":
        return Response(json.dumps(to_json(made), ensure_ascii=False), media_type="application/json")
    if form == "pdf":
        headers = {"Content-Disposition": 'inline; filename="route-sheet.pdf"'}
        return Response(sheet_pdf(made), media_type="application/pdf", headers=headers)
    if form == "text":
        return Response("\n".join(sheet_lines(made)) + "\n", media_type="text/plain; charset=utf-8")
    raise NotAcceptable(f"a route sheet has no form {form!r}", fix="ask for json, pdf or text")


@router.get("/sheets", response_class=Response, responses=ANSWERS)  # type: ignore[arg-type]
def get_sheet(
    desk: CurrentDesk,
    core: Name,
    build: Name,
    engine: Name = "",
    plan: Count = 1,
    wish: Wishes = (),
    manifold: Manifold = "",
    height: Height = "",
    as_of: Day = "",
    format: Form = "json",
) -> Response:
    """The route sheet of one plan of a plan question."""
    made = sheet_asked(
        desk,
        core,
        build,
        engine,
        plan=plan,
        wishes=tuple(wish),
        day=as_of or today(),
        site=site_of(manifold=manifold, height=height),
    )
    return sheet_response(made, format)


@router.post("/sheets", response_class=Response, responses=ANSWERS, openapi_extra=SAVED_BODY)  # type: ignore[arg-type]
async def post_sheet(
    request: Request,
    desk: CurrentDesk,
    plan: Annotated[int, Query(ge=1, le=100)] = 1,
    manifold: Manifold = "",
    height: Height = "",
    format: Form = "json",
) -> Response:
    """The route sheet of one plan of a saved answer, which is judged first."""
    data = await request.body()

    def work() -> Response:
        site = site_of(manifold=manifold, height=height)
        return sheet_response(sheet_saved(desk, data, plan=plan, site=site), format)

    return await run_in_threadpool(work)


@pages.get("/sheet")
def sheet_page(
    request: Request,
    desk: CurrentDesk,
    asked: WantedPlan,
    plan: Count = 1,
    manifold: Text = "",
    height: Text = "",
) -> HTMLResponse:
    """The sheet as a page to print."""
    day = asked.as_of or today()
    try:
        site = site_of(manifold=manifold, height=height)
        made = sheet_asked(
            desk, asked.core, asked.build, asked.engine, plan=plan, wishes=asked.wishes, day=day, site=site
        )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    wanted = asked.with_wishes(made.wishes)
    return page(
        request,
        desk,
        "sheet.html",
        sheet=sheet_view(made),
        day=day,
        sign_href=wanted.at("/sign", plan=plan),
        pdf_href=replace(wanted, as_of=day).at(
            "/v1/sheets", plan=plan, manifold=manifold, height=height, format="pdf"
        ),
        plan_href=wanted.at("/plan", best=plan),
    )
