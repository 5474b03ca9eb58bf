"""Puts the service together; the one place that knows every part."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import Final

import msgspec
from litestar import Litestar
from litestar.config.compression import CompressionConfig
from litestar.config.cors import CORSConfig
from litestar.handlers import HTTPRouteHandler
from litestar.types import Receive, Scope, Send
from msgspec import Struct

import wrung
from wrung_service.api.admission import Admission
from wrung_service.api.batches.posting import BatchDoor, Posting
from wrung_service.api.batches.resource import batch_routes
from wrung_service.api.batches.streaming import Streams
from wrung_service.api.bench.resource import Bench, bench_routes
from wrung_service.api.cards.resource import Printer, card_routes, plan_card_routes
from wrung_service.api.certificates.resource import certificate_routes
from wrung_service.api.compositions import composition_routes
from wrung_service.api.coverage.resource import coverage_routes
from wrung_service.api.coverage.work import CoverageWork
from wrung_service.api.crib_pages.resource import crib_page_routes
from wrung_service.api.docs import docs_routes
from wrung_service.api.edge import Edge
from wrung_service.api.estimates.resource import estimate_routes
from wrung_service.api.failures import Handlers, failure_handlers
from wrung_service.api.grades import grade_routes
from wrung_service.api.guide.resource import guide_routes
from wrung_service.api.health import health_routes
from wrung_service.api.inventory.resource import inventory_routes
from wrung_service.api.limits import limits_routes
from wrung_service.api.loans.resource import loan_routes
from wrung_service.api.materials import material_routes
from wrung_service.api.metrics import metrics_routes
from wrung_service.api.openapi import openapi_document
from wrung_service.api.past.resource import past_routes
from wrung_service.api.plans.drawing import drawing_routes
from wrung_service.api.plans.resource import plan_routes
from wrung_service.api.plans.work import PlanWork
from wrung_service.api.problem_pages import problem_routes
from wrung_service.api.records.reading import RecordReader
from wrung_service.api.schemas import Document
from wrung_service.api.shelf.asking import Crib
from wrung_service.api.shelf.resource import shelf_routes
from wrung_service.api.stack_checks.resource import stack_check_routes
from wrung_service.api.stacks.reading import Clock
from wrung_service.api.stacks.resource import stack_routes
from wrung_service.api.stacks.work import StackWork, Worker
from wrung_service.api.start import start_routes
from wrung_service.api.storing import StoreDoor, looking_up
from wrung_service.api.tapers import taper_routes
from wrung_service.api.webhooks.resource import webhook_routes
from wrung_service.beside import BesideWorker
from wrung_service.observe.health import Health
from wrung_service.observe.logs import Log, silent_log
from wrung_service.observe.metrics import Metrics
from wrung_service.observe.refused_claims import RefusedClaims
from wrung_service.observe.searches import noting
from wrung_service.observe.watch import Traces, Watch
from wrung_service.outgoing.addresses import AllowedAddresses
from wrung_service.outgoing.loop import Background
from wrung_service.outgoing.sender import Sender
from wrung_service.pool import SolvePool
from wrung_service.settings import Settings
from wrung_service.store.engine import Store, machine_now
from wrung_service.usecases.self_test import self_test
from wrung_service.usecases.solve_stacks import Solve

_MOST_ASIDE: Final = 8
"""Requests that wait for the store without a worker; it has connections for them, and more."""


class Service:
    """The ASGI application, and what whoever runs it needs to control it."""

    def __init__(
        self,
        edge: Edge,
        document: Document,
        health: Health,
        pool: SolvePool,
        refused_claims: RefusedClaims,
    ) -> None:
        self.edge = edge
        self.document = document
        self.health = health
        self.pool = pool
        self.refused_claims = refused_claims

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        await self.edge(scope, receive, send)


def create_app(  # noqa: PLR0913 -- what whoever embeds it may replace
    settings: Settings,
    *,
    solve: Solve | None = None,
    log: Log | None = None,
    clock: Clock | None = None,
    store: Store | None = None,
    traces: Traces | None = None,
    worker: BesideWorker | None = None,
) -> Service:
    """The service for these settings.

    Args:
        settings: see `wrung_service.settings`.
        solve: finds the plans; replaced in tests and where only the rest is to be timed.
        log: takes the log lines; silent if left out.
        clock: tells which moment it is; if left out, the store's, or else the machine's.
        traces: takes the spans of requests; none are made if left out.
        store: the crib; it belongs to the service, which closes it. Without one it keeps nothing.
        worker: answers batches in a process beside this one; without it others do.
    """
    log = log or silent_log()
    solve = noting(solve or wrung.solve)
    clock = clock or (machine_now if store is None else store.now)
    limits = settings.limits
    pool = SolvePool(
        workers=limits.solve_workers, queue_length=limits.queue_length, aside=_MOST_ASIDE
    )
    health = Health(partial(self_test, solve), log, None if store is None else store.greet)
    refused = RefusedClaims(log)
    metrics = Metrics(pool, lambda: refused.count)
    door = StoreDoor(store)
    kept = None if store is None else door
    look_up = looking_up(door, clock)
    crib = Crib(door=door, clock=clock, limits=limits, prefix=settings.path_prefix)
    work = StackWork(solve, limits, clock, refused, look_up)
    coverage = CoverageWork(limits, clock, look_up)
    printer = Printer(read=RecordReader(limits), public_url=settings.public_url)
    bench = Bench(
        pool,
        work,
        printer,
        most_ms=limits.max_time_limit_ms,
        crib=None if store is None else crib,
    )
    allowed = AllowedAddresses(settings.allowed_networks)
    solving = Worker(solve=solve, limits=limits, note=refused)
    plans = PlanWork(solving, clock, look_up, lambda: door.store)
    posting = Posting(
        door=door,
        clock=clock,
        limits=limits,
        keep_for=settings.batches_kept,
        prefix=settings.path_prefix,
        begun=worker.wake if worker else lambda: None,
    )
    batches = BatchDoor(posting)
    streams = Streams(door=door, ending=lambda: health.ending)
    routes = [
        *stack_routes(pool, limits, work, batches),
        *batch_routes(batches, posting, streams),
        *card_routes(pool, limits, work, printer),
        *stack_check_routes(pool, solve, limits, clock, refused),
        *coverage_routes(pool, limits, coverage),
        *plan_routes(pool, crib, plans),
        *drawing_routes(door),
        *plan_card_routes(door, printer),
        *certificate_routes(pool, limits),
        *estimate_routes(pool, limits),
        *shelf_routes(crib),
        *loan_routes(crib),
        *inventory_routes(crib),
        *past_routes(crib),
        *webhook_routes(crib, allowed),
        *composition_routes(),
        *grade_routes(),
        *material_routes(),
        *taper_routes(),
        *limits_routes(limits),
        *guide_routes(),
        *problem_routes(settings.path_prefix),
        *start_routes(bench),
        *health_routes(health),
        *metrics_routes(metrics, kept, clock),
    ]
    admission = Admission(settings, kept, clock)
    # The self-test's result is kept for a while, so the first probe need not wait for a search.
    lifespan = Lifespan(start=[health.reason_against], end=[pool.close, door.close])
    if store is not None and settings.background == "on":
        background = Background(
            store,
            partial(Sender, allowed),
            clock,
            log,
            batches_kept=settings.batches_kept,
            traces=traces,
        )
        lifespan.start.append(background.start)
        # Before the store is closed, which it needs to its end.
        lifespan.end.insert(0, background.stop)
    if worker is not None:
        lifespan.start.append(worker.start)
        lifespan.end.insert(0, worker.stop)
    handlers = failure_handlers(log, settings.path_prefix)
    app = _litestar(routes, settings, handlers, admission, lifespan)
    # Built before the first request, so that a mistake in a schema stops the start, not a request.
    document = openapi_document(app, settings)
    # After the document, which they show and are no part of.
    asks = settings.access == "required"
    pages = crib_page_routes(crib, handlers, pool, coverage, bench, asks=asks)
    for route in (*docs_routes(msgspec.json.encode(document)), *bench_routes(bench), *pages):
        app.register(route)
    edge = Edge(
        app,
        _methods(app),
        Watch(log, metrics, traces),
        prefix=settings.path_prefix,
        # Also where it makes no difference, since caches ask before they know.
        vary="Origin, Accept-Encoding" if settings.origins else "",
    )
    return Service(edge, document, health, pool, refused)


class Lifespan(Struct, frozen=True, kw_only=True):
    """What is called before the first request, and after the last."""

    start: list[Callable[[], object]]
    end: list[Callable[[], object]]


def _litestar(
    routes: list[HTTPRouteHandler],
    settings: Settings,
    handlers: Handlers,
    admission: Admission,
    lifespan: Lifespan,
) -> Litestar:
    return Litestar(
        routes,
        before_request=admission,
        exception_handlers=handlers,
        request_max_body_size=settings.max_body_bytes,
        # The framework's own document loses constraints of Structs; ours is made in `api.openapi`.
        openapi_config=None,
        # Stronger compression would hold up the event loop for little gain.
        compression_config=CompressionConfig("gzip", minimum_size=1024, gzip_compress_level=4),
        cors_config=_cors(settings),
        # Whoever embeds the service sets up `logging`, or leaves it alone.
        logging_config=None,
        on_startup=[*lifespan.start],
        on_shutdown=[*lifespan.end],
    )


def _cors(settings: Settings) -> CORSConfig | None:
    if not settings.origins:
        return None
    return CORSConfig(
        allow_origins=[*settings.origins],
        allow_methods=["DELETE", "GET", "HEAD", "PATCH", "POST", "PUT", "OPTIONS"],
        expose_headers=[
            *("ETag", "Link", "Location", "Preference-Applied", "Retry-After", "X-Request-ID")
        ],
    )


def _methods(app: Litestar) -> Mapping[str, str]:
    """For each route the methods that it has, as an ``Allow`` header says it."""
    methods: dict[str, set[str]] = {}
    for route in app.routes:
        of_route = methods.setdefault(route.path_format, set())
        of_route.update(route.methods if hasattr(route, "methods") else ())
        # No route has a HEAD of its own; `Edge` answers it wherever there is GET.
        of_route.update({"HEAD"} & {"HEAD" for method in of_route if method == "GET"})
    return {path: ", ".join(sorted(of_route)) for path, of_route in methods.items()}
