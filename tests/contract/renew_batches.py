"""Writes the examples of batches anew: ``cd tests && python -m contract.renew_batches``.

From a service and a worker on SQLite, on a day that stands still, with an id that stays.
"""

import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from litestar.testing import TestClient

from store.batch_workers import run_until_idle
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate

EXAMPLES = Path(__file__).parents[2] / "service/wrung_service/api/examples"
ID = "7c9e6679f1b24a0e8d3b5c6a7f8e9d0c"
JSON_LINES = {"Content-Type": "application/x-ndjson"}


class Clock:
    """A minute later each time it is asked about an end."""

    now = datetime(2027, 3, 1, 8, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now


def lines() -> list[str]:
    """The requests: one that is answered, and one with a composition that there is not."""
    shelf = {"id": "crib-81", "composition": "inch-81", "grade": "AS-1"}
    target = {"ref": "op20", "kind": "length", "length": "0.9412"}
    one = {"unit": "in", "sets": [shelf], "targets": [target]}
    other = {**one, "sets": [{**shelf, "composition": "inch-80"}]}
    return [json.dumps(each) for each in (one, other)]


def examples() -> dict[str, str]:
    """By file, what is sent and answered."""
    sent = "".join(f"{line}\n" for line in lines())
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/crib.db"
        migrate(url)
        store, clock, settings = Store(url), Clock(), Settings(solve_workers=1)
        with TestClient(create_app(settings, store=store, clock=clock)) as client:
            posted = client.post("/v1/batches", content=sent, headers=JSON_LINES)
            path = posted.headers["Location"]
            listed = client.get("/v1/batches").json()
            other = client.post("/v1/batches", content=sent, headers=JSON_LINES)
            cancelled = client.post(f"{other.headers['Location']}/cancel").json()
            clock.now += timedelta(seconds=2)
            run_until_idle(settings, Store(url), clock=clock)
            results = client.get(f"{path}/results").text
            page = client.get(
                f"{path}/results?after=0", headers={"Accept": "application/json"}
            ).json()
            return {
                "batch-request.json": _json({"requests": [*map(json.loads, lines())]}),
                "batch-request.ndjson": sent,
                "batch-posted.json": _json(posted.json()),
                "batches.json": _json(listed),
                "batch-done.json": _json(client.get(path).json()),
                "batch-cancelled.json": _json(cancelled),
                "batch-results.ndjson": results.splitlines()[1] + "\n",
                "batch-results.json": _json(page),
                "batch-events.txt": client.get(f"{path}/events").text,
            }


def _json(value: Any) -> str:  # noqa: ANN401 - JSON
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def with_fixed_ids(text: str) -> str:
    """The same with one id for each batch and request."""
    text = re.sub(r'"request_id": ?"[0-9a-f]{32}"', '"request_id":"nightly-plan"', text)
    return re.sub(r"[0-9a-f]{32}", ID, text)


if __name__ == "__main__":
    for name, text in examples().items():
        (EXAMPLES / name).write_text(with_fixed_ids(text), encoding="utf-8")
