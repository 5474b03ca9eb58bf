"""The service gives the same bytes for the same body, however many searches run at one time."""

from concurrent.futures import ThreadPoolExecutor

from service.bodies import Json, target
from service.conftest import Client, Start


def bodies() -> list[Json]:
    """Singles, several, contended ones and short ones, by both objectives."""
    lengths = (
        ["1.2345"],
        ["0.3506", "0.7391", "1.1234"],
        ["0.4567", "0.6438", "0.8309", "1.018", "1.2051"],
        ["0.3001", "0.4001", "0.5001", "0.6001", "0.7001", "0.8001"],
        ["0.3009"] * 10,
    )
    return [
        {
            "unit": "in",
            "sets": [{"id": "bench", "composition": "inch-81", "grade": "AS-1"}],
            "targets": [target(f"op{n}", length) for n, length in enumerate(each)],
            "objective": objective,
            "time_limit_ms": 60_000,
        }
        for each in lengths
        for objective in ("fewest_blocks", "least_error")
    ]


def answered(client: Client, body: Json) -> Json:
    """The answer less the time that it took."""
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    answer: Json = response.json()
    assert answer.pop("solve_ms") >= 0
    assert 0 <= answer.pop("waited_ms") <= body["time_limit_ms"] / 2
    return answer


def test_pools_of_any_size_give_the_same_answers(start: Start) -> None:
    """One search at a time, and four at a time for eight clients at once."""
    asked = bodies()
    one, four = start(solve_workers=1), start(solve_workers=4, queue_length=100)
    in_turn = [answered(one, body) for body in asked]
    with ThreadPoolExecutor(8) as clients:
        at_once = list(clients.map(lambda body: answered(four, body), asked))

    assert at_once == in_turn
    assert {answer["outcome"] for answer in in_turn} == {"optimal", "partial"}
