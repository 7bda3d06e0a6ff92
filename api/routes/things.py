"""`/v1`: every thing at an address of its own, and lists of them a page at a time; `/id/…` leads to them."""

from typing import Annotated, Any
from urllib.parse import quote, unquote

from fastapi import APIRouter, Path, Query, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import TypeAdapter

from api.current import CurrentDesk, today
from api.documented import PROBLEMS, forms
from api.http.forms import MEDIA
from api.http.listing import RDF, Listing, many_of, one_of, rows, table
from api.http.paging import elsewhere, key_of
from api.schemas import Day, Form
from api.text.leading import supersession_table
from api.work import PART
from graph.desk import Desk
from graph.desk.things import Things
from graph.errors import NotFound
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
from graph.model.statement import subject
from graph.model.things import MachineRecord, PartAnswer, PartRecord, RowAnswer, SupersessionAnswer

router = APIRouter(prefix="/v1", tags=["things"], responses=PROBLEMS)
names = APIRouter(tags=["things"])
Named = Annotated[str, Path(max_length=200)]
Maker = Annotated[str, Query(max_length=200)]
Filter = Annotated[str, Query(max_length=200)]
ROWS = TypeAdapter(list[RowAnswer])


def _key(request: Request, type_: str, *decoded: str) -> str:
    """The key of the thing in the address; a slash inside a name is told apart where the server can."""
    raw: bytes = request.scope.get("raw_path", b"") or b""
    tail = raw.partition(b"?")[0].split(b"/")[3:]
    if len(tail) == len(decoded):
        return subject(type_, *(unquote(piece.decode("ascii", "replace")) for piece in tail))
    return subject(type_, *decoded)


# Parts, units, engines, machines


@router.get("/parts", response_class=Response, responses=many_of(PartRecord))
async def list_parts(
    asked: Listing,
    kind: Annotated[str, Query(max_length=200, description="Of this kind or one below it")] = "",
    maker: Maker = "",
) -> Response:
    """Component parts with their claims, by maker, then number."""
    found = Things(asked.desk).parts(asked.name, asked.most, kind=kind, maker=maker)
    return asked.listed(PartRecord, found, lambda part: part.key)


@router.get("/parts/{maker}/{number:path}", response_class=Response, responses=one_of(PartAnswer))
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
        return rows(Things(desk).rows(key), format)
    found = Things(desk).part(key, shelf=shelf, day=(day or today()) if shelf else "")
    return Response(PART.dump_json(found), media_type=MEDIA["json"])


@router.get("/units", response_class=Response, responses=many_of(Unit))
def list_units(asked: Listing, maker: Maker = "") -> Response:
    """Complete units with the part in each seat, by maker, then number."""
    return asked.listed(Unit, Things(asked.desk).units(asked.name, asked.most, maker=maker), lambda unit: unit.key)


@router.get("/units/{maker}/{number:path}", response_class=Response, responses=one_of(Shown))
def get_unit(request: Request, maker: Named, number: Named, desk: CurrentDesk, format: Form = "json") -> Response:
    """One unit: its parts, where it was fitted, what it usually dies of."""
    return _shown(desk, _key(request, "unit", maker, number), format)


@router.get("/engines", response_class=Response, responses=many_of(Engine))
def list_engines(asked: Listing, maker: Maker = "") -> Response:
    """Engines with their side of the joints, by maker, then name."""
    found = Things(asked.desk).engines(asked.name, asked.most, maker=maker)
    return asked.listed(Engine, found, lambda engine: engine.key)


@router.get("/engines/{maker}/{name:path}", response_class=Response, responses=one_of(Shown))
def get_engine(request: Request, maker: Named, name: Named, desk: CurrentDesk, format: Form = "json") -> Response:
    """One engine: its side of the joints, machines and factory units."""
    return _shown(desk, _key(request, "engine", maker, name), format)


def _shown(desk: Desk, key: str, form: str) -> Response:
    if form != "json":
        return rows(Things(desk).rows(key), form)
    return Response(TypeAdapter(Shown).dump_json(Things(desk).shown(key)), media_type=MEDIA["json"])


@router.get("/machines", response_class=Response, responses=many_of(MachineRecord))
def list_machines(asked: Listing, maker: Maker = "") -> Response:
    """Machines that fitments name, by maker, then name."""
    found = Things(asked.desk).machines(asked.name, asked.most, maker=maker)
    return asked.listed(MachineRecord, found, lambda machine: machine.key)


@router.get("/machines/{maker}/{name:path}", response_class=Response, responses=one_of(Shown))
def get_machine(request: Request, maker: Named, name: Named, desk: CurrentDesk, format: Form = "json") -> Response:
    """One machine: its engines over years or serials, and their units."""
    return _shown(desk, _key(request, "machine", maker, name), format)


