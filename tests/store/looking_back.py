"""Jobs of the past over HTTP, as tests of history ask for them."""

from collections.abc import Iterator
from typing import Any, TypeAlias

import pytest
import sqlalchemy as sa
from litestar.testing import TestClient

from store.rows import Clock, hours
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store import tables
from wrung_service.store.engine import Store

Client: TypeAlias = TestClient[Any]
Json: TypeAlias = dict[str, Any]

HALL = "/v1/sites/north-hall"
MARCH = "2027-03-01"


@pytest.fixture(name="client")
def client_of_a_test(store: Store, clock: Clock) -> Iterator[Client]:
    """The service with a site of five certified blocks, two of them of one length."""
    app = create_app(Settings(solve_workers=2), store=store, clock=clock)
    with TestClient(app) as client:
        body = {"name": "North hall", "time_zone": "Europe/Berlin"}
        assert client.put(HALL, json=body).status_code == 201
        for name, nominal in (("1", "1"), ("2", "2"), ("5", "5"), ("5-too", "5"), ("b/9", "9")):
            certify(client, name, nominal, deviation="0.02", certificate=f"C-{nominal}")
        yield client


def certify(client: Client, name: str, nominal: str, *, deviation: str, certificate: str) -> None:
    """A block, or a new calibration of it."""
    body = {
        "id": name,
        "nominal": nominal,
        "deviation": deviation,
        "expanded_uncertainty": "0.05",
        "calibration": {
            "certificate": certificate,
            "laboratory": "Lab of the north",
            "calibrated_on": "2027-01-10",
            "due_on": "2028-01-10",
        },
    }
    address = f"{HALL}/blocks/{name}"
    sent = client.put(address, json=body, headers={"If-Match": "*"})
    if sent.status_code == 412:
        sent = client.put(address, json=body)
    assert sent.status_code in {200, 201}, sent.text


def plan(
    client: Client, *lengths: str, job: str = "4711", at: float = 0, **members: object
) -> Json:
    """A plan for an hour, that many hours after the start."""
    body = {
        "unit": "mm",
        "crib": {
            "site": "north-hall",
            "needed_from": hours(at).isoformat(),
            "needed_until": hours(at + 1).isoformat(),
        },
        "job": job,
        "operation": "20",
        "targets": [
            {"kind": "length", "ref": f"t{place}", "length": each}
            for place, each in enumerate(lengths)
        ],
        **members,
    }
    response = client.post("/v1/plans", json=body)
    assert response.status_code == 201, response.text
    made: Json = response.json()
    return made


def end(client: Client, made: Json, state: str = "done") -> None:
    """It was used, or it was not needed."""
    response = client.post(f"/v1/plans/{made['id']}/end", json={"state": state})
    assert response.status_code == 200, response.text


def replan(client: Client, made: Json, *blocks: str) -> None:
    """Without those blocks."""
    body = {"blocks": list(blocks), "reason": "dropped"}
    response = client.post(f"/v1/plans/{made['id']}/replan", json=body)
    assert response.status_code == 200, response.text


def issue(store: Store, made: Json, block: str, out: float = 0, back: float | None = None) -> None:
    """The block goes out for a plan, in hours after the start."""
    row = {
        "site_id": "north-hall",
        "block_id": block,
        "plan_id": made["id"],
        "issued_at": hours(out),
        "issued_by": "Ida",
        "returned_at": None if back is None else hours(back),
    }
    with store.writing() as connection:
        connection.execute(sa.insert(tables.loan), row)


def asked(client: Client, address: str, **parameters: str) -> Any:  # noqa: ANN401 - any JSON
    """What is answered."""
    response = client.get(f"{HALL}/{address}", params=parameters)
    assert response.status_code == 200, response.text
    return response.json()


def recalled(client: Client, block: str = "5", since: str = MARCH) -> tuple[list[str], list[str]]:
    """Jobs that used the block, and jobs that count on it."""
    found = asked(client, "recall", block=block, since=since)
    used, planned = ([each["job"] for each in found[kind]] for kind in ("used", "planned"))
    return used, planned


def problem(client: Client, address: str, **parameters: str) -> str:
    """The problem that a request is refused with."""
    response = client.get(f"{HALL}/{address}", params=parameters)
    return str(response.json()["type"]).rpartition("/")[2]
