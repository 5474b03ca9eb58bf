"""The server as a user starts it."""

import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

from e2e.hard import hard_request
from e2e.processes import ALONE, Server, first_that_is, held, running, solved, wait_until
from patience import PATIENCE_S
from service.bodies import problem_name, request


def test_a_fresh_server_solves() -> None:
    """Started with nothing but a port, it listens on loopback and answers."""
    with running() as server, server.client() as client:
        assert client.get("/readyz").status_code == 200
        answer = client.post("/v1/stacks", json=request())

        assert answer.json()["largest_worst_case_error"] == "8.2"
        assert server.logged("listening")["host"] == "127.0.0.1"
        line = server.logged("request", route="/v1/stacks")
        assert line["request_id"] == answer.headers["x-request-id"]


def test_a_full_queue_is_refused_at_once() -> None:
    """One worker, nobody waits: the second request must come again later."""

    def ask_for_long(server: Server) -> None:
        with server.client() as client:
            solved(client, hard_request(60_000))

    # The server's end is that of the search, too.
    with ThreadPoolExecutor() as background, running(*ALONE) as server:
        hard = background.submit(ask_for_long, server)
        with server.client() as client:
            refused = first_that_is(503, lambda: client.post("/v1/stacks", json=request()))

            assert not hard.done()
            assert problem_name(refused) == "busy"
            assert int(refused.headers["retry-after"]) >= 1
            assert client.get("/livez").status_code == 200


def test_the_search_stops_when_its_client_is_gone() -> None:
    """The one worker is free again long before the search would have ended."""
    body = json.dumps(hard_request(60_000)).encode()
    head = "POST /v1/stacks HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    with running(*ALONE) as server, server.client() as client:
        with server.connect() as connection:
            connection.sendall(f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body)
            # Only then: another request that came first would have the one worker.
            wait_until(lambda: held(client) == 1)
            assert client.post("/v1/stacks", json=request()).status_code == 503
        answer = first_that_is(200, lambda: client.post("/v1/stacks", json=request()))

        assert answer.json()["outcome"] == "optimal"
        assert server.logged("request", outcome="client-gone")["duration_ms"] < 30_000


def test_a_huge_body_does_not_harm_the_connection() -> None:
    """10 MB are refused, and the next request is served."""
    with running() as server, server.client() as client:
        refused = client.post(
            "/v1/stacks",
            content=b" " * 10_000_000,
            headers={"Content-Type": "application/json"},
        )

        assert (refused.status_code, problem_name(refused)) == (413, "body-too-large")
        assert client.post("/v1/stacks", json=request()).status_code == 200


def test_malformed_http_does_not_harm_the_server() -> None:
    """It is answered below the application, as a problem like any other."""
    with running() as server, server.client() as client:
        with server.connect() as connection:
            connection.sendall(b"GET /\x00 HTTP/9.9\r\n\r\n")
            assert connection.recv(1000).startswith(b"HTTP/1.1 400")

        assert client.get("/livez").status_code == 200


def test_wrong_settings_end_the_start_with_all_faults() -> None:
    """On standard error, with exit code 2."""
    ended = subprocess.run(
        [sys.executable, "-m", "wrung_service", "serve", "--queue-length", "-1"],
        env={**os.environ, "WRUNG_MAX_BLOCKS": "none"},
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )

    assert (ended.returncode, ended.stdout) == (2, "")
    assert "WRUNG_MAX_BLOCKS" in ended.stderr
    assert "WRUNG_QUEUE_LENGTH" in ended.stderr


def test_a_setting_that_sets_nothing_is_pointed_out() -> None:
    """A slip in the name of a variable would otherwise go unseen."""
    with running(environment={"WRUNG_MAX_BLOKS": "7"}) as server:
        assert server.logged("unknown_settings")["variables"] == ["WRUNG_MAX_BLOKS"]
