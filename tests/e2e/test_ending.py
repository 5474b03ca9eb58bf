"""SIGTERM: nothing that was begun is lost, and the process ends well."""

import signal
import time
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor

import httpx
import pytest

from e2e.hard import hard_request
from e2e.processes import ALONE, Server, first_that_is, held, running, solved, wait_until
from patience import PATIENCE_S
from service.bodies import problem_name, request


def begun(server: Server) -> None:
    """Wait until a search goes on, so that another one is refused."""
    with server.client() as client:
        first_that_is(503, lambda: client.post("/v1/stacks", json=request()))


def closed(server: Server) -> None:
    """Wait until nobody can connect any more; what comes before that may be cut off."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        try:
            httpx.get(f"{server.address}/livez", timeout=PATIENCE_S)
        except httpx.ConnectError:
            return
        except httpx.TransportError:
            continue
    pytest.fail("it still listens")


def received(client: httpx.Client, sent: Sequence[Future[httpx.Response]]) -> None:
    """Wait until the server has each of them: answered, running or waiting."""
    wait_until(lambda: sum(each.done() for each in sent) + held(client) >= len(sent))


def test_a_request_in_flight_is_answered() -> None:
    """It has its whole time limit; then the process ends with 0."""
    flags = (*ALONE, "--grace-seconds", "60")
    with running(*flags) as server, server.client() as client, ThreadPoolExecutor() as background:
        hard = background.submit(solved, client, hard_request(10_000))
        begun(server)
        server.terminate()
        server.logged("ending", searches=1)
        closed(server)
        answer = hard.result(PATIENCE_S)

        assert answer.status_code == 200
        assert len(answer.json()["stacks"]) + len(answer.json()["unmet"]) == 60
        assert server.exit_code() == 0
        assert server.logged("ended")


def test_a_search_longer_than_the_grace_period_answers_with_what_it_has() -> None:
    """The orchestrator would kill the process, and the answer would be lost."""
    flags = (*ALONE, "--grace-seconds", "10")
    with running(*flags) as server, server.client() as client, ThreadPoolExecutor() as background:
        hard = background.submit(solved, client, hard_request(60_000, targets=20))
        begun(server)
        server.terminate()
        answer = hard.result(PATIENCE_S)

        assert answer.status_code == 200
        assert answer.json()["outcome"] in ("optimal", "feasible")
        assert server.exit_code() == 0


@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGHUP])
def test_an_idle_server_ends_at_once(sent: int) -> None:
    """Though a client keeps its connection open. A closed terminal sends SIGHUP."""
    with running() as server, server.client() as client:
        client.get("/livez")
        server.terminate(sent)

        assert server.exit_code() == 0
        assert server.logged("ended")


def test_draining_turns_unready_before_the_port_is_closed() -> None:
    """A balancer that asks has time to send requests elsewhere; those that come are served."""
    with running("--drain-seconds", "600") as server, server.client() as client:
        assert client.get("/readyz").status_code == 200
        server.terminate()
        server.logged("draining")

        unready = client.get("/readyz")
        assert (unready.status_code, problem_name(unready)) == (503, "not-ready")
        assert client.post("/v1/stacks", json=request()).status_code == 200


def test_a_server_that_was_drained_ends_well() -> None:
    """When its time for that is over, without another signal."""
    with running("--drain-seconds", "0.5") as server:
        server.terminate()
        server.logged("draining")

        assert server.exit_code() == 0
        assert server.logged("ended")


@pytest.mark.parametrize("drain", ["0", "600"])
def test_a_second_signal_ends_at_once(drain: str) -> None:
    """Whoever sends it has given up what runs."""
    flags = (*ALONE, "--grace-seconds", "600", "--drain-seconds", drain)
    with running(*flags) as server, ThreadPoolExecutor() as background:
        with server.client() as client:
            hard = background.submit(solved, client, hard_request(60_000))
            begun(server)
            server.terminate()
            server.logged("draining" if drain != "0" else "ending")
            server.terminate()

            assert server.exit_code() == 128 + signal.SIGTERM
            with pytest.raises(httpx.TransportError):
                hard.result(PATIENCE_S)
        # The last of the requests that were refused may be on its way, too.
        assert server.logged("ended_at_once")["requests"] >= 1


def test_no_valid_request_is_called_wrong_at_the_end() -> None:
    """Of every kind, running, waiting and still on their way: 200, or 503 and come again."""
    inch = {"unit": "in", "sets": [{"id": "s", "composition": "inch-81", "grade": "AS-1"}]}
    one = {"ref": "t", "kind": "length", "length": "1.2345"}
    span = {"start": "0.1", "stop": "4", "step": "0.0001"}
    asked = [
        ("/v1/stacks", hard_request(50_000)),
        ("/v1/stacks", {**inch, "targets": [one], "alternatives": 9, "time_limit_ms": 50_000}),
        ("/v1/stacks", {**hard_request(50_000, seed=2), "trade_off": True}),
        ("/v1/coverage", {**inch, "range": span, "time_limit_ms": 50_000}),
        ("/v1/stack-checks", {**inch, "stack": ["s/1"], "length": "1", "time_limit_ms": 50_000}),
    ]
    flags = ("--grace-seconds", "10", "--solve-workers", "2", "--queue-length", "100")
    with running(*flags) as server, server.client() as client, ThreadPoolExecutor(40) as background:
        client.post("/v1/stacks", json=request())
        sent = [background.submit(client.post, path, json=body) for path, body in asked * 6]
        received(client, sent)
        server.terminate()
        answers = [each.result(PATIENCE_S) for each in sent]

        assert server.exit_code() == 0
    assert {answer.status_code for answer in answers} <= {200, 503}
    for answer in answers:
        assert answer.status_code == 200 or int(answer.headers["retry-after"]) >= 1