@router.get("/fitments", response_class=Response, responses=many_of(Fitment))
def list_fitments(asked: Listing, engine: Filter = "", unit: Filter = "") -> Response:
    """Which engine sat in which machine with which unit, of one engine or unit or of all; by engine."""
    things = Things(asked.desk)
    if not (engine or unit):
        read = things.fitments(_place(asked.after), asked.most)
        return asked.page(Fitment, read, lambda one: [one[0], one[1].said], lambda one: one[1])
    start = key_of(asked.after)
    if start is not None and not isinstance(start, int):
        raise elsewhere()
    found = enumerate(things.fitments_of(engine, unit))
    left = [one for one in found if start is None or one[0] > start][: asked.most]
    return asked.page(Fitment, left, lambda one: one[0], lambda one: one[1])


def _place(after: str) -> tuple[int, str]:
    match key_of(after):
        case None:
            return (-1, "")
        case [int(thing), str(id_)]:
            return (thing, id_)
        case _:
            raise elsewhere()


@router.get("/cores", response_class=Response, responses=many_of(Core))
def list_cores(asked: Listing) -> Response:
    """The cores on the shelf as built and as found, by tag."""
    return asked.listed(Core, Things(asked.desk).cores(asked.name, asked.most), lambda core: core.tag)


# What there is few of: builds, sources, operations, kinds, features, layouts


def _small(type_: str, model: Any, told: str) -> None:
    def listed(asked: Listing) -> Response:
        found = [one for one in Things(asked.desk).small(type_) if one.name > asked.name][: asked.most]
        return asked.listed(model, found, lambda one: one.name)

    def one(name: Named, desk: CurrentDesk, format: Form = "json") -> Response:
        things = Things(desk)
        if format != "json":
            return rows(things.rows(subject(type_, name)), format)
        found = TypeAdapter(model).dump_json(things.one_small(type_, name))
        return Response(found, media_type=MEDIA["json"])

    listed.__name__, one.__name__ = f"list_{type_}s", f"get_{type_}"
    listed.__doc__, one.__doc__ = f"{told}, by name.", f"{told}: the one of that name."
    router.get(f"/{type_}s", response_class=Response, responses=many_of(model))(listed)
    router.get(f"/{type_}s/{{name:path}}", response_class=Response, responses=one_of(model))(one)


_small("build", Build, "What is wanted of an engine's unit, with its demands")
_small("source", Source, "Who says what is said here")
_small("operation", Operation, "What the shop can do, services included")
_small("kind", Kind, "Kinds of part")
_small("feature", Feature, "Features that parts, units and engines have")
_small("layout", Layout, "Seats, joints and fit rules")


# Claims and numbers


@router.get("/claims", response_class=Response, responses=one_of(list[RowAnswer], "The rows"))
def list_claims(
    desk: CurrentDesk,
    about: Annotated[str, Query(min_length=1, max_length=500, description="The key of a thing, as `part/MAKER/NO`")],
    feature: Filter = "",
    format: Form = "json",
) -> Response:
    """Every row that speaks of a thing, with who said it; by sheet, then id."""
    things = Things(desk)
    if format != "json":
        return rows(things.told(about, feature), format)
    return Response(ROWS.dump_json(list(things.claims(about, feature))), media_type=MEDIA["json"])


@router.get("/claims/{row}", response_class=Response, responses=forms("The row", RowAnswer, *RDF))
def get_claim(
    row: Annotated[str, Path(pattern=r"^s[0-9a-f]{24}$")], desk: CurrentDesk, format: Form = "json"
) -> Response:
    """One row by its id, with the change sets between which it counted."""
    found = Things(desk).row(row)
    if format != "json":
        return rows([h.statement for h in desk.shelf.known(row)][-1:], format)
    return Response(TypeAdapter(RowAnswer).dump_json(found), media_type=MEDIA["json"])


@router.get(
    "/supersession",
    response_class=Response,
    responses=one_of(SupersessionAnswer, "Where it leads; or the rows that say so"),
)
def get_supersession(
    desk: CurrentDesk,
    part: Annotated[str, Query(min_length=1, max_length=200)],
    day: Day = "",
    format: Form = "json",
) -> Response:
    """Where a part's number leads on a day, and what else leads on under a condition."""
    things = Things(desk)
    found = things.supersession(things.part_key(part), day or today())
    if format in RDF:
        return rows(things.saying((one.old, one.said) for one in found.all), format)
    if format != "json":
        return table(*supersession_table(found), format, found.sentence)
    return Response(TypeAdapter(SupersessionAnswer).dump_json(found), media_type=MEDIA["json"])


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
