"""Reads an endpoint; its address must be one that messages may go to."""

from urllib.parse import SplitResult, urlsplit

from wrung_service.api.faults import Faults
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.webhooks.shapes import WebhookMembers
from wrung_service.outgoing.addresses import AllowedAddresses, is_address
from wrung_service.usecases.webhooks.keep_endpoint import WantedEndpoint

_MOST_PORT = 65_535


def read_webhook(name: str, sent: WebhookMembers, allowed: AllowedAddresses) -> WantedEndpoint:
    """What is wanted of the endpoint of that id.

    Raises:
        Refusal: 422, its address cannot be used, or an event is named twice.
    """
    faults = Faults()
    if reason := _against(sent.url, allowed):
        faults.meaningless("/url", reason)
    for place, event in enumerate(sent.events):
        if event in sent.events[:place]:
            faults.meaningless(f"/events/{place}", f"{event!r} is named twice")
    refuse_if_any(faults)
    return WantedEndpoint(
        id=name,
        url=sent.url,
        events=sent.events,
        description=sent.description,
        due_days=sent.due_days,
        enabled=sent.enabled,
    )


def _against(url: str, allowed: AllowedAddresses) -> str | None:
    """What speaks against an address; a host by name is looked up only when something is sent."""
    try:
        parts = urlsplit(url)
        host, usable = parts.hostname, _usable(parts)
    except ValueError:
        return "is no address of the web"
    if not host or not usable:
        return "is no address of the web"
    if parts.username is not None or parts.password is not None:
        return "must have no user and no password: whoever reads the webhook would see them"
    if parts.fragment:
        return "must have no fragment, which no server ever sees"
    if is_address(host) and not allowed.allow(host):
        return "is not public; whoever runs the service can allow its network"
    return None


def _usable(parts: SplitResult) -> bool:
    # Asking for a port that is none raises ValueError.
    return parts.port is None or 0 < parts.port <= _MOST_PORT
