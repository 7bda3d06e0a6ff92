"""A form that is sent twice writes once: the second gets where the first one led.

Each form of a page carries its own random mark. What it wrote is on record together with the mark, in the same
transaction, so that neither a double click nor a reload after a lost answer writes again.
"""

import hashlib
import json
import secrets
import time as clock
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, datetime
from typing import Final

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from api.pages import guard
from api.pages.wording import _
from api.writing import KEPT, stamp
from graph.errors import BadQuestion, InFlight
from graph.ledger.replies import Asked, Replies, request_digest

FIELD: Final = "once"
_LOOK: Final = 0.2
_WAIT: Final = 120.0
"""Seconds until a second sending is told that the first is still at work."""


def mark() -> str:
    """What a form of ours carries, a new one for each page."""
    return secrets.token_urlsafe(16)


def once(request: Request, form: dict[str, str], act: Callable[[], str], *, files: bytes = b"") -> Response:
    """Do what the form asks for and lead to where `act` says; a form that was carried out before only leads there.

    `files`: a digest of what was sent with it. Whatever `act` raises passes through, and the form may be sent again.

    Raises
    ------
    BadQuestion
        The form carries no mark, or was sent before with other content.
    InFlight
        The first sending takes longer than anybody waits.
    """
    own = form.get(FIELD, "")
    if not own or len(own) > 100 or not own.isascii():
        raise BadQuestion(_("this form is incomplete; nothing was written"), fix=_("open the page again and send it"))
    store = request.app.state.current.store()
    replies = Replies(store.ledger, store.folder)
    moment = datetime.now(UTC)
    said = {name: text for name, text in sorted(form.items()) if name not in (guard.KEY, guard.FIELD)}
    hand = hashlib.sha256(request.cookies.get(guard.COOKIE, "").encode()).hexdigest()[:32]
    digest = request_digest("POST", request.url.path, json.dumps(said).encode() + files)
    asked = Asked(f"form {hand}", own, digest, stamp(moment), stamp(moment - KEPT))
    with ExitStack() as stack:
        _enter(stack, replies, asked)
        earlier = replies.earlier(asked)
        if earlier and earlier.status:
            return RedirectResponse(json.loads(earlier.headers)["location"], 303)
        if earlier:
            raise BadQuestion(
                _("this form was carried out before, and what came of it was lost"), fix=_("look at the history")
            )
        with replies.noting(asked, 1):
            to = act()
        replies.keep(asked, 303, json.dumps({"location": to}), b"")
    return RedirectResponse(to, 303)


def _enter(stack: ExitStack, replies: Replies, asked: Asked) -> None:
    began = clock.monotonic()
    while True:
        try:
            stack.enter_context(replies.alone(asked))
            return
        except InFlight:
            if clock.monotonic() - began > _WAIT:
                raise
            clock.sleep(_LOOK)
