"""Lists a page at a time, by the key of the last thing, so that nothing is skipped or given twice (RFC 8288)."""

import base64
import binascii
import json
from collections.abc import Sequence
from typing import Annotated, Any, Generic, TypeVar
from urllib.parse import urlencode

from fastapi import Query, Request, Response
from pydantic import BaseModel, Field

from api.http.refusals import BadHeader
from graph.model.record import Snapshot

T = TypeVar("T")
MOST = 1000

Limit = Annotated[int, Query(ge=1, le=MOST, description="At most so many a page")]
After = Annotated[str, Query(max_length=500, description="Where the page before ended, as its `next` says")]


class Page(BaseModel, Generic[T]):
    """One page of a list. `truncated`: there is more, at `next`. Keys of the items are in their order."""

    items: list[T]
    truncated: bool
    next: str = Field("", description="Address of the next page; empty on the last one")
    snapshot: Snapshot


def cursor(key: Any) -> str:
    """A key as it stands in an address.

    >>> key_of(cursor("part/Ostrel/1"))
    'part/Ostrel/1'
    """
    return base64.urlsafe_b64encode(json.dumps(key, separators=(",", ":")).encode()).decode().rstrip("=")


def key_of(text: str) -> Any:
    """The key in a cursor; None for an empty one.

    Raises
    ------
    BadHeader
        It is none of ours.
    """
    if not text:
        return None
    try:
        return json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
    except (ValueError, binascii.Error) as error:
        raise BadHeader("`after` is not where a page ended", fix="take `next` as the page before gave it") from error


def text_key(text: str) -> str:
    """The same where the key is a text."""
    found = key_of(text)
    if found is not None and not isinstance(found, str):
        raise elsewhere()
    return found or ""


def elsewhere() -> BadHeader:
    """The refusal of a place that is in some other list."""
    return BadHeader("`after` is not where a page of this list ended", fix="take `next` as the page before gave it")


def following(request: Request, last: Any) -> str:
    """The address of the page after the one that ends with this key."""
    return numbered(request, cursor(last))


def numbered(request: Request, last: int | str, field: str = "after") -> str:
    """The same where the place is told as it is, in a field of its own."""
    return f"{request.url.path}?{urlencode([*_asked(request, field), (field, str(last))])}"


def _asked(request: Request, field: str) -> list[tuple[str, str]]:
    """What was asked but for the place; `as-of` was taken out of the address on the way in."""
    as_of = request.scope.get("state", {}).get("as_of", "")
    asked = [(name, text) for name, text in request.query_params.multi_items() if name != field]
    return [*asked, ("as-of", as_of)] if as_of else asked


def linked(request: Request, response: Response, next_: str, field: str = "after") -> None:
    """Put the next page, where there is one, and the first into the `Link` field; `field` names the place."""
    first = _asked(request, field)
    links = [f'<{request.url.path}{"?" + urlencode(first) if first else ""}>; rel="first"']
    if next_:
        links.append(f'<{next_}>; rel="next"')
    response.headers["Link"] = ", ".join(links)


def more(request: Request, response: Response, next_: str, field: str = "after") -> None:
    """Say of an answer that is the list alone that there is more, and where."""
    linked(request, response, next_, field)
    response.headers["Spoolwright-Truncated"] = "there is more, see Link"


def cut(found: Sequence[T], limit: int) -> tuple[Sequence[T], bool]:
    """The page of a list that was read one beyond its limit, and whether there is more."""
    return found[:limit], len(found) > limit
