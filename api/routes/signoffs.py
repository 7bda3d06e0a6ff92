"""`/v1/sign-offs`: the records of a plan's route sheet, signed one by one."""

from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field

from api.current import CurrentDesk, CurrentStore, today
from api.routes.sheets import Wishes
from api.schemas import Asked, Day
from api.sheets import SheetAsked, Sheets, as_shown
from api.versions import Expected, Seen, etag
from api.writing import WRITE_PROBLEMS, SignWrite, WriteRoute, now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.signing import signing
from graph.errors import NotFound
from graph.model.routing import RouteSheet
from graph.model.signing import SignedRecord, Signing

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


@dataclass(frozen=True, slots=True)
class Place:
    """One record of a plan's sheet, as a request names it."""

    desk: Desk
    sheet: RouteSheet
    code: str

    def version(self, seen: Seen) -> int:
        """The version on which a change of the record rests."""
        return seen.version(lambda: [one.version for one in self._record(self._signed(self.desk)) if one.version])

    def told(self, desk: Desk, response: Response) -> Signing:
        """The sheet's records with this one alone, and its version as the ETag."""
        told = self._signed(desk)
        records = self._record(told)
        if not records:
            raise NotFound(f"this sheet has no record {self.code!r}", fix="the list of sign-offs names its records")
        response.headers["ETag"] = etag(records[0].version)
        return replace(told, records=records)

    def _signed(self, desk: Desk) -> Signing:
        return signing(desk, self.sheet, self.sheet.core)

    def _record(self, told: Signing) -> tuple[SignedRecord, ...]:
        return tuple(one for one in told.records if one.code == self.code)


def place(request: Request, desk: CurrentDesk, asked: Wanted, record: str) -> Place:
    """The record that is looked at or changed."""
    return Place(desk, _sheet(request, desk, asked), record)


Here = Annotated[Place, Depends(place)]


@router.get("")
def get_sign_offs(request: Request, desk: CurrentDesk, asked: Wanted) -> Signing:
    """The records that must be whole before the unit goes out: fields, who signed what, the version of each, and why
    the unit may not go out yet."""
    sheet = _sheet(request, desk, asked)
    return signing(desk, sheet, sheet.core)


@router.get("/{record}")
def get_sign_off(here: Here, response: Response) -> Signing:
    """The same with one record alone; the ETag is its version."""
    return here.told(here.desk, response)


@router.put("/{record}")
def put_sign_off(
    here: Here, store: CurrentStore, write: SignWrite, seen: Expected, said: SignAsked, response: Response
) -> Signing:
    """Sign a record: every field filled and within what the sheet allows. `sheet` says which sheet was looked at; if
    it is another one by now, nothing is signed (412). If-Match: the record's version; If-None-Match `*`: nothing was
    written into it yet."""
    author = write.author(said.author)
    if not write.again:
        as_shown(here.sheet, said.sheet)
    write.once(
        lambda: writer.sign(
            store, here.sheet, here.sheet.core, here.code, said.fields,
            version=here.version(seen), stood=here.desk.shelf.n, author=author, time=now(),
        )
    )  # fmt: skip
    return here.told(Desk.over(store), response)


@router.delete("/{record}")
def delete_sign_off(
    here: Here,
    store: CurrentStore,
    write: SignWrite,
    seen: Expected,
    response: Response,
    author: Annotated[str, Query(max_length=200)] = "",
) -> Signing:
    """Take a signature back; what was written stays in the history. If-Match: the record's version."""
    by = write.author(author)
    write.once(
        lambda: writer.take_back(
            store, here.sheet, here.sheet.core, here.code, version=here.version(seen), author=by, time=now()
        )
    )
    return here.told(Desk.over(store), response)


def _sheet(request: Request, desk: Desk, asked: SheetAsked) -> RouteSheet:
    kept: Sheets = request.app.state.sheets
    return kept.get(desk, asked)
