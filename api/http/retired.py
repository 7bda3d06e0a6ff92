"""Addresses on their way out: `Deprecation` (RFC 9745), `Sunset` (RFC 8594) and where to go instead."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from email.utils import format_datetime
from typing import Any

MARK = "x-retired"


def retired(since: date, *, until: date | None = None, instead: str = "") -> dict[str, Any]:
    """What a route's decorator takes beside its path, so that every answer and the document say it.

    >>> retired(date(2027, 1, 4), until=date(2028, 1, 4), instead="/v1/parts")["deprecated"]
    True
    """
    told = {"since": since.isoformat(), "until": until.isoformat() if until else "", "instead": instead}
    return {"deprecated": True, "openapi_extra": {MARK: told}}


def fields(told: Mapping[str, str]) -> list[tuple[bytes, bytes]]:
    """The header fields of an address on its way out."""
    since = int(_midnight(told["since"]).timestamp())
    found = [(b"deprecation", f"@{since}".encode())]
    if told["until"]:
        found.append((b"sunset", format_datetime(_midnight(told["until"]), usegmt=True).encode()))
    if told["instead"]:
        found.append((b"link", f'<{told["instead"]}>; rel="successor-version"'.encode()))
    return found


def _midnight(day: str) -> datetime:
    return datetime.combine(date.fromisoformat(day), datetime.min.time(), UTC)
