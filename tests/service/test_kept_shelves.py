"""A shelf that was read is kept: it is answered as before, and any other is another."""

from typing import Any

import pytest

from service.bodies import Json, block, pointers, request, target
from service.conftest import Client


def answered(client: Client, body: Json) -> Json:
    """The answer less the time that it took."""
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    return {name: each for name, each in response.json().items() if not name.endswith("_ms")}


CHANGES: list[Any] = [
    {"unit": "mm"},
    {"blocks": [block("a1", "0.1007"), block("a2", "0.250")]},
    {"blocks": [block("other", "0.1006"), block("a2", "0.250")]},
    {"blocks": [block("a1", "0.1006", role="wear"), block("a2", "0.250")]},
    {"blocks": [block("a1", "0.1006", unit="mm"), block("a2", "0.250")]},
]


@pytest.mark.parametrize("change", CHANGES, ids=[f"{n}" for n in range(len(CHANGES))])
def test_the_same_shelf_is_answered_alike_and_another_is_not(client: Client, change: Json) -> None:
    """Whatever was asked in between."""
    body = request(blocks=[block("a1", "0.1006"), block("a2", "0.250")])
    first = answered(client, body)
    assert answered(client, {**body, **change}) != first
    assert answered(client, body) == first


def test_the_kept_shelf_keeps_its_digits_and_serials(client: Client) -> None:
    """What is repeated in the answer is what was sent with this shelf."""
    blocks = [block("a1", "0.10060", serial="K 7"), block("a2", "0.25")]
    for _ in range(2):
        [stack] = answered(client, request(blocks=blocks))["stacks"]
        placed = {each["id"]: each for each in stack["blocks"]}
        assert placed["a1"]["nominal"] == "0.10060"
        assert placed["a1"]["serial"] == "K 7"


def test_a_fault_is_told_each_time(client: Client) -> None:
    """A shelf with a fault is not taken for a sound one the second time."""
    body = request(blocks=[block("a1", "0.1006"), block("a2", "0.25", material="cheese")])
    for _ in range(3):
        assert pointers(client.post("/v1/stacks", json=body)) == ["/blocks/1/material"]


def test_sets_are_kept_with_what_is_missing(client: Client) -> None:
    """The same set, first whole, then without a block, then whole."""

    def ids(missing: list[str]) -> set[str]:
        sets = [{"id": "s", "composition": "inch-81", "grade": "AS-1", "missing": missing}]
        body = {"unit": "in", "sets": sets, "targets": [target("op20", "0.3506")]}
        [stack] = answered(client, body)["stacks"]
        return {each["id"] for each in stack["blocks"]}

    whole = ids([])
    assert "s/0.1006" in whole
    assert "s/0.1006" not in ids(["0.1006"])
    assert ids([]) == whole
