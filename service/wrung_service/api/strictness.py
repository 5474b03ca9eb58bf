"""Refuses what the framework would ignore."""

from typing import Final

from litestar import Response

from wrung.names import or_nearest
from wrung_service.api.bodies import HttpRequest, wants_page
from wrung_service.api.operations import OPERATION, PAGE, Operation
from wrung_service.api.problem_types import UNKNOWN_PARAMETER
from wrung_service.api.problems import Refusal

_MOST_NAMED: Final = 10


async def refuse_unknown_parameters(request: HttpRequest) -> Response[bytes] | None:
    """Refuse a query parameter that the operation does not have, or that is given twice.

    Raises:
        Refusal: 400, there is such a parameter.
    """
    if not request.query_params:
        return None
    options = request.route_handler.opt
    operation = options.get(OPERATION)
    # The address of a page is what a person typed, and may be old: whatever it has is forgiven.
    if options.get(PAGE) and (operation is None or wants_page(request)):
        return None
    # Other pages and the document itself are no operations, and have no parameters.
    parameters = operation.query if isinstance(operation, Operation) else ()
    known = {parameter.name for parameter in parameters}
    given = [name for name, _ in request.query_params.multi_items()]
    # Names are cut and counted, so that the answer does not grow with what was sent.
    if unknown := sorted({name[:40] for name in given if name not in known}):
        named = ", ".join(map(repr, unknown[:_MOST_NAMED]))
        nearest = or_nearest(unknown[0], known)
        there_are = f"; there are {', '.join(sorted(known))}" if known else ""
        detail = f"There is no query parameter {named} here{nearest}{there_are}."
        raise Refusal(UNKNOWN_PARAMETER, detail)
    for name in sorted(known):
        # The framework would take one of the two without a word.
        if given.count(name) > 1:
            raise Refusal(UNKNOWN_PARAMETER, f"The query parameter {name!r} is given twice.")
    return None
