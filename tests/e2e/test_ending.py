"""SIGTERM: nothing that was begun is lost, and the process ends well."""

from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest

from e2e.hard import hard_request
from e2e.processes import ALONE, PATIENCE_S, Server, first_that_is, running, solved
from service.bodies import problem_name, request


def begun(server: Server) -> None:
    """Wait until a search goes on, so that another one is refused."""
    with server.client() as client:
        first_that_is(503, lambda: client.post("/v1/stacks", json=request()))


def test_a_request_in_flight_is_answered() -> None:
    """It has its whole time limit; then the process ends with 0."""
    with running(*ALONE) as server, server.client() as client, ThreadPoolExecutor() as background:
        hard = background.submit(solved, client, hard_request(3_000))
        begun(server)
        server.terminate()
        server.logged("ending", searches=1)
        with pytest.raises(httpx.ConnectError):
            httpx.get(f"{server.address}/livez", timeout=PATIENCE_S)
        answer = hard.result(PATIENCE_S)

        assert answer.status_code == 200
        assert len(answer.json()["stacks"]) + len(answer.json()["unmet"]) == 60
        assert server.exit_code() == 0
        assert server.logged("ended")


def test_a_search_longer_than_the_grace_period_answers_with_what_it_has() -> None:
    """The orchestrator would kill the process, and the answer would be lost."""
    flags = (*ALONE, "--grace-seconds", "3")
    with running(*flags) as server, server.client() as client, ThreadPoolExecutor() as background:
        hard = background.submit(solved, client, hard_request(60_000))
        begun(server)
        server.terminate()

        assert hard.result(PATIENCE_S).status_code == 200
        assert server.exit_code() == 0


def test_an_idle_server_ends_at_once() -> None:
    """Though a client keeps its connection open."""
    with running() as server, server.client() as client:
        client.get("/livez")
        server.terminate()

        assert server.exit_code() == 0


def test_draining_turns_unready_before_the_port_is_closed() -> None:
    """A balancer that asks has time to send requests elsewhere; those that come are served."""
    with running("--drain-seconds", "2") as server, server.client() as client:
        assert client.get("/readyz").status_code == 200
        server.terminate()
        server.logged("draining")

        unready = client.get("/readyz")
        assert (unready.status_code, problem_name(unready)) == (503, "not-ready")
        assert client.post("/v1/stacks", json=request()).status_code == 200
        assert server.exit_code() == 0
