"""`/v1`: the snapshot, what was published when, and all that holds as one stream."""

from collections.abc import Iterator
from itertools import islice
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import StreamingResponse

from api.current import CurrentDesk
from api.documented import PROBLEMS
from api.http import notes
from api.http.forms import MEDIA
from api.http.paging import more, numbered
from api.schemas import Form
from graph.desk import Desk
from graph.ledger.chain import ChangeSet
from graph.ledger.reading import Difference
from graph.model.record import Snapshot
from graph.model.statement import Statement, canonical

router = APIRouter(prefix="/v1", tags=["store"], responses=PROBLEMS)
Piece = Annotated[int, Query(ge=0, le=100_000, description="At most so many; 0: all")]
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
def history(
    request: Request,
    response: Response,
    desk: CurrentDesk,
    before: Annotated[int, Query(ge=0, le=2**31, description="Those before this number; 0: from the newest")] = 0,
    limit: Piece = 0,
) -> list[ChangeSet]:
    """Change sets, newest first; with `limit` a page of them, and the field `Link` leads to the next."""
    notes.read("shelf")
    top = min(before - 1, desk.snapshot.shelf) if before else desk.snapshot.shelf
    found = [change for change in desk.history() if change.n <= top]
    if 0 < limit < len(found):
        found = found[:limit]
        more(request, response, numbered(request, found[-1].n, "before"), "before")
    return found


@router.get("/diff")
def diff(
    request: Request,
    response: Response,
    desk: CurrentDesk,
    a: Annotated[int, Query(ge=0, le=2**31)],
    b: Annotated[int, Query(ge=0, le=2**31)],
    after: Annotated[int, Query(ge=0, le=2**31, description="Those after so many")] = 0,
    limit: Piece = 0,
) -> list[Difference]:
    """What was asserted and retracted between two versions; with `limit` a page, and `Link` leads to the next."""
    notes.read("shelf")
    found = list(islice(desk.diff(a, b), after, after + limit + 1 if limit else None))
    if 0 < limit < len(found):
        found = found[:limit]
        more(request, response, numbered(request, after + limit))
    return found


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
