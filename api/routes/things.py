"""`/v1`: every thing at an address of its own, and lists of them a page at a time; `/id/…` leads to them."""

from collections.abc import Callable, Sequence
from typing import Annotated, Any, TypeVar
from urllib.parse import quote, unquote

from fastapi import APIRouter, Path, Query, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import TypeAdapter

from api.current import CurrentDesk, today
from api.documented import PROBLEMS, forms
from api.http.forms import MEDIA
from api.http.paging import After, Limit, Page, cut, following, key_of, linked, text_key
from api.http.refusals import BadHeader
from api.schemas import Day, Form
from api.tables import table_csv, table_xlsx
from api.work import PART
from graph.desk import Desk
from graph.desk.things import Things
from graph.errors import NotFound
from graph.model.codec import to_json
from graph.model.record import (
    Build,
    Core,
    Engine,
    Feature,
    Fitment,
    Kind,
    Layout,
    Operation,
    Source,
    Unit,
)
from graph.model.shown import Shown
from graph.model.statement import Statement, subject
from graph.model.things import PartAnswer, PartRecord, RowAnswer, SupersessionAnswer

T = TypeVar("T")
router = APIRouter(prefix="/v1", tags=["things"], responses=PROBLEMS)
names = APIRouter(tags=["things"])
RDF = ("jsonld", "ttl", "nt", "nq")
Named = Annotated[str, Path(max_length=200)]


def _one(model: Any) -> dict[int | str, dict[str, Any]]:
    return forms("The record; or the rows that speak of it, as RDF or as a table", model, *RDF, "csv", "xlsx")


def _many(model: Any) -> dict[int | str, dict[str, Any]]:
    return forms("One page; the field `Link` leads to the next", Page[model], "csv", "xlsx")


def rows_response(statements: Sequence[Statement], form: str) -> Response:
    """Rows as RDF, or as a table with the columns of all their sheets."""
    if form in RDF:
        # rdflib comes with the writer and costs a second to import, which every question would wait for.
        from graph.triples import serialise  # noqa: PLC0415

        return Response(b"".join(serialise(statements, MEDIA[form])), media_type=MEDIA[form])
    columns: dict[str, None] = dict.fromkeys(("sheet", "id"))
    flat = []
    for said in statements:
        cells = {name: _text(value) for name, value in said.fields.items()}
        evidence = said.content()["evidence"]
        flat.append({"sheet": said.sheet, "id": said.id, **cells, **evidence})
        columns |= dict.fromkeys(cells)
    columns |= dict.fromkeys(("source", "rank", "date", "note"))
    return _table(list(columns), flat, form)


def _text(value: Any) -> Any:
    """A value as it was written, with its unit."""
    if isinstance(value, dict):
        return f"{value.get('text', '')} {value.get('unit', '')}".strip()
    return "|".join(map(str, value)) if isinstance(value, list) else value


def _table(columns: Sequence[str], rows: Sequence[dict[str, Any]], form: str, last: str = "") -> Response:
    make = table_xlsx if form == "xlsx" else table_csv
    media = MEDIA[form] + ("; charset=utf-8" if form == "csv" else "")
    return Response(make(columns, rows, last), media_type=media)


def _listed(
    request: Request, desk: Desk, found: Sequence[T], limit: int, key: Callable[[T], Any], form: str
) -> Response:
    """One page in the form asked for; tables say on their last line that there is more."""
    items, truncated = cut(found, limit)
    next_ = following(request, key(items[-1])) if truncated else ""
    flat = [to_json(item) for item in items]
    if form == "json":
        page = Page[Any](items=flat, truncated=truncated, next=next_, snapshot=desk.snapshot)
        response = Response(page.model_dump_json(), media_type=MEDIA["json"])
    else:
        columns = list(flat[0]) if flat else []
        response = _table(columns, flat, form, f"not all: the next page is {next_}" if truncated else "")
    linked(request, response, next_)
    return response


def _key(request: Request, type_: str, *decoded: str) -> str:
    """The key of the thing in the address; a slash inside a name is told apart where the server can."""
    raw: bytes = request.scope.get("raw_path", b"") or b""
    tail = raw.partition(b"?")[0].split(b"/")[3:]
    if len(tail) == len(decoded):
        return subject(type_, *(unquote(piece.decode("ascii", "replace")) for piece in tail))
    return subject(type_, *decoded)


# Parts, units, engines, machines


@router.get("/parts", response_class=Response, responses=_many(PartRecord))
async def list_parts(
    request: Request,
    desk: CurrentDesk,
    kind: Annotated[str, Query(max_length=200, description="Of this kind or one below it")] = "",
    maker: Annotated[str, Query(max_length=200)] = "",
    limit: Limit = 100,
    after: After = "",
    format: Form = "json",
) -> Response:
    """Component parts with their claims, by maker, then number."""
    found = Things(desk).parts(text_key(after), limit + 1, kind=kind, maker=maker)
    return _listed(request, desk, found, limit, lambda part: part.key, format)


