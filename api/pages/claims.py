"""One statement at an address of its own, put right or taken back; and a claim added with its source.

Nothing is published here: each form begins a change set, whose page shows what it would do.
"""

import json
from typing import Final

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.pages import guard, twice
from api.pages.asking import address, thing_page
from api.pages.changes import said, stage
from api.pages.frame import _, form_of, page, trouble
from api.pages.preview import texts, with_units
from api.pages.uploads import Part
from api.words import named, spoken
from graph import publish as writer
from graph.desk import Desk
from graph.errors import BadQuestion, NotFound, SpoolwrightError
from graph.ledger.reading import Held
from graph.model.sheet import BY_NAME, EVIDENCE, Column, Sheet
from graph.model.statement import Statement, subject

router = APIRouter()
CELLS: Final = ("feature", "value", "unit", "tolerance", "source", "note")
SHEETS: Final = {"part": ("values", "number"), "unit": ("unit_values", "unit"), "engine": ("engine_values", "engine")}
NAMED: Final = {
    "values": "part", "parts": "part", "unit_values": "unit", "units": "unit", "engine_values": "engine",
    "engines": "engine", "supersession": "part", "interchange": "part",
}  # fmt: skip
"""What the first two cells of a row's key name."""


@router.post("/claims")
async def claim(request: Request, desk: CurrentDesk) -> Response:
    """Begin a change set with one claim, checked like a workbook's row; a fault is said and nothing typed is lost."""
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
            faults = _faults(request, sheet, cells)
            if faults:
                return thing_page(request, desk, named(key), today(), form, faults)
            title = _("%(what)s of %(of)s") % {"what": spoken(form.get("feature", "")), "of": f"{maker} {name}"}
            return twice.once(request, form, lambda: stage(request, [_rows(sheet, cells)], title, author))
        except SpoolwrightError as error:
            return thing_page(request, desk, named(key), today(), form, [said(error)])

    return await run_in_threadpool(work)


def _faults(request: Request, sheet: str, cells: dict[str, str]) -> list[str]:
    found = writer.check_rows(request.app.state.current.store(), sheet, [cells])
    return guard.told(f for f in found if f.severity == "error")


def _rows(sheet: str, cells: dict[str, str]) -> Part:
    return Part("rows", sheet, json.dumps([cells]).encode())


def _back(id_: str) -> Part:
    return Part("back", "", json.dumps([id_]).encode())


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


@router.get("/statement/{id_}")
def statement(request: Request, desk: CurrentDesk, id_: str) -> Response:
    """One row as it is on record: what it says, who wrote it when, and forms to put it right or take it back."""
    return _shown(request, desk, id_, {}, [])


def _held(desk: Desk, id_: str) -> Held:
    found = desk.shelf.known(id_) if len(id_) < 100 else ()
    if not found:
        raise NotFound(f"there is no statement {id_!r}", fix=_("open it from an answer or from the history"))
    return found[-1]


def _shown(request: Request, desk: Desk, id_: str, filled: dict[str, str], faults: list[str]) -> Response:
    try:
        held = _held(desk, id_)
        with request.app.state.current.store().ledger.reading() as reading:
            came = reading.change_set(held.from_n)
            went = reading.change_set(held.to_n) if held.to_n and held.to_n <= desk.snapshot.shelf else None
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    sheet, cells = BY_NAME[held.statement.sheet], texts(held.statement)
    told = with_units(sheet.name, cells)
    about = subject(NAMED[sheet.name], *held.statement.key[:2]) if sheet.name in NAMED else ""
    core = held.statement.key[0] if sheet.key[0] == "tag" else ""
    return page(
        request,
        desk,
        "statement.html",
        status=422 if faults else 200,
        posting=True,
        id=id_,
        held=held.statement,
        sheet=sheet,
        cells=cells,
        came=came,
        went=went,
        about=named(about),
        about_href=address("/thing", name=named(about)) if about else f"/core/{core}" if core else "",
        core=core,
        named_cells=[(name, cells[name]) for name in sheet.key if cells.get(name)],
        said_cells=[(c.name, told[c.name]) for c in _open(sheet) if told.get(c.name)],
        fields=_open(sheet),
        ranked=sheet.settled == "ranked",
        takes_back=sheet.name in writer.TAKEN_BACK,
        sources_on_record=desk.catalogue.sources,
        filled=filled or {"date": today()},
        faults=faults,
        once=twice.mark(),
    )


def _open(sheet: Sheet) -> list[Column]:
    """The columns of a row that may be put right: all but its key, then who says so."""
    own = [column for column in sheet.columns if not column.key]
    return own + [column for column in EVIDENCE if sheet.column(column.name) is None and not column.key]


@router.post("/statement/{id_}")
async def mend(request: Request, desk: CurrentDesk, id_: str) -> Response:
    """Put a row right, add a newer word of its source, or take it back (`way`), by a change set that begins here."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        try:
            author = guard.writer(request, form, "edit")
            held = _held(desk, id_)
            if held.to_n is not None:
                raise BadQuestion(_("this row does not hold any more"), fix=_("look at what took its place"))
            return _mended(request, desk, held.statement, form, author)
        except SpoolwrightError as error:
            return _shown(request, desk, id_, form, [said(error)])

    return await run_in_threadpool(work)


def _mended(request: Request, desk: Desk, held: Statement, form: dict[str, str], author: str) -> Response:
    sheet, way = BY_NAME[held.sheet], form.get("way", "")
    what = " ".join(spoken(text) if sheet.key[at] == "feature" else text for at, text in enumerate(held.key) if text)
    if way == "back":
        if sheet.name not in writer.TAKEN_BACK:
            raise BadQuestion(_("other rows may rest on this one"), fix=_("put it right instead"))
        title = _("%(what)s taken back") % {"what": what}
        why = form.get("why", "").strip()
        title += f": {why}" if why else ""
        return twice.once(request, form, lambda: stage(request, [_back(held.id)], title, author))
    cells = {name: text for name, text in texts(held).items() if name in sheet.key}
    for column in _open(sheet):
        cells[column.name] = form.get(f"cell-{column.name}", "").strip()
    cells = {name: text for name, text in cells.items() if text}
    if sheet.settled == "ranked" and not cells.get("source"):
        raise BadQuestion(_("a claim without a source counts for nothing"), fix=_("choose who says so"))
    later = cells.get("source", "") == held.evidence.source and cells.get("date", "") > held.evidence.date
    if way == "newer" and sheet.name == "readings" and not (later and _same_reader(held, cells)):
        raise BadQuestion(
            _("a newer reading is by the same person with the same instrument, of a later time"),
            fix=_("write another person's reading down at the core: it stands beside this one"),
        )
    if way == "newer" and not later:
        raise BadQuestion(
            _("a newer word is of the same source and of a later day"), fix=_("change the date, or put it right")
        )
    faults = _faults(request, held.sheet, cells)
    if faults:
        return _shown(request, desk, held.id, form, faults)
    parts = [_rows(held.sheet, cells)]
    if way == "wrong" and sheet.settled == "ranked":
        parts.insert(0, _back(held.id))
    title = _("%(what)s put right") % {"what": what} if way == "wrong" else _("%(what)s, newer") % {"what": what}
    return twice.once(request, form, lambda: stage(request, parts, title, author))


def _same_reader(held: Statement, cells: dict[str, str]) -> bool:
    """Whether the cells are the held reading's own reader's, with the same instrument."""
    same = all(cells.get(name, "") == str(held.fields.get(name, "")) for name in ("who", "instrument"))
    return same and bool(cells.get("who"))
