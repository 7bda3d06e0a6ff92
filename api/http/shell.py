"""The outermost layer: a request id, safe headers, HEAD wherever GET is, OPTIONS, early refusal of huge bodies."""

import json
import logging
import re
import time
import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from anyio import CancelScope
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api import problems
from api.http.addresses import Addresses, in_pieces
from api.http.metrics import Metrics

MAX_BODY: Final = 64 * 1024 * 1024
"""Bytes of a request body. A saved answer with its evidence is a few megabytes, a workbook rarely ten."""

REQUEST_ID: Final = b"x-request-id"
_SOUND: Final = re.compile(rb"[A-Za-z0-9._~-]{1,64}")
Refused = Callable[[Mapping[str, Any]], bytes]
"""Makes the page that tells a refusal, from the problem document."""

log = logging.getLogger("spoolwright.requests")


class Shell:
    """Wraps every answer; what it adds, no route can forget."""

    def __init__(
        self,
        app: ASGIApp,
        *,
        headers: Sequence[tuple[bytes, bytes]],
        addresses: Addresses,
        metrics: Metrics,
        refused: Refused,
        preflights: bool = False,
    ) -> None:
        """`refused` makes the page of a refusal; `preflights`: some layer below answers those of browsers."""
        self.app = app
        self._refused = refused
        self._preflights = preflights
        self._headers = list(headers)
        self._addresses = addresses
        self._metrics = metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, wrapped."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        began = time.perf_counter()
        raw_path = scope.get("raw_path") or b""
        if b"%2f" in raw_path.lower() and not self._addresses.methods(scope["path"]):
            scope = {**scope, "path": in_pieces(raw_path)}
        asked = scope["method"]
        given = dict(scope["headers"])
        own = given.get(REQUEST_ID, b"")
        name = own if _SOUND.fullmatch(own) else uuid.uuid4().hex.encode()
        scope.setdefault("state", {})["request_id"] = name.decode()
        added = [*self._headers, (REQUEST_ID, name)]
        status, size = 0, 0
        rest = CancelScope()

        async def wrapped(message: Message) -> None:
            nonlocal status, size
            if message["type"] == "http.response.start":
                status = message["status"]
                headers = [*message.get("headers", ()), *added]
                if status == 405:
                    headers = self._with_allow(scope["path"], headers)
                message = {**message, "headers": headers}
            elif message["type"] == "http.response.body":
                size += len(message.get("body", b""))
                if asked == "HEAD":
                    if rest.cancel_called:
                        return
                    await send({"type": "http.response.body", "body": b""})
                    rest.cancel()  # a feed would never end
                    return
            await send(message)

        try:
            with rest:
                await self._answered(scope, given, receive, self._readable(scope, given, wrapped))
        finally:
            took = time.perf_counter() - began
            template = scope["state"].get("address", "")
            self._metrics.answered(asked, template, status, took)
            if log.isEnabledFor(logging.INFO):
                log.info(
                    "%s %s %s",
                    asked,
                    scope["path"],
                    status,
                    extra={
                        "told": {
                            "request": name.decode(),
                            "method": asked,
                            "path": scope["path"],
                            "status": status,
                            "bytes": size,
                            "milliseconds": round(took * 1000, 3),
                        }
                    },
                )

    async def _answered(self, scope: Scope, given: dict[bytes, bytes], receive: Receive, send: Send) -> None:
        length = given.get(b"content-length", b"0")
        if not length.isdigit() or int(length) > MAX_BODY:
            refused = problems.problem(413, "too-large", f"A body may have {MAX_BODY} bytes", fix="send less")
            await refused(scope, receive, send)
        elif given.get(b"content-encoding", b"identity").lower() != b"identity":
            refused = problems.problem(415, "body-encoded", "A body comes as it is, not packed", fix="unpack it")
            refused.headers["Accept-Encoding"] = "identity"
            await refused(scope, receive, send)
        elif not self._preflight(given) and (methods := self._offered(scope)):
            allow = ", ".join(methods).encode()
            await send({"type": "http.response.start", "status": 204, "headers": [(b"allow", allow)]})
            await send({"type": "http.response.body", "body": b""})
        else:
            asked = {**scope, "method": "GET"} if scope["method"] == "HEAD" else scope
            await self.app(asked, receive if b"content-length" in given else _counted(receive), send)

    def _offered(self, scope: Scope) -> list[str]:
        """The methods that are asked for by OPTIONS."""
        return self._addresses.methods(scope["path"]) if scope["method"] == "OPTIONS" else []

    def _preflight(self, given: Mapping[bytes, bytes]) -> bool:
        return self._preflights and b"origin" in given and b"access-control-request-method" in given

    def _readable(self, scope: Scope, given: Mapping[bytes, bytes], send: Send) -> Send:
        """The same answer; a refusal as a page where a person in a browser asked for a page."""
        if scope["path"].startswith("/v1/") or b"text/html" not in given.get(b"accept", b""):
            return send
        start: Message | None = None
        pieces: list[bytes] = []

        async def readable(message: Message) -> None:
            nonlocal start
            if message["type"] == "http.response.start":
                if dict(message.get("headers", ())).get(b"content-type") == problems.MEDIA.encode():
                    start = message
                    return
            elif start is not None and message["type"] == "http.response.body":
                pieces.append(message.get("body", b""))
                if message.get("more_body"):
                    return
                body = self._refused(json.loads(b"".join(pieces)))
                told = [(b"content-type", b"text/html; charset=utf-8"), (b"content-length", str(len(body)).encode())]
                kept = [(name, text) for name, text in start["headers"] if name.lower() not in dict(told)]
                await send({**start, "headers": [*kept, *told, (b"vary", b"Accept")]})
                message = {"type": "http.response.body", "body": body}
            await send(message)

        return readable

    def _with_allow(self, path: str, headers: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
        allow = ", ".join(self._addresses.methods(path)).encode()
        return [(name, value) for name, value in headers if name.lower() != b"allow"] + [(b"allow", allow)]


def _counted(receive: Receive) -> Receive:
    """The same body, refused once it is too long: one without a length may be of any."""
    size = 0

    async def counted() -> Message:
        nonlocal size
        message = await receive()
        size += len(message.get("body", b""))
        if size > MAX_BODY:
            raise HTTPException(413, f"A body may have {MAX_BODY} bytes")
        return message

    return counted


class JsonLines(logging.Formatter):
    """One JSON object a line: time, level, what happened; of requests what `told` holds."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as one line."""
        said = {
            "time": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(record.created)),
            "level": record.levelname.lower(),
            "log": record.name,
            "text": record.getMessage(),
            **getattr(record, "told", {}),
        }
        if record.exc_info:
            said["error"] = self.formatException(record.exc_info)
        return json.dumps(said, ensure_ascii=False)
