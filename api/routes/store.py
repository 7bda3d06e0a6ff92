"""`/v1`: what was published when, and checking a file without publishing it."""

from fastapi import APIRouter, Query

from api.current import CurrentDesk
from api.documented import PROBLEMS
from graph.ledger.chain import ChangeSet
from graph.ledger.reading import Difference
from graph.model.record import Snapshot

router = APIRouter(prefix="/v1", tags=["store"], responses=PROBLEMS)


@router.get("/snapshot")
def snapshot(desk: CurrentDesk) -> Snapshot:
    """Both clocks: the catalogue's id and the shelf's number. Every answer carries them."""
    return desk.snapshot


@router.get("/history")
def history(desk: CurrentDesk) -> list[ChangeSet]:
    """All change sets, newest first."""
    return list(desk.history())


@router.get("/diff")
def diff(desk: CurrentDesk, a: int = Query(ge=0), b: int = Query(ge=0)) -> list[Difference]:
    """What was asserted and retracted between two versions."""
    return list(desk.diff(a, b))
