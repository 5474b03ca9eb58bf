"""Guard bands that the service finds from the uncertainty of the stacks themselves."""

from decimal import Decimal
from typing import Any

import pytest
from litestar.testing import TestClient

from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

Json = dict[str, Any]


def ask(client: TestClient[Any], *, sets: list[Json] | None = None, **target: str | bool) -> Json:
    body = {
        "unit": "mm",
        "sets": sets or [{"id": "K", "composition": "metric-112-1", "grade": "2"}],
        "targets": [
            {"ref": "slot", "kind": "limits", "lower": "40", "guard_by_uncertainty": True}
            | {"upper": "40.025", "rounded_to": "0.001"}
            | target
        ],
        "record": True,
        # Of which each round has a part.
        "time_limit_ms": 60_000,
    }
    answer = client.post("/v1/stacks", json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def uncertainties(limits: Json) -> list[Decimal]:
    stacks = [gauge["stack"] for gauge in limits["gauges"]]
    return [
        abs(Decimal(each["offset_in_use"])) + Decimal(each["expanded_uncertainty"])
        for each in stacks
    ]


@pytest.mark.parametrize("least", ["0", "0.3", "3"])
def test_stacks_lie_inside_by_at_least_their_own_uncertainty(
    client: TestClient[Any], least: str
) -> None:
    answer = ask(client, guard_band=least)
    limits = answer["results"][0]["limits"]
    guard = Decimal(limits["guard_band"])

    assert limits["guard_covers_uncertainty"] is True
    assert guard >= max(*uncertainties(limits), Decimal(least))
    assert all(Decimal(gauge["moved_inward"]) >= guard for gauge in limits["gauges"])
    # What was stated is kept where it is enough.
    assert (guard == Decimal(least)) == (least == "3")


def test_where_blocks_cannot_make_the_lengths_the_next_ones_inside_are_tried(
    client: TestClient[Any],
) -> None:
    """The set has one block for half a micrometre, and two stacks would need it."""
    limits = ask(client, rounded_to="0.0005")["results"][0]["limits"]

    assert limits["guard_covers_uncertainty"] is True
    assert all(gauge["stack"] for gauge in limits["gauges"])


def test_the_record_holds_the_guard_band_that_was_found(client: TestClient[Any]) -> None:
    answer = ask(client)
    record = answer["record"]
    found = answer["results"][0]["limits"]["guard_band"]

    assert record["request"]["targets"][0]["guard_band"] == found
    check = client.post("/v1/stack-checks", json={"record": record})
    assert check.status_code == 200
    assert check.json()["holds"] is True


def test_a_tolerance_smaller_than_the_uncertainty_is_answered_and_said(
    client: TestClient[Any],
) -> None:
    """Blocks of grade 2 are off by more than half of 1 µm: no guard band leaves any of it."""
    result = ask(client, upper="40.001", rounded_to="0.0005")["results"][0]
    limits = result["limits"]

    assert "limits.no_guard_band" in {each["key"] for each in result["remarks"]}
    assert limits["guard_covers_uncertainty"] is False
    assert min(uncertainties(limits)) > Decimal(limits["guard_band"])


def test_without_a_step_to_round_to_it_is_refused(client: TestClient[Any]) -> None:
    body = {
        "unit": "mm",
        "blocks": [{"id": "a", "nominal": "10", "limit_deviation": "1"}],
        "targets": [{"ref": "s", "kind": "limits", "lower": "10", "guard_by_uncertainty": True}],
    }
    answer = client.post("/v1/stacks", json=body)

    assert answer.status_code == 422
    assert [each["pointer"] for each in answer.json()["errors"]] == ["/targets/0/rounded_to"]


def test_a_plan_keeps_the_guard_band_that_was_found(store: Store) -> None:
    """Its stacks are read anew, as for a card or a replan, and must still be those wanted."""
    app = create_app(Settings(solve_workers=1), store=store)
    with TestClient(app) as client:
        client.put("/v1/sites/hall", json={"name": "Hall", "time_zone": "UTC"})
        made = {"composition": "metric-112-1", "grade": "2"}
        client.put("/v1/sites/hall/sets/k", json=made)
        times = {"needed_from": "2040-03-01T08:00:00Z", "needed_until": "2040-03-01T10:00:00Z"}
        target = {"kind": "limits", "lower": "40", "upper": "40.025", "rounded_to": "0.001"}
        plan = client.post(
            "/v1/plans",
            json={
                "unit": "mm",
                "crib": {"site": "hall", **times},
                "job": "J1",
                "time_limit_ms": 60_000,
                "targets": [{"ref": "slot", "guard_by_uncertainty": True, **target}],
            },
        ).json()

        found = plan["answer"]["results"][0]["limits"]["guard_band"]
        assert plan["request"]["targets"][0]["guard_band"] == found
        check = client.post("/v1/stack-checks", json={"record": plan["record"]})
        assert check.json()["holds"] is True
