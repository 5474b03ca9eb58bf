"""`alternatives` and `trade_off` of the main job, over HTTP."""

from typing import Any

import pytest
from msgspec.structs import replace

import wrung
from service.bodies import Json, block, pointers, problem_name, request, target
from service.conftest import Client, LogBook, Start
from wrung.choices import MOST_ALTERNATIVES, Alternatives, TradeOff

SHELF = [
    block("good/5", "5", limit_deviation="0.1"),
    block("good/3", "3", limit_deviation="0.1"),
    block("good/2", "2", limit_deviation="0.1"),
    block("worn/5", "5", limit_deviation="1"),
    block("worn/5b", "5", limit_deviation="1"),
]
ONE, TWO = [target("op20", "5")], [target("op20", "5"), target("op30", "5")]


def posted(client: Client, **members: object) -> Json:
    """The answer to the shelf's blocks in mm, with other members if given."""
    body = {"unit": "mm", "blocks": SHELF, "targets": ONE, "joint_allowance": "0", **members}
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    answer: Json = response.json()
    return answer


def test_nothing_changes_for_those_who_do_not_ask(client: Client) -> None:
    """Neither a member nor a figure."""
    plain, asked = posted(client), posted(client, alternatives=1, trade_off=True)

    assert not {"alternatives", "trade_off"} & plain.keys()
    assert {**asked, "solve_ms": 0, **dict.fromkeys(("alternatives", "trade_off"))} == {
        **plain, "solve_ms": 0, **dict.fromkeys(("alternatives", "trade_off"))
    }  # fmt: skip


def test_no_alternatives_and_false_are_as_good_as_left_out(client: Client) -> None:
    """As generated clients send them."""
    answer = posted(client, alternatives=None, trade_off=False)

    assert not {"alternatives", "trade_off"} & answer.keys()


def test_alternatives_stand_in_their_order_with_blocks_error_and_number(client: Client) -> None:
    """The two worn blocks may stand for one another, so they make one stack."""
    found = posted(client, alternatives=5)["alternatives"]

    assert found["complete"] is True
    assert [
        (each["rank"], each["proven"], each["total_blocks"], each["stack"]["worst_case_error"])
        for each in found["stacks"]
    ] == [(2, True, 1, "1"), (3, True, 2, "0.2")]
    assert [each["id"] for each in found["stacks"][1]["stack"]["blocks"]] == ["good/3", "good/2"]


def test_no_more_alternatives_come_than_asked_for(client: Client) -> None:
    """And it is said that there are more."""
    found = posted(client, alternatives=1)["alternatives"]

    assert len(found["stacks"]) == 1
    assert found["complete"] is False


def test_a_trade_off_goes_from_the_fewest_blocks_to_the_least_error(client: Client) -> None:
    """Two blocks, one of them worn; or three good ones."""
    found = posted(client, targets=TWO, trade_off=True)["trade_off"]

    assert found["complete"] is True
    assert [
        (each["total_blocks"], each["largest_worst_case_error"], each["total_worst_case_error"])
        for each in found["plans"]
    ] == [(2, "1", "1.1"), (3, "0.2", "0.3")]
    assert [each["proven"] for each in found["plans"]] == [True, True]
    assert [len(each["stacks"]) for each in found["plans"]] == [2, 2]
    assert [each["unmet"] for each in found["plans"]] == [[], []]


def test_a_plan_of_a_trade_off_says_who_goes_without(client: Client) -> None:
    """Three blocks of 5 mm, and a stack of two, for five targets."""
    targets = [target(f"op{n}", "5") for n in range(5)]
    found = posted(client, targets=targets, trade_off=True)["trade_off"]

    assert [len(each["stacks"]) for each in found["plans"]] == [4]
    assert [len(each["unmet"]) for each in found["plans"]] == [1]


def test_stacks_that_follow_one_another_are_traded_off_too(client: Client) -> None:
    """Two check points share their blocks; the answer and each plan pass the checker."""
    points = {"ref": "mic 4", "kind": "check_points", "points": ["2", "5"]}
    found = posted(client, targets=[points], trade_off=True)["trade_off"]

    assert found["complete"] is True
    assert [(each["total_blocks"], len(each["stacks"])) for each in found["plans"]] == [(2, 2)]


def test_another_measure_shows_its_figures(client: Client) -> None:
    """What ranks and points are by, beside the worst-case errors."""
    answer = posted(client, alternatives=5, trade_off=True, error_measure={"corrected": True})

    figures = [each["compared_errors"] for each in answer["alternatives"]["stacks"]]
    figures += [each["compared_errors"] for each in answer["trade_off"]["plans"]]
    assert [each["largest"] for each in figures] == ["1", "0.2", "0.1"]
    assert {each["largest_bound"] for each in figures} == {None}


