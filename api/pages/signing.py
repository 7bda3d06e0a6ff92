"""Sign-offs: the records of a plan's route sheet, filled in at the bench and signed one by one."""

from collections.abc import Mapping
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.pages import guard
from api.pages.frame import Count, Text, _, form_of, page, trouble
from api.sheets import SheetAsked, Sheets, as_shown
from api.words import size
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.signing import signing
from graph.errors import BadQuestion, SpoolwrightError
from graph.model.routing import RecordField, RouteSheet

router = APIRouter()


def _sheet(request: Request, desk: Desk, asked: dict[str, str]) -> RouteSheet:
    wanted = SheetAsked(
        asked["core"], asked["build"], asked["engine"], int(asked["plan"] or 1), asked["as_of"] or today()
    )
    kept: Sheets = request.app.state.sheets
    return kept.get(desk, wanted)


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
        sheet = _sheet(request, desk, asked)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    shown = signing(desk, sheet, sheet.core)
    query = {name: text for name, text in asked.items() if text}
    labels = {f.name: f.label for record in sheet.records for f in record.fields}
    return page(
        request,
        desk,
        "sign.html",
        status=422 if wrong else 200,
        posting=True,
        sheet=sheet,
        shown=shown,
        signed=sum(bool(record.by) for record in shown.records),
        windows={f.name: window(f, labels) for record in sheet.records for f in record.fields},
        asked_plan=query,
        at=code,
        filled=filled,
        wrong=wrong,
        sheet_href="/sheet?" + urlencode(query),
    )


def window(field: RecordField, labels: Mapping[str, str]) -> str:
    """Which sizes of a field are accepted, as a person reads it; empty: the sheet sets no bounds.

    `labels`: of all fields by name, for a field that bounds another.
    """
    if field.not_over:
        return _("no more than what stands under %(label)s") % {"label": labels[field.not_over]}
    low, high = (size(bound, field.quantity) if bound is not None else "" for bound in (field.low, field.high))
    if low and high:
        return _("%(low)s to %(high)s") % {"low": low, "high": high}
    if low or high:
        return _("at least %(low)s") % {"low": low} if low else _("at most %(high)s") % {"high": high}
    return ""


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
            sheet = _sheet(request, desk, asked)
            as_shown(sheet, form.get("shown", ""))
            version = form.get("version", "")
            if not version.isascii() or not version.isdigit():
                raise BadQuestion(
                    _("this form is incomplete; nothing was written"), fix=_("open the page again and send it")
                )
            store, core, moment = request.app.state.current.store(), sheet.core, now()
            if form.get("back"):
                writer.take_back(store, sheet, core, code, version=int(version), author=author, time=moment)
            else:
                told = {name: text for name, text in form.items() if name.startswith(code + ".")}
                writer.sign(
                    store, sheet, core, code, told,
                    version=int(version), stood=desk.shelf.n, author=author, time=moment,
                )  # fmt: skip
        except SpoolwrightError as error:
            return _shown(request, desk, asked, code, form, f"{error.message}. {error.fix}".strip(". "))
        query = urlencode({name: text for name, text in asked.items() if text})
        return RedirectResponse(f"/sign?{query}#{code}", 303)

    return await run_in_threadpool(work)
