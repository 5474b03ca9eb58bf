"""Messages are taken, signed and marked: each arrives, none is sent by two at one time."""

import json
import math
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa
from standardwebhooks.webhooks import Webhook

from store.hooks import add_endpoint, deliveries, endpoint
from store.rows import SITE, START, add_site, hours
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError
from wrung_service.store.webhooks.deliveries import TRIED_FOR, Delivery
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.webhooks.ask_to_send import resend, send_test
from wrung_service.usecases.webhooks.keep_endpoint import renew_secret
from wrung_service.usecases.webhooks.sending import (
    LEASE,
    Post,
    Reply,
    next_try,
    note_reply,
    take_posts,
)

GONE = Reply(status=410)
BROKEN = Reply(status=500)
FINE = Reply(status=204)


@pytest.fixture(autouse=True)
def crib(store: Store) -> None:
    with store.writing() as c:
        add_site(c, SITE)
    add_endpoint(store)


def posts(store: Store, now: datetime) -> tuple[Post, ...]:
    return take_posts(store, now, most=16, each=4)


def only(store: Store) -> Delivery:
    (found,) = deliveries(store)
    return found


def test_a_message_verifies_with_either_secret_while_both_are_valid(store: Store) -> None:
    """By the verifier of the standard's authors, which looks at the clock of this machine."""
    now = datetime.now(UTC)
    old = endpoint(store).secret
    send_test(store, SITE, "erp", now)
    new = renew_secret(store, SITE, "erp", timedelta(hours=1), Acting(who="Kim", at=now)).secret

    (post,) = posts(store, now)

    for secret in (old, new):
        said = Webhook(secret).verify(post.delivery.body, dict(post.headers))
        assert said["type"] == "webhook.test"
    assert len(post.headers["webhook-signature"].split()) == 2
    (later,) = posts(store, now + timedelta(hours=1))
    assert len(later.headers["webhook-signature"].split()) == 1


def test_a_secret_that_others_know_ends_at_once(store: Store) -> None:
    send_test(store, SITE, "erp", START)

    renew_secret(store, SITE, "erp", timedelta(), Acting(who="Kim", at=START))

    (post,) = posts(store, START)
    assert len(post.headers["webhook-signature"].split()) == 1


def test_what_was_taken_is_nobody_elses_until_the_lease_is_over(store: Store) -> None:
    """Whoever is killed after sending leaves the message to others, with the same id and body."""
    send_test(store, SITE, "erp", START)
    (first,) = posts(store, START)

    assert posts(store, START + LEASE - timedelta(seconds=1)) == ()
    (second,) = posts(store, START + LEASE)

    assert second.headers["webhook-id"] == first.headers["webhook-id"]
    assert second.delivery.body == first.delivery.body
    assert second.delivery.tries == 2


def test_two_who_take_at_one_time_never_take_the_same(store: Store) -> None:
    for name in ("erp", "board", "ncr"):
        if name != "erp":
            add_endpoint(store, name)
        for _ in range(20):
            send_test(store, SITE, name, START)

    with ThreadPoolExecutor(6) as pool:
        taken = list(pool.map(lambda _: posts(store, START), range(18)))

    numbers = [post.delivery.n for each in taken for post in each]
    assert len(numbers) == len(set(numbers))
    # On PostgreSQL two may look at the same ones, of which only one gets them.
    while rest := posts(store, START):
        numbers += [post.delivery.n for post in rest]
    assert len(numbers) == len(set(numbers)) == 60


def test_one_endpoint_leaves_room_for_others(store: Store) -> None:
    add_endpoint(store, "board")
    for _ in range(30):
        send_test(store, SITE, "erp", START)
    send_test(store, SITE, "board", START)

    taken = posts(store, START)

    assert [each.delivery.endpoint_id for each in taken] == ["erp"] * 4 + ["board"]
    assert take_posts(store, START, most=16, each=4, without={(SITE, "erp")}) == ()


def test_a_message_that_arrived_is_done(store: Store) -> None:
    send_test(store, SITE, "erp", START)
    (post,) = posts(store, START)

    note_reply(store, post.delivery, FINE, START)

    assert (only(store).state, only(store).status) == ("delivered", 204)
    assert posts(store, hours(100)) == ()


