"""OpenTelemetry spans of requests and of the questions behind them, without what was asked.

An address may name a customer, a job or a core, in its path or its query: a span names its route instead.
"""

from collections.abc import Mapping
from contextlib import AbstractContextManager, nullcontext
from typing import Any, Final

from fastapi import Request
from opentelemetry import trace
from opentelemetry.trace import Span, Tracer, TracerProvider

UNSAID: Final = frozenset({"url.path", "url.query", "url.full"})
"""Attributes that hold what was asked."""


class Discreet(TracerProvider):
    """Another provider, whose spans say nothing of what was asked."""

    def __init__(self, inner: Any) -> None:
        self._inner = inner

    def get_tracer(self, *args: Any, **named: Any) -> Tracer:
        """A tracer that leaves those attributes out."""
        return _DiscreetTracer(self._inner.get_tracer(*args, **named))

    def add_span_processor(self, processor: Any) -> None:
        """Hand finished spans to it; FastAPI adds the exporter of the environment this way."""
        self._inner.add_span_processor(processor)


class _DiscreetTracer(Tracer):
    def __init__(self, inner: Tracer) -> None:
        self._inner = inner

    def start_span(self, name: str, *args: Any, **named: Any) -> Span:
        return self._inner.start_span(name, *args, **_without(named))

    def start_as_current_span(self, name: str, *args: Any, **named: Any) -> Any:
        return self._inner.start_as_current_span(name, *args, **_without(named))


def _without(named: dict[str, Any]) -> dict[str, Any]:
    said: Mapping[str, Any] = named.get("attributes") or {}
    return {**named, "attributes": {name: value for name, value in said.items() if name not in UNSAID}}


def discreet() -> Discreet:
    """Over the provider that the process has, or one of its own; call it where the SDK is installed."""
    # The SDK is not among what is installed with this program: who switches telemetry on brings it along.
    from opentelemetry.sdk.trace import TracerProvider as SdkProvider  # noqa: PLC0415

    held = trace.get_tracer_provider()
    return Discreet(held if isinstance(held, SdkProvider) else SdkProvider())


def question(request: Request, kind: str, form: str) -> AbstractContextManager[Any]:
    """A span around a question to the desk; nothing where telemetry is off."""
    provider: Discreet | None = getattr(request.app.state, "traces", None)
    if provider is None:
        return nullcontext()
    attributes = {"spoolwright.question": kind, "spoolwright.form": form}
    return provider.get_tracer("spoolwright").start_as_current_span(f"desk {kind}", attributes=attributes)
