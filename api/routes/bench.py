"""`/v1`: the bench: which unit is this core, its record and readings, what becomes of its parts, what settles it."""

from collections.abc import Mapping
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field, TypeAdapter

from api.current import CurrentDesk, CurrentStore, today
from api.depth.asked import SettleAsked
from api.documented import forms
from api.http.asking import put
from api.http.forms import MEDIA
from api.http.listing import one_of, rows
from api.schemas import Asked, Form, InPath, Name
from api.writing import WRITE_PROBLEMS, BenchWrite, SignWrite, WriteRoute, now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.bench import Bench
from graph.desk.things import Things
from graph.errors import NotFound
from graph.index.store import Store
from graph.model.bench import CoreRecord, Identification, Inspection, Learned, Proposal, SettleAnswer
from graph.model.statement import subject

router = APIRouter(prefix="/v1", tags=["bench"], responses=WRITE_PROBLEMS, route_class=WriteRoute)
Text = Annotated[str, Field(max_length=2000)]


class IdentifyAsked(Asked):
    """What was seen, each as FEATURE=VALUE or FEATURE!=VALUE; a core's own plate and readings count too."""

    see: list[Name] = Field(default_factory=list, max_length=200)
    core: str = Field("", max_length=200)
    none: float = Field(0.05, gt=0, lt=1, allow_inf_nan=False, description="Chance of no unit on record")
    cannot_tell: list[Name] = Field(default_factory=list, max_length=200)


class Written(Asked):
    """Every write names who writes: the key that comes along; without one, `author`."""

    author: str = Field("", max_length=200)


class CoreAsked(Written):
    """A core taken in, or with `correct` what is to change of its record; texts as a person writes them."""

    tag: Name
    unit: Text = Field("", description="The turbocharger by its plate")
    received: Text = ""
    customer: Text = ""
    plate: Text = ""
    serial: Text = ""
    photos: list[Name] = Field(default_factory=list, max_length=100)
    grade: Text = ""
    place: Text = ""
    deposit: Text = ""
    book_value: Text = ""
    currency: Text = ""
    own: bool = False
    may_donate: bool = False
    note: Text = ""
    correct: bool = False


class ReadingAsked(Written):
    """A measurement; what is left out defaults as on the command line."""

    seat: Name
    feature: Name
    value: Name
    unit: Text = ""
    position: Text = ""
    instrument: Text = ""
    uncertainty: Text = ""
    who: Text = ""
    date: Text = ""
    condition: Text = ""
    source: Text = ""
    note: Text = ""


class FoundAsked(Written):
    """What was found in a seat."""

    seat: Name
    state: Name = "present"
    part: Text = ""
    note: Text = ""


class AcceptAsked(Written):
    """Proposals that are accepted, by name."""

    names: list[Name] = Field(min_length=1, max_length=100)


def _fresh(store: Store) -> Bench:
    """The bench after a write."""
    return Bench(Desk.over(store))


@router.post("/identify")
def ask_identify(asked: IdentifyAsked, desk: CurrentDesk) -> Identification:
    """Which unit is this? Candidates with probability, what contradicts, and what to look at next."""
    return Bench(desk).identify(asked.see, core=asked.core, none=asked.none, cannot_tell=asked.cannot_tell)


@router.get("/cores/{tag}", response_class=Response, responses=one_of(CoreRecord))
def get_core(tag: InPath, desk: CurrentDesk, format: Form = "json") -> Response:
    """A core as taken in and measured, replaced readings included, and where to look first."""
    found = Bench(desk).record(tag)
    if format != "json":
        return rows(Things(desk).rows(subject("core", found.tag)), format)
    return Response(TypeAdapter(CoreRecord).dump_json(found), media_type=MEDIA["json"])


@router.post("/cores", status_code=201)
def add_core(asked: CoreAsked, desk: CurrentDesk, store: CurrentStore, write: BenchWrite) -> CoreRecord:
    """Take a core in, or with `correct` write a new row of its record."""
    cells = {
        name: text
        for name, text in asked.model_dump(
            exclude={"author", "unit", "photos", "own", "may_donate", "correct"}
        ).items()
        if text
    }
    if asked.unit:
        cells["as_built_maker"], cells["as_built_unit"] = Bench(desk).unit_named(asked.unit)
    if asked.photos:
        cells["photos"] = "|".join(asked.photos)
    cells |= {name: "yes" for name in ("own", "may_donate") if getattr(asked, name)}
    author = write.author(asked.author)
    write.once(lambda: writer.enter_core(store, cells, author=author, time=now(), correct=asked.correct).sound())
    return _fresh(store).record(asked.tag)


@router.post("/cores/{tag}/readings", status_code=201)
def add_reading(tag: InPath, asked: ReadingAsked, store: CurrentStore, write: BenchWrite) -> CoreRecord:
    """Write a measurement down; a correction is a new one."""
    cells = {**asked.model_dump(exclude={"author"}), "tag": tag}
    author = write.author(asked.author)
    write.once(lambda: writer.enter_reading(store, cells, author=author, time=now()).sound())
    return _fresh(store).record(tag)


@router.post("/cores/{tag}/found", status_code=201)
def add_found(
    tag: InPath, asked: FoundAsked, desk: CurrentDesk, store: CurrentStore, write: BenchWrite
) -> CoreRecord:
    """Write down what was found in a seat: another part, or its state."""
    cells = {"tag": tag, "seat": asked.seat, "state": asked.state, "note": asked.note}
    if asked.part:
        cells["part_maker"], cells["part_number"] = Bench(desk).part_named(asked.part)
    author = write.author(asked.author)
    write.once(lambda: writer.enter_found(store, cells, author=author, time=now()).sound())
    return _fresh(store).record(tag)


@router.get("/cores/{tag}/inspection")
def get_inspection(tag: InPath, desk: CurrentDesk) -> Inspection:
    """Reuse, machine, replace or scrap, for every part of the core."""
    return Bench(desk).inspect(tag)


@router.post("/settle", response_class=Response, responses=forms("The measurements and their outcomes", SettleAnswer))
async def ask_settle(request: Request, asked: SettleAsked) -> Response:
    """What to measure so that a question that is not known becomes known, and what each outcome would mean."""
    return await put(request, "settle", asked.given(today()), "json", seconds=asked.seconds, crew="deep")


@router.get("/learn")
def get_learned(desk: CurrentDesk, jobs: int = Query(1, ge=1, description="At least so many jobs")) -> Learned:
    """What finished jobs propose; nothing is changed by asking."""
    learned = Bench(desk).learn()
    return Learned(tuple(p for p in learned.proposals if p.jobs >= jobs), learned.jobs, learned.snapshot)


@router.post("/learn/accepted")
def accept_learned(asked: AcceptAsked, desk: CurrentDesk, store: CurrentStore, write: SignWrite) -> Learned:
    """Put proposals on record, on the word of the author; all names must be proposals."""
    author = write.author(asked.author)
    proposals = {p.name: p for p in Bench(desk).learn().proposals}
    strangers = [name for name in asked.names if name not in proposals]
    if strangers and not write.again:  # what an earlier try of this request put on record is no proposal any more
        raise NotFound(f"there are no proposals {strangers}", fix=f"proposals: {', '.join(proposals) or 'none'}")
    for name in dict.fromkeys(asked.names):
        write.once(partial(_accepted, store, proposals, name, author))
    return _fresh(store).learn()


def _accepted(store: Store, proposals: Mapping[str, Proposal], name: str, author: str) -> None:
    writer.accept(store, proposals[name], author=author, time=now())
