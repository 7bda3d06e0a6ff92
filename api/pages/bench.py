"""The bench: which unit is this, a core's record, its parts judged, and a reading written down by form."""

from typing import Annotated, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.pages import guard
from api.pages.frame import Text, _, form_of, page, trouble
from api.picture.looks import look_svg
from api.text.bench import OUTCOMES
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.bench import Bench
from graph.errors import SpoolwrightError
from graph.ledger.photos import Photos

router = APIRouter()
STATES: Final = {
    "present": _("present"),
    "missing": _("missing"),
    "scrap": _("worn out or broken"),
    "cracked": _("cracked"),
}
"""What may be found in a seat."""
Many = Annotated[list[str], Query(max_length=100)]
SHOWN_CHOICES: Final = 12
READING: Final = ("seat", "feature", "value", "unit", "position", "instrument", "uncertainty", "condition", "note")


@router.get("/identify")
def identify(
    request: Request,
    desk: CurrentDesk,
    see: Many = [],  # noqa: B006
    skip: Many = [],  # noqa: B006
    core: Text = "",
    look: Text = "",
    shows: Text = "",
) -> Response:
    """One look after the other, the most telling first, until one turbocharger is left.

    `look` and `shows` are a look and what was typed for it; they become one more `see`.
    """
    seen = [text for text in see if text.strip()]
    if look and shows.strip():
        told = [*(("see", s) for s in (*seen, f"{look}={shows.strip()}")), *(("skip", s) for s in skip)]
        return RedirectResponse("/identify?" + urlencode([*told, *([("core", core)] if core else [])]), 303)
    try:
        answer = Bench(desk).identify(seen, core=core, cannot_tell=skip)
    except SpoolwrightError as error:
        return trouble(request, desk, error)

    def without(list_name: str, text: str) -> str:
        kept = [("see", s) for s in seen if (list_name, s) != ("see", text)]
        kept += [("skip", s) for s in skip if (list_name, s) != ("skip", text)]
        return "/identify?" + urlencode([*kept, *([("core", core)] if core else [])])

    offered = [[value for value, _share in one.values if value != "something else"] for one in answer.questions[:4]]
    questions = [
        {
            "look": one,
            "name": f"{one.seat}.{one.feature}".lstrip("."),
            "values": values[:SHOWN_CHOICES],
            "more": len(values[SHOWN_CHOICES:]),
            "picture": look_svg(one.feature, f"look{n}", one.label),
        }
        for n, (one, values) in enumerate(zip(answer.questions, offered, strict=False))
    ]
    return page(
        request,
        desk,
        "identify.html",
        answer=answer,
        seen=seen,
        skipped=skip,
        core=core,
        questions=[] if answer.settled else questions,
        without=without,
        keep=_("What is %(what)s?") % {"what": core or _("this")},
    )


@router.get("/cores")
def cores(request: Request, desk: CurrentDesk) -> HTMLResponse:
    """All cores on the shelf, by tag."""
    return page(request, desk, "cores.html", cores=desk.shelf.cores())


@router.get("/core/{tag}")
def core(request: Request, desk: CurrentDesk, tag: str) -> HTMLResponse:
    """A core as taken in, found and measured, every part judged, and a form for the next reading."""
    return core_page(request, desk, tag, {}, [])


def core_page(
    request: Request, desk: Desk, tag: str, filled: dict[str, str], findings: list[str], at: str = "reading"
) -> HTMLResponse:
    """The page of one core, with what was filled in and what is wrong with it. `at`: which of its forms was sent."""
    bench = Bench(desk)
    try:
        record = bench.record(tag)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    try:
        judged = bench.inspect(tag)
        seats = [(d.seat, d.part) for d in judged.decisions]
    except SpoolwrightError:
        judged, seats = None, [(seat, part) for seat, part, _state in record.found]
    return page(
        request,
        desk,
        "core.html",
        status=422 if findings else 200,
        posting=True,
        record=record,
        judged=judged,
        outcomes=OUTCOMES,
        seats=seats,
        features=desk.catalogue.features,
        instruments=sorted({one.name for one in bench.instruments()}),
        filled=filled if at == "reading" else {},
        found=filled if at == "found" else {},
        findings=findings,
        at=at,
        states=STATES,
        held=Photos(request.app.state.current.store().ledger).held(record.photos),
        keep=_("Core %(tag)s") % {"tag": record.tag},
        identify_href="/identify?" + urlencode({"core": record.tag}),
        reach_href="/reach?" + urlencode({"core": record.tag}),
        builds=[b for b in desk.catalogue.builds if not judged or b.layout == desk.shelf.core(record.tag).layout],
        today=today(),
    )


@router.post("/core/{tag}/readings")
async def read(request: Request, desk: CurrentDesk, tag: str) -> Response:
    """Write a reading down and show the core with it; what is wrong with it is said, and nothing typed is lost."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        try:
            author = guard.writer(request, form, "bench")
            cells = {name: form.get(name, "").strip() for name in READING if form.get(name, "").strip()}
            made = writer.enter_reading(
                request.app.state.current.store(), {**cells, "tag": tag}, author=author, time=now()
            )
        except SpoolwrightError as error:
            return core_page(request, desk, tag, form, [f"{error.message}. {error.fix}".strip(". ")])
        if made.faulty:
            return core_page(request, desk, tag, form, guard.told(made.findings))
        seat = cells.get("seat", "")
        return RedirectResponse(f"/core/{tag}#seat-{seat}", 303)

    return await run_in_threadpool(work)
