"""`/v1`: photos of cores: which there are, their bytes, one more, and one taken off."""

from dataclasses import dataclass
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query, Request, Response

from api.current import CurrentDesk, CurrentStore
from api.http.addresses import OWN_FORMS
from api.schemas import InPath
from api.writing import WRITE_PROBLEMS, BenchWrite, WriteRoute, now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.bench import Bench
from graph.errors import BadQuestion
from graph.index.store import Store
from graph.ledger.photos import Photos

router = APIRouter(prefix="/v1", tags=["photos"], responses=WRITE_PROBLEMS, route_class=WriteRoute)
MEDIA: Final = {".jpg": "image/jpeg", ".png": "image/png"}
BINARY: Final = {"schema": {"type": "string", "format": "binary"}}
BODY: Final[dict[str, Any]] = {
    "requestBody": {
        "description": "A whole JPEG or PNG of 10 MB at most",
        "content": dict.fromkeys(MEDIA.values(), BINARY),
        "required": True,
    }
}
BYTES: Final[dict[int | str, dict[str, Any]]] = {
    200: {"description": "The photo", "content": dict.fromkeys(MEDIA.values(), BINARY)}
}


@dataclass(frozen=True, slots=True)
class PhotoRecord:
    """One photo of a core. `address`: where its bytes are; empty for a file that the shop keeps elsewhere."""

    name: str
    address: str


@dataclass(frozen=True, slots=True)
class PhotosRecord:
    """The photos of a core, in the order in which they were put to it."""

    tag: str
    photos: tuple[PhotoRecord, ...]


@router.get("/cores/{tag}/photos")
def list_photos(tag: InPath, desk: CurrentDesk, store: CurrentStore) -> PhotosRecord:
    """The photos of a core, in the order in which they were put to it."""
    return _told(desk, store, tag)


async def photo_sent(request: Request) -> bytes:
    """The bytes of the request."""
    return await request.body()


@router.post("/cores/{tag}/photos", status_code=201, openapi_extra=BODY)
def add_photo(
    tag: InPath,
    desk: CurrentDesk,
    store: CurrentStore,
    write: BenchWrite,
    sent: Annotated[bytes, Depends(photo_sent)],
    author: Annotated[str, Query(max_length=200)] = "",
) -> PhotosRecord:
    """Put a photo to a core. Place, time and owner that the camera wrote into it are left out; a photo that is there
    already stays once."""
    by = write.author(author)
    if not sent:
        raise BadQuestion("no photo was sent", fix="send the bytes of a JPEG or PNG as the body")
    known = Bench(desk).record(tag).tag
    write.once(lambda: writer.add_photo(store, known, sent, author=by, time=now()).sound())
    return _told(Desk.over(store), store, known)


@router.delete("/cores/{tag}/photos/{name}")
def remove_photo(
    tag: InPath,
    name: InPath,
    desk: CurrentDesk,
    store: CurrentStore,
    write: BenchWrite,
    author: Annotated[str, Query(max_length=200)] = "",
) -> PhotosRecord:
    """Take a photo off a core; the history keeps who did, and undoing that puts it back. A name stands for the same
    bytes always, so that no version is asked for."""
    by = write.author(author)
    known = Bench(desk).record(tag).tag
    write.once(lambda: writer.remove_photo(store, known, name, author=by, time=now()))
    return _told(Desk.over(store), store, known)


@router.get("/photos/{name}", response_class=Response, responses=BYTES, openapi_extra={OWN_FORMS: True})
def get_photo(name: str, store: CurrentStore) -> Response:
    """The bytes of a photo; they never change under this name."""
    data = Photos(store.ledger).photo(name)
    medium = MEDIA.get("." + name.rpartition(".")[2], "application/octet-stream")
    return Response(data, media_type=medium, headers={"Cache-Control": "private, max-age=31536000, immutable"})


def _told(desk: Desk, store: Store, tag: str) -> PhotosRecord:
    record = Bench(desk).record(tag)
    held = Photos(store.ledger).held(record.photos)
    return PhotosRecord(
        record.tag,
        tuple(PhotoRecord(name, f"/v1/photos/{name}" if name in held else "") for name in record.photos),
    )
