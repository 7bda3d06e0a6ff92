"""Putting a question to the workers and answering with what they made."""

from typing import Any

from fastapi import Request, Response
from fastapi.concurrency import run_in_threadpool

from api.http import notes
from api.http.crew import Crew, Inline
from api.http.refusals import Busy
from api.http.traces import question
from api.schemas import FitsAsked, PlanAsked
from api.work import Asked, Made

MARGIN = 30.0
"""Seconds beyond a question's own limit after which its worker is given up: gathering and judging count too."""


def given_of(asked: FitsAsked | PlanAsked, day: str) -> dict[str, Any]:
    """A question as the desk's method takes it; `day` counts where it names none."""
    given = asked.model_dump(exclude={"as_of", "format"}) | {"day": asked.as_of or day}
    return given | {"wishes": tuple(asked.wishes)} if isinstance(asked, PlanAsked) else given


def respond(made: Made) -> Response:
    """The response of an answer that was made, its snapshot and whether it may be kept noted."""
    notes.answered_from(made.snapshot)
    if not made.settled:
        notes.not_kept()
    return Response(made.body, media_type=made.media, headers=made.headers)


async def put(
    request: Request, kind: str, given: dict[str, Any], form: str, *, seconds: float = 60.0, crew: str = "crew"
) -> Response:
    """The answer of a worker; `crew`: whose, `crew` for the counter's questions, `deep` for those that come after.

    Raises
    ------
    Busy
        All are busy.
    """
    notes.read("shelf")
    workers: Crew | Inline = getattr(request.app.state, crew)
    try:
        asked = Asked(kind, given, form, request.scope["state"].get("as_of", ""))
        with question(request, kind, form):
            made = await run_in_threadpool(workers.ask, asked, seconds + MARGIN)
    except Busy:
        request.app.state.metrics.refused.inc()
        raise
    return respond(made)
