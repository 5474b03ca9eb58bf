"""Writes the answers of the examples of plans anew: ``cd tests && python -m contract.renew_plans``.

From a small crib on SQLite, on a day that stands still, with ids that stay.
"""

import json
import re
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from litestar.testing import TestClient

from store.rows import SITE, add_block, add_set, add_site
from wrung.lengths import mm
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate

EXAMPLES = Path(__file__).parents[2] / "service/wrung_service/api/examples"
LENGTHS = ("1.16", "1.34", "1.345", "1.5", "2.5", "10", "11")


def clock() -> datetime:
    """The day before the need."""
    return datetime(2027, 2, 28, 10, tzinfo=UTC)


def body(name: str) -> dict[str, Any]:
    """An example that is sent."""
    read: dict[str, Any] = json.loads((EXAMPLES / f"{name}.json").read_text())
    return read


def fill(store: Store) -> None:
    """A set of a few blocks."""
    with store.writing() as connection:
        add_site(connection)
        add_set(connection, "bench-3")
        for length in LENGTHS:
            name = f"bench-3/{length}"
            add_block(connection, name, nominal=mm(length), set_id="bench-3")


def answers() -> dict[str, Any]:
    """What the service says to the examples, one after another."""
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/crib.db"
        migrate(url)
        store = Store(url)
        fill(store)
        app = create_app(Settings(solve_workers=1), store=store, clock=clock)
        with TestClient(app) as client:
            return _asked(client)


def _asked(client: TestClient[Any]) -> dict[str, Any]:
    first = client.post("/v1/plans", json=body("plan-request")).json()
    held = {**body("plan-urgent-request"), "job": "4715", "priority": 5, "displace": False}
    held["targets"] = [{"kind": "length", "ref": "gap", "length": "2.5"}]
    plan = client.post("/v1/plans", json=held).json()
    preview = client.post("/v1/plan-previews", json=body("plan-urgent-request")).json()
    anew = client.post(f"/v1/plans/{plan['id']}/replan", json=body("plan-replan-request")).json()
    listed = client.get("/v1/plans", params={"site": SITE, "limit": "1"}).json()
    ended = client.post(f"/v1/plans/{first['id']}/end", json=body("plan-end-request")).json()
    return {
        "plan-answer": first,
        "plan-preview-answer": preview,
        "plan-replan-answer": anew,
        "plans": {**listed, "next": None},
        "plan-end-answer": ended,
    }


def with_fixed_ids(text: str, known: dict[str, str], numbers: "count[int]") -> str:
    """The same text with ids and times of searches that do not change."""

    def fixed(found: re.Match[str]) -> str:
        return known.setdefault(found[0], f"5b0c1c2b6d0f4f0f9e3a7d1c2b3a{next(numbers):04d}")

    text = re.sub(r"(?<=\")[0-9a-f]{32}(?=\")", fixed, text)
    return re.sub(r'"(solve_ms|waited_ms)": [0-9.]+', r'"\1": 1.0', text)


if __name__ == "__main__":
    ids, numbers = dict[str, str](), count(1)
    for name, answer in answers().items():
        text = json.dumps(answer, indent=2, ensure_ascii=False)
        (EXAMPLES / f"{name}.json").write_text(with_fixed_ids(text, ids, numbers) + "\n")
