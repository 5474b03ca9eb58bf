"""Send what is due: take messages, sign them, and write down what became of each.

Who sends them is handed in, so that all of this is a function of the store and a moment.
"""

import random
from collections.abc import Collection, Mapping
from datetime import UTC, datetime, timedelta
from typing import Final

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace
from standardwebhooks.webhooks import Webhook

from wrung_service.store import history
from wrung_service.store.engine import Store
from wrung_service.store.webhooks.deliveries import (
    Delivery,
    any_due,
    mark_delivered,
    mark_failed,
    take,
)
from wrung_service.store.webhooks.endpoints import Endpoint, find_endpoint, save_endpoint
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.webhooks.keep_endpoint import event_of

LEASE: Final = timedelta(seconds=60)
"""How long a message is nobody else's; far longer than a try may take."""
_FIRST_PAUSE: Final = timedelta(seconds=5)
_FACTOR: Final = 4
_LONGEST_PAUSE: Final = timedelta(hours=12)
_JITTER: Final = 0.2
_SUCCESS: Final = range(200, 300)
_GONE: Final = 410


class Post(Struct, frozen=True, kw_only=True):
    """A message on its way: where it goes, and what is sent."""

    delivery: Delivery
    url: str
    headers: Mapping[str, str]


class Reply(Struct, frozen=True, kw_only=True):
    """What came of one try.

    Attributes:
        status: the HTTP status; None if there was no answer.
        fault: why there was none, such as ``timeout``.
        retry_after: for how long the receiver asks to be left alone, s.
    """

    status: int | None = None
    fault: str | None = None
    retry_after: int | None = None


def take_posts(
    store: Store,
    now: datetime,
    *,
    most: int,
    each: int,
    without: Collection[tuple[str, str]] = (),
) -> tuple[Post, ...]:
    """Messages that are due, signed; for a while nobody else takes them.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        # Most of the time there is none, and reading holds nobody up.
        if not any_due(connection, now):
            return ()

    def work(connection: sa.Connection) -> tuple[Post, ...]:
        taken = take(connection, now, LEASE, most=most, each=each, without=without)
        found = [(one, find_endpoint(connection, one.site_id, one.endpoint_id)) for one in taken]
        return tuple(_post(one, endpoint, now) for one, endpoint in found if endpoint)

    return store.write(work)


def note_reply(
    store: Store, delivery: Delivery, reply: Reply, now: datetime, *, chance: float | None = None
) -> None:
    """Write down what came of a try.

    Args:
        store: the store.
        delivery: as it was taken.
        reply: what came of it.
        now: the moment.
        chance: from 0 to 1, for the jitter; drawn if None.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    drawn = random.random() if chance is None else chance  # noqa: S311 - nothing secret

    def work(connection: sa.Connection) -> None:
        if reply.status in _SUCCESS:
            mark_delivered(connection, delivery, int(reply.status or 0), now)
            return
        later = None if reply.status == _GONE else next_try(delivery, reply, now, drawn)
        mark_failed(connection, delivery, reply.status, reply.fault, later)
        if reply.status == _GONE:
            _stop(connection, delivery, now)

    store.write(work)


def next_try(delivery: Delivery, reply: Reply, now: datetime, chance: float) -> datetime | None:
    """When a message that did not arrive is tried again; None: it is given up.

    The pauses grow by `_FACTOR`, and spread by a fifth to either side, so that those who failed at
    one time do not come back at one time.
    """
    # Past the longest pause the power would only grow without use.
    pause = min(_FIRST_PAUSE * _FACTOR ** min(delivery.tries - 1, 10), _LONGEST_PAUSE)
    pause *= 1 + _JITTER * (2 * chance - 1)
    if reply.retry_after is not None:
        pause = max(pause, min(timedelta(seconds=reply.retry_after), _LONGEST_PAUSE))
    later = now + pause
    given_up = delivery.give_up_at is not None and later > delivery.give_up_at
    return None if given_up else later


def signed_headers(
    message_id: str, body: str, secrets: Collection[str], now: datetime
) -> dict[str, str]:
    """The headers of the standard, with a signature of each secret."""
    # The library takes any time for one in UTC.
    moment = now.astimezone(UTC)
    signatures = [Webhook(each).sign(message_id, moment, body) for each in secrets]
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(int(now.timestamp())),
        "webhook-signature": " ".join(signatures),
    }


def _post(delivery: Delivery, endpoint: Endpoint, now: datetime) -> Post:
    secrets = endpoint.secrets(now)
    headers = signed_headers(delivery.message_id, delivery.body, secrets, now)
    return Post(delivery=delivery, url=endpoint.url, headers=headers)


def _stop(connection: sa.Connection, delivery: Delivery, now: datetime) -> None:
    """An endpoint that says it is gone gets nothing more, until somebody enables it again."""
    site, name = delivery.site_id, delivery.endpoint_id
    held = find_endpoint(connection, site, name, to_change=True)
    if held is None or held.stopped_at is not None:
        return
    stopped = replace(held, stopped_at=now, stop_reason="gone", version=held.version + 1)
    save_endpoint(connection, site, stopped)
    by = Acting(who="wrung", at=now)
    history.append(connection, event_of(site, stopped, "webhook.gone", by, {}))
