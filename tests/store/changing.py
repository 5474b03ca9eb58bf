"""A certified block of a plan, and the ways to tell the crib what it is now."""

import csv
from collections.abc import Iterator
from io import StringIO
from typing import Any, Final, Literal

import pytest
from litestar.testing import TestClient

from store.planning import Client, asked, blocks, made
from store.rows import SITE, Clock, add_set, add_site
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

HALL = f"/v1/sites/{SITE}"
TEN: Final[dict[str, Any]] = {
    "id": "a/10",
    "set": "a",
    "nominal": "10",
    "grade": "1",
    "material": "steel",
    "serial": "118",
    "deviation": "0.05",
    "expanded_uncertainty": "0.06",
    "calibration": {
        "certificate": "K-1",
        "laboratory": "Example Calibration",
        "calibrated_on": "2027-01-10",
        "due_on": "2028-01-31",
        "coverage_factor": 2.0,
        "degrees_of_freedom": 50,
        "variation": "0.03",
        "expansion": 11.5,
        "expansion_uncertainty": 0.3,
    },
}
Way = Literal["put", "json", "csv"]
WAYS: Final[tuple[Way, ...]] = ("put", "json", "csv")


@pytest.fixture(name="client")
def client_of_a_test(store: Store, clock: Clock) -> Iterator[Client]:
    """A site with two blocks of 10 mm and one of 5 mm in set a; set b is empty."""
    with store.writing() as connection:
        add_site(connection)
        for name in ("a", "b"):
            add_set(connection, name)
    app = create_app(Settings(solve_workers=2), store=store, clock=clock)
    with TestClient(app) as client:
        for block in (
            TEN,
            {**TEN, "id": "a/10-too"},
            {"id": "a/5", "set": "a", "nominal": "5", "grade": "1"},
        ):
            assert client.put(f"{HALL}/blocks/{block['id']}", json=block).status_code == 201
        yield client


def with_ten(client: Client) -> dict[str, Any]:
    """A plan for 15 mm from set a, on 1 March, which has the block that is to change."""
    body = asked("15", budget="totals", exclude=["a/10-too"])
    body["crib"]["sets"] = ["a"]
    plan = made(client, body)
    assert blocks(plan) == [{"a/10", "a/5"}]
    return plan


def changed(*changes: dict[str, Any]) -> dict[str, Any]:
    """The block after these changes, with nothing that is not known."""
    block = {**TEN, "calibration": dict(TEN["calibration"])}
    for change in changes:
        block["calibration"] |= change.get("calibration", {})
        block |= {name: value for name, value in change.items() if name != "calibration"}
    return {name: value for name, value in block.items() if value is not None}


def send(
    client: Client, block: dict[str, Any], way: Way, *, preview: bool = False
) -> list[dict[str, Any]]:
    """Let the crib know what the block is now; what it says of plans."""
    if way == "put":
        headers = {"If-Match": "*"}
        answer = client.put(f"{HALL}/blocks/{block['id']}", json=block, headers=headers)
    elif way == "json":
        query = {"preview": str(preview).lower()}
        answer = client.post(f"{HALL}/inventory-imports", params=query, json={"blocks": [block]})
    else:
        query = {"preview": str(preview).lower()}
        answer = client.post(
            f"{HALL}/inventory-imports",
            params=query,
            content=as_csv(block),
            headers={"Content-Type": "text/csv"},
        )
    assert answer.status_code == 200, answer.text
    told: list[dict[str, Any]] = answer.json()["at_risk"]
    return told


def as_csv(block: dict[str, Any]) -> bytes:
    """All that is known of the block, and that the rest is not."""
    flat = {**block, **block["calibration"]}
    flat.pop("calibration")
    unknown = ("deviation", "expanded_uncertainty", "limit_deviation", "set", "maker_number")
    row = {"condition": "fit", "role": "gauge", **dict.fromkeys(unknown, ""), **flat}
    text = StringIO()
    writer = csv.DictWriter(text, list(row))
    writer.writeheader()
    writer.writerow(row)
    return text.getvalue().encode()
