"""No answer leaves that the checker does not confirm, and no failure tells what it should not."""

from litestar.testing import TestClient

from service.bodies import problem_name, request
from service.conftest import LogBook, Start
from service.doubles import Boasting, Failing, Wrong
from wrung_service.app import create_app
from wrung_service.observe.logs import make_log
from wrung_service.settings import Settings


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


def test_right_stacks_go_out_without_a_claim_that_failed_its_check(log_book: LogBook) -> None:
    """The plan is there and nothing is said to be proven; the operator hears of it each time."""
    service = create_app(Settings(), solve=Boasting(), log=make_log(log_book.stream))
    with TestClient(service) as client:
        answers = [client.post("/v1/stacks", json=request()).json() for _ in range(2)]

    for answer in answers:
        assert [block["id"] for block in answer["stacks"][0]["blocks"]] == ["a2", "a1"]
        assert (answer["outcome"], answer["proven"]) == ("feasible", False)
        assert not answer["objective_proven"]
        assert answer["bounds"].pop("served")
        assert set(answer["bounds"].values()) == {None}
    lines = log_book.lines("claims_refused")
    assert [(line["level"], line["rules"]) for line in lines] == [
        ("error", ["objective bounds"])
    ] * 2
    assert [line["count"] for line in lines] == [1, 2]
    assert service.refused_claims.count == 2
    assert lines[0]["request_id"] == log_book.lines()[0]["request_id"]


def test_a_better_stack_is_no_less_good_for_a_claim(start: Start, log_book: LogBook) -> None:
    """Nor is a check of a stack built by hand refused for what a search claims."""
    client = start(solve=Boasting())
    shelf = request()["blocks"]
    body = {"unit": "in", "blocks": shelf, "stack": ["a1", "a2"], "length": "0.3506"}
    body |= {"joint_allowance": "0"}
    response = client.post("/v1/stack-checks", json=body)

    assert response.status_code == 200
    assert not response.json()["better_stacks_proven"]
    assert len(log_book.lines("claims_refused")) == 2


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
