"""`/v1/shop`: the shop's own figures and labour rates, which its papers take where nothing else is typed in."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.current import CurrentDesk, CurrentStore
from api.schemas import Asked, Day
from api.versions import Expected, etag
from api.writing import WRITE_PROBLEMS, SignWrite, WriteRoute, now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.figures import shop_figures
from graph.model.figures import Figure, HourlyRate, ShopFigures
from graph.publish.figuring import figure_key

router = APIRouter(prefix="/v1/shop", tags=["shop figures"], responses=WRITE_PROBLEMS, route_class=WriteRoute)
Text = Annotated[str, Field(max_length=2000)]
Sort = Annotated[str, Query(max_length=20, description="credit, sublet, tax, validity or warranty")]
Of = Annotated[str, Query(max_length=200, description="credit: the grade; sublet: the operation; else empty")]


class FigureAsked(Asked):
    """The one value that the figure has, as a person writes it; none: nothing is set from that day on."""

    percent: str = Field("", max_length=60, description="credit: of the deposit; tax: of the sum")
    price: str = Field("", max_length=60, description="sublet, as `120.50`")
    currency: str = Field("", pattern="^([A-Z]{3})?$")
    days: int | None = Field(None, ge=1, le=100_000, description="validity, warranty")
    as_of: Day = Field("", description="the day from which it holds; empty: today")
    note: Text = ""
    author: str = Field("", max_length=200)


class RateAsked(Asked):
    """What an hour costs, as a person writes it."""

    per_hour: str = Field(min_length=1, max_length=60)
    currency: str = Field(pattern="^[A-Z]{3}$")
    note: Text = ""
    author: str = Field("", max_length=200)


@router.get("/figures")
def get_figures(desk: CurrentDesk, day: Annotated[Day, Query(description="Empty: as said last")] = "") -> ShopFigures:
    """The figures that hold on a day, by sort and what they are of, and the labour rates, by name; each with who
    said it and its version."""
    return shop_figures(desk, day)


@router.put("/figures")
def put_figure(
    asked: FigureAsked,
    store: CurrentStore,
    write: SignWrite,
    seen: Expected,
    response: Response,
    figure: Sort,
    of: Of = "",
) -> Figure:
    """Say what a figure is from a day on; earlier ones stay on record and hold for earlier days. If-Match: the
    version of what was said before; If-None-Match `*`: nothing was."""
    author = write.author(asked.author)
    cells = {name: str(value) for name, value in asked.model_dump(exclude={"author"}).items() if value is not None}
    key = figure_key(figure, of)

    def there() -> list[Figure]:
        return [f for f in shop_figures(Desk.over(store)).figures if (f.figure, f.of) == key]

    def version() -> int:
        return seen.version(lambda: [f.version for f in there()])

    write.once(
        lambda: writer.put_figure(store, figure, of, cells, version=version(), author=author, time=now()).sound()
    )
    told = there()[0]
    response.headers["ETag"] = etag(told.version)
    return told


@router.put("/rates")
def put_rate(
    asked: RateAsked,
    store: CurrentStore,
    write: SignWrite,
    seen: Expected,
    response: Response,
    name: Annotated[str, Query(min_length=1, max_length=200, description="As operations name it; `shop`: the usual")],
) -> HourlyRate:
    """Say what an hour of labour costs; every plan asked from now on reckons with it. If-Match as for a figure."""
    author = write.author(asked.author)
    cells = asked.model_dump(exclude={"author"})
    bare = " ".join(name.split())

    def there() -> list[HourlyRate]:
        return [r for r in shop_figures(Desk.over(store)).rates if r.name == bare]

    def version() -> int:
        return seen.version(lambda: [r.version for r in there()])

    write.once(lambda: writer.put_rate(store, name, cells, version=version(), author=author, time=now()).sound())
    told = there()[0]
    response.headers["ETag"] = etag(told.version)
    return told
