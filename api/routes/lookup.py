"""`/v1`: looking things up by name."""

from fastapi import APIRouter, Query

from api.current import CurrentDesk, today
from api.documented import PROBLEMS
from graph.model.shown import Found, Shown

router = APIRouter(prefix="/v1", tags=["look up"], responses=PROBLEMS)


@router.get("/search")
def search(
    desk: CurrentDesk, q: str = Query(min_length=1, max_length=200), limit: int = Query(20, ge=1, le=200)
) -> Found:
    """Parts, units, engines, builds, machines and cores whose number or name is like `q`, best first."""
    return desk.find(q, limit=limit)


@router.get("/show")
def show(desk: CurrentDesk, name: str = Query(min_length=1, max_length=200), as_of: str = "") -> Shown:
    """All that is known of one thing, with every claim, its source and rank."""
    return desk.show(name, day=as_of or today())
