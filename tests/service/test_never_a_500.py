"""Whatever is asked, in any combination, is answered or refused; nothing of it is a fault of ours.

Bodies keep to the schema, so that refusals are for what makes no sense together (422).
"""

import os
from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

import pytest
from httpx import Response
from hypothesis import HealthCheck, given, settings

from service.bodies import block, request, target
from service.conftest import Client, LogBook, Start
from service.random_requests import coverage_bodies, stack_bodies, stack_check_bodies

ATTEMPTS: Final = 20
SHORT: Final = 60
LONG: Final = int(os.environ.get("WRUNG_FUZZ_CASES", "1000"))
QUIET: Final = (HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example)
BODIES: Final = {
    "/v1/stacks": stack_bodies(),
    "/v1/stack-checks": stack_check_bodies(),
    "/v1/coverage": coverage_bodies(),
}
ANGLE: Final = {"ref": "a", "kind": "angle_blocks", "angle": "33", "composition": "angle-16"}


@pytest.mark.parametrize("path", BODIES)
def test_some_random_requests_are_answered_or_refused(
    start: Start, log_book: LogBook, path: str
) -> None:
    assert_answered(start(), log_book, path, SHORT)


@pytest.mark.long
@pytest.mark.parametrize("path", BODIES)
def test_many_random_requests_are_answered_or_refused(
    start: Start, log_book: LogBook, path: str
) -> None:
    """`WRUNG_FUZZ_CASES` says how many of each."""
    assert_answered(start(), log_book, path, LONG)


def asked(client: Client, path: str, body: Any) -> Iterator[Response]:  # noqa: ANN401 - JSON
    """The answer; on a machine so busy that a free worker comes too late, asked for again."""
    for more in reversed(range(ATTEMPTS)):
        response = client.post(path, json=body)
        if response.status_code != 503 or not more:
            yield response


def assert_answered(client: Client, log_book: LogBook, path: str, count: int) -> None:
    seen: Counter[int] = Counter()

    @settings(max_examples=count, deadline=None, suppress_health_check=QUIET)
    @given(BODIES[path])
    def answered(body: Any) -> None:  # noqa: ANN401 - JSON
        response = next(asked(client, path, body))
        seen[response.status_code] += 1
        failed = [line for event in ("answer_refused", "crash") for line in log_book.lines(event)]
        log_book.forget()
        assert response.status_code in (200, 422), failed or response.text

    answered()

    # Most of what is drawn has to be searched for: refusals would try little.
    assert seen[200] >= 0.6 * seen.total(), seen


@pytest.mark.parametrize("choice", [{"alternatives": 3}, {"trade_off": True}])
def test_choices_are_given_beside_angle_blocks(client: Client, choice: dict[str, Any]) -> None:
    """Angle blocks are planned apart; the choices are those of the length."""
    body = request(targets=[target("t", "0.3506"), ANGLE], **choice)
    body["blocks"] += [block("a3", "0.1506"), block("a4", "0.2")]

    answer = client.post("/v1/stacks", json=body).json()

    assert answer["outcome"] == "optimal"
    (name,) = choice
    assert answer[name]["complete"]


@pytest.mark.parametrize("upper", ["-0.5", "-0.499999", "-0.6"])
@pytest.mark.parametrize("wear", ["none", "one", "both"])
def test_a_window_at_zero_and_below_is_no_length(client: Client, upper: str, wear: str) -> None:
    """Of 0.5 mm and at least 0.5 mm less nothing is left, and no block to add has no length."""
    wanted = target(
        "t", "0.5", tolerance={"lower": "-1", "upper": upper}, wear_blocks=wear, max_blocks=3
    )
    shelf = [block("b", "0.5"), block("w", "2", role="wear")]

    answer = client.post("/v1/stacks", json={"unit": "mm", "blocks": shelf, "targets": [wanted]})

    assert answer.status_code == 200, answer.text
    assert answer.json()["outcome"] == "infeasible"
    shortage = answer.json()["shortage"]
    assert [each["target"] for each in shortage["conflict"]] == ["t"]
    assert all(float(each["nominal"]) > 0 for each in shortage["blocks_to_add"])
