"""The one place that decides what counts as one client."""

from wrung_service.api.bodies import HttpRequest


def client_of(request: HttpRequest) -> str:
    """A name for whoever asks, so that searches are shared fairly: the address of the peer.

    A key that the client sends, or a header of a trusted proxy, belongs here as soon as there is
    one: behind a proxy all clients have the proxy's address.
    """
    return request.client.host if request.client else ""