def test_stacks_of_choices_have_budgets_and_decisions_too(client: Client) -> None:
    """An inspector compares them by whether they are good enough."""
    limits = [{"target": "op20", "lower": "4.998", "upper": "5.002", "required_ratio": 5}]
    answer = posted(client, alternatives=5, trade_off=True, budget="totals", part_tolerances=limits)

    stacks = [each["stack"] for each in answer["alternatives"]["stacks"]]
    stacks += [each["stacks"][0] for each in answer["trade_off"]["plans"]]
    assert len(stacks) == 3
    assert all({"budget", "decision"} <= each.keys() for each in stacks)


def test_only_stacks_that_keep_a_ratio_are_alternatives(client: Client) -> None:
    """The worn blocks are off by 1 µm; a tolerance of 4 µm and a ratio of 4 allow 0.5 µm."""
    limits = [
        {
            "target": "op20", "lower": "4.998", "upper": "5.002", "required_ratio": 4,
            "enforce_required_ratio": True,
        }
    ]  # fmt: skip
    found = posted(client, alternatives=5, part_tolerances=limits)["alternatives"]

    assert [each["rank"] for each in found["stacks"]] == [2]
    assert found["complete"] is True


def test_targets_that_come_to_several_stacks_have_no_alternatives(client: Client) -> None:
    """Whether they are several targets or one of several stacks."""
    pair = {"ref": "slot", "kind": "limits", "lower": "4", "upper": "5"}
    for targets in (TWO, [pair]):
        response = client.post(
            "/v1/stacks", json=request(unit="mm", targets=targets, alternatives=2)
        )

        assert (response.status_code, pointers(response)) == (422, ["/alternatives"])


@pytest.mark.parametrize("value", [0, -1, MOST_ALTERNATIVES + 1, 1.5, "2", True])
def test_alternatives_are_a_small_whole_number(client: Client, value: Any) -> None:  # noqa: ANN401
    """Anything else is no request."""
    response = client.post("/v1/stacks", json=request(alternatives=value))

    assert (response.status_code, pointers(response)) == (400, ["/alternatives"])


def test_a_wrong_alternative_is_held_back(start: Start, monkeypatch: pytest.MonkeyPatch) -> None:
    """Here one whose stack is said to have a smaller error."""
    right = wrung.alternatives

    def wrong(*given: Any, **options: Any) -> Alternatives:  # noqa: ANN401 - whatever it is given
        found = right(*given, **options)
        better = [replace(each.stack, worst_case_error=1) for each in found.stacks]
        pairs = zip(found.stacks, better, strict=True)
        return replace(found, stacks=tuple(replace(each, stack=stack) for each, stack in pairs))

    monkeypatch.setattr("wrung.alternatives", wrong)
    assert refused(start(), alternatives=2)


def test_a_wrong_rank_costs_the_alternatives_and_not_the_answer(
    start: Start, log_book: LogBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No stack is wrong, so that the plan goes out, and the operator hears of the rest."""
    right = wrung.alternatives

    def wrong(*given: Any, **options: Any) -> Alternatives:  # noqa: ANN401 - whatever it is given
        found = right(*given, **options)
        return replace(found, stacks=tuple(replace(each, rank=9) for each in found.stacks))

    monkeypatch.setattr("wrung.alternatives", wrong)
    body = request(unit="mm", blocks=SHELF, targets=ONE, alternatives=2)
    response = start().post("/v1/stacks", json=body)

    assert response.status_code == 200
    assert response.json()["stacks"]
    assert response.json()["alternatives"] == {"complete": False, "stacks": []}
    assert log_book.lines("claims_refused")[0]["rules"] == ["ranks"]


def test_a_wrong_trade_off_is_held_back(start: Start, monkeypatch: pytest.MonkeyPatch) -> None:
    """Here one whose errors are too small."""
    right = wrung.trade_off

    def wrong(*given: Any, **options: Any) -> TradeOff:  # noqa: ANN401 - whatever it is given
        found = right(*given, **options)
        points = tuple(replace(each, largest_worst_case_error=0) for each in found.points)
        return replace(found, points=points)

    monkeypatch.setattr("wrung.trade_off", wrong)
    assert refused(start(), trade_off=True)


def refused(client: Client, **members: object) -> bool:
    """Whether the answer is held back because it did not pass its check."""
    response = client.post(
        "/v1/stacks", json=request(unit="mm", blocks=SHELF, targets=ONE, **members)
    )
    return (response.status_code, problem_name(response)) == (500, "answer-check-failed")
