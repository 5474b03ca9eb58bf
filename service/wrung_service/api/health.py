"""Probes for whoever runs the service: ``GET /livez`` and ``GET /readyz``."""

from typing import Annotated, Literal

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta, Struct

from wrung_service.api.operations import OPERATION, Example, Operation
from wrung_service.api.problem_types import NOT_READY
from wrung_service.api.problems import Refusal
from wrung_service.api.responses import respond
from wrung_service.observe.health import Health


class Alive(Struct, frozen=True, kw_only=True):
    """The process answers."""

    status: Annotated[Literal["alive"], Meta(description="Always `alive`.")]


class Ready(Struct, frozen=True, kw_only=True):
    """The service is ready."""

    status: Annotated[Literal["ready"], Meta(description="Always `ready`.")]


_ALIVE = Operation(
    id="checkAlive",
    tag="service",
    scope=None,
    summary="Whether the process is alive",
    description="Answers as long as the process handles requests; nothing else is checked.",
    answer=Alive,
    answer_examples={"alive": Example(summary="It is", value={"status": "alive"})},
)
_READY = Operation(
    id="checkReady",
    tag="service",
    scope=None,
    summary="Whether the service is ready",
    description=(
        "Answers 200 as long as a small search, repeated every 30 s, succeeds, and the store, "
        "where there is one, answers within 2 s. Without its store the service still answers "
        "requests that do not name a crib. Changes to 503 as soon as the service is told to stop."
    ),
    answer=Ready,
    answer_examples={"ready": Example(summary="They should", value={"status": "ready"})},
    problems=(NOT_READY,),
)


def health_routes(health: Health) -> list[HTTPRouteHandler]:
    """The probes."""

    # It tests nothing: a process found dead is restarted, and that helps no busy one.
    @get("/livez", opt={OPERATION: _ALIVE})
    async def check_alive() -> Response[bytes]:
        return respond(Alive(status="alive"))

    @get("/readyz", opt={OPERATION: _READY})
    async def check_ready() -> Response[bytes]:
        if reason := await health.reason_against():
            raise Refusal(NOT_READY, reason, headers={"Retry-After": "5"})
        return respond(Ready(status="ready"))

    return [check_alive, check_ready]
