"""`/v1`: the snapshot, what was published when, and all that holds as one stream."""

from collections.abc import Iterator
from typing import Any

from fastapi import APIRouter, Query, Response
from fastapi.responses import StreamingResponse

from api.current import CurrentDesk
from api.documented import PROBLEMS
from api.http import notes
from api.http.forms import MEDIA
from api.schemas import Form
from graph.desk import Desk
from graph.ledger.chain import ChangeSet
from graph.ledger.reading import Difference
from graph.model.record import Snapshot
from graph.model.statement import Statement, canonical

router = APIRouter(prefix="/v1", tags=["store"], responses=PROBLEMS)
RDF = ("nq", "nt", "ttl", "jsonld")
EXPORT: dict[int | str, dict[str, Any]] = {
    200: {"description": "All rows", "content": {MEDIA[form]: {} for form in ("ndjson", *RDF)}}
}


@router.get("/snapshot")
def snapshot(desk: CurrentDesk) -> Snapshot:
    """Both clocks: the catalogue's id and the shelf's number. Every answer carries them."""
    notes.read("shelf")
    return desk.snapshot


@router.get("/history")
def history(desk: CurrentDesk) -> list[ChangeSet]:
    """All change sets, newest first."""
    notes.read("shelf")
    return [change for change in desk.history() if change.n <= desk.snapshot.shelf]


@router.get("/diff")
def diff(desk: CurrentDesk, a: int = Query(ge=0, le=2**31), b: int = Query(ge=0, le=2**31)) -> list[Difference]:
    """What was asserted and retracted between two versions."""
    notes.read("shelf")
    return list(desk.diff(a, b))


@router.get("/export", response_class=StreamingResponse, responses=EXPORT)
def export(desk: CurrentDesk, format: Form = "ndjson") -> Response:
    """All that holds, catalogue and shelf, a row at a time; the last line says that it is complete.

    JSON-LD is complete when its brackets close.
    """
    notes.read("shelf")
    if format == "ndjson":
        return StreamingResponse(_lines(desk), media_type=MEDIA[format])
    return StreamingResponse(_rdf(desk, format), media_type=MEDIA[format])


def _lines(desk: Desk) -> Iterator[bytes]:
    rows = 0
    for said in desk.everything():
        rows += 1
        yield (canonical({"id": said.id, **said.content()}) + "\n").encode()
    held = desk.snapshot
    told = {"complete": True, "rows": rows, "snapshot": {"catalogue": held.catalogue, "shelf": held.shelf}}
    yield (canonical(told) + "\n").encode()


def _rdf(desk: Desk, form: str) -> Iterator[bytes]:
    # rdflib comes with the writer and costs a second to import, which every question would wait for.
    from graph.triples import serialise  # noqa: PLC0415

    rows = 0

    def counted() -> Iterator[Statement]:
        nonlocal rows
        for said in desk.everything():
            rows += 1
            yield said

    yield from serialise(counted(), MEDIA[form])
    if form != "jsonld":
        yield f"# complete: {rows} rows of snapshot {desk.snapshot.catalogue}, shelf {desk.snapshot.shelf}\n".encode()
