"""A limit on how much one caller may ask, told in the `RateLimit` fields."""

import time

from limits import RateLimitItem, parse
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api import problems
from api.http.refusals import TooMany


class Limited:
    """Counts requests by key, or by address where none is sent, over a moving window; pages' own files are free.

    The fields are those of the IETF draft *RateLimit header fields for HTTP*: the policy with quota and window in
    seconds, and what remains of it.
    """

    def __init__(self, app: ASGIApp, *, rate: str) -> None:
        self.app = app
        self._item: RateLimitItem = parse(rate)
        self._limiter = MovingWindowRateLimiter(MemoryStorage())
        self._policy = f'"caller";q={self._item.amount};w={self._item.get_expiry()}'.encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count, then pass on or refuse."""
        if scope["type"] != "http" or scope["path"].startswith(("/static/", "/health", "/ready")):
            await self.app(scope, receive, send)
            return
        caller = dict(scope["headers"]).get(b"authorization", b"").decode("latin-1")
        caller = caller or (scope.get("client") or ("",))[0]
        allowed = self._limiter.hit(self._item, caller)
        window = self._limiter.get_window_stats(self._item, caller)
        seconds = max(1, round(window.reset_time - time.time()))
        told = [
            (b"ratelimit-policy", self._policy),
            (b"ratelimit", f'"caller";r={window.remaining};t={seconds}'.encode()),
        ]
        if not allowed:
            error = TooMany(f"this server takes {self._item} from one caller", fix="wait, or ask in batches")
            refused = problems.of(error, told)
            refused.headers["Retry-After"] = str(seconds)
            await refused(scope, receive, send)
            return

        async def counted(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), *told]}
            await send(message)

        await self.app(scope, receive, counted)
