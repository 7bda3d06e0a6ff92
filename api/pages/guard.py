"""Forms that write: only our own page may send them, and only who may write.

The token is a hash of a random cookie that no other site can read; the browser's own word on where the request comes
from is asked too. No state is kept on the server, so any worker may take the form.
"""

import hashlib
import hmac
import secrets
from collections.abc import Iterable
from typing import Final

from fastapi import Request, Response

from api import access
from graph.errors import BadQuestion, NoKey, NoScope
from graph.model.finding import Finding

COOKIE: Final = "hand"
FIELD: Final = "token"
KEY: Final = "key_text"
"""The field into which a key is typed, where the shop has made one; a browser sends it with this form alone."""


def held(request: Request) -> str:
    """The random text of this browser; made when it has none."""
    return request.cookies.get(COOKIE, "") or secrets.token_urlsafe(24)


def token(hand: str) -> str:
    """What a form of ours carries."""
    return hashlib.sha256(f"spoolwright form {hand}".encode()).hexdigest()


def give(response: Response, hand: str) -> None:
    """Leave the random text with the browser."""
    response.set_cookie(COOKIE, hand, httponly=True, samesite="strict", path="/")


def writer(request: Request, form: dict[str, str], scope: str) -> str:
    """Who writes by this form: the key's name, or whom the form names.

    Raises
    ------
    BadQuestion
        The form is not one that this browser got from here, or names nobody.
    NoKey, NoScope
        The sender may not write.
    """
    hand = request.cookies.get(COOKIE, "")
    origin = request.headers.get("origin", "")
    foreign = (
        request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none")
        or (origin and origin.partition("://")[2] != request.headers.get("host", ""))
        or not hand
        or not hmac.compare_digest(token(hand).encode(), form.get(FIELD, "").encode())
    )
    if foreign:
        raise BadQuestion(
            "this form did not come from this page; nothing was written",
            fix="open the page again, fill it in and send",
        )
    typed = form.get(KEY, "").strip()
    name = _holder(request, typed, scope) if typed else access.caller(request, scope).name
    name = name or form.get("who", "").strip()
    if not name:
        raise BadQuestion("nobody is named; nothing was written", fix="write your name into the field")
    return name


def _holder(request: Request, text: str, scope: str) -> str:
    key = access.door(request).holder(text)
    if key is None:
        raise NoKey(
            "this key opens nothing; nothing was written", fix="type a key that was made here and not revoked"
        )
    if not key.opens(scope):
        raise NoScope(f"key {key.name!r} does not open {scope}; nothing was written", fix=f"use a key with {scope}")
    return key.name


def keyed(request: Request) -> bool:
    """Whether a form that writes must ask for a key."""
    return not getattr(request.app.state, "demo", False) and access.door(request).any()


def told(findings: Iterable[Finding]) -> list[str]:
    """Findings about a form as a person reads them: the field, what was there, why it is wrong, what to do."""
    out = []
    for one in findings:
        field = one.origin.column or one.origin.sheet
        held = f" {one.found!r}" if one.found else ""
        out.append(f"{field}{held}: {one.why.rstrip('.')}. {one.mend}".strip())
    return out
