"""One canonical line a request, and nothing of what was asked."""

import pytest

from service.bodies import request, target
from service.conftest import Client, LogBook, Start


def test_a_solved_request_is_one_line(start: Start, log_book: LogBook) -> None:
    """With outcome, times and counts."""
    response = start().post("/v1/stacks", json=request())

    (line,) = log_book.lines()
    assert line["request_id"] == response.headers["x-request-id"]
    assert (line["method"], line["route"], line["status"]) == ("POST", "/v1/stacks", 200)
    assert (line["outcome"], line["blocks"], line["targets"]) == ("optimal", 2, 1)
    assert 0 < line["solve_ms"] <= line["duration_ms"]
    assert line["level"] == "info"
    assert line["time"].endswith("Z")


def test_nothing_of_the_body_is_logged(start: Start, log_book: LogBook) -> None:
    """Neither of a good one nor of a bad one."""
    client = start()
    client.post("/v1/stacks", json=request(targets=[target("secret", "0.3506")]))
    client.post("/v1/stacks", json=request(targets=[target("secret", "0.3506", colour="secret")]))
    client.get("/v1/compositions/secret?secret=secret")

    assert len(log_book.lines()) == 3
    assert "secret" not in log_book.stream.getvalue()


def test_a_refused_request_says_which_problem(start: Start, log_book: LogBook) -> None:
    """The problem's name stands as the outcome, the route as its template."""
    client = start()
    client.post("/v1/stacks", json=request(unit="ft"))
    client.get("/v1/compositions/nothing")
    client.get("/nowhere")

    assert [(line["outcome"], line["route"]) for line in log_book.lines()] == [
        ("invalid-request", "/v1/stacks"),
        ("not-found", "/v1/compositions/{composition_id}"),
        ("not-found", None),
    ]


def test_probes_are_not_logged(start: Start, log_book: LogBook) -> None:
    """They come every few seconds and say nothing."""
    client = start()
    for path in ("/livez", "/readyz", "/livez/"):
        assert client.get(path).status_code == 200

    assert log_book.lines() == []


@pytest.mark.parametrize("given", ["op20-first-try", "a" * 64, '{"odd":1}'])
def test_the_clients_request_id_is_taken_over(start: Start, log_book: LogBook, given: str) -> None:
    """So that his log and ours can be laid side by side."""
    response = start().get("/v1/limits", headers={"X-Request-ID": given})

    assert response.headers["x-request-id"] == given
    assert log_book.lines()[0]["request_id"] == given


@pytest.mark.parametrize("given", [None, "", "a" * 65, "a b", "a\tb", "\xe9"])
def test_another_request_id_is_replaced(client: Client, given: str | None) -> None:
    """What is too long or not printable would spoil the log."""
    headers = {} if given is None else {b"X-Request-ID": given.encode("latin-1")}

    made = client.get("/nowhere", headers=headers)

    assert made.headers["x-request-id"] != given
    assert len(made.headers["x-request-id"]) == 32
    assert made.json()["request_id"] == made.headers["x-request-id"]
