"""The HTTP application: its routes, and the layers around them."""

from asyncio import gather
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import partial
from importlib.util import find_spec
from pathlib import Path

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from fastapi.telemetry import TelemetryConfig
from starlette.concurrency import run_in_threadpool
from starlette.middleware.gzip import GZipMiddleware

from api import problems
from api.access import Gate
from api.calc.routes import router as calculations
from api.courier.courier import Courier
from api.courier.targets import private_allowed
from api.current import Current
from api.documented import document
from api.http.addresses import Addresses
from api.http.conditions import Answers, Conditions
from api.http.crew import Crew, Inline
from api.http.direct import Direct
from api.http.metrics import Metrics
from api.http.origins import Origins
from api.http.rate import Limited
from api.http.shell import Shell
from api.http.tasks import Tasks
from api.http.traces import discreet
from api.pages.refused import refused_page
from api.routes import (
    batch,
    bench,
    changes,
    depth,
    events,
    figures,
    graph,
    jobs,
    keys,
    lookup,
    operating,
    pages,
    photos,
    questions,
    sheets,
    signoffs,
    stock,
    store,
    things,
    yard,
)
from api.settings import Serving
from api.sheets import Sheets
from api.work import answer
from graph.errors import BadQuestion

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

GZIP_LEVEL = 4
"""Levels above take several times as long for a few per cent less."""


def create_app(
    store_folder: Path,
    *,
    demo: bool = False,
    shop: str = "",
    serving: Serving | None = None,
    begun: Callable[[], None] = lambda: None,
) -> FastAPI:
    """The application over one store. `demo` says so on every page; `begun` is called when it takes questions."""
    serving = serving or Serving()

    @asynccontextmanager
    async def running(app: FastAPI) -> AsyncIterator[None]:
        courier = Courier(app.state.current.store, private=lambda: app.state.private_hooks, kept_days=serving.events)
        courier.start()
        await gather(*(run_in_threadpool(crew.start) for crew in (app.state.crew, app.state.deep)))
        begun()
        yield
        await run_in_threadpool(courier.stop)
        app.state.sparql.close()
        app.state.crew.close()
        app.state.deep.close()
        app.state.current.close()

    telemetry = _telemetry(on=serving.telemetry)
    app = FastAPI(
        title="Spoolwright",
        version="1",
        summary="What fits what, and what parts and machining turn a core into a build.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/v1/openapi.json",
        lifespan=running,
        telemetry=telemetry,
    )
    app.state.traces = telemetry["tracer_provider"]
    app.state.current = Current(store_folder)
    app.state.private_hooks = private_allowed()
    app.state.demo = demo
    app.state.shop = shop
    app.state.serving = serving
    app.state.metrics = Metrics()
    app.state.answers = Answers()
    app.state.tasks = Tasks()
    app.state.sheets = Sheets()
    app.state.sparql = Crew("api.sparql_worker", [str(store_folder)], workers=1, waiting=4)
    app.state.crew = _crew(app, store_folder, serving.workers)
    app.state.deep = _crew(app, store_folder, (serving.workers + 1) // 2)  # long ones do not take the counter's place
    problems.install(app)
    for router in (
        questions.router,
        things.router,  # early: the routes that are asked most are found first
        batch.router,
        depth.router,
        yard.router,
        bench.router,
        sheets.router,
        sheets.pages,
        lookup.router,
        things.names,
        store.router,
        operating.bare,
        operating.router,
        graph.router,
        graph.well_known,
        events.router,
        jobs.router,
        stock.router,
        figures.router,
        photos.router,
        signoffs.router,
        changes.router,
        keys.router,
        calculations,
        pages.router,
    ):
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    _wrap(app, serving)
    app.openapi = lambda: document(app)  # type: ignore[method-assign]
    return app


def _wrap(app: FastAPI, serving: Serving) -> None:
    """The layers, the innermost first."""
    addresses = Addresses(app)
    if not serving.telemetry:  # which tells its spans by the route
        app.add_middleware(Direct, current=app.state.current)
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=GZIP_LEVEL)
    app.add_middleware(
        Conditions,
        current=app.state.current,
        addresses=addresses,
        metrics=app.state.metrics,
        answers=app.state.answers,
    )
    if serving.rate:
        app.add_middleware(Limited, rate=serving.rate)
    app.add_middleware(Gate)
    if serving.origins:
        app.add_middleware(Origins, origins=serving.origins)
    app.add_middleware(
        Shell,
        headers=HEADERS,
        addresses=addresses,
        metrics=app.state.metrics,
        refused=partial(refused_page, app),
        preflights=bool(serving.origins),
    )


def _crew(app: FastAPI, folder: Path, workers: int) -> Crew | Inline:
    """Who answers what takes long: processes, or this one."""
    if workers:
        return Crew("api.worker", [str(folder)], workers=workers)
    return Inline(lambda asked: answer(app.state.current, asked))


def _telemetry(*, on: bool) -> TelemetryConfig:
    """The switch for OpenTelemetry; the exporter is named by its own environment variables.

    Raises
    ------
    BadQuestion
        It is switched on and its SDK is not installed.
    """
    if on and find_spec("opentelemetry.sdk") is None:
        raise BadQuestion(
            "telemetry is switched on and the OpenTelemetry SDK is not installed",
            fix="install opentelemetry-sdk and an exporter, or switch it off",
        )
    return TelemetryConfig(
        tracer_provider=discreet() if on else None, tracing=on, metrics=on, logs=False, auto_configure=on
    )
