"""`/v1`: what happened, as a list and as a feed; webhooks; and watched questions."""

import asyncio
import base64
import json
import secrets
import time
from collections.abc import AsyncIterator
from datetime import UTC, date, datetime, timedelta
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Header, Query, Request, Response
from fastapi.responses import StreamingResponse
from pydantic import Field
from starlette.concurrency import run_in_threadpool

from api import access
from api.courier.targets import target
from api.current import CurrentStore
from api.documented import refused
from api.http.paging import cut, linked, numbered
from api.schemas import Asked, Name
from api.writing import WRITE_PROBLEMS, AdminWrite, StockWrite, WriteRoute, now, stamp, unkept
from graph.desk import Desk
from graph.desk.watching import UNANSWERED, said
from graph.errors import BadQuestion, NotFound
from graph.ledger.outbox import Delivery, Event, Hook, Outbox
from graph.ledger.retention import LetGo, let_go
from graph.ledger.watches import Watches
from graph.model.codec import to_json
from graph.model.watch import Question, Watch

router = APIRouter(
    prefix="/v1", tags=["events"], responses=WRITE_PROBLEMS, route_class=WriteRoute, dependencies=[Depends(unkept)]
)
Admin = Annotated[access.Caller, Depends(access.Needs("admin"))]
By = Annotated[str, Query(max_length=200, description="Who does this, where no key comes along")]
Count = Annotated[int, Query(ge=1, le=1000)]
GONE: Final[dict[int | str, dict[str, Any]]] = {410: refused("Events that were asked for and are kept no longer")}

LOOK_SECONDS: Final = 0.5
QUIET_SECONDS: Final = 15.0
"""After so long without an event a comment is sent, so that nobody in between takes the line for dead."""


class HookAsked(Asked):
    """Where to send events, and which: catalogue.published, stock.changed, job.changed, answer.changed; none: all."""

    url: str = Field(min_length=1, max_length=2000)
    types: list[Name] = Field(default_factory=list, max_length=10)
    author: str = Field("", max_length=200)


class HookMade(Asked):
    """The new webhook. `secret` signs its deliveries and is told this once; a retry finds it empty."""

    hook: Hook
    secret: str


class ReplayAsked(Asked):
    """Which events are to be sent once more, under their own ids."""

    first: int = Field(ge=1, le=2**31 - 1)
    last: int = Field(ge=1, le=2**31 - 1)
    author: str = Field("", max_length=200)


class Replayed(Asked):
    """How many events are on their way again."""

    count: int


class Events(Asked):
    """Events in order; `truncated`: there are more, at `next`. Those up to number `gone` are kept no longer."""

    events: list[Event]
    truncated: bool
    next: str = Field("", description="Address of the next page; empty on the last one")
    gone: int = Field(0, description="Lists begin after this number; 0: with the first event of all")


class Deliveries(Asked):
    """Deliveries to one webhook, newest event first; `truncated`: there are more, at `next`."""

    deliveries: list[Delivery]
    truncated: bool
    next: str = Field("", description="Address of the next page; empty on the last one")


class WatchAsked(Asked):
    """A question: `fits` (unit and engine, or seat and part), `plan` (core and build), `part` (is it on hand?)."""

    label: Name
    kind: str = Field(pattern="^(fits|plan|part)$")
    unit: str = Field("", max_length=200)
    engine: str = Field("", max_length=200)
    seat: str = Field("", max_length=200)
    part: str = Field("", max_length=200)
    core: str = Field("", max_length=200)
    build: str = Field("", max_length=200)
    author: str = Field("", max_length=200)


@router.get("/events", responses=GONE)
def list_events(
    request: Request,
    response: Response,
    store: CurrentStore,
    after: Annotated[int | None, Query(ge=0, le=2**31 - 1, description="Empty: from the oldest kept")] = None,
    limit: Count = 100,
    type: Annotated[list[str] | None, Query(max_length=10, description="Only these; none: all")] = None,
) -> Events:
    """What happened after event number `after`, in order; 410 where some of that is kept no longer."""
    outbox = Outbox(store.ledger)
    found = outbox.events(after, limit + 1, type or ())
    shown, truncated = cut(found, limit)
    next_ = numbered(request, shown[-1].at) if truncated else ""
    linked(request, response, next_)
    return Events(events=list(shown), truncated=truncated, next=next_, gone=outbox.gone())


@router.delete("/events")
def let_events_go(
    store: CurrentStore,
    write: AdminWrite,
    older_than_days: Annotated[int, Query(ge=1, le=36_500, description="Events younger than this stay")],
    author: By = "",
) -> LetGo:
    """Let old events go now; those not yet delivered to a webhook that stands stay with it."""
    by, moment = write.author(author), datetime.now(UTC)
    before = stamp(moment - timedelta(days=older_than_days))
    done = write.once(lambda: let_go(store.ledger, before, by=by, time=stamp(moment)))
    return done if done is not None else LetGo(0, Outbox(store.ledger).gone())


@router.get(
    "/events/feed",
    response_class=StreamingResponse,
    responses=GONE
    | {200: {"description": "Server-sent events, one for each event", "content": {"text/event-stream": {}}}},
)
async def feed_events(
    request: Request,
    store: CurrentStore,
    after: Annotated[int | None, Query(ge=0, le=2**31 - 1, description="Empty: from now on")] = None,
    last_event_id: Annotated[str, Header(description="The last event seen; goes before `after`")] = "",
) -> StreamingResponse:
    """What happens, as it happens. A reader that comes back with Last-Event-ID misses nothing, or gets 410."""
    if last_event_id and not (last_event_id.isascii() and last_event_id.isdigit() and len(last_event_id) < 10):
        raise BadQuestion(f"{last_event_id!r} is no event's number", fix="send the id of the last event seen")
    outbox = Outbox(store.ledger)
    start = int(last_event_id) if last_event_id else after
    if start is None:
        start = await run_in_threadpool(outbox.last)
    await run_in_threadpool(outbox.events, start, 1)  # says before the stream begins that some are gone
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(_feed(request, outbox, start), media_type="text/event-stream", headers=headers)