@router.get("/parts/{maker}/{number:path}", response_class=Response, responses=_one(PartAnswer))
async def get_part(
    request: Request,
    maker: Named,
    number: Named,
    desk: CurrentDesk,
    shelf: Annotated[bool, Query(description="With what is on hand and what it costs, read live")] = False,
    day: Day = "",
    format: Form = "json",
) -> Response:
    """One part: every claim on it, what counts of them, and what it is joined to."""
    key = _key(request, "part", maker, number)
    if format != "json":
        return rows_response(Things(desk).rows(key), format)
    found = Things(desk).part(key, shelf=shelf, day=(day or today()) if shelf else "")
    return Response(PART.dump_json(found), media_type=MEDIA["json"])


@router.get("/units", response_class=Response, responses=_many(Unit))
def list_units(
    request: Request,
    desk: CurrentDesk,
    maker: Annotated[str, Query(max_length=200)] = "",
    limit: Limit = 100,
    after: After = "",
    format: Form = "json",
) -> Response:
    """Complete units with the part in each seat, by maker, then number."""
    found = Things(desk).units(text_key(after), limit + 1, maker=maker)
    return _listed(request, desk, found, limit, lambda unit: unit.key, format)


@router.get("/units/{maker}/{number:path}", response_class=Response, responses=_one(Shown))
def get_unit(request: Request, maker: Named, number: Named, desk: CurrentDesk, format: Form = "json") -> Response:
    """One unit: its parts, where it was fitted, what it usually dies of."""
    return _shown(desk, _key(request, "unit", maker, number), format)


@router.get("/engines", response_class=Response, responses=_many(Engine))
def list_engines(
    request: Request,
    desk: CurrentDesk,
    maker: Annotated[str, Query(max_length=200)] = "",
    limit: Limit = 100,
    after: After = "",
    format: Form = "json",
) -> Response:
    """Engines with their side of the joints, by maker, then name."""
    found = Things(desk).engines(text_key(after), limit + 1, maker=maker)
    return _listed(request, desk, found, limit, lambda engine: engine.key, format)


@router.get("/engines/{maker}/{name:path}", response_class=Response, responses=_one(Shown))
def get_engine(request: Request, maker: Named, name: Named, desk: CurrentDesk, format: Form = "json") -> Response:
    """One engine: its side of the joints, machines and factory units."""
    return _shown(desk, _key(request, "engine", maker, name), format)


def _shown(desk: Desk, key: str, form: str) -> Response:
    if form != "json":
        return rows_response(Things(desk).rows(key), form)
    return Response(TypeAdapter(Shown).dump_json(Things(desk).shown(key)), media_type=MEDIA["json"])


@router.get("/machines/{maker}/{name:path}")
def get_machine(request: Request, maker: Named, name: Named, desk: CurrentDesk) -> Shown:
    """One machine: its engines over years or serials, and their units."""
    return Things(desk).shown(_key(request, "machine", maker, name))


@router.get("/fitments", response_class=Response, responses=_many(Fitment))
def list_fitments(
    request: Request,
    desk: CurrentDesk,
    engine: Annotated[str, Query(max_length=200)] = "",
    unit: Annotated[str, Query(max_length=200)] = "",
    limit: Limit = 100,
    after: After = "",
    format: Form = "json",
) -> Response:
    """Which engine sat in which machine with which unit, of one engine or unit or of all; by engine."""
    things = Things(desk)
    if engine or unit:
        found = list(enumerate(things.fitments_of(engine, unit)))
        start = key_of(after)
        if start is not None and not isinstance(start, int):
            raise BadHeader("`after` is not where a page of this list ended", fix="take `next` as it was given")
        left = [one for one in found if start is None or one[0] > start][: limit + 1]
        items, truncated = cut(left, limit)
        last: Any = items[-1][0] if items else None
    else:
        read = things.fitments(_place(after), limit + 1)
        items, truncated = cut(read, limit)
        last = [items[-1][0], items[-1][1].said] if items else None
    next_ = following(request, last) if truncated else ""
    flat = [to_json(fitment) for _, fitment in items]
    if format == "json":
        page = Page[Any](items=flat, truncated=truncated, next=next_, snapshot=desk.snapshot)
        response = Response(page.model_dump_json(), media_type=MEDIA["json"])
    else:
        response = _table(list(flat[0]) if flat else [], flat, format, f"not all: {next_}" if truncated else "")
    linked(request, response, next_)
    return response


