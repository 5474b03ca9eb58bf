"""A traveller over HTTP: its operations together or in turn."""

import pytest
from litestar.testing import TestClient

from service.bodies import Json, pointers
from wrung_service.app import Service

Client = TestClient[Service]
SETS = [{"id": "crib", "composition": "inch-81", "grade": "AS-1"}]
LENGTHS = ["0.6004", "0.8004", "2.1004", "0.3504"]


def traveller(**members: object) -> Json:
    """Four operations that want the one block of 0.1004 in."""
    targets = [
        {"ref": f"op{10 * k}", "kind": "length", "length": length, "max_blocks": 2}
        for k, length in enumerate(LENGTHS, 1)
    ]
    return {"unit": "in", "sets": SETS, "targets": targets, **members}


def solved(client: Client, body: Json) -> Json:
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    answer: Json = response.json()
    return answer


def test_in_turn_each_operation_has_the_whole_shelf(client: Client) -> None:
    together = solved(client, traveller())
    in_turn = solved(client, traveller(timing="in_turn"))

    assert together["outcome"] == "partial"
    assert together["shortage"]["cause"] == "wanted_at_once"
    assert (in_turn["outcome"], in_turn["changes"]["proven"]) == ("optimal", True)
    assert in_turn["served"] == {"stacks": 4, "targets": 4}


def test_together_is_what_is_meant_if_nothing_is_said(client: Client) -> None:
    plain, said = solved(client, traveller()), solved(client, traveller(timing="together"))

    assert plain["stacks"] == said["stacks"]


def test_a_set_up_is_needed_together(client: Client) -> None:
    body = traveller(timing="in_turn")
    for target in body["targets"][:2]:
        target["setup"] = "20"

    answer = solved(client, body)

    assert answer["served"]["targets"] == 3
    assert answer["shortage"]["cause"] == "blocks_missing"


@pytest.mark.parametrize("member", ["needed_from", "needed_until"])
def test_a_time_of_its_own_is_refused_in_a_sequence(client: Client, member: str) -> None:
    body = traveller(timing="in_turn")
    body["targets"][2][member] = "2026-11-25T08:00:00Z"

    response = client.post("/v1/stacks", json=body)

    assert (response.status_code, pointers(response)) == (422, [f"/targets/2/{member}"])
    assert "in turn" in response.json()["errors"][0]["detail"]


def test_a_set_up_left_before_is_refused(client: Client) -> None:
    body = traveller(timing="in_turn")
    body["targets"][0]["setup"] = body["targets"][2]["setup"] = "20"

    response = client.post("/v1/stacks", json=body)

    assert (response.status_code, pointers(response)) == (422, ["/targets/2/setup"])


def test_every_kind_takes_its_turn(client: Client) -> None:
    pair = {"ref": "slot", "kind": "limits", "lower": "0.3754", "upper": "0.3759", "setup": "30"}
    body = traveller(timing="in_turn")
    body["targets"].append(pair)

    answer = solved(client, body)

    assert [(s["target"], s["role"]) for s in answer["stacks"]][-2:] == [
        ("slot", "go"),
        ("slot", "not_go"),
    ]


def test_the_place_in_a_sequence_is_no_member_of_a_target(client: Client) -> None:
    """It follows from the order; the library's own member is not offered."""
    body = traveller()
    body["targets"] = [{"ref": "a", "kind": "limits", "lower": "1", "place": 3}]

    response = client.post("/v1/stacks", json=body)

    assert (response.status_code, pointers(response)) == (400, ["/targets/0/place"])
