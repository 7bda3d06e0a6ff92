"""Sign-offs: the records of a plan's route sheet, filled in at the bench and signed one by one."""

from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.pages import guard
from api.pages.frame import Count, Text, form_of, page, remembered, trouble
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.sheeting import sheet_asked
from graph.desk.signing import signing
from graph.errors import SpoolwrightError
from graph.model.routing import RouteSheet

router = APIRouter()


def _sheet(desk: Desk, asked: dict[str, str]) -> RouteSheet:
    core, build, engine, day = asked["core"], asked["build"], asked["engine"], asked["as_of"] or today()
    number = int(asked["plan"] or 1)
    return remembered.get(
        desk,
        ("sheet", core, build, engine, number, day),
        lambda: sheet_asked(desk, core, build, engine, plan=number, day=day),
    )


@router.get("/sign")
def sign_page(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    build: Text = "",
    engine: Text = "",
    plan: Count = 1,
    as_of: Text = "",
) -> HTMLResponse:
    """The records that must be whole before the unit goes out, each with its fields and who signed it."""
    asked = {"core": core, "build": build, "engine": engine, "plan": str(plan), "as_of": as_of}
    return _shown(request, desk, asked, "", {}, "")


def _shown(
    request: Request, desk: Desk, asked: dict[str, str], code: str, filled: dict[str, str], wrong: str
) -> HTMLResponse:
    try:
        sheet = _sheet(desk, asked)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    shown = signing(desk, sheet, sheet.core)
    query = {name: text for name, text in asked.items() if text}
    return page(
        request,
        desk,
        "sign.html",
        status=422 if wrong else 200,
        posting=True,
        sheet=sheet,
        shown=shown,
        signed=sum(bool(record.by) for record in shown.records),
        asked_plan=query,
        at=code,
        filled=filled,
        wrong=wrong,
        sheet_href="/sheet?" + urlencode(query),
    )


@router.post("/sign")
async def sign(request: Request, desk: CurrentDesk) -> Response:
    """Sign a record, or take its signature back; what is wrong is said beside it, and nothing typed is lost."""
    form = form_of((await request.form()).multi_items())
    asked = {name: form.get(name, "") for name in ("core", "build", "engine", "plan", "as_of")}
    asked["plan"] = asked["plan"] if asked["plan"].isascii() and asked["plan"].isdigit() else "1"
    code = form.get("record", "")

    def work() -> Response:
        try:
            author = guard.writer(request, form, "sign-off")
            sheet = _sheet(desk, asked)
            store, core, moment = request.app.state.current.store(), sheet.core, now()
            if form.get("back"):
                writer.take_back(store, sheet, core, code, author=author, time=moment)
            else:
                told = {name: text for name, text in form.items() if name.startswith(code + ".")}
                writer.sign(store, sheet, core, code, told, author=author, time=moment)
        except SpoolwrightError as error:
            return _shown(request, desk, asked, code, form, f"{error.message}. {error.fix}".strip(". "))
        query = urlencode({name: text for name, text in asked.items() if text})
        return RedirectResponse(f"/sign?{query}#{code}", 303)

    return await run_in_threadpool(work)
