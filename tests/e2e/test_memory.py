"""The serving process stays small."""

from concurrent.futures import ThreadPoolExecutor

from e2e.hard import hard_request
from e2e.processes import running
from service.bodies import request

MOST_MB = 400
"""Ten runs ended with 289 to 341 MB: it depends on what ran side by side."""
INCH_SET = {"id": "bench-3", "composition": "inch-81", "grade": "AS-1"}


def test_the_process_stays_small_under_load() -> None:
    """Hard and easy requests, bodies at the limit, refusals: then it is looked at."""
    flags = ("--solve-workers", "2")  # More CPUs would have more searches.
    with running(*flags) as server, server.client() as client, ThreadPoolExecutor(8) as clients:

        def post(number: int) -> int:
            if number % 25 == 0:
                body = hard_request(500, seed=number)
            elif number % 5 == 0:
                body = request(**{"x" * 1_000_000: number})
            else:
                target = {"ref": "t", "kind": "length", "length": f"1.{number:04d}"}
                body = request(blocks=[], sets=[INCH_SET], targets=[target])
            return client.post("/v1/stacks", json=body).status_code

        statuses = list(clients.map(post, range(300)))
        memory = server.memory_mb()
        peak = server.memory_mb("VmHWM")

    assert set(statuses) <= {200, 400, 503}
    assert statuses.count(200) > 100
    print(f"memory after load: {memory:.0f} MB, at most {peak:.0f} MB")  # noqa: T201 - a figure for the report
    assert memory < MOST_MB
