"""``/v1/plans``: promised once, kept whole or not at all, ended, planned anew."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta, timezone
from typing import Any, TypeAlias

import pytest
import sqlalchemy as sa
from litestar.testing import TestClient

from service.doubles import Solver
from store.planning import (
    asked,
    blocks,
    fail,
    fill,
    issue,
    made,
    problem_of,
    refused,
    replanned,
    window,
)
from store.rows import SITE, Clock, hours
from store.test_rules import overlaps
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store import tables
from wrung_service.store.engine import Store

Client: TypeAlias = TestClient[Any]


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    """The service with a crib of a few blocks, two of them of one length."""
    fill(store)
    settings = Settings(solve_workers=4, queue_length=200)
    with TestClient(create_app(settings, store=store, clock=clock)) as client:
        yield client


def test_a_plan_has_what_it_needs_for_its_time(client: Client, store: Store) -> None:
    """With request, answer, record and promises, all kept at once."""
    plan = made(client, asked("3", "13"))

    assert plan["state"] == "planned"
    assert {each["block"] for each in plan["promises"]} == set().union(*blocks(plan))
    assert {each["starts_at"] for each in plan["promises"]} == {"2027-03-01T08:00:00Z"}
    assert plan["record"]["stacks"]
    assert plan["request"]["job"] == "4711"
    kept = client.get(f"/v1/plans/{plan['id']}").json()
    assert kept == plan
    with store.reading() as connection:
        history = connection.execute(sa.select(tables.history)).all()
    assert [(each.what, each.subject, each.job) for each in history] == [
        ("plan.made", plan["id"], "4711")
    ]


def test_a_block_is_not_promised_twice_at_a_time(client: Client) -> None:
    """The second gets another of its length, the third is told who has them."""
    first, second = made(client, asked("3")), made(client, asked("3"))
    assert blocks(first) != blocks(second)
    made(client, asked("3", start=1, end=2))
    made(client, asked("1", job="4712"))

    problem = refused(client, asked("3"), "blocks-taken")

    taken = {each["block"]: each["plan"] for each in problem["taken"]}
    assert taken["3"] in (first["id"], second["id"])
    assert {each["job"] for each in problem["taken"]} == {"4711", "4712"}


def test_what_nobody_has_is_another_problem(client: Client) -> None:
    """Waiting would not help."""
    problem = refused(client, asked("7.7777"), "not-all-served")

    assert "t0" in problem["detail"]


def test_partial_plans_are_kept_only_if_they_may_be(client: Client) -> None:
    """Whoever asks for less says so."""
    refused(client, asked("3", "7.7777"), "not-all-served")

    plan = made(client, asked("3", "7.7777", partial=True))

    assert len(plan["answer"]["stacks"]) == 1
    # It would promise nothing.
    refused(client, asked("7.7777", partial=True), "not-all-served")


def test_what_no_block_of_others_would_help_is_not_called_taken(client: Client) -> None:
    """Else somebody would talk to the holders for nothing."""
    made(client, asked("70"))

    problem = refused(client, asked("7.7777"), "not-all-served")

    assert "taken" not in problem
    assert "taken" in refused(client, asked("70"), "blocks-taken")


@pytest.mark.parametrize("members", [{}, {"displace": True}])
def test_time_that_ran_out_is_not_taken_for_blocks_that_are_taken(
    client: Client, store: Store, clock: Clock, members: dict[str, bool]
) -> None:
    """A longer time limit may do, at the same time of need."""
    made(client, asked("70", priority=5))
    urgent = asked("70", priority=1, **members)
    app = create_app(Settings(solve_workers=1), store=store, clock=clock, solve=Solver())
    with TestClient(app) as hurried:
        problem = refused(hurried, urgent, "not-decided")
        preview = hurried.post("/v1/plan-previews", json=urgent).json()

    assert problem["detail"].startswith("No stack for 't0'")
    assert (preview["possible"], preview["decided"]) == (False, False)


def test_a_race_for_blocks_gives_each_to_one(client: Client, store: Store) -> None:
    """Twelve want a block of 3 mm, two can have one beside the sum of 1 and 2."""
    with ThreadPoolExecutor(12) as threads:
        answers = list(
            threads.map(
                lambda number: client.post("/v1/plans", json=asked("3", job=f"job-{number}")),
                range(12),
            )
        )

    won = [each for each in answers if each.status_code == 201]
    lost = [each for each in answers if each.status_code == 409]
    assert len(won) == 3
    assert len(won) + len(lost) == 12
    assert {problem_of(each) for each in lost} == {"blocks-taken"}
    with store.reading() as connection:
        assert overlaps(connection) == 0
        rows = connection.execute(sa.select(tables.plan.c.id)).scalars().all()
    assert sorted(rows) == sorted(each.json()["id"] for each in won)


def test_the_same_key_makes_one_plan(client: Client) -> None:
    """However often, and however many at once; with another request it is a mistake."""
    headers = {"Idempotency-Key": "one-of-mine"}
    with ThreadPoolExecutor(6) as threads:
        answers = list(
            threads.map(
                lambda _: client.post("/v1/plans", json=asked("3"), headers=headers), range(6)
            )
        )

    assert {each.status_code for each in answers} == {201}
    assert len({each.text for each in answers}) == 1
    assert len({each.headers["Location"] for each in answers}) == 1
    again = client.post("/v1/plans", json=asked("2"), headers=headers)
    assert (again.status_code, problem_of(again)) == (422, "idempotency-key-reused")
    assert len(client.get("/v1/plans", params={"site": SITE}).json()["plans"]) == 1


@pytest.mark.parametrize("state", ["done", "cancelled"])
def test_an_ended_plan_frees_its_blocks(client: Client, state: str) -> None:
    """And cannot end in another way; in the same way it may again."""
    plan = made(client, asked("40"))
    refused(client, asked("40"), "blocks-taken")

    ended = client.post(f"/v1/plans/{plan['id']}/end", json={"state": state, "reason": "ready"})

    assert (ended.json()["state"], ended.json()["promises"]) == (state, [])
    assert client.post(f"/v1/plans/{plan['id']}/end", json={"state": state}).status_code == 200
    other = {"done": "cancelled", "cancelled": "done"}[state]
    assert client.post(f"/v1/plans/{plan['id']}/end", json={"state": other}).status_code == 409
    made(client, asked("40"))


def test_a_plan_that_is_not_used_expires(client: Client, clock: Clock, store: Store) -> None:
    """Unless something of it was issued."""
    unused = made(client, asked("40", end=8, expires_after_minutes=30))
    used = made(client, asked("70", end=8, expires_after_minutes=30))
    issue(store, "70", used["id"])
    clock.now = hours(0.5)

    made(client, asked("40", start=1, end=2))
    refused(client, asked("70", start=1, end=2), "blocks-taken")

    states = {
        each["id"]: each["state"]
        for each in client.get("/v1/plans", params={"site": SITE}).json()["plans"]
    }
    assert states[unused["id"]] == "expired"
    assert states[used["id"]] == "planned"


def test_a_pause_is_promised_too(client: Client) -> None:
    """To the minute."""
    made(client, asked("40", pause_minutes=30))

    refused(client, asked("40", start=1.4, end=2), "blocks-taken")
    made(client, asked("40", start=1.5, end=2))


def test_a_pause_holds_between_stacks_of_one_plan(client: Client) -> None:
    """Two stacks half an hour apart share a block only with a pause that is no longer."""
    body = asked("40", "40")
    body["targets"][0] |= window(0, 1)
    body["targets"][1] |= window(1.5, 2)

    refused(client, {**body, "pause_minutes": 31}, "not-all-served")
    assert blocks(made(client, {**body, "pause_minutes": 30})) == [{"40"}, {"40"}]


def test_each_stack_has_its_own_time(client: Client) -> None:
    """A block serves two stacks of a plan at two times, and others between them."""
    body = asked("40", "40")
    body["targets"][0] |= window(0, 1)
    body["targets"][1] |= window(2, 3)
    plan = made(client, body)

    assert [(each["block"], each["target"]) for each in plan["promises"]] == [
        ("40", "t0"),
        ("40", "t1"),
    ]
    made(client, asked("40", start=1, end=2))
    refused(client, asked("40", start=0.5, end=2.5), "blocks-taken")


def test_stacks_in_turn_share_the_time_of_the_plan(client: Client) -> None:
    """And may use a block one after another."""
    plan = made(client, asked("40", "70", "40", "43", timing="in_turn"))

    assert blocks(plan)[0] == blocks(plan)[2] == {"40"}
    assert sorted(each["block"] for each in plan["promises"])[-2:] == ["40", "70"]
    assert len(plan["promises"]) == 3
    refused(client, asked("40", start=0.9, end=2), "blocks-taken")


def test_a_failed_block_changes_its_stack_alone(client: Client, store: Store) -> None:
    """The others keep their blocks, and of the stack stays what can."""
    plan = made(client, asked("15", "70"))
    stack = next(each for each in blocks(plan) if "10" in each)
    failed = next(name for name in stack if name.startswith("5"))
    fail(store, failed)

    preview = replanned(client, plan, preview=True)
    assert preview["version"] == plan["version"]
    after = replanned(client, plan, reason="dropped")

    (change,) = after["changes"]
    assert len(change["stacks"]) == 1
    assert change["stacks"] == preview["changes"][0]["stacks"]
    assert set(change["stacks"][0]["after"]) == {"10", *({"5", "5-too"} - {failed})}
    assert [each for each in blocks(after) if "70" in each] == [{"70"}]
    assert after["version"] == 2
    assert {each["block"] for each in after["promises"]} == set().union(*blocks(after))
    assert replanned(client, plan)["changes"] == []


def test_planning_anew_does_not_touch_what_others_have(client: Client) -> None:
    """If nothing is left, the plan stays as it is."""
    plan = made(client, asked("10"))
    made(client, asked("5"))
    made(client, asked("5"))

    answer = client.post(f"/v1/plans/{plan['id']}/replan", json={"blocks": ["10"]})

    assert (answer.status_code, problem_of(answer)) == (409, "not-all-served")
    assert blocks(client.get(f"/v1/plans/{plan['id']}").json()) == [{"10"}]


def test_an_urgent_plan_makes_less_urgent_ones_give_way(client: Client) -> None:
    """As few as can be; the preview said so, and they are planned anew in the same moment."""
    slow = made(client, asked("10", job="slow", priority=5))
    made(client, asked("70", job="other", priority=5))
    urgent = asked("10", job="urgent", priority=1, displace=True)
    urgent["targets"][0]["max_blocks"] = 1
    refused(client, {**urgent, "displace": False}, "blocks-taken")
    refused(client, {**urgent, "priority": 5}, "blocks-taken")

    preview = client.post("/v1/plan-previews", json=urgent).json()
    plan = made(client, urgent)

    assert preview["possible"]
    (change,) = plan["changes"]
    assert preview["changes"] == [change]
    assert change["plan"] == slow["id"]
    assert change["stacks"][0]["before"] == ["10"]
    assert set(change["stacks"][0]["after"]) == {"5", "5-too"}
    assert blocks(client.get(f"/v1/plans/{slow['id']}").json()) == [{"5", "5-too"}]


def test_nobody_is_left_without_unless_asked(client: Client, store: Store) -> None:
    """Then the plan is at risk, until it is planned anew."""
    slow = made(client, asked("70", job="slow"))
    urgent = asked("70", job="urgent", priority=1, displace=True)
    assert not client.post("/v1/plan-previews", json=urgent).json()["possible"]
    refused(client, urgent, "blocks-taken")

    made(client, {**urgent, "leave_without": True})

    left = client.get(f"/v1/plans/{slow['id']}").json()
    assert (left["at_risk"], left["promises"]) == (["70"], [])
    with store.reading() as connection:
        assert overlaps(connection) == 0


@pytest.mark.parametrize("lost", ["70", "40"])
def test_a_plan_that_lost_a_stack_still_says_what_the_others_are(client: Client, lost: str) -> None:
    """Stacks move up where one is missing, and back where it was planned again."""
    slow = made(client, asked("70", "40", "10", job="slow"))
    urgent = asked(lost, job="urgent", priority=1, displace=True, leave_without=True)
    by_target = {each["block"]: each["target"] for each in slow["promises"]}

    other = made(client, urgent)

    left = client.get(f"/v1/plans/{slow['id']}").json()
    assert {e["block"]: e["target"] for e in left["promises"]} == {
        block: target for block, target in by_target.items() if block != lost
    }
    client.post(f"/v1/plans/{other['id']}/end", json={"state": "done"})
    after = replanned(client, slow)
    assert {each["block"]: each["target"] for each in after["promises"]} == by_target


def test_what_was_issued_gives_way_to_nobody(client: Client, store: Store) -> None:
    """The blocks are at the bench."""
    slow = made(client, asked("70", job="slow"))
    issue(store, "70", slow["id"])

    refused(client, asked("70", priority=1, displace=True, leave_without=True), "blocks-taken")


def test_plans_are_listed_page_by_page(client: Client) -> None:
    """By the start of their need, with the address of the next page."""
    ids = [made(client, asked("70", start=n, end=n + 1))["id"] for n in (3, 1, 2)]
    response = client.get("/v1/plans", params={"site": SITE, "limit": "2"})
    listed = [each["id"] for each in response.json()["plans"]]
    following = client.get(response.headers["Link"].partition(">")[0].removeprefix("<"))

    assert listed == [ids[1], ids[2]]
    assert [each["id"] for each in following.json()["plans"]] == [ids[0]]
    assert "Link" not in following.headers
    found = client.get("/v1/plans", params={"site": SITE, "needed_after": hours(3).isoformat()})
    assert [each["id"] for each in found.json()["plans"]] == [ids[0]]


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ({}, 400),
        ({"site": "nowhere"}, 404),
        ({"site": SITE, "state": "open"}, 400),
        ({"site": SITE, "limit": "0"}, 400),
        ({"site": SITE, "cursor": "xx"}, 400),
        ({"site": SITE, "needed_after": "2027-03-01"}, 400),
        ({"site": SITE, "needed_after": "0001-01-01T00:00:00+10:00"}, 200),
        ({"site": SITE, "needed_after": "2027-03-01T08:00:00 02:00"}, 200),
        ({"site": SITE, "needed_after": "2027-03-01 08:00:00Z"}, 400),
        ({"site": SITE, "needed_after": "20270301T080000Z"}, 400),
        ({"site": SITE, "job": "\0"}, 400),
    ],
)
def test_parameters_that_make_no_sense(client: Client, query: dict[str, str], status: int) -> None:
    """Are refused, not ignored; a time at the end of the calendar is one."""
    assert client.get("/v1/plans", params=query).status_code == status


def test_a_plan_is_read_as_it_was_answered(client: Client) -> None:
    """Its times are those of UTC, whatever offset they were sent with."""
    there = timezone(timedelta(hours=5, minutes=30))
    crib = {
        "site": SITE,
        "needed_from": hours(0).astimezone(there).isoformat(),
        "needed_until": hours(1).isoformat(),
    }

    plan = made(client, {**asked("5"), "crib": crib})

    assert client.get(f"/v1/plans/{plan['id']}").json() == plan
    assert plan["needed_from"].endswith("Z")


def test_a_time_that_is_over_is_for_no_plan(client: Client, clock: Clock) -> None:
    """It could never be used; one that has begun can."""
    clock.now = hours(2)

    over = client.post("/v1/plans", json=asked("40", start=0, end=1))

    assert over.status_code == 422
    assert over.json()["errors"][0]["pointer"] == "/crib"
    made(client, asked("40", start=0, end=3))


def test_answers_of_old_keys_are_forgotten(client: Client, clock: Clock) -> None:
    """The same key may then be used for something else."""
    key = {"Idempotency-Key": "one"}
    made(client, asked("40", start=0, end=1), **key)
    clock.now += timedelta(days=31)
    made(client, asked("70", start=24 * 35, end=24 * 35 + 1), **{"Idempotency-Key": "two"})

    with_another = asked("70", start=24 * 40, end=24 * 40 + 1)
    assert client.post("/v1/plans", json=with_another, headers=key).status_code == 201
