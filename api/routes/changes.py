"""`/v1`: change sets in the making: staged, added to, checked, committed, dropped; and taking one back."""

import json
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import Field

from api.checked import ChangeCheck, checked
from api.current import CurrentStore
from api.schemas import Asked, Name
from api.versions import Expectable, Expected, Seen, etag
from api.writing import WRITE_PROBLEMS, EditWrite, SignWrite, Write, WriteRoute, now, unkept
from graph import publish as writer
from graph.errors import BadFile, BadQuestion
from graph.index.store import Store
from graph.ledger.chain import ChangeSet
from graph.ledger.staging import Staged, Staging
from graph.model.sheet import BY_NAME

router = APIRouter(
    prefix="/v1", tags=["changes"], responses=WRITE_PROBLEMS, route_class=WriteRoute, dependencies=[Depends(unkept)]
)
By = Annotated[str, Query(max_length=200, description="Who does this, where no key comes along")]
Cell = Annotated[str, Field(max_length=32_767)]
RowId = Annotated[str, Field(pattern=r"^s[0-9a-f]{24}$")]

FORMS: Final = {
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet": "xlsx",
    "text/csv": "csv",
    "application/zip": "zip",
    "text/turtle": "ttl",
    "application/n-quads": "nq",
    "application/ld+json": "jsonld",
}
FILE: Final = {
    "requestBody": {
        "description": "A workbook, one sheet as CSV, a zip of such sheets, or RDF",
        "content": {media: {"schema": {"type": "string", "format": "binary"}} for media in FORMS},
        "required": True,
    }
}


class ChangeAsked(Asked):
    """A change set to be put together; `title` says what it is about."""

    title: Name
    author: str = Field("", max_length=200)


class RowsAsked(Asked):
    """Rows of one sheet, each cell as a person writes it: `{"price": "120.50", "currency": "EUR"}`."""

    sheet: Name
    rows: list[dict[Name, Cell]] = Field(min_length=1, max_length=10_000)
    author: str = Field("", max_length=200)


class BackAsked(Asked):
    """Rows that are to be taken back, by the ids that claims carry; why belongs into the change's title."""

    rows: list[RowId] = Field(min_length=1, max_length=10_000)
    author: str = Field("", max_length=200)


class CommitAsked(Asked):
    """The version of the change that was checked; with `set_aside` its faulty rows are left out, else none may be."""

    version: int = Field(ge=1, le=10**15)
    set_aside: bool = False
    author: str = Field("", max_length=200)


class UndoAsked(Asked):
    """Who takes it back."""

    author: str = Field("", max_length=200)


class Head(Asked):
    """The last change set."""

    n: int
    hash: str


class Committed(Asked):
    """What came of it; `change_set` is empty where every row was known already."""

    change_set: ChangeSet | None
    unchanged: int
    catalogue: str


@router.get("/head")
def head(store: CurrentStore, response: Response) -> Head:
    """The last change set; its ETag goes with a commit or an undo as If-Match."""
    with store.ledger.reading() as reading:
        last = reading.head()
    response.headers["ETag"] = etag(last.n)
    return Head(n=last.n, hash=last.hash)


@router.get("/changes")
def list_changes(
    store: CurrentStore,
    state: Annotated[str, Query(pattern="^(open|committed|dropped)?$", description="Empty: all")] = "",
) -> list[Staged]:
    """Change sets in the making, and what became of earlier ones, newest first; without their items."""
    return list(Staging(store.ledger).all(state))


@router.post("/changes", status_code=201)
def begin_change(asked: ChangeAsked, store: CurrentStore, write: EditWrite, response: Response) -> Staged:
    """Begin a change set."""
    staging, author = Staging(store.ledger), write.author(asked.author)
    made = write.once(lambda: staging.make(asked.title, by=author, time=now()))
    # A retry whose answer got lost finds its change: it is the newest open one of this title and author.
    made = made or next(s for s in staging.all() if (s.title, s.made_by) == (asked.title.strip(), author))
    response.headers["Location"] = f"/v1/changes/{made.id}"
    return _told(made, response)


@router.get("/changes/{change}")
def get_change(change: str, store: CurrentStore, response: Response) -> Staged:
    """A change set in the making with its items; the ETag is its version."""
    return _told(Staging(store.ledger).get(change), response)


@router.post("/changes/{change}/rows", status_code=201)
def add_rows(
    change: str, asked: RowsAsked, store: CurrentStore, write: EditWrite, seen: Expectable, response: Response
) -> Staged:
    """Add rows of one sheet. What they say is looked at when the whole is checked. If-Match, where it is sent: the
    change's version."""
    if asked.sheet not in BY_NAME:
        raise BadQuestion(f"there is no sheet {asked.sheet!r}", fix=f"sheets: {', '.join(BY_NAME)}")
    author, body = write.author(asked.author), json.dumps(asked.rows).encode()
    return _added(store, write, seen, (change, "rows", asked.sheet, body), author, response)


@router.post("/changes/{change}/back", status_code=201)
def take_back(
    change: str, asked: BackAsked, store: CurrentStore, write: EditWrite, seen: Expectable, response: Response
) -> Staged:
    """Take claims and edges back, by their rows' ids; that others may rest on a row is a finding of the check.
    If-Match as for rows."""
    author, body = write.author(asked.author), json.dumps(asked.rows).encode()
    return _added(store, write, seen, (change, "back", "", body), author, response)


async def _body(request: Request) -> bytes:
    return await request.body()


