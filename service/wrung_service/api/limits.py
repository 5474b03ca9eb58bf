"""The limits of this service: ``GET /v1/limits``."""

from typing import Annotated

import msgspec
from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta, Struct

from wrung.lengths import LONGEST, to_text
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.faults import MOST_FAULTS
from wrung_service.api.operations import OPERATION, Operation, example
from wrung_service.api.responses import ASK_EACH_TIME, respond_table
from wrung_service.settings import Limits


class PublishedLimits(Struct, frozen=True, kw_only=True):
    """The limits of this service."""

    max_body_bytes: Annotated[int, Meta(description="Largest request body, bytes.")]
    max_blocks: Annotated[
        int, Meta(description="Maximum number of blocks in a request, including those of its sets.")
    ]
    max_targets: Annotated[int, Meta(description="Maximum number of targets in a request.")]
    max_time_limit_ms: Annotated[int, Meta(description="Greatest `time_limit_ms`.")]
    default_time_limit_ms: Annotated[
        int, Meta(description="`time_limit_ms` of a request that states none.")
    ]
    search_memory_mb: Annotated[
        int,
        Meta(
            description="Most memory of one search, MB; one that would need more answers with what "
            "it finds without."
        ),
    ]
    queue_length: Annotated[
        int,
        Meta(
            description="Number of requests that may wait; any more are answered with 503 at once."
        ),
    ]
    solve_workers: Annotated[int, Meta(description="Number of searches that run at the same time.")]
    max_batch_requests: Annotated[int, Meta(description="Maximum number of requests in a batch.")]
    max_batch_bytes: Annotated[int, Meta(description="Largest body of a batch, bytes.")]
    max_waiting_requests: Annotated[
        int, Meta(description="Maximum number of requests of one caller that wait in batches.")
    ]
    max_length_mm: Annotated[str, Meta(description="Greatest length accepted, mm.")]
    max_errors: Annotated[int, Meta(description="Maximum number of members that a problem lists.")]


_LIMITS = Operation(
    id="getLimits",
    tag="service",
    summary="The limits of this service",
    description="The limits of this instance, as its operator set them.",
    answer=PublishedLimits,
    answer_examples={"defaults": example("Limits of a machine with two CPUs", "limits")},
)


def limits_routes(limits: Limits) -> list[HTTPRouteHandler]:
    """The one resource."""
    published = PublishedLimits(
        **msgspec.structs.asdict(limits),
        # No operator sets these two, but clients run into them all the same.
        max_length_mm=to_text(LONGEST, "mm"),
        max_errors=MOST_FAULTS,
    )

    @get("/v1/limits", opt={OPERATION: _LIMITS})
    async def get_limits(request: HttpRequest) -> Response[bytes]:
        return respond_table(request, published, keep=ASK_EACH_TIME)

    return [get_limits]
