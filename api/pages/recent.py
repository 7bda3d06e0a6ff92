"""The questions asked last, kept in the asker's own browser and nowhere else."""

import base64
import binascii
import json
from dataclasses import dataclass
from typing import Final

from fastapi import Request, Response

COOKIE: Final = "asked"
MOST: Final = 6
LONGEST: Final = 3_500
"""Bytes of the cookie; browsers drop one beyond 4096."""
KEPT: Final = 30 * 24 * 3600  # seconds


@dataclass(frozen=True, slots=True)
class Asked:
    """One question: its address on this server, and how it is called."""

    address: str
    label: str


def recent(request: Request) -> tuple[Asked, ...]:
    """The questions in the cookie, the latest first; whatever is not of our own form is passed over."""
    try:
        held = json.loads(base64.urlsafe_b64decode(request.cookies.get(COOKIE, "")))
    except (binascii.Error, ValueError):
        return ()
    rows = held if isinstance(held, list) else []
    return tuple(
        Asked(str(row[0]), str(row[1]))
        for row in rows[:MOST]
        if isinstance(row, list) and len(row) == 2 and own_address(str(row[0]))
    )


def own_address(address: str) -> bool:
    """Whether it is a path on this very server."""
    return address.startswith("/") and not address.startswith(("//", "/\\")) and address.isprintable()


def keep(request: Request, response: Response, label: str) -> None:
    """Put the question that was answered before the others."""
    query = request.url.query
    address = request.url.path + (f"?{query}" if query else "")
    rows = [[address, label[:160]], *([one.address, one.label] for one in recent(request) if one.address != address)]
    text = _text(rows[:MOST])
    while len(text) > LONGEST and rows:
        rows.pop()
        text = _text(rows[:MOST])
    response.set_cookie(COOKIE, text, max_age=KEPT, httponly=True, samesite="lax", path="/")


def _text(rows: list[list[str]]) -> str:
    return base64.urlsafe_b64encode(json.dumps(rows).encode()).decode()
