"""The same request gives the same plan, and a busy service gives it or says that it is busy."""

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import pytest

from e2e.processes import running
from patience import PATIENCE_S

SET = {"id": "bench", "composition": "inch-81", "grade": "AS-1"}
LENGTHS = ["0.4567", "0.6438", "0.8309", "1.018", "1.2051"]


def asked(**members: object) -> dict[str, Any]:
    """A request whose search ends by itself long before its time limit."""
    targets = [
        {"ref": f"op{n}", "kind": "length", "length": each} for n, each in enumerate(LENGTHS)
    ]
    return {"unit": "in", "sets": [SET], "targets": targets, "time_limit_ms": 60_000, **members}


def plan(answer: httpx.Response) -> dict[str, Any]:
    """The answer without its times."""
    return {**answer.json(), "solve_ms": 0, "waited_ms": 0}


@pytest.mark.parametrize(
    "members",
    [{}, {"objective": "least_error"}, {"targets": asked()["targets"][:1], "alternatives": 3}],
    ids=["fewest blocks", "least error", "alternatives"],
)
def test_24_identical_requests_at_once_have_one_answer(members: dict[str, Any]) -> None:
    """That of the unloaded service: every 200 is; the others are 503 with Retry-After."""
    flags = ("--solve-workers", "2", "--queue-length", "16")
    body = asked(**members)
    with running(*flags) as server, server.client() as client, ThreadPoolExecutor(24) as clients:
        alone = client.post("/v1/stacks", json=body)
        at_once = [
            clients.submit(httpx.post, f"{server.address}/v1/stacks", json=body, timeout=PATIENCE_S)
            for _ in range(24)
        ]
        answers = [each.result() for each in at_once]

    served = [answer for answer in answers if answer.status_code == 200]
    refused = [answer for answer in answers if answer.status_code != 200]
    assert alone.json()["waited_ms"] == 0
    assert alone.json()["objective_proven"]
    assert len(served) >= 2
    assert all(plan(answer) == plan(alone) for answer in served)
    assert all(answer.status_code == 503 for answer in refused)
    assert all(int(answer.headers["retry-after"]) >= 1 for answer in refused)
