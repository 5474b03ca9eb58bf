"""``GET /metrics``: what an operator watches, for Prometheus."""

import asyncio
from collections.abc import Callable
from datetime import datetime
from typing import Final

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import current_caller
from wrung_service.api.operations import OPERATION, Example, MediaBody, Operation
from wrung_service.api.problem_types import FORBIDDEN
from wrung_service.api.problems import Refusal
from wrung_service.api.storing import StoreDoor
from wrung_service.observe.metrics import Metrics
from wrung_service.pool import BusyError
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError
from wrung_service.store.figures import Figures, count_figures

_STORE_S: Final = 2.0
"""How long the store may take; less than scrapers usually wait."""
_TEXT: Final = MediaBody(
    media_type="text/plain",
    name="Metrics",
    schema={"type": "string", "description": "One figure a line, as Prometheus reads them."},
    examples={
        "figures": Example(
            summary="Two of them",
            value="# HELP wrung_queue_length Requests that wait.\n"
            "# TYPE wrung_queue_length gauge\nwrung_queue_length 0.0\n",
        )
    },
)
_OPEN: Final = MediaBody(
    media_type="application/openmetrics-text",
    name="OpenMetrics",
    schema={"type": "string", "description": "The same in the format OpenMetrics."},
    examples={
        "figures": Example(
            summary="One of them",
            value="# HELP wrung_queue_length Requests that wait.\n"
            "# TYPE wrung_queue_length gauge\nwrung_queue_length 0.0\n# EOF\n",
        )
    },
)
_METRICS: Final = Operation(
    id="getMetrics",
    tag="service",
    summary="Get figures for monitoring",
    description="Requests, searches, workers, and of the crib what is promised, out and overdue, "
    "over all sites: a key or token must not be bound to one. In the text format of Prometheus, "
    "or with `Accept: application/openmetrics-text` as OpenMetrics.",
    answer_media=(_TEXT, _OPEN),
)


def metrics_routes(
    metrics: Metrics, door: StoreDoor | None, clock: Callable[[], datetime]
) -> list[HTTPRouteHandler]:
    """The route."""

    @get("/metrics", opt={OPERATION: _METRICS})
    async def get_metrics(request: HttpRequest) -> Response[bytes]:
        if current_caller().sites is not None:
            raise Refusal(FORBIDDEN, "The figures are of all sites; this key sees only some.")
        crib = None if door is None else await _figures(door, clock())
        accept = request.headers.get("accept", "")
        body, media_type = metrics.written(accept, crib, store=door is not None)
        return Response(body, media_type=media_type)

    return [get_metrics]


async def _figures(door: StoreDoor, now: datetime) -> Figures | None:
    """None where the store does not answer: what else is counted must be seen all the same."""

    def count(store: Store) -> Figures:
        with store.reading() as connection:
            return count_figures(connection, now)

    try:
        return await asyncio.wait_for(door.ask("metrics", count), _STORE_S)
    except (BusyError, TimeoutError, UnavailableError):
        return None
