"""Times to soak, balls that are pressed in, drifts of blocks: figures in, an estimate out."""

from typing import Final

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.estimates.shapes import (
    ContactAnswer,
    ContactRequest,
    DriftAnswer,
    DriftRequest,
    SoakingAnswer,
    SoakingRequest,
)
from wrung_service.api.estimates.work import EstimateWork, contact, drift, soaking
from wrung_service.api.operations import OPERATION, Operation, example
from wrung_service.api.problem_types import BODY_PROBLEMS, BUSY
from wrung_service.api.working import answer_in_pool
from wrung_service.pool import SolvePool
from wrung_service.settings import Limits

_TAG: Final = "estimates"
_SOAK: Final = Operation(
    id="estimateSoakingTime",
    tag=_TAG,
    summary="Estimate how long a part or a block takes to soak",
    description=(
        "From material, section, length or mass, and the difference to the air of the room: the "
        "minutes until no more than `remaining` of it is left. Lumped capacity with 5, 10 and 25 "
        "W/(m² K) through all faces. An estimate: a body on a metal plate is quicker, one in its "
        "case slower. Measure its temperature where it matters."
    ),
    body=SoakingRequest,
    body_examples={"part": example("A steel part, 8 K too warm", "soaking-request")},
    answer=SoakingAnswer,
    answer_examples={"part": example("About how long it takes", "soaking-answer")},
    problems=(*BODY_PROBLEMS, BUSY),
)
_CONTACT: Final = Operation(
    id="estimateContactCompression",
    tag=_TAG,
    summary="Estimate how far a ball is pressed into what it touches",
    description=(
        "Elastic contact by Hertz of a ball and a plane, another ball, or a hollow, under a "
        "measuring force. It counts once for each contact. State it as one of the `extras` of the "
        "conditions of a stack, with its limits, and it stands in the budget. It holds for small "
        "circles of contact below the pressure at which the softer body yields."
    ),
    body=ContactRequest,
    body_examples={"ball": example("A carbide ball on a steel block, 1 N", "contact-request")},
    answer=ContactAnswer,
    answer_examples={"ball": example("How far it is pressed in", "contact-answer")},
    problems=(*BODY_PROBLEMS, BUSY),
)
_DRIFT: Final = Operation(
    id="estimateDrift",
    tag=_TAG,
    summary="Tell what a block drifts a year, and when it is due",
    description=(
        "From several calibrations of one block: its change in a year, with the uncertainty of "
        "that, and a suggested last day of use, which is never later than the one that the newest "
        "certificate states. Certificates count as independent."
    ),
    body=DriftRequest,
    body_examples={"block": example("Three calibrations of a block", "drift-request")},
    answer=DriftAnswer,
    answer_examples={"block": example("It is due earlier than stated", "drift-answer")},
    problems=(*BODY_PROBLEMS, BUSY),
)


def estimate_routes(pool: SolvePool, limits: Limits) -> list[HTTPRouteHandler]:
    """Each of them; nothing is stored."""
    soaks = EstimateWork(SoakingRequest, soaking, limits)
    contacts = EstimateWork(ContactRequest, contact, limits)
    drifts = EstimateWork(DriftRequest, drift, limits)

    # The framework's status for POST is 201, but nothing is created here.
    @post("/v1/soaking-times", status_code=200, opt={OPERATION: _SOAK})
    async def estimate_soaking_time(request: HttpRequest) -> Response[bytes]:
        return await answer_in_pool(request, soaks, pool=pool, limits=limits)

    @post("/v1/contact-compressions", status_code=200, opt={OPERATION: _CONTACT})
    async def estimate_contact_compression(request: HttpRequest) -> Response[bytes]:
        return await answer_in_pool(request, contacts, pool=pool, limits=limits)

    @post("/v1/drift-estimates", status_code=200, opt={OPERATION: _DRIFT})
    async def estimate_drift(request: HttpRequest) -> Response[bytes]:
        return await answer_in_pool(request, drifts, pool=pool, limits=limits)

    return [estimate_soaking_time, estimate_contact_compression, estimate_drift]
