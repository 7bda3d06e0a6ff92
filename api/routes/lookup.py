"""`/v1`: looking things up by name."""

from dataclasses import fields

from fastapi import APIRouter, Query, Response
from pydantic import TypeAdapter

from api.current import CurrentDesk, today
from api.documented import PROBLEMS, forms
from api.http.forms import MEDIA
from api.http.listing import table
from api.schemas import Day, Form
from graph.model.codec import to_json
from graph.model.shown import Found, Hit, Shown

FOUND = TypeAdapter(Found)
router = APIRouter(prefix="/v1", tags=["look up"], responses=PROBLEMS)


@router.get("/search", response_class=Response, responses=forms("What was found, best first", Found, "csv", "xlsx"))
def search(
    desk: CurrentDesk,
    q: str = Query(min_length=1, max_length=200),
    limit: int = Query(20, ge=1, le=200),
    format: Form = "json",
) -> Response:
    """Parts, units, engines, builds, machines and cores whose number or name is like `q`, best first."""
    found = desk.find(q, limit=limit)
    if format != "json":
        more = "not all: ask for more (`limit`), or by a longer piece" if found.truncated else ""
        return table([one.name for one in fields(Hit)], to_json(found.hits), format, more)
    return Response(FOUND.dump_json(found), media_type=MEDIA["json"])


@router.get("/show")
def show(desk: CurrentDesk, name: str = Query(min_length=1, max_length=200), as_of: Day = "") -> Shown:
    """All that is known of one thing, with every claim, its source and rank."""
    return desk.show(name, day=as_of or today())
