"""Endpoints and deliveries as they are sent and answered."""

from datetime import datetime
from typing import Annotated, Final

from msgspec import Meta, Struct

from wrung_service.api.shelf.paging import NextPage
from wrung_service.api.texts import WEB_ADDRESS, Moment, Reason
from wrung_service.store.webhooks.deliveries import Delivery, DeliveryState
from wrung_service.store.webhooks.endpoints import Endpoint, StopReason
from wrung_service.store.webhooks.messages import EventType

_MOST_DAYS: Final = 366
_MOST_HOURS: Final = 168
_WHAT_IT_IS: Final = "`whsec_` and the key in base64 (Standard Webhooks)"


class WebhookMembers(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where messages go, and which ones."""

    url: Annotated[
        str,
        Meta(
            pattern=WEB_ADDRESS,
            max_length=2000,
            description="Where messages are sent by POST: an address of the web in ASCII, https if "
            "others could read along.",
        ),
    ]
    events: Annotated[
        tuple[EventType, ...],
        Meta(min_length=1, max_length=20, description="What it is told of."),
    ]
    description: Annotated[Reason, Meta(description="What it is for.")] | None = None
    due_days: Annotated[
        int,
        Meta(
            ge=0,
            le=_MOST_DAYS,
            description="For `block.due`: how many days before its last day of use.",
        ),
    ] = 30
    enabled: Annotated[
        bool,
        Meta(
            description="`false`: nothing is sent, and nothing new is written down for it. `true` "
            "also starts one again that answered 410."
        ),
    ] = True


class SecretRenewal(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """For how long the secret before the new one still signs."""

    keep_hours: Annotated[
        int,
        Meta(
            ge=0,
            le=_MOST_HOURS,
            description="Hours in which every message carries both signatures; 0 where others may "
            "know the secret.",
        ),
    ] = 24


class Webhook(Struct, frozen=True, kw_only=True):
    """An endpoint of a site, and what it is told of."""

    id: Annotated[str, Meta(description="Its id.")]
    url: Annotated[str, Meta(description="Where messages are sent.")]
    events: Annotated[tuple[EventType, ...], Meta(description="What it is told of.")]
    description: Annotated[str | None, Meta(description="What it is for.")]
    due_days: Annotated[
        int, Meta(description="How many days before its last day of use a block is called due.")
    ]
    enabled: Annotated[bool, Meta(description="Whether messages are sent to it.")]
    disabled_because: Annotated[StopReason | None, Meta(description="Why not; null if they are.")]
    secret: Annotated[
        str | None,
        Meta(
            description=f"Only where it was just made: {_WHAT_IT_IS}. It is shown this once, and "
            "null ever after."
        ),
    ]
    previous_secret_until: Annotated[
        Moment | None,
        Meta(description="Until when the secret before this one signs, too; null if it does not."),
    ]
    made_at: Annotated[Moment, Meta(description="When it was made.")]
    version: Annotated[int, Meta(description="Counts its changes; the ETag has it.")]


class WebhookList(Struct, frozen=True, kw_only=True):
    """A page of endpoints."""

    webhooks: Annotated[tuple[Webhook, ...], Meta(description="By id.")]
    next: NextPage


class NewSecret(Struct, frozen=True, kw_only=True):
    """The new secret of an endpoint."""

    secret: Annotated[str, Meta(description=f"{_WHAT_IT_IS}. It is shown this once.")]
    previous_secret_until: Annotated[
        Moment | None,
        Meta(description="Until when the secret before it signs, too; null: it does not any more."),
    ]


class WebhookDelivery(Struct, frozen=True, kw_only=True):
    """A message to an endpoint, and what became of it."""

    id: Annotated[
        str,
        Meta(description="The message's id, `webhook-id` in its headers; the same in every try."),
    ]
    type: Annotated[
        str, Meta(description="What it tells: one of the endpoint's `events`, or `webhook.test`.")
    ]
    state: Annotated[DeliveryState, Meta(description="What became of it so far.")]
    made_at: Annotated[Moment, Meta(description="When it was written down.")]
    tries: Annotated[int, Meta(description="How often it was sent.")]
    last_try_at: Annotated[Moment | None, Meta(description="When it was last sent.")]
    last_status: Annotated[
        int | None, Meta(description="HTTP status of the last answer; null if there was none.")
    ]
    last_fault: Annotated[
        str | None,
        Meta(
            description="Why there was none: `timeout`, `no_connection`, `no_answer`, `tls`, "
            "`address_refused` or `invalid_url`; others may be added."
        ),
    ]
    next_try_at: Annotated[
        Moment | None, Meta(description="When it is sent next, at the earliest.")
    ]
    delivered_at: Annotated[Moment | None, Meta(description="When it arrived.")]


class DeliveryDetails(WebhookDelivery, frozen=True, kw_only=True):
    """A message with its body."""

    body: Annotated[str, Meta(description="What is sent, byte for byte: JSON in UTF-8.")]


class DeliveryList(Struct, frozen=True, kw_only=True):
    """A page of messages to an endpoint."""

    deliveries: Annotated[tuple[WebhookDelivery, ...], Meta(description="The oldest first.")]
    next: NextPage


def write_webhook(kept: Endpoint, now: datetime, *, made: bool = False) -> Webhook:
    """The endpoint as it stands on the wire; its secret only where it was just made."""
    return Webhook(
        id=kept.id,
        url=kept.url,
        events=kept.events,
        description=kept.description,
        due_days=kept.due_days,
        enabled=kept.stopped_at is None,
        disabled_because=kept.stop_reason,
        secret=kept.secret if made else None,
        previous_secret_until=previous_until(kept, now),
        made_at=kept.made_at,
        version=kept.version,
    )


def previous_until(kept: Endpoint, now: datetime) -> datetime | None:
    """Until when the secret before the last one signs; None if it does not."""
    return kept.previous_until if len(kept.secrets(now)) > 1 else None


def write_delivery(kept: Delivery) -> WebhookDelivery:
    """The message as it stands in a list."""
    return WebhookDelivery(
        id=kept.message_id,
        type=kept.event,
        state=kept.state,
        made_at=kept.made_at,
        tries=kept.tries,
        last_try_at=kept.tried_at,
        last_status=kept.status,
        last_fault=kept.fault,
        next_try_at=kept.next_try_at,
        delivered_at=kept.delivered_at,
    )


def write_details(kept: Delivery) -> DeliveryDetails:
    """The message with its body."""
    listed = write_delivery(kept)
    members = {name: getattr(listed, name) for name in WebhookDelivery.__struct_fields__}
    return DeliveryDetails(**members, body=kept.body)
