"""Spans of requests and of the stages of their searches, for OpenTelemetry.

Where they go is set by OpenTelemetry's own variables, such as ``OTEL_EXPORTER_OTLP_ENDPOINT``.
Needs the extra ``tracing``.
"""

import time
from collections.abc import Generator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from opentelemetry.context import Context
from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
from opentelemetry.sdk.resources import (
    SERVICE_NAME,
    SERVICE_VERSION,
    OTELResourceDetector,
    Resource,
)
from opentelemetry.sdk.trace import TracerProvider
from opentelemetry.sdk.trace.export import BatchSpanProcessor
from opentelemetry.trace import (
    NonRecordingSpan,
    Span,
    SpanContext,
    SpanKind,
    Status,
    StatusCode,
    TraceFlags,
    format_trace_id,
    set_span_in_context,
)
from opentelemetry.trace.propagation.tracecontext import TraceContextTextMapPropagator

import wrung
from wrung_service.observe.lines import CanonicalLine
from wrung_service.observe.searches import Search

if TYPE_CHECKING:
    from opentelemetry.util.types import AttributeValue

_NS: Final = 1_000_000_000
_FAULT_OF_OURS: Final = 500
_IN_HEADERS: Final = TraceContextTextMapPropagator()


def exporting() -> TracerProvider:
    """Sends spans in batches over OTLP (HTTP) from a thread of its own."""
    own = Resource({SERVICE_NAME: "wrung", SERVICE_VERSION: wrung.__version__})
    # What the operator sets goes before.
    provider = TracerProvider(resource=own.merge(OTELResourceDetector().detect()))
    provider.add_span_processor(BatchSpanProcessor(OTLPSpanExporter()))
    return provider


class RequestTraces:
    """Makes the spans of each request when it is over: its times are known then."""

    def __init__(self, provider: TracerProvider) -> None:
        self._provider = provider
        self._tracer = provider.get_tracer("wrung", wrung.__version__)

    def tell(self, line: CanonicalLine) -> None:
        """Send the spans of a request that is over; notes the trace in its line."""
        zero = time.time_ns() - round(time.perf_counter() * _NS)
        start = zero + round(line.begun * _NS)
        span = self._span(f"{line.method} {line.route or ''}".strip(), _parent(line), start, line)
        # The log names the trace that the client began, or else this one.
        line.trace_id = format_trace_id(span.get_span_context().trace_id)
        inside = set_span_in_context(span)
        for search in line.searches:
            self._search(search, inside, zero + round(search.began * _NS))
        if line.status >= _FAULT_OF_OURS:
            span.set_status(Status(StatusCode.ERROR))
        span.end(start + round(line.duration_ms / 1000 * _NS))

    @contextmanager
    def sending(self, event: str) -> Generator[dict[str, str], None, None]:
        """A span for sending a webhook, and the headers that name it to the receiver."""
        headers: dict[str, str] = {}
        with self._tracer.start_as_current_span(f"webhook {event}", kind=SpanKind.PRODUCER):
            _IN_HEADERS.inject(headers)
            yield headers

    def close(self) -> None:
        """Send what is left."""
        self._provider.shutdown()

    def _span(self, name: str, parent: Context, start: int, line: CanonicalLine) -> Span:
        attributes: dict[str, AttributeValue] = {
            "http.request.method": line.method,
            "http.response.status_code": line.status,
            "wrung.request_id": line.request_id,
        }
        where = {"http.route": line.route, "wrung.outcome": line.outcome}
        attributes |= {key: value for key, value in where.items() if isinstance(value, str)}
        return self._tracer.start_span(
            name, parent, kind=SpanKind.SERVER, attributes=attributes, start_time=start
        )

    def _search(self, search: Search, inside: Context, start: int) -> None:
        attributes: dict[str, AttributeValue] = {
            "wrung.outcome": search.outcome,
            "wrung.engine": search.engine,
            "wrung.proof_gap": search.proof_gap,
        }
        span = self._tracer.start_span("solve", inside, attributes=attributes, start_time=start)
        within = set_span_in_context(span)
        for each in search.stages:
            began = start + round(each.began_ms / 1000 * _NS)
            stage = self._tracer.start_span(each.stage, within, start_time=began)
            stage.end(began + round(each.took_ms / 1000 * _NS))
        span.end(start + round(search.took_ms / 1000 * _NS))


def _parent(line: CanonicalLine) -> Context:
    """The span that the request was sent in; a trace of its own without one."""
    if not isinstance(line.trace_id, str) or not isinstance(line.parent_id, str):
        return Context()
    sent_in = SpanContext(
        trace_id=int(line.trace_id, 16),
        span_id=int(line.parent_id, 16),
        is_remote=True,
        trace_flags=TraceFlags(TraceFlags.SAMPLED if line.sampled else TraceFlags.DEFAULT),
    )
    return set_span_in_context(NonRecordingSpan(sent_in))
