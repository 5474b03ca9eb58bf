"""What is refused that the framework would ignore."""

from litestar import Response

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import OPERATION
from wrung_service.api.problem_types import UNKNOWN_PARAMETER
from wrung_service.api.problems import Refusal


async def refuse_unknown_parameters(request: HttpRequest) -> Response[bytes] | None:
    """No operation has query parameters yet, so any is a slip, such as a typing error.

    Raises:
        Refusal: 400, there is a query parameter.
    """
    if OPERATION in request.route_handler.opt and request.query_params:
        name = min(request.query_params)
        raise Refusal(UNKNOWN_PARAMETER, f"There is no query parameter {name[:40]!r} here.")
    return None
