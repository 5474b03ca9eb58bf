"""A block rests after each use: between plans, and between two steps of one plan."""

from collections.abc import Iterator
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from litestar.testing import TestClient

from store.planning import Client, asked, blocks, made, window
from store.rows import SITE, Clock, add_block, add_site
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

FORTY = 4_000_000_000


@pytest.fixture
def client(store: Store) -> Iterator[Client]:
    """A site with three blocks of one length."""
    with store.writing() as connection:
        add_site(connection)
        for name in ("a", "b", "c"):
            add_block(connection, name, nominal=FORTY)
    with TestClient(create_app(Settings(solve_workers=2), store=store, clock=Clock())) as client:
        yield client


def with_steps(*steps: tuple[float, float], pause: int) -> dict[str, Any]:
    """A plan of steps with times of their own, in hours."""
    body = asked(*["40"] * len(steps), pause_minutes=pause)
    for target, step in zip(body["targets"], steps, strict=True):
        target.update(window(*step))
    return body


def test_no_block_is_used_again_before_its_pause_is_over(client: Client) -> None:
    """Whatever the times of the steps and plans: uses by what was asked and answered."""
    random = Random(3)  # noqa: S311 - the same each time
    uses: dict[str, list[tuple[float, float]]] = {}
    kept = tried = 0
    while kept < 12 and tried < 60:
        tried += 1
        starts = sorted(random.choices(range(48), k=3))
        steps = [(start / 2, start / 2 + random.choice([0.5, 1])) for start in starts]
        answer = client.post("/v1/plans", json=with_steps(*steps, pause=30))
        if answer.status_code == 201:
            kept += 1
            for step, used in zip(steps, blocks(answer.json()), strict=True):
                uses.setdefault(used.pop(), []).append(step)
    assert kept >= 6
    for times in uses.values():
        for (_, end), (start, _) in pairwise(sorted(times)):
            assert start - end >= 0.5, times
    # To the minute: some block was used again just when its pause was over.
    gaps = {
        start - end for each in uses.values() for (_, end), (start, _) in pairwise(sorted(each))
    }
    assert 0.5 in gaps


def test_stacks_in_turn_are_one_use(client: Client) -> None:
    """A block goes from one step to the next at once, and rests once the plan's time is over."""
    plan = made(client, asked("40", "40", "40", timing="in_turn", pause_minutes=30))

    (promise,) = plan["promises"]
    assert len(set().union(*blocks(plan))) == 1
    assert promise["starts_at"] == "2027-03-01T08:00:00Z"
    assert promise["ends_at"] == "2027-03-01T09:30:00Z"
    assert plan["needed_until"] == "2027-03-01T09:00:00Z"


def test_stacks_in_turn_have_no_times_of_their_own(client: Client) -> None:
    """So nobody takes the pause for one between them."""
    body = {**with_steps((0, 1), (1, 2), pause=30), "timing": "in_turn"}
    body["crib"] = {"site": SITE, **window(0, 2)}

    answer = client.post("/v1/plans", json=body)

    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/targets/0/needed_from"
