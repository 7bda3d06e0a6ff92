"""Which pages of other origins may read answers (CORS, the Fetch standard), and what of them they may see."""

from collections.abc import Sequence

from starlette.datastructures import Headers
from starlette.middleware.cors import CORSMiddleware
from starlette.responses import Response
from starlette.types import ASGIApp

from api import problems
from api.http.conditions import AT_LEAST, SNAPSHOT
from api.http.refusals import OriginRefused

SENT = ("Authorization", "Idempotency-Key", "If-Match", "If-None-Match", "X-Request-ID", AT_LEAST.decode())
SHOWN = (
    *("ETag", "Link", "Location", "Retry-After", "RateLimit", "RateLimit-Policy", "Deprecation", "Sunset"),
    *("Spoolwright-Truncated", "Idempotency-Replayed", "X-Request-ID", SNAPSHOT.decode()),
)


class Origins(CORSMiddleware):
    """Outside keys and limits, so that a page may read their refusals too; a preflight carries no key."""

    def __init__(self, app: ASGIApp, *, origins: Sequence[str]) -> None:
        super().__init__(
            app,
            allow_origins=origins,
            allow_methods=("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE"),
            allow_headers=SENT,
            expose_headers=SHOWN,
        )

    def preflight_response(self, request_headers: Headers) -> Response:
        """What the page may send; a refusal is told as every other."""
        allowed = super().preflight_response(request_headers)
        if allowed.status_code < 400:
            return allowed
        why = bytes(allowed.body).decode()
        refused = problems.of(OriginRefused(why, fix="name the origin in SPOOLWRIGHT_ORIGINS, or ask from elsewhere"))
        for name, text in allowed.headers.items():
            if name.startswith("access-control-") or name == "vary":
                refused.headers[name] = text
        return refused
