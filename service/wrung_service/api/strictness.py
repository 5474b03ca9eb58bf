"""What is refused that the framework would ignore."""

from litestar import Response

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.operations import OPERATION, Operation
from wrung_service.api.problem_types import UNKNOWN_PARAMETER
from wrung_service.api.problems import Refusal


async def refuse_unknown_parameters(request: HttpRequest) -> Response[bytes] | None:
    """A query parameter that the operation has not, or has twice, is a slip of the pen.

    Raises:
        Refusal: 400, there is such a parameter.
    """
    operation = request.route_handler.opt.get(OPERATION)
    if isinstance(operation, Operation) and request.query_params:
        known = {parameter.name for parameter in operation.query}
        given = sorted(name for name, _ in request.query_params.multi_items())
        for name in given:
            if name not in known:
                raise Refusal(UNKNOWN_PARAMETER, f"There is no query parameter {name[:40]!r} here.")
            if given.count(name) > 1:
                raise Refusal(UNKNOWN_PARAMETER, f"The query parameter {name!r} is given twice.")
    return None
