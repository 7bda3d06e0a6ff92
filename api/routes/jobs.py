"""`/v1`: jobs in the shop: taken on, moved from stage to stage, and their deposits."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.current import CurrentDesk, CurrentStore
from api.http.listing import Wholly, all_of
from api.schemas import Asked, Day, InPath, Name
from api.versions import Expected, etag
from api.writing import WRITE_PROBLEMS, BenchWrite, StockWrite, WriteRoute, now
from graph import publish as writer
from graph.desk import Desk, names
from graph.desk import jobs as looking
from graph.index.store import Store
from graph.model.jobs import JobRecord

router = APIRouter(prefix="/v1", tags=["jobs"], responses=WRITE_PROBLEMS, route_class=WriteRoute)
Text = Annotated[str, Field(max_length=2000)]


class WorkAsked(Asked):
    """A job: which core becomes which build for which engine, for whom, by when. Names as a person writes them."""

    core: str = Field("", max_length=200)
    build: str = Field("", max_length=200)
    engine: str = Field("", max_length=200)
    customer: Text = ""
    due: Day = ""
    note: Text = ""
    author: str = Field("", max_length=200)


class StageAsked(Asked):
    """The stage that the job came to."""

    stage: Name
    note: Text = ""
    author: str = Field("", max_length=200)


class DepositAsked(Asked):
    """A deposit taken, returned or kept; the amount as a person writes it."""

    what: str = Field(pattern="^(taken|returned|kept)$")
    amount: Name
    currency: str = Field(pattern="^[A-Z]{3}$")
    note: Text = ""
    author: str = Field("", max_length=200)


@router.get("/jobs", response_class=Response, responses=all_of(JobRecord))
def list_jobs(
    asked: Wholly, desk: CurrentDesk, stage: Annotated[str, Query(max_length=20, description="Empty: all")] = ""
) -> Response:
    """All jobs, or those at one stage, in the order in which they were taken on; with `limit` a page of them."""
    return asked.told(JobRecord, looking.jobs(desk, stage), lambda job: list(looking.order(job)))


@router.get("/jobs/{job}")
def get_job(job: InPath, desk: CurrentDesk, response: Response) -> JobRecord:
    """One job with its stages and deposits; the ETag is its version."""
    return _told(looking.job(desk, job), response)


@router.put("/jobs/{job}")
def put_job(
    job: InPath,
    asked: WorkAsked,
    desk: CurrentDesk,
    store: CurrentStore,
    write: BenchWrite,
    seen: Expected,
    response: Response,
) -> JobRecord:
    """Take a job on (If-None-Match `*`; it is then received), or change what is on record of it (If-Match)."""
    author = write.author(asked.author)
    cells = {"job": job, "customer": asked.customer, "due": asked.due, "note": asked.note}
    if asked.core:
        cells["tag"] = names.core(desk.shelf, asked.core).tag
    if asked.build:
        cells["build"] = names.build(desk.catalogue, asked.build).name
    if asked.engine:
        engine = names.thing(desk.catalogue.find_engines, "engine", asked.engine)
        cells |= {"engine_maker": engine.maker, "engine": engine.name}

    def version() -> int:
        return seen.version(lambda: [one.version for one in looking.jobs(desk) if one.job == job])

    write.once(lambda: writer.take_on(store, cells, version=version(), author=author, time=now()).sound())
    return _fresh(store, job, response)


@router.post("/jobs/{job}/stages", status_code=201)
def move_job(
    job: InPath,
    asked: StageAsked,
    desk: CurrentDesk,
    store: CurrentStore,
    write: BenchWrite,
    seen: Expected,
    response: Response,
) -> JobRecord:
    """Note that the job came to a stage; `may` of the job says which may come next. If-Match: the job's version."""
    author = write.author(asked.author)
    known = looking.job(desk, job)
    write.once(
        lambda: writer.move(
            store, known, asked.stage, version=seen.version(lambda: [known.version]), note=asked.note,
            author=author, time=now(),
        ).sound()
    )  # fmt: skip
    return _fresh(store, job, response)


@router.post("/jobs/{job}/deposits", status_code=201)
def add_deposit(
    job: InPath,
    asked: DepositAsked,
    desk: CurrentDesk,
    store: CurrentStore,
    write: StockWrite,
    seen: Expected,
    response: Response,
) -> JobRecord:
    """Note that a deposit was taken, returned or kept. If-Match: the job's version."""
    author = write.author(asked.author)
    known = looking.job(desk, job)
    cells = asked.model_dump(exclude={"author"})
    write.once(
        lambda: writer.deposit(
            store, known, cells, version=seen.version(lambda: [known.version]), author=author, time=now()
        ).sound()
    )
    return _fresh(store, job, response)


def _fresh(store: Store, job: str, response: Response) -> JobRecord:
    return _told(looking.job(Desk.over(store), job), response)


def _told(job: JobRecord, response: Response) -> JobRecord:
    response.headers["ETag"] = etag(job.version)
    return job
