"""What happens is written down for webhooks in its own transaction: never lost, never undone."""

import json
from typing import Any

import pytest
import sqlalchemy as sa

from store.hooks import add_endpoint, deliveries, told
from store.rows import SITE, START, add_plan, add_promise, add_site, hours
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.store.history import Event, append
from wrung_service.store.webhooks.messages import MOST_BYTES
from wrung_service.usecases.keep_plans import expire_plans, finish_plan
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.conditions import ConditionChange, change_conditions


@pytest.fixture(autouse=True)
def crib(store: Store) -> None:
    """A plan in the second hour has block a."""
    with store.writing() as c:
        add_site(c, SITE, "a", "b")
        add_site(c, "south-hall")
        add_plan(c, "first", job="1", starts_at=hours(1), ends_at=hours(2), expires_at=hours(2))
        add_promise(c, "first", "a", (1, 2))


def break_block(store: Store, name: str = "a") -> None:
    change = ConditionChange(block=name, condition="damaged", reason="dropped")
    change_conditions(store, SITE, [change], Acting(who="Kim", at=START))


def body(store: Store) -> dict[str, Any]:
    (only,) = deliveries(store)
    message: dict[str, Any] = json.loads(only.body)
    return message


def test_a_plan_at_risk_is_told_with_its_block(store: Store) -> None:
    add_endpoint(store)

    break_block(store)

    assert body(store) == {
        "type": "plan.at_risk",
        "timestamp": "2027-03-01T08:00:00Z",
        "data": {
            "site": SITE,
            "plan": "first",
            "job": "1",
            "operation": None,
            "state": "planned",
            "starts_at": "2027-03-01T09:00:00Z",
            "ends_at": "2027-03-01T10:00:00Z",
            "block": "a",
            "reason": "damaged",
        },
    }


def test_a_block_that_no_plan_counts_on_is_no_news(store: Store) -> None:
    add_endpoint(store)

    break_block(store, "b")

    assert told(store) == []


def test_a_plan_that_ends_is_told_with_its_state(store: Store) -> None:
    add_endpoint(store)

    finish_plan(store, "first", "done", who="Kim", why="early", now=START)

    message = body(store)
    assert (message["type"], message["data"]["state"]) == ("plan.changed", "done")
    assert (message["data"]["by"], message["data"]["why"]) == ("Kim", "early")


def test_a_plan_that_expires_is_told_once(store: Store) -> None:
    add_endpoint(store)

    expire_plans(store, SITE, hours(2))
    expire_plans(store, SITE, hours(2))

    assert body(store)["data"]["state"] == "expired"


def test_only_those_who_want_it_are_told(store: Store) -> None:
    add_endpoint(store, "erp", events=("plan.at_risk",))
    add_endpoint(store, "attendant", events=("block.late",))
    add_endpoint(store, "elsewhere", site="south-hall")

    break_block(store)

    assert (told(store, "erp"), told(store, "attendant")) == (["plan.at_risk"], [])
    assert told(store, "elsewhere") == []


def test_all_who_are_told_of_one_thing_get_one_id(store: Store) -> None:
    add_endpoint(store, "erp")
    add_endpoint(store, "board")

    break_block(store)

    assert deliveries(store, "erp")[0].message_id == deliveries(store, "board")[0].message_id


def test_what_was_undone_is_not_told(store: Store) -> None:
    add_endpoint(store)
    event = Event(site=SITE, at=START, who="Kim", what="plan.expired", kind="plan", subject="first")

    def work(connection: sa.Connection) -> None:
        append(connection, event)
        raise RuntimeError("too late")

    with pytest.raises(RuntimeError, match="too late"):
        store.write(work)

    assert told(store) == []


def test_the_longest_message_stays_below_the_limit(store: Store) -> None:
    """Names and reasons as long as they may be, in the longest letters of UTF-8."""
    add_endpoint(store)
    long = "\N{GOTHIC LETTER AHSA}"
    with store.writing() as connection:
        names = {"job": long * 128, "operation": long * 128}
        connection.execute(sa.update(tables.plan).values(**names))

    finish_plan(store, "first", "cancelled", who=long * 128, why=long * 1000, now=START)

    (only,) = deliveries(store)
    assert 5000 < len(only.body.encode()) < MOST_BYTES
