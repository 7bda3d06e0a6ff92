"""What is printed and handed over: pick lists of one plan or several, labels, quotes, core credits, claims."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.forms import pick_response
from api.pages import guard
from api.pages.answers import planned
from api.pages.frame import Count, Text, _, form_of, page, remembered, trouble
from api.paper.codes import code128_svg, qr_svg, scanned
from api.paper.quote import credit_of, grading_rule, quote_of
from api.paper.slip import PAPERS, slip_pdf
from api.paper.slips import claim_slip, credit_slip, pick_slip, quote_slip
from api.text.pick import PAID
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.bench import Bench
from graph.desk.matching import against_originals
from graph.errors import BadQuestion, SpoolwrightError
from graph.identifiers import spelling
from graph.model.bench import Outcome
from graph.model.picking import PickLine, PickList

router = APIRouter()
Many = Annotated[list[str], Query(max_length=200)]
MOST_JOBS: Final = 10
BAR: Final = "~"
"""Stands between the four parts of one job in an address: core, build, engine, number of the plan."""

JobAsked = tuple[str, str, str, int]


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a pick list. `code`: what its barcode says; `mark`: how an address names it."""

    line: PickLine
    code: str
    mark: str
    got: bool
    left_out: bool


def jobs_of(texts: Sequence[str]) -> list[JobAsked]:
    """Jobs as they stand in an address.

    Raises
    ------
    BadQuestion
        Too many, or one that is none.
    """
    jobs: list[JobAsked] = []
    for text in texts:
        pieces = [*text.split(BAR), "", "", ""][:4]
        number = pieces[3] or "1"
        if not pieces[0].strip() or not pieces[1].strip() or not number.isascii() or not number.isdigit():
            raise BadQuestion(
                _("%(text)s is no job") % {"text": repr(text)},
                fix=_("name the core and the build, and the way's number"),
            )
        jobs.append((pieces[0].strip(), pieces[1].strip(), pieces[2].strip(), max(1, min(int(number), 20))))
    if len(jobs) > MOST_JOBS:
        raise BadQuestion(_("a page lists %(n)s jobs at most") % {"n": MOST_JOBS}, fix=_("make two lists of it"))
    return jobs


def said_jobs(jobs: Sequence[JobAsked]) -> list[tuple[str, str]]:
    """The same jobs as they stand in an address."""
    return [("job", BAR.join((core, build, engine, str(number)))) for core, build, engine, number in jobs]


def code_of(line: PickLine) -> str:
    """What stands in the line's barcode: its number, or the core's tag where a part has none."""
    return scanned(line.number or line.lot)


def mark_of(line: PickLine) -> str:
    """What tells the line from one of the same number out of another core or section."""
    return "@".join(filter(None, (code_of(line), line.lot, line.section if line.section == "in-kit" else "")))


def picked(desk: Desk, jobs: Sequence[JobAsked], day: str) -> PickList:
    """The pick list of these jobs; given again while the snapshot stands."""
    return remembered.get(desk, ("pick", tuple(jobs), day), lambda: desk.pick([(*job, ()) for job in jobs], day=day))


