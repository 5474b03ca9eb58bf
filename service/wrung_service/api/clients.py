"""The one place that decides what counts as one client."""

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import ANYBODY, current_caller


def client_of(request: HttpRequest) -> str:
    """A name for whoever asks, so that searches are shared fairly.

    The holder of the key or token, where one is asked for; otherwise the address of the peer.
    Behind a proxy that is not trusted, all of them have the proxy's address.
    """
    caller = current_caller()
    return address_of(request) if caller == ANYBODY else caller.name


def address_of(request: HttpRequest) -> str:
    """The address of the peer."""
    return request.client.host if request.client else ""
