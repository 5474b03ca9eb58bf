"""What every request about the crib has: a caller, a site, an id in the address."""

import re
from collections.abc import Callable
from datetime import datetime
from typing import TypeAlias

from msgspec import Struct

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import current_caller
from wrung_service.api.operations import PathParameter
from wrung_service.api.problem_types import NOT_FOUND
from wrung_service.api.problems import Refusal
from wrung_service.api.shelf.versions import precondition_of
from wrung_service.api.storing import StoreDoor
from wrung_service.settings import Limits
from wrung_service.usecases.shelf.acting import Acting

Clock: TypeAlias = Callable[[], datetime]


class Crib(Struct, frozen=True, kw_only=True):
    """What the routes of the crib share.

    Attributes:
        prefix: the path that the service is shown under.
    """

    door: StoreDoor
    clock: Clock
    limits: Limits
    prefix: str

    def acting(self, request: HttpRequest) -> Acting:
        """Who acts, now, and on which version."""
        who = current_caller().name
        return Acting(who=who, at=self.clock(), when=precondition_of(request))


def site_of(request: HttpRequest, parameter: PathParameter) -> str:
    """The site in the address.

    Raises:
        Refusal: 404, there can be none of that id.
    """
    return id_of(request, parameter)


def id_of(request: HttpRequest, parameter: PathParameter) -> str:
    """An id in the address.

    Raises:
        Refusal: 404, there can be nothing of that id.
    """
    given = str(request.path_params[parameter.name]).removeprefix("/")
    schema = parameter.schema or {}
    # `\Z`, as `$` also matches before a trailing newline.
    pattern = str(schema["pattern"]).removesuffix("$") + r"\Z"
    if len(given) > int(schema["maxLength"]) or not re.match(pattern, given):
        detail = f"{parameter.name}: {given[:40]!r} can be none: {parameter.allowed}."
        raise Refusal(NOT_FOUND, detail)
    return given