def _place(after: str) -> tuple[int, str]:
    match key_of(after):
        case None:
            return (-1, "")
        case [int(thing), str(id_)]:
            return (thing, id_)
        case _:
            raise BadHeader("`after` is not where a page of this list ended", fix="take `next` as it was given")


@router.get("/cores", response_class=Response, responses=_many(Core))
def list_cores(
    request: Request, desk: CurrentDesk, limit: Limit = 100, after: After = "", format: Form = "json"
) -> Response:
    """The cores on the shelf as built and as found, by tag."""
    return _listed(request, desk, Things(desk).cores(text_key(after), limit + 1), limit, lambda c: c.tag, format)


# What there is few of: builds, sources, operations, kinds, features, layouts


def _small(type_: str, model: Any, told: str) -> None:
    def listed(
        request: Request, desk: CurrentDesk, limit: Limit = 100, after: After = "", format: Form = "json"
    ) -> Response:
        beyond = text_key(after)
        found = [one for one in Things(desk).small(type_) if one.name > beyond][: limit + 1]
        return _listed(request, desk, found, limit, lambda one: one.name, format)

    def one(name: Named, desk: CurrentDesk, format: Form = "json") -> Response:
        things = Things(desk)
        if format != "json":
            return rows_response(things.rows(subject(type_, name)), format)
        found = TypeAdapter(model).dump_json(things.one_small(type_, name))
        return Response(found, media_type=MEDIA["json"])

    listed.__name__, one.__name__ = f"list_{type_}s", f"get_{type_}"
    listed.__doc__, one.__doc__ = f"{told}, by name.", f"{told}: the one of that name."
    router.get(f"/{type_}s", response_class=Response, responses=_many(model))(listed)
    router.get(f"/{type_}s/{{name:path}}", response_class=Response, responses=_one(model))(one)


_small("build", Build, "What is wanted of an engine's unit, with its demands")
_small("source", Source, "Who says what is said here")
_small("operation", Operation, "What the shop can do, services included")
_small("kind", Kind, "Kinds of part")
_small("feature", Feature, "Features that parts, units and engines have")
_small("layout", Layout, "Seats, joints and fit rules")


# Claims and numbers


@router.get("/claims")
def list_claims(
    desk: CurrentDesk,
    about: Annotated[str, Query(min_length=1, max_length=500, description="The key of a thing, as `part/MAKER/NO`")],
    feature: Annotated[str, Query(max_length=200)] = "",
) -> list[RowAnswer]:
    """Every row that speaks of a thing, with who said it; by sheet, then id."""
    return list(Things(desk).claims(about, feature))


@router.get("/claims/{row}", response_class=Response, responses=forms("The row", RowAnswer, *RDF))
def get_claim(
    row: Annotated[str, Path(pattern=r"^s[0-9a-f]{24}$")], desk: CurrentDesk, format: Form = "json"
) -> Response:
    """One row by its id, with the change sets between which it counted."""
    found = Things(desk).row(row)
    if format != "json":
        return rows_response([h.statement for h in desk.shelf.known(row)][-1:], format)
    return Response(TypeAdapter(RowAnswer).dump_json(found), media_type=MEDIA["json"])


@router.get("/supersession")
def get_supersession(
    desk: CurrentDesk, part: Annotated[str, Query(min_length=1, max_length=200)], day: Day = ""
) -> SupersessionAnswer:
    """Where a part's number leads on a day, and what else leads on under a condition."""
    return Things(desk).supersession(Things(desk).part_key(part), day or today())


# Names


LEADS = {
    **{type_: f"/v1/{type_}s/" for type_ in ("part", "unit", "engine", "machine", "core")},
    **{type_: f"/v1/{type_}s/" for type_ in ("build", "source", "operation", "kind", "feature", "layout")},
    "statement": "/v1/claims/",
}


@names.get(
    "/id/{type}/{key:path}",
    status_code=303,
    response_class=RedirectResponse,
    responses={404: PROBLEMS[404], 405: PROBLEMS[405], 422: PROBLEMS[422], 429: PROBLEMS[429]},
)
def resolve(request: Request, type: str, key: str) -> RedirectResponse:
    """Where a thing's name leads: to what is known of it, in whatever form the asker accepts there."""
    lead = LEADS.get(type)
    if lead is None:
        raise NotFound(f"names of the type {type!r} lead nowhere", fix=f"types that do: {', '.join(LEADS)}")
    raw: bytes = request.scope.get("raw_path", b"") or quote(f"/id/{type}/{key}").encode()
    tail = raw.partition(b"?")[0].split(b"/", 3)[3].decode("ascii", "replace")
    query = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(lead + tail + query, 303, headers={"Vary": "Accept"})
