"""Preferences among the blocks of a crib, which counts their uses."""

from collections.abc import Iterator
from typing import Any, TypeAlias

import pytest
from litestar.testing import TestClient

from store.rows import SITE, Clock, add_block, add_plan, add_promise, add_set, add_site, hours
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

Client: TypeAlias = TestClient[Any]
Json: TypeAlias = dict[str, Any]
SPREAD = {"goal": "spread_wear"}
THREE = 300_000_000  # 3 mm in quanta of 0.01 nm


@pytest.fixture
def client(store: Store) -> Iterator[Client]:
    """Three blocks of 3 mm, one of them of grade K, and a set at calibration."""
    with store.writing() as connection:
        add_site(connection)
        for name in ("bench", "lab", "away"):
            add_set(connection, name)
        add_block(connection, "a", nominal=THREE, set_id="bench", uses=4)
        add_block(connection, "b", nominal=THREE, set_id="bench", uses=2)
        add_block(connection, "k", nominal=THREE, set_id="lab", uses=1, grade="K")
        add_block(connection, "gone", nominal=THREE, set_id="away", condition="at_calibration")
    app = create_app(Settings(solve_workers=1), store=store, clock=Clock())
    with TestClient(app) as client:
        yield client


def asked(*preferences: Json, times: tuple[tuple[float, float], ...] = ((0, 1),)) -> Json:
    """A stack of 3 mm at each time, in hours after the start."""
    return {
        "unit": "mm",
        "crib": {"site": SITE},
        "targets": [
            {
                "kind": "length",
                "ref": f"t{place}",
                "length": "3",
                "needed_from": hours(start).isoformat(),
                "needed_until": hours(end).isoformat(),
            }
            for place, (start, end) in enumerate(times)
        ],
        "preferences": preferences,
    }


def solved(client: Client, body: Json) -> Json:
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    answer: Json = response.json()
    return answer


def used(answer: Json) -> list[str]:
    """The block of each stack."""
    return [stack["blocks"][0]["id"] for stack in answer["stacks"]]


def outcome(answer: Json) -> list[tuple[int, bool]]:
    """Value of each preference, and whether it is proven."""
    return [(each["value"], each["proven"]) for each in answer["preferences"]]


def test_counters_are_those_of_the_crib_and_go_on_with_each_return(client: Client) -> None:
    body = asked({"goal": "spare_best"}, SPREAD)
    assert used(solved(client, body)) == ["b"]

    for _ in range(3):
        issue = {"blocks": ["b"], "borrower": "Ada"}
        assert client.post(f"/v1/sites/{SITE}/issues", json=issue).is_success
        back = {"blocks": [{"id": "b"}]}
        assert client.post(f"/v1/sites/{SITE}/returns", json=back).is_success

    answer = solved(client, body)
    assert used(answer) == ["a"]
    assert outcome(answer) == [(0, True), (4, True)]


def test_several_times_are_weighed_together_where_the_same_is_free(client: Client) -> None:
    """Readings of 1, 2, 2, 3 and 3: k has one use, b two."""
    times = tuple((hour, hour + 1.0) for hour in range(0, 10, 2))

    answer = solved(client, asked(SPREAD, times=times))

    assert outcome(answer) == [(1 + 2 + 2 + 3 + 3, True)]


def test_what_one_time_uses_is_worn_for_the_next(client: Client, store: Store) -> None:
    """At the second time k is taken, so each time is planned by itself."""
    with store.writing() as connection:
        add_plan(connection, "theirs", starts_at=hours(4), ends_at=hours(5))
        add_promise(connection, "theirs", "k", (4, 5))

    wear = solved(client, asked(SPREAD, times=((0, 1), (2, 3), (4, 5))))
    sets = solved(client, asked({"goal": "prefer_set", "set": "lab"}, times=((0, 1), (4, 5))))

    # k at 1, k or b at 2, and b at 2 or 3.
    assert wear["preferences"][0]["value"] in {1 + 2 + 2, 1 + 2 + 3}
    assert wear["preferences"][0]["lower_bound"] <= 5
    assert used(sets)[0] == "k"
    assert outcome(sets) == [(1, True)]


def test_a_plan_keeps_what_came_of_its_preferences(client: Client) -> None:
    body = {**asked(SPREAD), "job": "4711"}
    plan = client.post("/v1/plans", json=body)
    assert plan.status_code == 201, plan.text
    assert outcome(plan.json()["answer"]) == [(1, True)]

    # Of what is left the least used one takes its place.
    again = client.post(f"/v1/plans/{plan.json()['id']}/replan", json={"blocks": ["k"]})
    assert again.status_code == 200, again.text
    assert used(again.json()["answer"]) == ["b"]


def test_a_set_must_be_one_of_the_site_and_need_not_be_there(client: Client) -> None:
    away = solved(client, asked({"goal": "prefer_set", "set": "away"}))
    assert outcome(away) == [(1, True)]

    refused = client.post("/v1/stacks", json=asked(SPREAD, {"goal": "prefer_set", "set": "lap"}))
    assert refused.status_code == 422
    (error,) = refused.json()["errors"]
    assert error["pointer"] == "/preferences/1/set"
    assert "lab" in error["detail"]
