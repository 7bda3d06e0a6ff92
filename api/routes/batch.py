"""`/v1/batch`: up to a thousand questions in one request, a line each, and a line each in answer."""

import json
import time
from collections.abc import AsyncIterator, Callable
from typing import Any, Final, TypeVar

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import StreamingResponse
from pydantic import BaseModel, Field, ValidationError

from api import problems
from api.current import CurrentDesk, today
from api.documented import PROBLEMS, Problem
from api.http.asking import MARGIN, given_of
from api.http.crew import Crew, Inline
from api.http.forms import MEDIA
from api.http.refusals import BadBody, Busy
from api.jsontext import Fault, NotJson, read
from api.schemas import FitsAsked, PlanAsked
from api.work import Asked, Made
from graph.errors import SpoolwrightError
from graph.model.fits import FitsAnswer
from graph.model.plan import PlanAnswer
from graph.model.record import Snapshot

MOST: Final = 1000
"""Questions of one request."""

PAUSE: Final = 0.05
"""Seconds until a question of a batch asks again for a place; single questions come first that way."""

NDJSON: Final = MEDIA["ndjson"]
A = TypeVar("A", FitsAsked, PlanAsked)
router = APIRouter(prefix="/v1/batch", tags=["questions"], responses=PROBLEMS)


class FitsLine(BaseModel):
    """The answer to one line, counted from 1, or the problem with it."""

    line: int
    status: int
    answer: list[FitsAnswer] | None = None
    problem: Problem | None = None


class PlanLine(BaseModel):
    """The same for a plan; its evidence (`bundle`) is left out: ask `/v1/plans` for what is to be kept."""

    line: int
    status: int
    answer: PlanAnswer | None = None
    problem: Problem | None = None


class LastLine(BaseModel):
    """The last line of an answer that is whole."""

    complete: bool = Field(description="always true")
    lines: int
    failed: int
    snapshot: Snapshot


def _told(asked: type[BaseModel], line: type[BaseModel], what: str) -> dict[str, Any]:
    return {
        "response_class": StreamingResponse,
        "responses": {
            200: {
                "description": f"A line for each question in its order ({line.__name__}), then one that all is told"
                " (LastLine)",
                "content": {NDJSON: {"schema": {"type": "string"}}},
            }
        },
        "openapi_extra": {
            "requestBody": {
                "description": f"{what}: one JSON object ({asked.__name__}) a line, at most {MOST} lines",
                "required": True,
                "content": {NDJSON: {"schema": {"type": "string", "maxLength": 1_000_000}}},
            }
        },
    }


@router.post("/fits", **_told(FitsAsked, FitsLine, "Fits questions"))
async def batch_fits(request: Request, desk: CurrentDesk) -> StreamingResponse:
    """Many *does it fit?* at once, all from one snapshot; a line that cannot be answered says why."""
    return await _answered(request, desk.snapshot, FitsAsked, "fits", "json")


@router.post("/plans", **_told(PlanAsked, PlanLine, "Plan questions"))
async def batch_plans(request: Request, desk: CurrentDesk) -> StreamingResponse:
    """Many plan questions at once, all from one snapshot, without the plans' evidence."""
    return await _answered(request, desk.snapshot, PlanAsked, "plan", "bare")


async def _answered(request: Request, snapshot: Snapshot, asked: type[A], kind: str, form: str) -> StreamingResponse:
    body = await request.body()
    lines = [line for line in body.splitlines() if line.strip()]
    if len(lines) > MOST:
        raise BadBody(f"{len(lines)} questions came at once", fix=f"send at most {MOST} lines")
    if not lines:
        raise BadBody("no question came", fix="send one JSON object a line")
    crew: Crew | Inline = request.app.state.crew
    day = today()

    def one(line: bytes) -> Made:
        question = asked.model_validate(read(line, "line"))
        seconds = question.seconds if isinstance(question, PlanAsked) else 60.0
        put = Asked(kind, given_of(question, day), form, str(snapshot.shelf))
        return _patiently(lambda: crew.ask(put, seconds + MARGIN))

    return StreamingResponse(_told_lines(lines, one, snapshot), media_type=NDJSON)


def _patiently(ask: Callable[[], Made]) -> Made:
    """The answer, as soon as there is a place: who sends many questions waits for them."""
    while True:
        try:
            return ask()
        except Busy:
            time.sleep(PAUSE)


async def _told_lines(lines: list[bytes], one: Callable[[bytes], Made], snapshot: Snapshot) -> AsyncIterator[bytes]:
    failed = 0
    for number, line in enumerate(lines, 1):
        head = b'{"line":%d,"status":' % number
        try:
            made = await run_in_threadpool(one, line)
            yield head + b'200,"answer":' + made.body.strip() + b"}\n"
        except (NotJson, ValidationError) as error:
            faults = error.faults if isinstance(error, NotJson) else _faults(error)
            told = {**problems.content(BadBody("the line is no question of this kind")), "faults": faults}
            failed += 1
            yield head + b'422,"problem":' + json.dumps(told).encode() + b"}\n"
        except SpoolwrightError as error:
            failed += 1
            told = problems.content(error)
            yield head + b'%d,"problem":' % error.status_hint + json.dumps(told).encode() + b"}\n"
    last = LastLine(complete=True, lines=len(lines), failed=failed, snapshot=snapshot)
    yield last.model_dump_json().encode() + b"\n"


def _faults(error: ValidationError) -> list[Fault]:
    return [
        {"where": ".".join(map(str, fault["loc"])), "why": fault["msg"]}
        for fault in error.errors(include_input=False, include_url=False, include_context=False)
    ]
