"""Adding a claim about a part, a turbocharger or an engine by form, with its source."""

from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.pages import guard
from api.pages.asking import thing_page
from api.pages.frame import _, form_of, trouble
from api.words import named
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.errors import BadQuestion, SpoolwrightError

router = APIRouter()
CELLS: Final = ("feature", "value", "unit", "tolerance", "source", "note")
SHEETS: Final = {"part": ("values", "number"), "unit": ("unit_values", "unit"), "engine": ("engine_values", "engine")}


@router.post("/claims")
async def claim(request: Request, desk: CurrentDesk) -> Response:
    """Publish one claim, checked like a workbook's row; a fault is said and nothing typed is lost."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        key = form.get("key", "")
        try:
            kind, maker, name = _thing(desk, key)
        except SpoolwrightError as error:
            return trouble(request, desk, error)
        sheet, column = SHEETS[kind]
        try:
            author = guard.writer(request, form, "edit")
            if not form.get("source", "").strip():
                raise BadQuestion(_("a claim without a source counts for nothing"), fix=_("choose who says so"))
            cells = {cell: form.get(cell, "").strip() for cell in CELLS if form.get(cell, "").strip()}
            cells |= {"maker": maker, column: name, "date": today()}
            title = f"{form.get('feature', '')} of {maker} {name}"
            made = writer.enter(
                request.app.state.current.store(), sheet, [cells], author=author, time=now(), title=title
            )
        except SpoolwrightError as error:
            return thing_page(request, desk, named(key), today(), form, [f"{error.message}. {error.fix}".strip(". ")])
        if made.faulty:
            return thing_page(request, desk, named(key), today(), form, guard.told(made.findings))
        return RedirectResponse("/thing?" + urlencode({"name": named(key)}), 303)

    return await run_in_threadpool(work)


def _thing(desk: Desk, key: str) -> tuple[str, str, str]:
    """Kind, maker and name of what the key stands for.

    Raises
    ------
    NotFound, BadQuestion
        No such thing, or none that claims are made about.
    """
    kind = key.partition("/")[0]
    if kind == "part":
        part = desk.catalogue.part(key)
        return kind, part.maker, part.number
    if kind == "unit":
        unit = desk.catalogue.unit(key)
        return kind, unit.maker, unit.name
    if kind == "engine":
        engine = desk.catalogue.engine(key)
        return kind, engine.maker, engine.name
    raise BadQuestion(_("no claims are made about this"), fix=_("name a part, a turbocharger or an engine"))
