"""No answer leaves that the checker does not confirm, and no failure tells what it should not."""

from service.bodies import problem_name, request
from service.conftest import LogBook, Start
from service.doubles import Failing, Wrong


def test_a_wrong_answer_is_held_back(start: Start, log_book: LogBook) -> None:
    """The client gets a problem, the operator the rule that was broken."""
    client = start(solve=Wrong())

    response = client.post("/v1/stacks", json=request())

    assert (response.status_code, problem_name(response)) == (500, "answer-check-failed")
    assert "stacks" not in response.json()
    logged = log_book.lines("answer_refused")[0]
    assert "worst-case errors" in logged["rules"]
    assert logged["request_id"] == response.headers["x-request-id"]
    assert logged["level"] == "error"


def test_a_crash_is_a_problem_without_internals(start: Start, log_book: LogBook) -> None:
    """The message of the exception quotes the request, so nobody gets to read it."""
    client = start(solve=Failing())

    response = client.post("/v1/stacks", json=request())

    assert (response.status_code, problem_name(response)) == (500, "internal-error")
    assert "secret" not in response.text
    assert "secret" not in log_book.stream.getvalue()
    crash = log_book.lines("crash")[0]
    assert crash["exception"] == "RuntimeError"
    assert any("doubles.py" in frame for frame in crash["frames"])
