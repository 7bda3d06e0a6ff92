"""Pick lists of one plan or several: ticked off, struck out, reserved, printed; labels for what is on them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import RedirectResponse
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.forms import pick_response
from api.pages import guard
from api.pages.frame import Count, Text, _, form_of, page, remembered, trouble
from api.pages.terms import wished
from api.pages.wishing import Wanted, WantedPlan, operation_labels
from api.paper.codes import code128_svg, qr_svg, scanned
from api.paper.label import Label, label_pdf
from api.paper.slip import paper_named, pdf_response, slip_pdf
from api.paper.slips import pick_slip
from api.text.pick import PAID
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.wishing import wishes as read_wishes
from graph.errors import BadQuestion, SpoolwrightError
from graph.identifiers import spelling
from graph.model.picking import PickLine, PickList
from graph.picklist import without

router = APIRouter()
Many = Annotated[list[str], Query(max_length=200)]
MOST_JOBS: Final = 10
BAR: Final = "~"
"""Stands between the parts of one job in an address: core, build, engine, number of the plan, each wish."""
LABELLED: Final = ("part", "consumed", "kit", "donor")
"""Sections whose lines get a label of their own."""

JobAsked = tuple[str, str, str, int, tuple[str, ...]]


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
        core, build, engine, number, *wishes = [piece.strip() for piece in [*text.split(BAR), "", "", ""]]
        number = number or "1"
        if not core or not build or not number.isascii() or not number.isdigit():
            raise BadQuestion(
                _("%(text)s is no job") % {"text": repr(text)},
                fix=_("name the core and the build, and the way's number"),
            )
        jobs.append((core, build, engine, max(1, min(int(number), 20)), tuple(filter(None, wishes))))
    if len(jobs) > MOST_JOBS:
        raise BadQuestion(_("a page lists %(n)s jobs at most") % {"n": MOST_JOBS}, fix=_("make two lists of it"))
    return jobs


def said_jobs(jobs: Sequence[JobAsked]) -> list[tuple[str, str]]:
    """The same jobs as they stand in an address."""
    return [
        ("job", BAR.join((core, build, engine, str(number), *wishes))) for core, build, engine, number, wishes in jobs
    ]


def code_of(line: PickLine) -> str:
    """What stands in the line's barcode: its number, or the core's tag where a part has none."""
    return scanned(line.number or line.lot)


def rows_of(picks: PickList, got: Sequence[str] = (), out: Sequence[str] = ()) -> list[Row]:
    """The lines with their marks; what is in a kit that was struck out is struck out with it."""
    rows: list[Row] = []
    seen: dict[str, int] = {}
    gone = False
    for line in picks.lines:
        inside = line.section == "in-kit"
        mark = "@".join(filter(None, (code_of(line), line.lot, line.section if inside else "")))
        seen[mark] = seen.get(mark, 0) + 1
        if seen[mark] > 1:
            mark += f"#{seen[mark]}"
        gone = gone if inside else mark in out
        rows.append(Row(line, code_of(line), mark, mark in got, gone))
    return rows


def left_of(picks: PickList, out: Sequence[str]) -> PickList:
    """The list without what was struck out."""
    rows = rows_of(picks, out=out)
    return without(picks, {at for at, row in enumerate(rows) if row.left_out}) if out else picks


def picked(desk: Desk, jobs: Sequence[JobAsked], day: str) -> PickList:
    """The pick list of these jobs; given again while the snapshot stands."""
    return remembered.get(desk, ("pick", tuple(jobs), day), lambda: desk.pick(jobs, day=day))


@router.get("/pick")
def pick(
    request: Request,
    desk: CurrentDesk,
    wanted: WantedPlan,
    plan: Count = 1,
    job: Many = [],  # noqa: B006
    got: Many = [],  # noqa: B006
    out: Many = [],  # noqa: B006
    scan: Text = "",
    new_core: Text = "",
    new_build: Text = "",
    new_engine: Text = "",
    new_plan: Count = 1,
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """What to fetch for one job or several; as a page, PDF, CSV or an Excel workbook, without what was struck out."""
    as_of, day = wanted.as_of, wanted.as_of or today()
    own = (wanted.core, wanted.build, wanted.engine, plan, wanted.wishes)
    asked: list[JobAsked] = [own] if wanted.core else []
    try:
        asked += jobs_of(job)
        if new_core:
            asked.append((new_core, new_build, new_engine, new_plan, ()))
        jobs = jobs_of([text for _name, text in said_jobs(asked)])
        if not jobs:
            return page(request, desk, "picks.html", day=day)
        picks = picked(desk, jobs, day)
        left = left_of(picks, out)
        told_wishes = [wished(read_wishes(desk.catalogue, wishes), operation_labels(desk)) for *_job, wishes in jobs]
        if format == "pdf":
            slip = pick_slip(left, [code_of(line) for line in left.lines], told_wishes)
            return pdf_response(slip_pdf(slip, paper=paper_named(paper), day=day), "pick-list")
        if format != "page":
            return pick_response(left, format)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    rows = rows_of(picks, got, out)
    told = request.query_params.multi_items()
    missed = ""
    if scan.strip():
        hit = _scanned(rows, scan.strip())
        if hit:
            kept = [(k, v) for k, v in told if k != "scan"]
            return RedirectResponse("/pick?" + urlencode([*kept, *([("got", hit)] if hit not in got else [])]), 303)
        missed = scan.strip()
    core, build, engine, number, wishes = jobs[0]
    first = Wanted(core, build, engine, wishes, as_of)
    return page(
        request,
        desk,
        "pick.html",
        posting=True,
        picks=picks,
        left=left,
        rows=rows,
        waiting=sum(not row.got and not row.left_out and row.line.section != "in-kit" for row in rows),
        missed=missed,
        day=day,
        paid=PAID,
        jobs=[(value, name) for (_name, value), name in zip(said_jobs(jobs), picks.jobs, strict=True)],
        struck=out,
        list_query=urlencode([*said_jobs(jobs), *(("out", mark) for mark in out), ("as_of", as_of)]),
        toggle=lambda name, code: _toggled(told, name, code),
        hidden=[(k, v) for k, v in told if k not in ("scan", "new_core", "new_build", "new_engine", "new_plan")],
        wishes=[(name, told) for name, told in zip(picks.jobs, told_wishes, strict=True) if told],
        plan_href=first.at("/plan", best=number),
        quote_href=first.at("/quote", plan=number),
        keep=_("Pick list for %(jobs)s") % {"jobs": ", ".join(picks.jobs)},
    )


def _scanned(rows: Iterable[Row], scan: str) -> str:
    """The mark of the line that a scanned number ticks off: one that is still to be fetched comes first."""
    able = [row for row in rows if not row.left_out and _bare(row.code) == _bare(scan)]
    able.sort(key=lambda row: row.got)
    return able[0].mark if able else ""


def _bare(text: str) -> str:
    try:
        return spelling(text)
    except SpoolwrightError:
        return text


def _toggled(pairs: list[tuple[str, str]], name: str, code: str) -> str:
    kept = [(k, v) for k, v in pairs if (k, v) != (name, code) and k != "scan"]
    return "/pick?" + urlencode(kept if (name, code) in pairs else [*kept, (name, code)])


@router.post("/pick/reserve")
async def reserve(request: Request, desk: CurrentDesk) -> Response:
    """Promise what lies on the shelf to the jobs of the list, all of it or nothing: each job's core, its donors'
    parts, and parts out of stock. Each job has a number of its own."""
    sent = (await request.form()).multi_items()
    form = form_of(sent)
    texts = [str(value) for name, value in sent if name == "job"]
    numbers = [str(value).strip() for name, value in sent if name == "name"]
    out = [str(value) for name, value in sent if name == "out"]

    def work() -> Response:
        try:
            author = guard.writer(request, form, "stock")
            jobs = jobs_of(texts)
            if not jobs or len(numbers) != len(jobs) or not all(numbers):
                raise BadQuestion(
                    _("a job has no number; nothing was reserved"), fix=_("write a number beside each job")
                )
            if len(set(numbers)) < len(numbers):
                raise BadQuestion(
                    _("two jobs have the same number; nothing was reserved"), fix=_("give each job its own")
                )
            picks = left_of(picked(desk, jobs, form.get("as_of", "") or today()), out)
            rows = promises(picks, dict(zip(picks.jobs, numbers, strict=True)))
            writer.promise_all(
                request.app.state.current.store(), rows, author=author, time=now(),
                title=_("%(jobs)s: reserved from a pick list") % {"jobs": ", ".join(numbers)},
            ).sound()  # fmt: skip
        except SpoolwrightError as error:
            return trouble(request, desk, error)
        kept: list[tuple[str, Any]] = [*said_jobs(jobs), *(("out", mark) for mark in out)]
        return RedirectResponse("/pick?" + urlencode([*kept, ("reserved", ", ".join(numbers))]), 303)

    return await run_in_threadpool(work)


def promises(picks: PickList, numbers: dict[str, str]) -> list[dict[str, str]]:
    """The rows of `reservations` that a list comes to, each job under its number, in the order of the list.

    What is on hand goes to the jobs in the order in which they stand on the line.
    """
    made: list[dict[str, str]] = []
    for line in picks.lines:
        if line.section == "in-kit":
            continue
        held = line.on_hand
        for use in line.uses:
            job = numbers[use.job]
            if line.section == "core":
                made.append({"job": job, "tag": line.lot or line.number})
            elif line.section == "donor":
                made += [{"job": job, "tag": line.lot, "seat": use.seat}] if use.seat else []
            else:
                taken = min(held, use.quantity)
                held -= taken
                row = {"job": job, "maker": line.maker, "number": line.number}
                same = next((one for one in made if {**one, "quantity": ""} == {**row, "quantity": ""}), None)
                if same is not None:
                    same["quantity"] = str(int(same["quantity"]) + taken)
                elif taken:
                    made.append({**row, "quantity": str(taken)})
    return list({tuple(cells.items()): cells for cells in made}.values())


@router.get("/label")
def label(
    request: Request,
    desk: CurrentDesk,
    job: Many = [],  # noqa: B006
    out: Many = [],  # noqa: B006
    as_of: Text = "",
    format: Text = "page",
) -> Response:
    """Labels: for each job its core's tag as Code 128 and the plan's address as QR, one for each part fetched; as a
    page to print, or as PDF with a label a page."""
    day = as_of or today()
    try:
        jobs = jobs_of(job)
        picks = left_of(picked(desk, jobs, day), out) if jobs else None
        lines = [line for line in picks.lines if line.section in LABELLED] if picks else []
        labels = [*(_job_label(request, one, as_of) for one in jobs), *map(_part_label, lines)]
        if format == "pdf" and labels:
            return pdf_response(label_pdf(labels, day=day), "labels")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    shown = [
        {
            "label": one,
            "qr": qr_svg(one.address, f"qr{at}", _("QR code: %(what)s") % {"what": one.title}) if one.address else "",
            "bar": code128_svg(one.code, f"bar{at}", _("Code 128: %(code)s") % {"code": one.code}),
        }
        for at, one in enumerate(labels)
    ]
    pdf = "/label?" + urlencode(
        [*said_jobs(jobs), *(("out", mark) for mark in out), ("as_of", as_of), ("format", "pdf")]
    )
    return page(request, desk, "label.html", labels=shown, pdf=pdf, day=day)


def _job_label(request: Request, job: JobAsked, as_of: str) -> Label:
    core, build, engine, number, wishes = job
    asked = Wanted(core, build, engine, wishes, as_of)
    address = str(request.base_url).rstrip("/") + asked.at("/plan", best=number)
    return Label(_("Core %(tag)s") % {"tag": core}, (build, engine), scanned(core), address)


def _part_label(line: PickLine) -> Label:
    where = ", ".join(place for place, _n in line.bins) or line.lot
    return Label(f"{line.maker} {line.number}".strip(), (f"{line.quantity} × {line.label}", where), code_of(line))
