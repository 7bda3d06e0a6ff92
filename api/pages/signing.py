"""Sign-offs: the records of a plan's route sheet, filled in at the bench and signed one by one."""

from collections.abc import Mapping

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.pages import guard
from api.pages.frame import Count, _, form_of, page, trouble
from api.pages.terms import wished
from api.pages.wishing import Wanted, WantedPlan, operation_labels
from api.sheets import SheetAsked, Sheets, as_shown
from api.words import size
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.signing import signing
from graph.errors import BadQuestion, SpoolwrightError
from graph.model.routing import RecordField, RouteSheet

router = APIRouter()


def _sheet(request: Request, desk: Desk, asked: Wanted, plan: int) -> RouteSheet:
    kept: Sheets = request.app.state.sheets
    day = asked.as_of or today()
    return kept.get(desk, SheetAsked(asked.core, asked.build, asked.engine, plan, day, asked.wishes))


@router.get("/sign")
def sign_page(request: Request, desk: CurrentDesk, asked: WantedPlan, plan: Count = 1) -> HTMLResponse:
    """The records that must be whole before the unit goes out, each with its fields and who signed it."""
    return _shown(request, desk, asked, plan, "", {}, "")


def _shown(
    request: Request, desk: Desk, asked: Wanted, plan: int, code: str, filled: dict[str, str], wrong: str
) -> HTMLResponse:
    try:
        sheet = _sheet(request, desk, asked, plan)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    shown = signing(desk, sheet, sheet.core)
    fields = {f.name: f.label for record in sheet.records for f in record.fields}
    return page(
        request,
        desk,
        "sign.html",
        status=422 if wrong else 200,
        posting=True,
        sheet=sheet,
        shown=shown,
        signed=sum(bool(record.by) for record in shown.records),
        windows={f.name: window(f, fields) for record in sheet.records for f in record.fields},
        asked_plan=asked.fields(plan=plan),
        wished=wished(sheet.wishes, operation_labels(desk)),
        at=code,
        filled=filled,
        wrong=wrong,
        sheet_href=asked.at("/sheet", plan=plan),
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
    sent = (await request.form()).multi_items()
    form = form_of(sent)
    wishes = tuple(value for name, value in sent if name == "wish" and isinstance(value, str))
    core, build, engine = (form.get(name, "") for name in ("core", "build", "engine"))
    asked = Wanted(core, build, engine, wishes, form.get("as_of", ""))
    number = form.get("plan", "")
    plan = int(number) if number.isascii() and number.isdigit() else 1
    code = form.get("record", "")

    def work() -> Response:
        try:
            author = guard.writer(request, form, "sign-off")
            sheet = _sheet(request, desk, asked, plan)
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
            return _shown(request, desk, asked, plan, code, form, f"{error.message}. {error.fix}".strip(". "))
        return RedirectResponse(asked.at("/sign", plan=plan) + f"#{code}", 303)

    return await run_in_threadpool(work)
