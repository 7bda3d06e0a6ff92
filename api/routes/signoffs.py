"""`/v1/sign-offs`: the records of a plan's route sheet, signed one by one."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field

from api.current import CurrentDesk, CurrentStore, today
from api.routes.sheets import Wishes
from api.schemas import Asked, Day
from api.sheets import SheetAsked, Sheets, as_shown
from api.writing import WRITE_PROBLEMS, Expected, SignWrite, WriteRoute, etag, now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.signing import signing
from graph.errors import NotFound
from graph.model.routing import RouteSheet
from graph.model.signing import Signing

router = APIRouter(prefix="/v1/sign-offs", tags=["sign-offs"], responses=WRITE_PROBLEMS, route_class=WriteRoute)
Name = Annotated[str, Query(max_length=200)]
Mark = Annotated[str, Field(min_length=1, max_length=64, description="`sheet` of the answer that was looked at")]
Entry = Annotated[str, Field(max_length=200)]
Record = Annotated[str, Field(description="The code of a record of the sheet")]


class SignAsked(Asked):
    """What is written into a record's fields, by their names; who signs and when is filled in here."""

    sheet: Mark
    fields: dict[str, Entry] = Field(default_factory=dict, max_length=200)
    author: str = Field("", max_length=200)


def wanted(
    core: Name,
    build: Name,
    engine: Name = "",
    plan: Annotated[int, Query(ge=1, le=20)] = 1,
    wish: Wishes = (),
    as_of: Annotated[Day, Query()] = "",
) -> SheetAsked:
    """The plan whose sheet is signed."""
    return SheetAsked(core, build, engine, plan, as_of or today(), tuple(wish))


Wanted = Annotated[SheetAsked, Depends(wanted)]


@router.get("")
def get_sign_offs(request: Request, desk: CurrentDesk, asked: Wanted) -> Signing:
    """The records that must be whole before the unit goes out: fields, who signed what, the version of each, and why
    the unit may not go out yet."""
    return _told(desk, _sheet(request, desk, asked))


@router.get("/{record}")
def get_sign_off(request: Request, desk: CurrentDesk, asked: Wanted, record: str, response: Response) -> Signing:
    """The same with one record alone; the ETag is its version."""
    return _alone(_told(desk, _sheet(request, desk, asked)), record, response)


@router.put("/{record}")
def put_sign_off(
    request: Request,
    desk: CurrentDesk,
    store: CurrentStore,
    write: SignWrite,
    asked: Wanted,
    version: Expected,
    record: str,
    said: SignAsked,
    response: Response,
) -> Signing:
    """Sign a record: every field filled and within what the sheet allows. `sheet` says which sheet was looked at; if
    it is another one by now, nothing is signed (412). If-Match: the record's version; If-None-Match `*`: nothing was
    written into it yet."""
    author = write.author(said.author)
    sheet = _sheet(request, desk, asked)
    if not write.again:
        as_shown(sheet, said.sheet)
    write.once(
        lambda: writer.sign(
            store, sheet, sheet.core, record, said.fields,
            version=version, stood=desk.shelf.n, author=author, time=now(),
        )
    )  # fmt: skip
    return _alone(_told(Desk.over(store), sheet), record, response)


@router.delete("/{record}")
def delete_sign_off(
    request: Request,
    desk: CurrentDesk,
    store: CurrentStore,
    write: SignWrite,
    asked: Wanted,
    version: Expected,
    record: str,
    response: Response,
    author: Annotated[str, Query(max_length=200)] = "",
) -> Signing:
    """Take a signature back; what was written stays in the history. If-Match: the record's version."""
    by = write.author(author)
    sheet = _sheet(request, desk, asked)
    write.once(lambda: writer.take_back(store, sheet, sheet.core, record, version=version, author=by, time=now()))
    return _alone(_told(Desk.over(store), sheet), record, response)


def _sheet(request: Request, desk: Desk, asked: SheetAsked) -> RouteSheet:
    kept: Sheets = request.app.state.sheets
    return kept.get(desk, asked)


def _told(desk: Desk, sheet: RouteSheet) -> Signing:
    return signing(desk, sheet, sheet.core)


def _alone(told: Signing, code: str, response: Response) -> Signing:
    records = tuple(record for record in told.records if record.code == code)
    if not records:
        raise NotFound(f"this sheet has no record {code!r}", fix="the list of sign-offs names its records")
    response.headers["ETag"] = etag(records[0].version)
    return Signing(told.core, told.plan, told.sheet, records, told.refusals)
