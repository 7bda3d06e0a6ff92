"""The HTTP application: routes, problem details, safe headers."""

from pathlib import Path

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api import problems
from api.calc.routes import router as calculations
from api.current import Current
from api.documented import document
from api.routes import bench, depth, lookup, pages, questions, sheets, store, yard

MAX_BODY = 64 * 1024 * 1024
"""Bytes of a request body. A saved answer with its evidence is a few megabytes, a workbook rarely ten."""

HEADERS = (
    (
        b"content-security-policy",
        b"default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none';"
        b" frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


class Shell:
    """The outermost layer: safe headers on every answer, HEAD wherever GET is, early refusal of huge bodies."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, wrapped."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        head = scope["method"] == "HEAD"

        async def wrapped(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), *HEADERS]}
            elif message["type"] == "http.response.body" and head:
                message = {**message, "body": b""}
            await send(message)

        length = dict(scope["headers"]).get(b"content-length", b"0")
        if not length.isdigit() or int(length) > MAX_BODY:
            refused = problems.problem(413, "too-large", f"A body may have {MAX_BODY} bytes", fix="send less")
            await refused(scope, receive, wrapped)
            return
        await self.app({**scope, "method": "GET"} if head else scope, receive, wrapped)


def create_app(store_folder: Path, *, demo: bool = False, shop: str = "") -> FastAPI:
    """The application over one store. `demo` says so on every page."""
    app = FastAPI(
        title="Spoolwright",
        version="1",
        summary="What fits what, and what parts and machining turn a core into a build.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/v1/openapi.json",
    )
    app.state.current = Current(store_folder)
    app.state.demo = demo
    app.state.shop = shop
    problems.install(app)
    for router in (
        questions.router,
        depth.router,
        yard.router,
        bench.router,
        sheets.router,
        sheets.pages,
        lookup.router,
        store.router,
        calculations,
        pages.router,
    ):
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    app.add_middleware(Shell)
    app.openapi = lambda: document(app)  # type: ignore[method-assign]
    return app