async def _feed(request: Request, outbox: Outbox, at: int) -> AsyncIterator[bytes]:
    yield b": listening\n\n"
    quiet = 0.0
    while not await request.is_disconnected():
        found = await run_in_threadpool(outbox.events, at, 100)
        for event in found:
            at = event.at
            yield f"id: {at}\nevent: {event.type}\ndata: {json.dumps(to_json(event))}\n\n".encode()
        quiet = 0.0 if found else quiet + LOOK_SECONDS
        if quiet >= QUIET_SECONDS:
            yield b": still here\n\n"
            quiet = 0.0
        if not found:
            await asyncio.sleep(LOOK_SECONDS)


@router.get("/hooks")
def list_hooks(store: CurrentStore, _admin: Admin) -> list[Hook]:
    """All webhooks, those ended too, oldest first; no secrets."""
    return list(Outbox(store.ledger).hooks())


@router.post("/hooks", status_code=201)
def make_hook(asked: HookAsked, request: Request, store: CurrentStore, write: AdminWrite) -> HookMade:
    """Send events somewhere, signed by Standard Webhooks; the secret is in this answer and nowhere else."""
    write.secret = True
    target(asked.url, private=request.app.state.private_hooks)
    outbox, author = Outbox(store.ledger), write.author(asked.author)
    secret = "whsec_" + base64.b64encode(secrets.token_bytes(32)).decode()
    hook = write.once(lambda: outbox.make_hook(asked.url, asked.types, secret, by=author, time=now()))
    if hook is None:
        known = [h for h in outbox.hooks() if (h.url, h.made_by) == (asked.url, author)]
        return HookMade(hook=known[-1], secret="")
    return HookMade(hook=hook, secret=secret)


@router.delete("/hooks/{hook}")
def end_hook(hook: str, store: CurrentStore, write: AdminWrite, author: By = "") -> Hook:
    """Tell it nothing more; what is on its way to it is given up."""
    by, outbox = write.author(author), Outbox(store.ledger)
    write.once(lambda: outbox.end_hook(hook, by=by, time=now()))
    return next(h for h in outbox.hooks() if h.id == hook)


@router.get("/hooks/{hook}/deliveries")
def list_deliveries(
    request: Request,
    response: Response,
    hook: str,
    store: CurrentStore,
    _admin: Admin,
    state: Annotated[str, Query(pattern="^(waiting|delivered|dead)?$", description="Empty: all")] = "",
    before: Annotated[int, Query(ge=0, le=2**31 - 1, description="Of events before this one; 0: the newest")] = 0,
    limit: Count = 100,
) -> Deliveries:
    """What became of events on their way to a webhook, newest first; `dead` ones wait to be sent again by hand."""
    shown, truncated = cut(Outbox(store.ledger).deliveries(hook, state, limit + 1, before=before), limit)
    next_ = numbered(request, shown[-1].at, "before") if truncated else ""
    linked(request, response, next_, "before")
    return Deliveries(deliveries=list(shown), truncated=truncated, next=next_)


@router.post("/hooks/{hook}/replay", responses=GONE)
def replay(hook: str, asked: ReplayAsked, store: CurrentStore, write: AdminWrite) -> Replayed:
    """Send events once more, under their own ids; 410, and nothing is sent, where some of them are kept no longer."""
    author, moment = write.author(asked.author), now()
    seconds = int(time.time())
    count = write.once(
        lambda: Outbox(store.ledger).replay(hook, asked.first, asked.last, now=seconds, by=author, time=moment)
    )
    return Replayed(count=count or 0)


@router.get("/watches")
def list_watches(store: CurrentStore, ended: bool = False) -> list[Watch]:
    """Watched questions with their last answers, oldest first."""
    return list(Watches(store.ledger).all(ended=ended))


@router.post("/watches", status_code=201)
def watch(asked: WatchAsked, store: CurrentStore, write: StockWrite, response: Response) -> Watch:
    """Watch a question: `answer.changed` tells when its answer turns. For a customer who waits for a part: `part`."""
    author, watches = write.author(asked.author), Watches(store.ledger)
    question = Question(**asked.model_dump(exclude={"label", "author"}))
    desk = Desk.over(store)
    answer = said(desk, question, date.today().isoformat())
    if answer.word == UNANSWERED:
        raise NotFound(f"this question has no answer: {answer.sentence}", fix="ask it first, then watch it")
    made = write.once(lambda: watches.make(asked.label, question, answer, desk.shelf.n, by=author, time=now()))
    if made is None:
        same = [w for w in watches.all() if (w.label, w.question, w.made_by) == (asked.label, question, author)]
        made = same[-1]
    response.headers["Location"] = f"/v1/watches/{made.id}"
    return made


@router.get("/watches/{watch}")
def get_watch(watch: str, store: CurrentStore) -> Watch:
    """One watched question with its last answer."""
    return Watches(store.ledger).get(watch)


@router.delete("/watches/{watch}")
def end_watch(watch: str, store: CurrentStore, write: StockWrite, author: By = "") -> Watch:
    """Watch it no longer."""
    write.author(author)
    watches = Watches(store.ledger)
    write.once(lambda: watches.end(watch, time=now()))
    return watches.get(watch)
