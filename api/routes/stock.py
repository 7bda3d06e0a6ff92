"""`/v1`: stock by part and place, prices, and what is promised to jobs."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.current import CurrentDesk, CurrentStore, today
from api.http.listing import Listing, many_of
from api.schemas import Asked, Day, Name
from api.versions import Expected, etag
from api.writing import WRITE_PROBLEMS, StockWrite, WriteRoute, now
from graph import publish as writer
from graph.desk import Desk
from graph.desk import jobs as looking
from graph.desk.yard import Yard, release_rows
from graph.errors import BadQuestion, NotFound
from graph.index.store import Store
from graph.model.jobs import PriceRecord, StockLine, StockRecord
from graph.model.yard import Promise

router = APIRouter(prefix="/v1", tags=["stock"], responses=WRITE_PROBLEMS, route_class=WriteRoute)
Part = Annotated[str, Query(min_length=1, max_length=200, description="The part, with or without its maker")]
Condition = Annotated[str, Query(pattern="^(new|used)$")]
Text = Annotated[str, Field(max_length=2000)]


class StockAsked(Asked):
    """How many are there now; not how many more."""

    quantity: int = Field(ge=0, le=10**9)
    author: str = Field("", max_length=200)


class PriceAsked(Asked):
    """A price as a person writes it: `120.50`, its currency, the day from which it holds."""

    price: Name
    currency: str = Field(pattern="^[A-Z]{3}$")
    as_of: str = Field(pattern=r"^\d{4}-\d{2}-\d{2}$")
    deposit: Text = ""
    lead_days: int | None = Field(None, ge=0, le=10_000)
    note: Text = ""
    author: str = Field("", max_length=200)


class PromiseAsked(Asked):
    """What is promised: a core (`tag`), the part in one of its seats (`tag`, `seat`), or parts out of stock."""

    job: Name
    tag: str = Field("", max_length=200)
    seat: str = Field("", max_length=200)
    part: str = Field("", max_length=200)
    quantity: int = Field(1, ge=1, le=10**6)
    until: Day = Field("", description="the last day on which it holds; empty: until it is released")
    note: Text = ""
    author: str = Field("", max_length=200)


@router.get("/stock")
def get_stock(desk: CurrentDesk, part: Part) -> StockRecord:
    """What is on hand of a part, by place, each with its version, and how many are promised to jobs."""
    return looking.stock(desk, part, today())


@router.get("/shelf/stock", response_class=Response, responses=many_of(StockLine))
def list_stock(asked: Listing) -> Response:
    """What is on hand of all parts, by part, then place; each line with its version."""
    found = looking.stock_lines(asked.desk, asked.pair, asked.most)
    return asked.page(StockLine, found, lambda one: one[0], lambda one: one[1])


@router.get("/shelf/prices", response_class=Response, responses=many_of(PriceRecord))
def list_prices(asked: Listing) -> Response:
    """What all parts cost, as was said last, by part, then condition; each line with its version."""
    found = looking.price_lines(asked.desk, asked.pair, asked.most)
    return asked.page(PriceRecord, found, lambda one: one[0], lambda one: one[1])


@router.put("/stock")
def put_stock(
    asked: StockAsked,
    desk: CurrentDesk,
    store: CurrentStore,
    write: StockWrite,
    seen: Expected,
    response: Response,
    part: Part,
    place: Annotated[str, Query(max_length=200)] = "",
) -> StockRecord:
    """Say how many are at a place. If-Match: the version of what was there; If-None-Match `*`: nothing was."""
    found, author, place = looking.part_named(desk, part), write.author(asked.author), place.strip()

    def version() -> int:
        return seen.version(lambda: [p.version for p in looking.stock(desk, part).places if p.place == place])

    write.once(
        lambda: writer.put_stock(
            store, (found.maker, found.name), place, asked.quantity, version=version(), author=author, time=now()
        ).sound()
    )
    told = looking.stock(Desk.over(store), part, today())
    response.headers["ETag"] = etag(next(p.version for p in told.places if p.place == place))
    return told


@router.get("/prices")
def get_prices(desk: CurrentDesk, part: Part) -> list[PriceRecord]:
    """What a part costs, new and used, as was said last, each with its version."""
    return list(looking.prices(desk, part))


@router.put("/prices")
def put_price(
    asked: PriceAsked,
    desk: CurrentDesk,
    store: CurrentStore,
    write: StockWrite,
    seen: Expected,
    response: Response,
    part: Part,
    condition: Condition = "new",
) -> PriceRecord:
    """Say what a part costs; earlier prices stay on record and hold for earlier days. If-Match as for stock."""
    found, author = looking.part_named(desk, part), write.author(asked.author)
    cells = {
        name: str(value)
        for name, value in asked.model_dump(exclude={"author"}).items()
        if value is not None and value != ""
    }

    def version() -> int:
        return seen.version(lambda: [p.version for p in looking.prices(desk, part) if p.condition == condition])

    write.once(
        lambda: writer.put_price(
            store, (found.maker, found.name), condition, cells, version=version(), author=author, time=now()
        ).sound()
    )
    told = next(p for p in looking.prices(Desk.over(store), part) if p.condition == condition)
    response.headers["ETag"] = etag(told.version)
    return told


@router.post("/reservations", status_code=201)
def add_promise(asked: PromiseAsked, desk: CurrentDesk, store: CurrentStore, write: StockWrite) -> list[Promise]:
    """Promise something to a job; what is promised to it already stays. Refused where it is not free."""
    author = write.author(asked.author)
    cells = {"job": asked.job, "tag": asked.tag, "seat": asked.seat, "until": asked.until, "note": asked.note}
    cells["who"] = author
    if asked.until and asked.until < now()[:10]:
        raise BadQuestion(f"until {asked.until} is over", fix="name a later day, or none")
    if asked.part:
        found = looking.part_named(desk, asked.part)
        cells |= {"maker": found.maker, "number": found.name, "quantity": str(asked.quantity)}
    write.once(lambda: writer.promise(store, cells, author=author, time=now()).sound())
    return _promised(store, asked.job)


@router.delete("/reservations")
def release_promises(
    desk: CurrentDesk,
    store: CurrentStore,
    write: StockWrite,
    job: Annotated[str, Query(min_length=1, max_length=200)],
    author: Annotated[str, Query(max_length=200)] = "",
) -> list[Promise]:
    """Promise nothing to this job any more; what is left promised to others comes back."""
    by = write.author(author)
    if not write.again:
        rows = release_rows(Yard(desk), [job], now()[:10])
        write.once(lambda: writer.record(store, rows, author=by, time=now(), title=f"released: {job}"))
    return _promised(store, "")


def _promised(store: Store, job: str) -> list[Promise]:
    found = [p for p in Yard(Desk.over(store)).promised(today()) if not job or p.job == job]
    if job and not found:
        raise NotFound(f"nothing is promised to {job!r}", fix="the list of promises shows what is")
    return found
