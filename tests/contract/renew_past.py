"""Writes the examples of history anew: ``cd tests && python -m contract.renew_past``.

From the crib of the examples of plans, with certificates, on days that stand still.
"""

import json
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import count
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch
from uuid import UUID

from litestar.testing import TestClient

from contract.renew_plans import EXAMPLES, LENGTHS, body
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate

HALL = "/v1/sites/north-hall"


class Clock:
    """Stands still until it is set."""

    now = datetime(2027, 2, 28, 10, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now


def answers() -> tuple[dict[str, Any], str]:
    """By example what the service says, and the table."""
    clock = Clock()
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/crib.db"
        migrate(url)
        app = create_app(Settings(solve_workers=1), store=Store(url), clock=clock)
        with TestClient(app) as client:
            _fill(client)
            _work(client, clock)
            return _asked(client), client.get(f"{HALL}/jobs/4711", headers=_CSV).text


_CSV = {"Accept": "text/csv"}


def _fill(client: TestClient[Any]) -> None:
    client.put(HALL, json=body("site-request"))
    blocks = [{"id": f"bench-3/{each}", "nominal": each, "grade": "1"} for each in LENGTHS]
    bench = {"unit": "mm", "grade": "1", "blocks": blocks}
    made = client.put(f"{HALL}/sets/bench-3", json=bench)
    assert made.status_code == 201, made.text
    certify(client, "0.03", "K-2027-118")


def certify(client: TestClient[Any], deviation: str, certificate: str) -> None:
    """A calibration of a block."""
    block = {
        "id": "bench-3/1.345",
        "set": "bench-3",
        "nominal": "1.345",
        "grade": "1",
        "deviation": deviation,
        "expanded_uncertainty": "0.05",
        "calibration": {"certificate": certificate, "due_on": "2028-01-31"},
    }
    address = f"{HALL}/blocks/bench-3/1.345"
    sent = client.put(address, json=block, headers={"If-Match": "*"})
    assert sent.status_code == 200, sent.text


def _work(client: TestClient[Any], clock: Clock) -> None:
    """One job is done, and another one is not."""
    first = client.post("/v1/plans", json=body("plan-request")).json()
    later = {**body("plan-request"), "job": "4716"}
    later["crib"] |= {
        "needed_from": "2027-03-04T08:00:00+01:00",
        "needed_until": "2027-03-04T09:30:00+01:00",
    }
    client.post("/v1/plans", json=later)
    clock.now = datetime(2027, 3, 1, 9, tzinfo=UTC)
    client.post(f"/v1/plans/{first['id']}/end", json=body("plan-end-request"))
    clock.now = datetime(2027, 3, 2, 9, tzinfo=UTC)
    certify(client, "0.3", "K-2027-131")


def _asked(client: TestClient[Any]) -> dict[str, Any]:
    of_block = {"kind": "block", "subject": "bench-3/1.345"}
    recall = {"block": "bench-3/1.345", "since": "2027-02-15"}
    return {
        "history": client.get(f"{HALL}/history", params=of_block).json(),
        "job": client.get(f"{HALL}/jobs/4711").json(),
        "recall": client.get(f"{HALL}/recall", params=recall).json(),
    }


def plan_ids() -> Callable[[], UUID]:
    """Ids that stay, as those of the examples of plans: later they would not fit the hashes."""
    numbers = count(1)
    return lambda: UUID(f"5b0c1c2b6d0f4f0f9e3a7d1c2b3a{next(numbers):04d}")


if __name__ == "__main__":
    with patch("wrung_service.api.plans.drafting.uuid4", plan_ids()):
        examples, table = answers()
    for name, answer in examples.items():
        text = json.dumps(answer, indent=2, ensure_ascii=False)
        (EXAMPLES / f"{name}.json").write_text(f"{text}\n")
    (EXAMPLES / "job.csv").write_bytes(table.encode())
