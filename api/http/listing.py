"""Records, lists of them a page at a time, and the rows behind them, as responses in the form asked for."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Query, Request, Response
from pydantic import TypeAdapter

from api.current import CurrentDesk
from api.documented import forms
from api.http.forms import MEDIA
from api.http.paging import MOST, After, Limit, Page, cut, elsewhere, following, key_of, linked, more, text_key
from api.schemas import Form
from api.tables import table_csv, table_xlsx
from graph.desk import Desk
from graph.model.codec import to_json
from graph.model.statement import Statement

T = TypeVar("T")
RDF = ("jsonld", "ttl", "nt", "nq")
Documented = dict[int | str, dict[str, Any]]


def one_of(model: Any, description: str = "The record; or the rows that speak of it") -> Documented:
    """How a thing at an address of its own stands in the document: JSON, RDF, tables."""
    return forms(f"{description}, as RDF or as a table", model, *RDF, "csv", "xlsx")


def many_of(model: Any) -> Documented:
    """How a list stands there: JSON and tables."""
    return forms("One page; the field `Link` leads to the next", Page[model], "csv", "xlsx")


@dataclass(frozen=True, slots=True)
class Asked:
    """One page of a list, as it was asked for."""

    request: Request
    desk: Desk
    limit: int
    after: str
    form: str

    @property
    def most(self) -> int:
        """How many to read: one more than are given, which tells whether there are more."""
        return self.limit + 1

    @property
    def name(self) -> str:
        """The key that the page begins after, where keys are texts.

        Raises
        ------
        BadHeader
            It is none of this list's.
        """
        return text_key(self.after)

    @property
    def pair(self) -> tuple[str, str] | None:
        """The same where keys are of two texts; None for the first page.

        Raises
        ------
        BadHeader
            It is none of this list's.
        """
        match key_of(self.after):
            case None:
                return None
            case [str(one), str(other)]:
                return one, other
            case _:
                raise elsewhere()

    def page(self, model: type, found: Sequence[T], key: Callable[[T], Any], told: Callable[[T], Any]) -> Response:
        """What was read (`most` of it) in the form asked for; tables say on their last line that there is more.

        `key`: the place of one, for the next page; `told`: the record of it.
        """
        items, truncated = cut(found, self.limit)
        next_ = following(self.request, key(items[-1])) if truncated else ""
        flat = [to_json(told(item)) for item in items]
        if self.form == "json":
            page = Page[Any](items=flat, truncated=truncated, next=next_, snapshot=self.desk.snapshot)
            response = Response(page.model_dump_json(), media_type=MEDIA["json"])
        else:
            columns = [one.name for one in fields(model)]
            response = table(columns, flat, self.form, f"not all: the next page is {next_}" if truncated else "")
        linked(self.request, response, next_)
        return response

    def listed(self, model: type, found: Sequence[T], key: Callable[[T], str]) -> Response:
        """The same of the records themselves."""
        return self.page(model, found, key, lambda one: one)


async def _asked(
    request: Request, desk: CurrentDesk, limit: Limit = 100, after: After = "", format: Form = "json"
) -> Asked:
    return Asked(request, desk, limit, after, format)


Listing = Annotated[Asked, Depends(_asked)]
"""What a route takes that gives a list: the page, its form, the desk."""


@dataclass(frozen=True, slots=True)
class Whole:
    """A list of which all is given unless `limit` is sent, as it was asked for."""

    request: Request
    limit: int
    after: str
    form: str

    def told(self, model: type, found: Sequence[T], key: Callable[[T], list[str]]) -> Response:
        """What was found, which stands in the order of its keys, in the form asked for; JSON is the list alone.

        Raises
        ------
        BadHeader
            `after` is none of this list's.
        """
        start = key_of(self.after)
        if start is not None and not (isinstance(start, list) and all(isinstance(one, str) for one in start)):
            raise elsewhere()
        left = [one for one in found if start is None or key(one) > start]
        items, truncated = cut(left, self.limit) if self.limit else (left, False)
        next_ = following(self.request, key(items[-1])) if truncated else ""
        flat = [to_json(one) for one in items]
        if self.form == "json":
            response = Response(TypeAdapter(list[Any]).dump_json(flat), media_type=MEDIA["json"])
        else:
            columns = [one.name for one in fields(model)]
            response = table(columns, flat, self.form, f"not all: the next page is {next_}" if truncated else "")
        if truncated:
            more(self.request, response, next_)
        return response


async def _whole(
    request: Request,
    limit: Annotated[int, Query(ge=0, le=MOST, description="At most so many; 0: all")] = 0,
    after: After = "",
    format: Form = "json",
) -> Whole:
    return Whole(request, limit, after, format)


Wholly = Annotated[Whole, Depends(_whole)]
"""What a route takes that gives all of a list, or a page of it where that is asked."""


def all_of(model: Any) -> Documented:
    """How such a list stands in the document."""
    return forms("The list; with `limit` a page, and the field `Link` leads to the next", list[model], "csv", "xlsx")


def rows(statements: Sequence[Statement], form: str) -> Response:
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
    return table(list(columns), flat, form)


def _text(value: Any) -> Any:
    """A value as it was written, with its unit."""
    if isinstance(value, dict):
        return f"{value.get('text', '')} {value.get('unit', '')}".strip()
    return "|".join(map(str, value)) if isinstance(value, list) else value


def table(columns: Sequence[str], cells: Sequence[dict[str, Any]], form: str, last: str = "") -> Response:
    """A table as CSV or as a workbook; `last` stands below it."""
    make = table_xlsx if form == "xlsx" else table_csv
    media = MEDIA[form] + ("; charset=utf-8" if form == "csv" else "")
    return Response(make(columns, cells, last), media_type=media)
