"""Taking a core in, what was found in its seats, and its photos."""

from typing import Any, Final
from urllib.parse import quote

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from api.current import CurrentDesk
from api.pages import guard
from api.pages.bench import core_page
from api.pages.frame import _, form_of, page, trouble
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.bench import Bench
from graph.errors import BadQuestion, NotFound, SpoolwrightError
from graph.ledger.photos import Photos
from graph.photograph import LARGEST

router = APIRouter()
CELLS: Final = ("tag", "received", "customer", "plate", "serial", "grade", "place", "deposit", "currency")


@router.get("/intake")
def intake(request: Request, desk: CurrentDesk) -> HTMLResponse:
    """A form for a core that comes in."""
    return _intake(request, desk, {}, [])


def _intake(request: Request, desk: Desk, filled: dict[str, str], findings: list[str]) -> HTMLResponse:
    return page(
        request,
        desk,
        "intake.html",
        status=422 if findings else 200,
        posting=True,
        filled=filled,
        findings=findings,
        currency=Bench(desk).currency,
    )


@router.post("/intake")
async def take_in(request: Request, desk: CurrentDesk) -> Response:
    """Take a core in, checked like a workbook's row; what is wrong is said, and nothing typed is lost."""
    form, sent = await _sent(request)

    def work() -> Response:
        try:
            author = guard.writer(request, form, "bench")
            cells = {name: form.get(name, "").strip() for name in CELLS if form.get(name, "").strip()}
            if not cells.get("deposit"):
                cells.pop("currency", None)
            if form.get("unit", "").strip():
                cells["as_built_maker"], cells["as_built_unit"] = Bench(desk).unit_named(form["unit"])
            cells |= {name: "yes" for name in ("own", "may_donate") if form.get(name)}
            if not cells.get("tag"):
                raise BadQuestion(_("the core has no tag"), fix=_("write the number on its tag"))
            made = writer.enter_core_with_photo(
                request.app.state.current.store(), cells, sent, author=author, time=now()
            )
        except SpoolwrightError as error:
            return _intake(request, desk, form, [said(error)])
        if made.faulty:
            return _intake(request, desk, form, guard.told(made.findings))
        return RedirectResponse(_core_address(cells["tag"]), 303)

    return await run_in_threadpool(work)


@router.post("/core/{tag}/found")
async def found(request: Request, desk: CurrentDesk, tag: str) -> Response:
    """Write down what was found in a seat: its state, and the part where it is another."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        try:
            author = guard.writer(request, form, "bench")
            cells = {name: form.get(name, "").strip() for name in ("seat", "state", "note")}
            if form.get("part", "").strip():
                cells["part_maker"], cells["part_number"] = Bench(desk).part_named(form["part"])
            made = writer.enter_found(
                request.app.state.current.store(), {**cells, "tag": tag}, author=author, time=now()
            )
        except SpoolwrightError as error:
            return core_page(request, desk, tag, form, [said(error)], "found")
        if made.faulty:
            return core_page(request, desk, tag, form, guard.told(made.findings), "found")
        return RedirectResponse(f"{_core_address(tag)}#seat-{cells['seat']}", 303)

    return await run_in_threadpool(work)


@router.post("/core/{tag}/photos")
async def add_photo(request: Request, desk: CurrentDesk, tag: str) -> Response:
    """Put a photo to a core. Place, time and owner that the camera wrote into it are left out."""
    form, sent = await _sent(request)

    def work() -> Response:
        try:
            author = guard.writer(request, form, "bench")
            if not sent:
                raise BadQuestion(_("no photo was sent"), fix=_("choose a photo, then send it"))
            store = request.app.state.current.store()
            known = Bench(desk).record(tag).tag
            made = writer.add_photo(store, known, sent, author=author, time=now())
        except SpoolwrightError as error:
            return core_page(request, desk, tag, form, [said(error)], "photo")
        if made.faulty:
            return core_page(request, desk, tag, form, guard.told(made.findings), "photo")
        return RedirectResponse(f"{_core_address(tag)}#photos", 303)

    return await run_in_threadpool(work)


@router.get("/core/{tag}/photos/{name}/off")
def photo_off(request: Request, desk: CurrentDesk, tag: str, name: str) -> HTMLResponse:
    """The photo once more, and the question whether it is to come off the core."""
    return _photo_off(request, desk, tag, name, {}, "")


def _photo_off(request: Request, desk: Desk, tag: str, name: str, filled: dict[str, str], wrong: str) -> HTMLResponse:
    try:
        record = Bench(desk).record(tag)
        held = Photos(request.app.state.current.store().ledger).held(record.photos)
        shown = [one for one in record.photos if one in held]
        if name not in shown:
            raise NotFound(
                _("core %(tag)s has no photo %(name)s") % {"tag": record.tag, "name": name},
                fix=_("look at the core's photos again"),
            )
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "photo.html",
        status=422 if wrong else 200,
        posting=True,
        tag=record.tag,
        name=name,
        number=shown.index(name) + 1,
        back=f"{_core_address(record.tag)}#photos",
        filled=filled,
        wrong=wrong,
    )


@router.post("/core/{tag}/photos/{name}/off")
async def take_photo_off(request: Request, desk: CurrentDesk, tag: str, name: str) -> Response:
    """Take the photo off the core; the history keeps who did."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        try:
            author = guard.writer(request, form, "bench")
            known = Bench(desk).record(tag).tag
            writer.remove_photo(request.app.state.current.store(), known, name, author=author, time=now())
        except SpoolwrightError as error:
            return _photo_off(request, desk, tag, name, form, said(error))
        return RedirectResponse(f"{_core_address(known)}#photos", 303)

    return await run_in_threadpool(work)


@router.get("/photo/{name}")
def photo(request: Request, desk: CurrentDesk, name: str) -> Response:
    """A photo's bytes; they never change under this name."""
    try:
        data = Photos(request.app.state.current.store().ledger).photo(name)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    media = "image/png" if name.endswith(".png") else "image/jpeg"
    return Response(data, media_type=media, headers={"Cache-Control": "private, max-age=31536000, immutable"})


async def _sent(request: Request) -> tuple[dict[str, str], bytes]:
    """The form's texts, and the bytes of its photo, one more than may be at most."""
    async with request.form(max_files=1, max_fields=40) as read:
        pairs: list[tuple[str, Any]] = read.multi_items()
        files = [value for _name, value in pairs if isinstance(value, UploadFile)]
        return form_of(pairs), await files[0].read(LARGEST + 1) if files else b""


def said(error: SpoolwrightError) -> str:
    """An error as one line beside a form."""
    return f"{error.message}. {error.fix}".strip(". ")


def _core_address(tag: str) -> str:
    return "/core/" + quote(tag, safe="")