def pick_page(request: Request, desk: Desk, jobs: list[JobAsked], as_of: str, form: str) -> Response:
    """The list of these jobs as a page or in a form that leaves the house."""
    day = as_of or today()
    told = request.query_params
    try:
        more = jobs_of(told.getlist("job"))
        if told.get("new_core"):
            more += jobs_of([BAR.join((told["new_core"], told.get("new_build", ""), "", told.get("new_plan", "1")))])
        jobs = jobs_of([text for _name, text in said_jobs([*([job for job in jobs if job[0]]), *more])])
        if not jobs:
            return page(request, desk, "picks.html", day=day)
        picks = picked(desk, jobs, day)
        if form == "pdf":
            slip = pick_slip(picks, [code_of(line) for line in picks.lines])
            return _pdf(slip_pdf(slip, paper=_paper(told.get("paper", "a4")), day=day), "pick-list")
        if form != "page":
            return pick_response(picks, form)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    got, out = told.getlist("got"), told.getlist("out")
    scan, missed = told.get("scan", "").strip(), ""
    rows = [
        Row(line, code_of(line), mark_of(line), mark_of(line) in got, mark_of(line) in out) for line in picks.lines
    ]
    if scan:
        able = [row for row in rows if not row.left_out and _bare(row.code) == _bare(scan)]
        able.sort(key=lambda row: row.got)  # one that is still to be fetched comes first
        hit = able[0].mark if able else ""
        if hit:
            kept = [(k, v) for k, v in told.multi_items() if k != "scan"]
            return RedirectResponse("/pick?" + urlencode([*kept, *([("got", hit)] if hit not in got else [])]), 303)
        missed = scan
    base = [*said_jobs(jobs), ("as_of", as_of)]
    first = jobs[0]
    return page(
        request,
        desk,
        "pick.html",
        posting=True,
        picks=picks,
        rows=rows,
        waiting=sum(not row.got and not row.left_out and row.line.section != "in-kit" for row in rows),
        changed=_changed(picks, rows),
        missed=missed,
        day=day,
        paid=PAID,
        jobs=[value for _name, value in said_jobs(jobs)],
        struck="|".join(out),
        list_query=urlencode(base),
        toggle=lambda name, code: _toggled(told.multi_items(), name, code),
        hidden=[(k, v) for k, v in told.multi_items() if k not in ("scan", "new_core", "new_build", "new_plan")],
        plan_href="/plan?"
        + urlencode({"core": first[0], "build": first[1], "engine": first[2], "best": first[3], "as_of": as_of}),
        quote_href="/quote?"
        + urlencode({"core": first[0], "build": first[1], "engine": first[2], "plan": first[3], "as_of": as_of}),
        keep=_("Pick list for %(jobs)s") % {"jobs": ", ".join(picks.jobs)},
    )


def _bare(text: str) -> str:
    try:
        return spelling(text)
    except SpoolwrightError:
        return text


def _toggled(pairs: list[tuple[str, str]], name: str, code: str) -> str:
    kept = [(k, v) for k, v in pairs if (k, v) != (name, code) and k != "scan"]
    return "/pick?" + urlencode(kept if (name, code) in pairs else [*kept, (name, code)])


def _changed(picks: PickList, rows: Sequence[Row]) -> int | None:
    """What the list comes to without the lines that were struck out; None when none was or a price is missing."""
    struck = [row.line for row in rows if row.left_out and row.line.section in PAID]
    if not struck or any(line.price is None for line in struck):
        return None
    return picks.total - sum(line.price or 0 for line in struck)


def _paper(name: str) -> str:
    if name not in PAPERS:
        raise BadQuestion(_("%(name)s is no paper") % {"name": repr(name)}, fix=_("take a4 or letter"))
    return name


def _pdf(data: bytes, name: str) -> Response:
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"', "Cache-Control": "private, no-cache"}
    return Response(data, media_type="application/pdf", headers=headers)


