"""Blocks become late, due and overdue without anybody looking, and are told of once."""

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta

import pytest
import sqlalchemy as sa

from store.hooks import add_endpoint, deliveries, told
from store.planning import issue
from store.rows import SITE, START, add_block, add_plan, add_promise, add_site, hours
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.store.webhooks.deliveries import KEPT_FOR, TRIED_FOR
from wrung_service.usecases.shelf.acting import Acting, Precondition
from wrung_service.usecases.webhooks.keep_endpoint import WantedEndpoint, keep_endpoint
from wrung_service.usecases.webhooks.sweep import sweep

LAST_DAY = date(2027, 3, 31)
_ANY = Precondition(any_version=True)


@pytest.fixture(autouse=True)
def crib(store: Store) -> None:
    """Block a is certified until the last of March, in Berlin."""
    with store.writing() as c:
        add_site(c, SITE)
        add_block(c, "a", due_on=LAST_DAY, certificate="K-118")
        add_block(c, "b")


def berlin(day: int, hour: int) -> datetime:
    """A time in Berlin, where summer time begins on 28 March 2027."""
    offset = 2 if day >= 28 else 1
    return datetime(2027, 3, day, hour, tzinfo=UTC) - timedelta(hours=offset)


def recertify(store: Store, due_on: date) -> None:
    with store.writing() as connection:
        connection.execute(
            sa.update(tables.block).where(tables.block.c.id == "a").values(due_on=due_on)
        )


def test_a_block_is_due_so_many_days_before_by_the_sites_day(store: Store) -> None:
    add_endpoint(store, due_days=7)

    sweep(store, berlin(24, 0) - timedelta(seconds=1))
    assert told(store) == []
    sweep(store, berlin(24, 0))
    sweep(store, berlin(24, 1))

    assert told(store) == ["block.due"]
    assert json.loads(deliveries(store)[0].body)["data"] == {
        "site": SITE,
        "block": "a",
        "set": None,
        "certificate": "K-118",
        "due_on": "2027-03-31",
    }


def test_a_block_is_overdue_at_midnight_after_its_last_day(store: Store) -> None:
    add_endpoint(store, events=("block.overdue",))
    midnight = datetime(2027, 3, 31, 22, tzinfo=UTC)

    sweep(store, midnight - timedelta(seconds=1))
    assert told(store) == []
    sweep(store, midnight)
    sweep(store, midnight + timedelta(days=3))

    assert told(store) == ["block.overdue"]


def test_each_certificate_is_told_of_once(store: Store) -> None:
    add_endpoint(store, events=("block.due",))
    sweep(store, berlin(20, 12))

    recertify(store, date(2027, 5, 10))
    sweep(store, berlin(21, 12))
    assert told(store) == ["block.due"]
    sweep(store, datetime(2027, 4, 15, 12, tzinfo=UTC))

    assert told(store) == ["block.due", "block.due"]


def test_a_retired_block_is_never_due(store: Store) -> None:
    add_endpoint(store)
    with store.writing() as connection:
        connection.execute(sa.update(tables.block).values(condition="retired"))

    sweep(store, berlin(31, 12))

    assert told(store) == []


def test_an_endpoint_that_is_made_later_is_told_what_is_so(store: Store) -> None:
    add_endpoint(store, "early", events=("block.due",))
    sweep(store, berlin(20, 12))

    add_endpoint(store, "later", events=("block.due",))
    sweep(store, berlin(21, 12))

    assert (told(store, "early"), told(store, "later")) == (["block.due"], ["block.due"])


def test_each_loan_that_is_late_is_told_of_once(store: Store) -> None:
    add_endpoint(store, events=("block.late",))
    with store.writing() as c:
        add_plan(c, "first")
    for number in (1, 2):
        issue(store, "b", "first")
        sweep(store, hours(8))
        assert len(told(store)) == number - 1
        sweep(store, hours(8.1))
        sweep(store, hours(9))
        assert len(told(store)) == number
        with store.writing() as connection:
            connection.execute(sa.update(tables.loan).values(returned_at=hours(9)))

    assert json.loads(deliveries(store)[0].body)["data"]["due_at"] == "2027-03-01T16:00:00Z"


def test_plans_expire_when_their_time_comes(store: Store) -> None:
    add_endpoint(store, events=("plan.expired",))
    with store.writing() as c:
        add_plan(c, "first", expires_at=hours(1))
        add_promise(c, "first", "b", (0, 1))

    sweep(store, hours(0.9))
    assert told(store) == []
    sweep(store, hours(1))

    assert told(store) == ["plan.expired"]
    with store.reading() as connection:
        assert connection.execute(sa.select(tables.plan.c.state)).scalar_one() == "expired"
        assert connection.execute(sa.select(tables.promise.c.released_at)).scalar_one() == hours(1)


def test_replicas_that_look_at_one_time_tell_once(store: Store) -> None:
    add_endpoint(store)
    with store.writing() as c:
        for number in range(40):
            add_block(c, f"n{number}", due_on=LAST_DAY)
        add_plan(c, "first", expires_at=hours(1))

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: sweep(store, berlin(20, 12)), range(8)))

    assert sorted(told(store)) == ["block.due"] * 41 + ["plan.expired"]


def test_what_waits_at_an_endpoint_that_is_off_is_given_up_then_forgotten(store: Store) -> None:
    kept = add_endpoint(store, events=("block.due",))
    sweep(store, berlin(20, 12))
    off = WantedEndpoint(
        id=kept.id, url=kept.url, events=kept.events, description=None, due_days=30, enabled=False
    )
    keep_endpoint(store, SITE, off, Acting(who="a test", at=START, when=_ANY))

    sweep(store, berlin(20, 12) + TRIED_FOR + timedelta(seconds=1))
    assert [each.state for each in deliveries(store)] == ["failed"]
    sweep(store, berlin(20, 12) + KEPT_FOR + timedelta(seconds=1))
    assert deliveries(store) == []
