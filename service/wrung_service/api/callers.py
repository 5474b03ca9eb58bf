"""Who asks, as far as the service knows; history names them."""

from typing import Final

from msgspec import Struct

from wrung_service.api.bodies import HttpRequest


class Caller(Struct, frozen=True, kw_only=True):
    """Whoever sent a request.

    Attributes:
        name: stands in history, and keeps idempotency keys of callers apart.
        sites: the sites that it may see; None for all.
    """

    name: str
    sites: frozenset[str] | None = None


ANYBODY: Final = Caller(name="anybody")


def caller_of(request: HttpRequest) -> Caller:
    """Who sent the request."""
    del request
    return ANYBODY
