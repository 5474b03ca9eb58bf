"""What an operator watches, as Prometheus reads it: of requests, searches, workers and the crib."""

from collections.abc import Callable, Iterable
from functools import cache
from typing import Final

from msgspec.structs import asdict
from prometheus_client import (
    CollectorRegistry,
    Counter,
    GCCollector,
    Histogram,
    PlatformCollector,
    ProcessCollector,
)
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily, Metric
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

import wrung
from wrung_service.observe.lines import CanonicalLine
from wrung_service.observe.searches import Search
from wrung_service.pool import SolvePool
from wrung_service.store.figures import Figures

_SECONDS: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 60)
_REFUSED: Final = 400
_SHARES: Final = (0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1)

_OF_CRIB: Final = {
    "promised_blocks": "Blocks that a plan holds now or later.",
    "blocks_out": "Blocks that went out and are not back.",
    "overdue_loans": "Blocks that are out and were due back before now.",
    "overdue_calibrations": "Blocks whose last day of use before calibration is over (UTC).",
    "plans_at_risk": "Plans that count on a block that they will not have as promised.",
    "waiting_webhooks": "Messages that were neither delivered nor given up.",
    "waiting_batches": "Batches that are not answered in full.",
    "waiting_requests": "Requests of batches that wait for a worker, or are with one.",
    "oldest_batch_seconds": "For how long the oldest batch waits.",
}


class Metrics:
    """Counts from the start of the process; nothing global, so that services do not mix."""

    def __init__(self, pool: SolvePool, refused_claims: Callable[[], int]) -> None:
        """``refused_claims`` tells how many answers were sent without their claims."""
        self._registry = CollectorRegistry()
        self._requests = self._counter(
            "wrung_http_requests", "Requests answered.", "method", "route", "status"
        )
        self._seconds = self._histogram(
            "wrung_http_request_seconds", "From first to last byte.", "route"
        )
        self._problems = self._counter("wrung_problems", "Requests refused, by problem.", "problem")
        self._waited = self._histogram("wrung_wait_seconds", "Waiting for a free worker.")
        self._searches = self._histogram(
            "wrung_search_seconds", "Time of a search.", "outcome", "engine"
        )
        stages = self._histogram("wrung_search_stage_seconds", "A stage of it.", "stage")
        # Every search has the same few, and finding one by its label takes longer than counting.
        self._stage = cache(stages.labels)
        self._gaps = Histogram(
            "wrung_proof_gap_ratio",
            "How far the first unproven goal of a plan may be from the best.",
            buckets=_SHARES,
            registry=self._registry,
        )
        self._registry.register(_Now(pool, refused_claims))
        ProcessCollector(registry=self._registry)
        PlatformCollector(registry=self._registry)
        GCCollector(registry=self._registry)

    def count(self, line: CanonicalLine) -> None:
        """Count a request that is over."""
        # A path that is no route of ours can be anything; its name would be kept for ever.
        route = line.route or "none"
        self._requests.labels(line.method if line.route else "any", route, str(line.status)).inc()
        self._seconds.labels(route).observe(line.duration_ms / 1000)
        if line.status >= _REFUSED and isinstance(line.outcome, str):
            self._problems.labels(line.outcome).inc()
        if isinstance(line.waited_ms, float):
            self._waited.observe(line.waited_ms / 1000)
        for search in line.searches:
            self._count_search(search)

    def _count_search(self, search: Search) -> None:
        self._searches.labels(search.outcome, search.engine).observe(search.took_ms / 1000)
        for each in search.stages:
            self._stage(each.stage).observe(each.took_ms / 1000)
        self._gaps.observe(search.proof_gap)

    def written(self, accept: str, crib: Figures | None, *, store: bool) -> tuple[bytes, str]:
        """All of it and its media type; ``crib`` None: there is none, or it did not answer."""
        encode, media_type = choose_encoder(accept)
        if media_type.startswith("text/"):
            # The framework says it of every text.
            media_type = media_type.removesuffix("; charset=utf-8")
        own = encode(self._registry)
        if not store:
            return own, media_type
        of_crib = CollectorRegistry()
        of_crib.register(_Crib(crib))
        more = encode(of_crib)
        # OpenMetrics ends with a mark, which may stand there only once.
        return own.removesuffix(b"# EOF\n") + more, media_type

    def _counter(self, name: str, about: str, *labels: str) -> Counter:
        return Counter(name, about, labels, registry=self._registry)

    def _histogram(self, name: str, about: str, *labels: str) -> Histogram:
        return Histogram(name, about, labels, buckets=_SECONDS, registry=self._registry)


class _Now(Collector):
    """What is so at the moment of asking."""

    def __init__(self, pool: SolvePool, refused_claims: Callable[[], int]) -> None:
        self._pool, self._refused_claims = pool, refused_claims

    def collect(self) -> Iterable[Metric]:
        yield InfoMetricFamily("wrung_build", "The version.", {"version": wrung.__version__})
        yield GaugeMetricFamily("wrung_workers", "Searches at one time.", self._pool.workers)
        yield GaugeMetricFamily("wrung_workers_busy", "Workers that work.", self._pool.running)
        yield GaugeMetricFamily("wrung_queue_length", "Requests that wait.", self._pool.waiting)
        yield GaugeMetricFamily("wrung_queue_places", "Most that may.", self._pool.queue_length)
        yield CounterMetricFamily(
            "wrung_claims_refused",
            "Answers sent without claims, as the checker did not confirm them.",
            self._refused_claims(),
        )


class _Crib(Collector):
    def __init__(self, figures: Figures | None) -> None:
        self._figures = figures

    def collect(self) -> Iterable[Metric]:
        yield GaugeMetricFamily("wrung_store_up", "Whether the store answered.", self._up)
        if self._figures is not None:
            for name, number in asdict(self._figures).items():
                yield GaugeMetricFamily(f"wrung_{name}", _OF_CRIB[name], number)

    @property
    def _up(self) -> int:
        return int(self._figures is not None)
