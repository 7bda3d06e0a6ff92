"""Running the server: is it there, is it ready, what does it count; backups as tasks."""

import tempfile
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path as Folder
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from fastapi.responses import FileResponse
from pydantic import BaseModel

from api.access import Needs
from api.current import Current, CurrentStore
from api.documented import PROBLEMS
from api.http.refusals import NotReady
from api.http.tasks import Task
from api.writing import AdminWrite, Write, WriteRoute, now
from graph.errors import NotFound, SpoolwrightError
from graph.index.store import Store
from graph.ledger.audit import acts, note_act
from graph.publish.backing import Backup, backup, restore, told

ADMIN = [Depends(Needs("admin"))]
NAME = r"^[0-9]{8}T[0-9]{6}Z-[0-9]+\.sqlite$"
Named = Annotated[str, Path(pattern=NAME, max_length=60)]
bare = APIRouter(tags=["operating"], responses={status: PROBLEMS[status] for status in (405, 406, 429)})
router = APIRouter(prefix="/v1", tags=["operating"], responses=PROBLEMS, dependencies=ADMIN, route_class=WriteRoute)
By = Annotated[str, Query(max_length=200, description="Who does this, where no key comes along")]
BEGUN = "backup begun"


class Alive(BaseModel):
    """The server answers."""

    status: str = "alive"


class Ready(BaseModel):
    """The store is open and sound; `change_set` is the last one served."""

    status: str = "ready"
    catalogue: str
    change_set: int


@bare.get("/health")
async def health() -> Alive:
    """Whether the process answers at all; the store is not looked at."""
    return Alive()


@bare.get("/ready", responses={503: PROBLEMS[503]})
def ready(request: Request) -> Ready:
    """Whether questions can be answered: the store opens, its live index is there, no damage is on record."""
    current: Current = request.app.state.current
    try:
        held = current.desk().snapshot
        current.store().refuse_damaged()
    except SpoolwrightError as error:
        raise NotReady(error.message, fix=error.fix) from error
    return Ready(catalogue=held.catalogue, change_set=held.shelf)


@bare.get(
    "/metrics",
    response_class=Response,
    responses={200: {"description": "Prometheus' text format", "content": {"text/plain": {}}}},
)
def metrics(request: Request) -> Response:
    """What is counted, for Prometheus to fetch."""
    counted = request.app.state.metrics
    try:
        counted.shelf.set(request.app.state.current.desk().snapshot.shelf)
    except SpoolwrightError:
        counted.shelf.set(-1)
    return Response(counted.text(), media_type="text/plain; version=0.0.4; charset=utf-8")


def _folder(request: Request) -> Folder:
    current: Current = request.app.state.current
    return current.folder / "backups"


@router.get("/backups")
def list_backups(request: Request) -> list[Backup]:
    """The backups that lie beside the store, oldest first."""
    return [told(file) for file in sorted(_folder(request).glob("*.sqlite"))]


@router.post("/backups", status_code=202)
def make_backup(
    request: Request, response: Response, store: CurrentStore, write: AdminWrite, author: By = ""
) -> Task:
    """Begin a backup of the whole record; the task says when it is done. Keep a copy on another machine.

    A retry with the same Idempotency-Key leads to the same task, or, where the server was started anew in between, to
    the same file.
    """
    by = _who(write, author)
    with store.ledger.reading() as reading:
        n = reading.head().n
    name = f"{datetime.now(UTC):%Y%m%dT%H%M%SZ}-{n}.sqlite"
    if write.once(lambda: _noted(store, by, BEGUN, name)) is None:
        name = next(act.about for act in acts(store.ledger, most=1000) if (act.did, act.who) == (BEGUN, by))
    file = _folder(request) / name
    again = write.again and file.is_file()
    return _begun(request, response, "backup", lambda: asdict(told(file) if again else backup(store, file)))


@router.get(
    "/backups/{name}",
    response_class=FileResponse,
    responses={200: {"description": "The file", "content": {"application/vnd.sqlite3": {}}}},
)
def get_backup(request: Request, name: Named) -> FileResponse:
    """One backup's file."""
    return FileResponse(_there(request, name), media_type="application/vnd.sqlite3", filename=name)


@router.post("/backups/{name}/trial", status_code=202)
def try_backup(
    request: Request, response: Response, name: Named, store: CurrentStore, write: AdminWrite, author: By = ""
) -> Task:
    """Restore a backup into a folder that is thrown away: whether it would bring everything back.

    A store in use is never replaced over HTTP: `spoolwright restore` makes a new one beside it.
    """
    file, by = _there(request, name), _who(write, author)

    def work() -> dict[str, Any]:
        with tempfile.TemporaryDirectory() as folder:
            return asdict(restore(file, Folder(folder) / "store"))

    write.once(lambda: _noted(store, by, "trial restore begun", name))
    return _begun(request, response, "trial restore", work)


def _who(write: Write, author: str) -> str:
    return write.caller.name or author.strip() or "whoever sits at this machine"


def _noted(store: Store, by: str, did: str, about: str) -> bool:
    with store.ledger.writing_beside() as connection:
        note_act(connection, now(), by, did, about)
    return True


@router.get("/tasks/{id}")
def get_task(request: Request, id: Annotated[str, Path(pattern="^[0-9a-f]{32}$")]) -> Task:
    """How far a task is, and what came of it."""
    found: Task = request.app.state.tasks.get(id)
    return found


def _there(request: Request, name: str) -> Folder:
    file = _folder(request) / name
    if not file.is_file():
        raise NotFound(f"there is no backup {name!r}", fix="/v1/backups lists them")
    return file


def _begun(request: Request, response: Response, what: str, work: Any) -> Task:
    task: Task = request.app.state.tasks.start(what, work)
    response.headers["Location"] = f"/v1/tasks/{task.id}"
    return task
