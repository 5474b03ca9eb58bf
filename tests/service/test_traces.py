"""Spans of requests, as OpenTelemetry's own exporter in memory takes them."""

from collections.abc import Iterator
from typing import cast

import pytest
from litestar.testing import TestClient
from opentelemetry.sdk.trace import ReadableSpan, TracerProvider
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from opentelemetry.trace import SpanContext, SpanKind

from service.bodies import request, target
from service.conftest import Client, LogBook
from wrung_service.app import create_app
from wrung_service.observe.logs import make_log
from wrung_service.observe.traces import RequestTraces
from wrung_service.settings import Settings

TRACE, PARENT = "0af7651916cd43dd8448eb211c80319c", "b7ad6b7169203331"


class Spans:
    """What was exported."""

    def __init__(self) -> None:
        self._exporter = InMemorySpanExporter()
        provider = TracerProvider()
        provider.add_span_processor(SimpleSpanProcessor(self._exporter))
        self.traces = RequestTraces(provider)

    def all(self) -> tuple[ReadableSpan, ...]:
        return self._exporter.get_finished_spans()

    def named(self, name: str) -> ReadableSpan:
        [found] = [each for each in self.all() if each.name == name]
        return found


@pytest.fixture
def spans() -> Iterator[Spans]:
    spans = Spans()
    yield spans
    spans.traces.close()


@pytest.fixture
def traced(log_book: LogBook, spans: Spans) -> Iterator[Client]:
    app = create_app(Settings(), log=make_log(log_book.stream), traces=spans.traces)
    with TestClient(app) as client:
        yield client


def context(span: ReadableSpan) -> SpanContext:
    return cast("SpanContext", span.context)


def test_a_request_has_spans_down_to_the_stages_of_its_search(
    traced: Client, spans: Spans, log_book: LogBook
) -> None:
    """Each within the one above it, in time as well."""
    traced.post("/v1/stacks", json=request(targets=[target("op20", "9.9")]))

    whole, solve = spans.named("POST /v1/stacks"), spans.named("solve")
    assert whole.kind is SpanKind.SERVER
    assert solve.parent is not None
    assert solve.parent.span_id == context(whole).span_id
    for name in ("check", "search", "changes", "explain"):
        stage = spans.named(name)
        assert stage.parent is not None
        assert stage.parent.span_id == context(solve).span_id
        assert within(stage, solve)
    assert within(solve, whole)
    assert (solve.attributes or {})["wrung.outcome"] == "infeasible"
    [line] = log_book.lines()
    assert line["trace_id"] == f"{context(whole).trace_id:032x}"


def within(span: ReadableSpan, other: ReadableSpan) -> bool:
    assert None not in (span.start_time, span.end_time, other.start_time, other.end_time)
    # Rounding to nanoseconds.
    return (
        (other.start_time or 0) - 1000
        <= (span.start_time or 0)
        <= (span.end_time or 0)
        <= (other.end_time or 0) + 10_000_000
    )


@pytest.mark.parametrize(("flags", "sent"), [("01", 1), ("00", 0)])
def test_the_trace_of_the_client_goes_on(
    traced: Client, spans: Spans, flags: str, sent: int
) -> None:
    """In the same trace, below its span; and only if it records it (W3C Trace Context, 3.2.2.5)."""
    traced.get("/v1/limits", headers={"traceparent": f"00-{TRACE}-{PARENT}-{flags}"})

    assert len(spans.all()) == sent
    for span in spans.all():
        assert span.parent is not None
        assert f"{span.parent.trace_id:032x}" == TRACE
        assert f"{span.parent.span_id:016x}" == PARENT


def test_probes_have_no_spans(traced: Client, spans: Spans) -> None:
    """They never stop coming."""
    for path in ("/livez", "/readyz", "/metrics"):
        traced.get(path)
    assert spans.all() == ()


def test_a_webhook_names_the_span_that_it_is_sent_in(spans: Spans) -> None:
    """So that its receiver can go on with the trace."""
    with spans.traces.sending("plan.changed") as headers:
        pass
    span = spans.named("webhook plan.changed")
    wanted = f"00-{context(span).trace_id:032x}-{context(span).span_id:016x}-"
    assert headers["traceparent"].startswith(wanted)
