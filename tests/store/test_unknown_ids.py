"""An id of which there is nothing: where it stands is said, and what it may have been meant for."""

from collections.abc import Iterator
from itertools import product
from typing import Any
from urllib.parse import quote

import pytest
from litestar.testing import TestClient

from store.planning import Client, asked, made
from store.rows import SITE, Clock, add_block, add_set, add_site
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

HALL = f"/v1/sites/{SITE}"
SLIP = "bench-3/1.0005"


@pytest.fixture
def client(store: Store) -> Iterator[Client]:
    """A site with a set of two blocks."""
    with store.writing() as connection:
        add_site(connection)
        add_set(connection, "bench-3")
        for name in ("bench-3/1.005", "bench-3/1.01"):
            add_block(connection, name, set_id="bench-3")
    with TestClient(create_app(Settings(solve_workers=2), store=store, clock=Clock())) as client:
        yield client


def with_crib(**members: object) -> dict[str, Any]:
    """A plan that names something in its crib."""
    body = asked("1")
    return {**body, "crib": {**body["crib"], **members}}


BODIES: dict[str, tuple[str, dict[str, Any], dict[str, str]]] = {
    "issue": (
        f"{HALL}/issues",
        {"blocks": ["bench-3/1.005", SLIP, "x"]},
        {"/blocks/1": "bench-3/1.005", "/blocks/2": ""},
    ),
    "issue for a plan": (
        f"{HALL}/issues",
        {"blocks": ["bench-3/1.005"], "plan": "none"},
        {"/plan": ""},
    ),
    "return": (
        f"{HALL}/returns",
        {"blocks": [{"id": SLIP}, {"id": "bench-3/1.1"}]},
        {"/blocks/0/id": "bench-3/1.005", "/blocks/1/id": "bench-3/1.01"},
    ),
    "condition": (
        f"{HALL}/condition-changes",
        {"blocks": [SLIP, "x"], "condition": "damaged"},
        {"/blocks/0": "bench-3/1.005", "/blocks/1": ""},
    ),
    "replan": (
        "/v1/plans/{plan}/replan",
        {"blocks": ["bench-3/1.01", SLIP, "x"]},
        {"/blocks/1": "bench-3/1.005", "/blocks/2": ""},
    ),
    "site": ("/v1/plans", with_crib(site="north-hal"), {"/crib/site": SITE}),
    "sets": (
        "/v1/plans",
        with_crib(sets=["bench-3", "bench-4", "x"]),
        {"/crib/sets/1": "bench-3", "/crib/sets/2": ""},
    ),
    "leave out": (
        "/v1/stacks",
        {k: v for k, v in with_crib(leave_out=["x", SLIP]).items() if k != "job"},
        {"/crib/leave_out/0": "", "/crib/leave_out/1": "bench-3/1.005"},
    ),
    "exclude": ("/v1/plans", asked("1", exclude=[SLIP]), {"/exclude/0": "bench-3/1.005"}),
    "only": ("/v1/plan-previews", asked("1", only=[SLIP]), {"/only/0": "bench-3/1.005"}),
    "import": (
        f"{HALL}/inventory-imports",
        {"blocks": [{"id": "n", "nominal": "1", "grade": "1", "set": "bench-33"}]},
        {"/blocks/0/set": "bench-3"},
    ),
    "certificate": (
        f"{HALL}/certificate-imports",
        {
            "blocks": [
                {"id": SLIP, "nominal": "1", "deviation": "0.1", "expanded_uncertainty": "0.05"}
            ]
        },
        {"/blocks/0/id": "bench-3/1.005"},
    ),
}


@pytest.mark.parametrize("name", BODIES)
def test_every_unknown_id_of_a_body_is_pointed_to(client: Client, name: str) -> None:
    """All of them at once, and nothing is done."""
    path, body, wrong = BODIES[name]
    plan = made(client, asked("1"))["id"] if "{plan}" in path else ""

    answer = client.post(path.format(plan=plan), json=body)

    assert answer.status_code == 422, answer.text
    told = {each["pointer"]: each["detail"] for each in answer.json()["errors"]}
    assert told.keys() == wrong.keys()
    for at, nearest in wrong.items():
        assert nearest in told[at], told[at]
    if plan:
        assert client.get(f"/v1/plans/{plan}").json()["version"] == 1


def test_an_unknown_set_of_a_block_is_pointed_to(client: Client) -> None:
    block = {"id": "n", "nominal": "1", "grade": "1", "set": "bench3"}

    answer = client.put(f"{HALL}/blocks/n", json=block)

    assert answer.status_code == 422
    assert "nearest known is bench-3" in answer.json()["errors"][0]["detail"]


def test_an_address_of_nothing_says_what_is_near(client: Client) -> None:
    for path, near in (
        (f"{HALL}/blocks/{SLIP}", "bench-3/1.005"),
        (f"{HALL}/sets/bench", "bench-3"),
    ):
        answer = client.get(path)

        assert answer.status_code == 404
        assert near in answer.json()["detail"]


WRONG = ["Nord Halle", "-a", "ä", ".hidden", "a" * 200, "a\nb", "a%00b"]


ADDRESSES = (
    ("GET", "/v1/sites/{}", "site_id"),
    ("PUT", "/v1/sites/{}", "site_id"),
    ("GET", "/v1/sites/{}/risks", "site_id"),
    ("POST", "/v1/sites/{}/issues", "site_id"),
    ("GET", f"{HALL}/sets/{{}}", "set_id"),
    ("PUT", f"{HALL}/sets/{{}}", "set_id"),
    ("PUT", f"{HALL}/blocks/{{}}", "block_id"),
    ("GET", f"{HALL}/blocks/bench-3/{{}}", "block_id"),
    ("GET", f"{HALL}/webhooks/{{}}", "webhook_id"),
)


def test_an_id_that_can_be_none_says_which_can(client: Client) -> None:
    """What an id is made of stands in the answer."""
    for wrong, (method, path, member) in product(WRONG, ADDRESSES):
        answer = client.request(method, path.format(quote(wrong)), json={})

        assert answer.status_code == 404, answer.text
        assert answer.json()["detail"].startswith(f"{member}: ")
        assert "letters A to Z, digits and . _ ~" in answer.json()["detail"]


def test_an_id_in_a_body_that_can_be_none_says_which_can(client: Client) -> None:
    answer = client.post(f"{HALL}/issues", json={"blocks": ["a b"]})

    assert answer.status_code == 400
    assert "letters A to Z, digits" in answer.json()["errors"][0]["detail"]