@pytest.mark.parametrize("reply", [BROKEN, Reply(status=302), Reply(fault="timeout")], ids=str)
def test_what_did_not_arrive_is_tried_with_growing_pauses(store: Store, reply: Reply) -> None:
    """With a redirect, too: nobody follows it."""
    send_test(store, SITE, "erp", START)
    now, pauses = START, list[float]()
    while taken := posts(store, now):
        note_reply(store, taken[0].delivery, reply, now, chance=0.5)
        if (later := only(store).next_try_at) is None:
            break
        pauses.append((later - now).total_seconds())
        now = later

    assert pauses[:6] == [5, 20, 80, 320, 1280, 5120]
    assert pauses == sorted(pauses)
    assert max(pauses) == 12 * 3600
    assert only(store).state == "failed"
    assert timedelta(hours=48) < now - START <= TRIED_FOR
    assert (only(store).status, only(store).fault) == (reply.status, reply.fault)


def test_pauses_are_spread_and_heed_what_the_receiver_asks_for(store: Store) -> None:
    send_test(store, SITE, "erp", START)
    (post,) = posts(store, START)

    def pause(reply: Reply, chance: float) -> float:
        later = next_try(post.delivery, reply, START, chance)
        assert later is not None
        return (later - START).total_seconds()

    assert math.isclose(pause(BROKEN, 0), 4)
    assert math.isclose(pause(BROKEN, 1), 6)
    assert pause(Reply(status=503, retry_after=300), 0.5) == 300
    # Nobody can keep a message back for ever.
    assert pause(Reply(status=503, retry_after=999_999), 0.5) == 12 * 3600


def test_an_endpoint_that_is_gone_is_disabled(store: Store) -> None:
    send_test(store, SITE, "erp", START)
    send_test(store, SITE, "erp", START)
    taken = posts(store, START)

    note_reply(store, taken[0].delivery, GONE, START)
    note_reply(store, taken[1].delivery, GONE, START)

    assert endpoint(store).stop_reason == "gone"
    assert endpoint(store).version == 2
    assert [each.state for each in deliveries(store)] == ["failed", "failed"]
    assert posts(store, hours(1)) == ()
    with pytest.raises(StateError):
        send_test(store, SITE, "erp", START)
    with store.reading() as connection:
        query = sa.select(tables.history.c.what).order_by(tables.history.c.n)
        assert connection.execute(query).scalars().all() == ["webhook.made", "webhook.gone"]


def test_a_late_mark_does_not_undo_a_better_one(store: Store) -> None:
    """A frozen process thaws after another has delivered its message."""
    send_test(store, SITE, "erp", START)
    (frozen,) = posts(store, START)
    (other,) = posts(store, START + LEASE)
    note_reply(store, other.delivery, FINE, START + LEASE)

    note_reply(store, frozen.delivery, BROKEN, START + LEASE)

    assert only(store).state == "delivered"


def test_a_message_is_sent_once_more_when_somebody_asks(store: Store) -> None:
    sent = send_test(store, SITE, "erp", START)
    (first,) = posts(store, START)
    note_reply(store, first.delivery, FINE, START)

    assert resend(store, SITE, "erp", sent.message_id, hours(100)).state == "waiting"
    (again,) = posts(store, hours(100))

    assert again.headers["webhook-id"] == first.headers["webhook-id"]
    assert again.headers["webhook-timestamp"] != first.headers["webhook-timestamp"]
    note_reply(store, again.delivery, BROKEN, hours(100))
    assert only(store).state == "waiting"


def test_history_has_neither_secret_nor_path(store: Store) -> None:
    """A path may hold a password of the receiver's."""
    add_endpoint(store, "ncr", url="https://ncr.example:8443/in/token-5512?k=v")

    with store.reading() as connection:
        kept = connection.execute(sa.select(tables.history.c.detail)).scalars().all()

    assert json.loads(kept[-1])["origin"] == "https://ncr.example:8443"
    assert not any(word in each for each in kept for word in ("token-5512", "whsec_"))
