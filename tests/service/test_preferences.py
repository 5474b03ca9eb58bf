"""Preferences as they are sent and answered; what they mean is tested with the library."""

from typing import Any

import pytest

from service.conftest import Client

SETS = [
    {"id": "bench", "composition": "metric-87-a", "grade": "1", "uses": 9},
    {"id": "lab", "composition": "metric-87-a", "grade": "K", "uses": 2},
]


def request(*preferences: dict[str, str], **members: object) -> dict[str, Any]:
    """Two blocks, which both sets have."""
    targets = [{"kind": "length", "ref": "op10", "length": "31.25"}]
    return {
        "unit": "mm",
        "sets": SETS,
        "targets": targets,
        "preferences": preferences,
        **members,
    }


def answered(client: Client, body: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    return dict(response.json())


@pytest.mark.parametrize(
    ("preference", "of", "value"),
    [
        ({"goal": "spread_wear"}, "lab", 4),
        ({"goal": "spare_best"}, "bench", 0),
        ({"goal": "prefer_set", "set": "bench"}, "bench", 0),
        ({"goal": "prefer_set", "set": "lab"}, "lab", 0),
    ],
)
def test_each_preference_chooses(
    client: Client, preference: dict[str, str], of: str, value: int
) -> None:
    answer = answered(client, request(preference))

    assert {block["id"].partition("/")[0] for block in answer["stacks"][0]["blocks"]} == {of}
    said = {"set": None, **preference, "value": value, "lower_bound": value, "proven": True}
    assert answer["preferences"] == [said]


def test_other_choices_are_listed_beside_them(client: Client) -> None:
    answer = answered(client, request({"goal": "spread_wear"}, alternatives=2, trade_off=True))

    assert answer["preferences"][0]["proven"]
    assert len(answer["alternatives"]["stacks"]) == 2
    assert answer["trade_off"]["plans"]


def test_nothing_is_said_where_nothing_was_asked(client: Client) -> None:
    assert "preferences" not in answered(client, request())


def test_a_record_with_preferences_holds(client: Client) -> None:
    body = request({"goal": "prefer_set", "set": "lab"}, record=True)
    record = answered(client, body)["record"]

    checked = client.post("/v1/stack-checks", json={"record": record}).json()

    assert checked["findings"] == []


@pytest.mark.parametrize(
    ("preferences", "pointer"),
    [
        ([{"goal": "prefer_set", "set": "lap"}], "/preferences/0/set"),
        ([{"goal": "prefer_set"}], "/preferences/0/set"),
        ([{"goal": "spread_wear", "set": "lab"}], "/preferences/0/set"),
        ([{"goal": "spare_best"}, {"goal": "spare_best"}], "/preferences/1"),
        ([{"goal": "shiny"}], "/preferences/0/goal"),
        ([{"goal": "spread_wear"}] * 11, "/preferences"),
    ],
)
def test_faults_point_to_what_is_wrong(
    client: Client, preferences: list[dict[str, str]], pointer: str
) -> None:
    refused = client.post("/v1/stacks", json=request(*preferences))

    assert refused.status_code in {400, 422}
    assert pointer in [error["pointer"] for error in refused.json()["errors"]]