@router.post("/pick/reserve")
async def reserve(request: Request, desk: CurrentDesk) -> Response:
    """Promise what lies on the shelf to the job: the core, the donors' parts, and parts out of stock."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        try:
            author = guard.writer(request, form, "stock")
            job = form.get("name", "").strip()
            if not job:
                raise BadQuestion(_("the job has no name; nothing was reserved"), fix=_("write the job's number"))
            jobs = jobs_of([form.get("job", "")])
            out = set(form.get("out", "").split("|"))
            picks = picked(desk, jobs, form.get("as_of", "") or today())
            told = [cells for line in picks.lines if mark_of(line) not in out for cells in _promises(job, line)]
            rows = list({tuple(cells.items()): cells for cells in told}.values())
            writer.enter(
                request.app.state.current.store(),
                "reservations",
                rows,
                author=author,
                time=now(),
                title=f"{job}: reserved from its pick list",
            ).sound()
        except SpoolwrightError as error:
            return trouble(request, desk, error)
        return RedirectResponse("/pick?" + urlencode([*said_jobs(jobs), ("reserved", job)]), 303)

    return await run_in_threadpool(work)


def _promises(job: str, line: PickLine) -> list[dict[str, str]]:
    if line.section == "core":
        return [{"job": job, "tag": line.lot or line.number}]
    if line.section == "donor":
        return [{"job": job, "tag": line.lot, "seat": use.seat} for use in line.uses if use.seat]
    held = min(line.on_hand, line.quantity)
    if line.section == "in-kit" or held <= 0:
        return []
    return [{"job": job, "maker": line.maker, "number": line.number, "quantity": str(held)}]


@router.get("/label")
def label(request: Request, desk: CurrentDesk, job: Many = [], as_of: Text = "") -> HTMLResponse:  # noqa: B006
    """Labels to print: for each job its core's tag as Code 128 and the plan's address as QR; one for each part."""
    day = as_of or today()
    try:
        jobs = jobs_of(job)
        picks = picked(desk, jobs, day) if jobs else None
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    base = str(request.base_url).rstrip("/")
    tags = []
    for at, (core, build, engine, number) in enumerate(jobs):
        asked = {"core": core, "build": build, "engine": engine, "best": str(number), "as_of": as_of}
        href = f"{base}/plan?" + urlencode({k: v for k, v in asked.items() if v})
        tags.append(
            {
                "core": core,
                "build": build,
                "qr": qr_svg(href, f"qr{at}", _("QR code: the plan for core %(core)s") % {"core": core}),
                "bar": code128_svg(scanned(core), f"tag{at}", _("Code 128: core %(core)s") % {"core": core}),
                "href": href,
            }
        )
    lines = [line for line in picks.lines if line.section in ("part", "consumed", "kit", "donor")] if picks else []
    codes = [
        {
            "line": line,
            "bar": code128_svg(code_of(line), f"bar{at}", _("Code 128: %(code)s") % {"code": code_of(line)}),
        }
        for at, line in enumerate(lines)
    ]
    return page(request, desk, "label.html", tags=tags, codes=codes, day=day)


@router.get("/quote")
def quote(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    build: Text = "",
    engine: Text = "",
    plan: Count = 1,
    customer: Text = "",
    tax: Text = "",
    valid: Annotated[int, Query(ge=1, le=365)] = 14,
    sublet: Many = [],  # noqa: B006
    as_of: Text = "",
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """A written quote for one way, as a page to print or PDF."""
    day = as_of or today()
    try:
        answer = planned(desk, core, build, engine, plan, day)
        if plan > len(answer.plans):
            raise BadQuestion(answer.sentence, fix=_("take a way that there is"))
        chosen = answer.plans[plan - 1]
        made = quote_of(chosen, sublet=sublet, tax=tax, day=day, valid_days=valid)
        against = against_originals(desk.catalogue, answer, plan)
        slip = quote_slip(answer, chosen, made, against, customer=customer, shop=request.app.state.shop, day=day)
        if format == "pdf":
            return _pdf(slip_pdf(slip, paper=_paper(paper), day=day), "quote")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    work = [c.what for c in chosen.costs if c.kind in ("labour", "service")]
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        day=day,
        form="quote",
        work=work,
        sublet=sublet,
        valid=valid,
        pdf=[(name, _with(request, format="pdf", paper=name)) for name in PAPERS],
        keep=_("Quote for %(core)s") % {"core": core},
    )


def _with(request: Request, **change: str) -> str:
    kept = [(k, v) for k, v in request.query_params.multi_items() if k not in change]
    return f"{request.url.path}?" + urlencode([*kept, *change.items()])


@router.get("/credit")
def credit(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    rule: Text = "",
    customer: Text = "",
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """What comes back for a core by the shop's rule; nothing is assumed where the rule or the record is silent."""
    try:
        record = Bench(desk).record(core)
        worth = credit_of(record.grade, record.deposit, grading_rule(rule))
        slip = credit_slip(record, worth, rule, customer=customer, shop=request.app.state.shop, day=today())
        if format == "pdf":
            return _pdf(slip_pdf(slip, paper=_paper(paper), day=today()), "core-credit")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        form="credit",
        pdf=[(name, _with(request, format="pdf", paper=name)) for name in PAPERS],
        keep=_("Core credit for %(core)s") % {"core": record.tag},
    )


@router.get("/claim")
def claim(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    job: Text = "",
    complaint: Annotated[str, Query(max_length=1000)] = "",
    hours: Text = "",
    customer: Text = "",
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """A warranty claim: what the customer says, and what was found on the unit that came back, seat by seat."""
    try:
        bench = Bench(desk)
        record, judged = bench.record(core), bench.inspect(core)
        found = [d for d in judged.decisions if d.outcome is not Outcome.REUSE and (d.judged or d.state != "present")]
        slip = claim_slip(
            record, found, job=job, complaint=complaint, hours=hours, customer=customer,
            shop=request.app.state.shop, day=today(),
        )  # fmt: skip
        if format == "pdf":
            return _pdf(slip_pdf(slip, paper=_paper(paper), day=today()), "claim")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        form="claim",
        pdf=[(name, _with(request, format="pdf", paper=name)) for name in PAPERS],
        keep=_("Claim on %(core)s") % {"core": record.tag},
    )