@router.post("/changes/{change}/files", status_code=201, openapi_extra=FILE)
def add_file(
    change: str,
    request: Request,
    data: Annotated[bytes, Depends(_body)],
    store: CurrentStore,
    write: EditWrite,
    seen: Expectable,
    response: Response,
    name: Annotated[str, Query(max_length=200, description="What findings call it; a CSV file's is its sheet")] = "",
    author: By = "",
) -> Staged:
    """Add a file as it is, by its Content-Type: a workbook, CSV, a zip of CSV files, Turtle, N-Quads or JSON-LD.
    If-Match as for rows."""
    media = request.headers.get("content-type", "").partition(";")[0].strip().casefold()
    form = FORMS.get(media)
    if form is None:
        raise BadFile(f"{media or 'a file without Content-Type'} is not read here", fix=f"send {', '.join(FORMS)}")
    if not data:
        raise BadFile("the file is empty", fix="send it as the body")
    return _added(store, write, seen, (change, form, name or f"file.{form}", data), write.author(author), response)


@router.delete("/changes/{change}/items/{number}")
def remove_item(
    change: str,
    number: Annotated[int, Path(ge=1, le=10**9)],
    store: CurrentStore,
    write: EditWrite,
    seen: Expectable,
    response: Response,
    author: By = "",
) -> Staged:
    """Take one item out again. If-Match as for rows."""
    write.author(author)
    staging = Staging(store.ledger)
    write.once(lambda: staging.remove(change, number, version=_version(seen, staging, change)))
    return _told(staging.get(change), response)


@router.delete("/changes/{change}")
def drop_change(
    change: str, store: CurrentStore, write: EditWrite, seen: Expectable, response: Response, author: By = ""
) -> Staged:
    """Give a change up. It stays on record without its items. If-Match as for rows."""
    by, staging = write.author(author), Staging(store.ledger)
    write.once(lambda: staging.drop(change, by=by, time=now(), version=_version(seen, staging, change)))
    return _told(staging.get(change), response)


@router.post("/changes/{change}/check")
def check_change(
    change: str,
    store: CurrentStore,
    _write: EditWrite,
    response: Response,
    questions: Annotated[bool, Query(description="Also what comes and goes, and which answers turn")] = True,
    set_aside: Annotated[
        bool, Query(description="As if faulty rows, and those that rest on them, were left out")
    ] = False,
    seconds: Annotated[float, Query(gt=0, le=120, description="How long answers are asked before and after")] = 20.0,
) -> ChangeCheck:
    """Every fault, all at once; what would come and go, and which answers would turn; nothing is published."""
    found = checked(store, change, set_aside=set_aside, questions=questions, seconds=seconds)
    response.headers["ETag"] = etag(found.head)
    return found


@router.post("/changes/{change}/commit")
def commit_change(
    change: str, asked: CommitAsked, store: CurrentStore, write: SignWrite, seen: Expected, response: Response
) -> Committed:
    """Check it once more and publish it, all or nothing. If-Match: the last change set, as the check's ETag says."""
    author = write.author(asked.author)
    done = write.once(
        lambda: writer.commit_staged(
            store, change, asked.version, head=_stood(seen, store), author=author, time=now(),
            set_aside=asked.set_aside,
        )
    )  # fmt: skip
    if done is None:
        number = Staging(store.ledger).get(change).n
        with store.ledger.reading() as reading:
            made = reading.change_set(number) if number else None
        return Committed(change_set=made, unchanged=0, catalogue=store.catalogue().id)
    return _committed(done, response)


@router.post("/history/{n}/undo")
def undo_change_set(
    n: Annotated[int, Path(ge=1, le=10**9)],
    asked: UndoAsked,
    store: CurrentStore,
    write: SignWrite,
    seen: Expected,
    response: Response,
) -> Committed:
    """Take change set `n` back by a new one that reverses it. If-Match: the last change set."""
    author = write.author(asked.author)
    done = write.once(lambda: writer.undo(store, n, author=author, time=now(), head=_stood(seen, store)))
    if done is None:
        with store.ledger.reading() as reading:
            undone = [c for c in reading.history(n) if (c.title, c.author) == (f"undo of {n}", author)]
        made = undone[-1] if undone else None
        return Committed(change_set=made, unchanged=0, catalogue=store.catalogue().id)
    return _committed(done, response)


def _added(
    store: Store, write: Write, seen: Seen, item: tuple[str, str, str, bytes], author: str, response: Response
) -> Staged:
    """The change with one more item: the change's id, the item's form, name and bytes."""
    staging, change = Staging(store.ledger), item[0]
    write.once(lambda: staging.add(*item, by=author, time=now(), version=_version(seen, staging, change)))
    return _told(staging.get(change), response)


def _version(seen: Seen, staging: Staging, change: str) -> int | None:
    return seen.version_if_said(lambda: [staging.get(change).version])


def _stood(seen: Seen, store: Store) -> int:
    """The last change set on which a commit or an undo rests."""

    def last() -> list[int]:
        with store.ledger.reading() as reading:
            return [reading.head().n]

    return seen.version(last)


def _told(staged: Staged, response: Response) -> Staged:
    response.headers["ETag"] = etag(staged.version)
    return staged


def _committed(done: writer.Published, response: Response) -> Committed:
    if done.change_set:
        response.headers["ETag"] = etag(done.change_set.n)
    return Committed(change_set=done.change_set, unchanged=done.unchanged, catalogue=done.catalogue)
