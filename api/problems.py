"""Errors as RFC 9457 problem details, each with a stable code.

Nothing that came in is echoed but what an error's own message shows, and no text of an unexpected exception leaves.
"""

import json
import logging
from collections.abc import Iterable
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from api.http.bodies import Unreadable
from graph.errors import SpoolwrightError

MEDIA = "application/problem+json"
BASE = "https://spoolwright.example/problems/"
HTTP_CODES = {404: "no-such-route", 405: "method-not-allowed", 413: "too-large", 415: "body-encoded"}
FIXES = {404: "/v1/openapi.json lists the addresses", 405: "see `Allow`", 413: "send less"}
UNREADABLE = "The request does not have the form that this address takes"
log = logging.getLogger("spoolwright")


def problem(status: int, code: str, title: str, detail: str = "", fix: str = "", **more: Any) -> Response:
    """One problem-details response; `code` is the stable name, `fix` says what to do."""
    body = _body(status, code, title, detail, fix) | more
    return Response(json.dumps(body, ensure_ascii=True), status, media_type=MEDIA)


def _body(status: int, code: str, title: str, detail: str, fix: str) -> dict[str, Any]:
    body: dict[str, Any] = {"type": BASE + code, "code": code, "title": title, "status": status}
    if detail:
        body["detail"] = detail
    if fix:
        body["fix"] = fix
    return body


def content(error: SpoolwrightError) -> dict[str, Any]:
    """What a problem document says of a known error."""
    title = (type(error).__doc__ or error.code).split(";")[0].split(".")[0].strip()
    return _body(error.status_hint, error.code, title, error.message, error.fix)


def of(error: SpoolwrightError, headers: Iterable[tuple[bytes, bytes]] = ()) -> Response:
    """The response that tells of a known error; one that passes by itself says when to try again."""
    response = Response(json.dumps(content(error), ensure_ascii=True), error.status_hint, media_type=MEDIA)
    if error.status_hint in (429, 503):
        response.headers["Retry-After"] = str(getattr(error, "seconds", 2))
    response.raw_headers.extend(headers)
    return response


def _fix(request: Request, faults: list[dict[str, str]]) -> str:
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if any(one["where"] == "body" for one in faults) and not kind.endswith("json"):
        return "send a JSON object as Content-Type: application/json"
    return "see `faults`"


def install(app: FastAPI) -> None:
    """Let every error of `app` leave as problem details."""

    @app.exception_handler(SpoolwrightError)
    async def known(_request: Request, error: SpoolwrightError) -> Response:
        return of(error)

    @app.exception_handler(RequestValidationError)
    async def unreadable(request: Request, error: RequestValidationError) -> Response:
        faults = [
            {"where": ".".join(str(step) for step in fault["loc"]), "why": str(fault["msg"])}
            for fault in error.errors()
        ]
        return problem(
            422,
            "bad-request",
            UNREADABLE,
            fix=_fix(request, faults),
            faults=faults,
        )

    @app.exception_handler(HTTPException)
    async def http(_request: Request, error: HTTPException) -> Response:
        if error.status_code == 400:  # all that is not read as a body
            faults = [{"where": "body", "why": "it cannot be read in the form that its Content-Type names"}]
            if isinstance(error, Unreadable):
                return problem(
                    422, "bad-request", UNREADABLE, fix="see `faults`; send JSON in UTF-8", faults=error.faults
                )
            return problem(422, "bad-request", UNREADABLE, fix="send it as the document says", faults=faults)
        code = HTTP_CODES.get(error.status_code, f"http-{error.status_code}")
        response = problem(error.status_code, code, str(error.detail), fix=FIXES.get(error.status_code, ""))
        response.headers.update(error.headers or {})
        return response

    @app.exception_handler(Exception)
    async def unexpected(request: Request, error: Exception) -> Response:
        log.exception("unexpected error at %s %s", request.method, request.url.path, exc_info=error)
        return problem(500, "internal", "The program failed; nothing was changed", fix="tell the person who runs it")
