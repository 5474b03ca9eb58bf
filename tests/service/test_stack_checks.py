"""``POST /v1/stack-checks``: a stack built by hand."""

from typing import Any

import pytest

from service.bodies import Json, pointers
from service.conftest import Client, Start
from service.doubles import Solver, Wrong

NOMINALS = ("1.005", "1.04", "1.3", "1.34", "5", "6", "50")
BY_DIGITS = [f"K/{nominal}" for nominal in ("1.005", "1.04", "1.3", "5", "50")]


def body(*stack: str, **members: object) -> Json:
    """A check for 58.345 mm, by default of the stack that clearing the digits gives."""
    return {
        "unit": "mm",
        "blocks": [{"id": f"K/{n}", "nominal": n, "grade": "0"} for n in NOMINALS],
        "stack": list(stack or BY_DIGITS),
        "length": "58.345",
        **members,
    }


def check(client: Client, *stack: str, **members: object) -> dict[str, Any]:
    response = client.post("/v1/stack-checks", json=body(*stack, **members))
    assert response.status_code == 200, response.text
    return dict(response.json())


def test_a_sound_stack_and_the_better_one(client: Client) -> None:
    """Five blocks of grade 0 (0.12 µm, 50 mm 0.20 µm); four are enough."""
    found = check(client, joint_allowance="0")

    assert (found["passed"], found["nominal_error"], found["joints"]) == (True, "0", 4)
    assert found["worst_case_error"] == "0.68"
    (better,) = found["better_stacks"]
    assert better["improvements"] == ["fewer_blocks", "smaller_error"]
    assert (len(better["blocks"]), better["worst_case_error"]) == (4, "0.56")
    assert found["better_stacks_proven"]


def test_the_best_stack_has_no_better(client: Client) -> None:
    found = check(client, "K/1.005", "K/1.34", "K/6", "K/50")

    assert (found["better_stacks"], found["better_stacks_proven"]) == ([], True)


def test_a_wrong_block(client: Client) -> None:
    found = check(client, "K/1.005", "K/1.34", "K/5", "K/50")

    assert (found["passed"], found["nominal_error"], found["nominal"]) == (False, "-1", "57.345")
    assert "correct_length" in found["better_stacks"][0]["improvements"]


def test_what_a_caliper_should_read(client: Client) -> None:
    caliper = {"name": "caliper", "resolution": "0.01", "permissible_error": "0.02"}

    (reading,) = check(client, instruments=[caliper])["readings"]

    assert reading["instrument"] == "caliper"
    assert (reading["lowest"], reading["highest"]) == ("58.32", "58.37")


def test_a_block_twice_and_a_wear_block_inside(client: Client) -> None:
    blocks = [{"id": name, "nominal": "2", "grade": "0", "role": role}
              for name, role in (("a", "gauge"), ("w", "wear"))]  # fmt: skip

    found = check(client, "a", "w", "a", blocks=blocks, length="6")

    assert (found["duplicate_blocks"], found["misplaced_wear_blocks"], found["passed"]) == (
        ["a"],
        ["w"],
        False,
    )


def test_an_overdue_block_is_told_and_not_used_for_a_better_stack(client: Client) -> None:
    due = {"due_on": "2026-01-01"}
    blocks = [
        {"id": "stale", "nominal": "5", "grade": "0", "calibration": due},
        {"id": "x", "nominal": "2", "grade": "0"},
        {"id": "y", "nominal": "3", "grade": "0"},
    ]

    found = check(client, "stale", blocks=blocks, length="5", conditions={"used_on": "2026-02-01"})

    assert found["overdue_blocks"] == [{"id": "stale", "due_on": "2026-01-01"}]
    (better,) = found["better_stacks"]
    assert [block["id"] for block in better["blocks"]] == ["y", "x"]
    assert better["improvements"] == ["usable_blocks"]


def test_budget_and_decision(client: Client) -> None:
    limits = {"lower": "58.340", "upper": "58.350", "corrected": True}

    found = check(client, part_limits=limits)

    kinds = {row["kind"] for row in found["budget"]["table"]}
    assert kinds == {"length_within_limits", "wringing"}
    # 10 µm over twice 0.63 µm: the root of 4 · 0.12² / 3 + 0.2² / 3, and four joints, by two.
    assert float(found["decision"]["test_uncertainty_ratio"]) == pytest.approx(13.7, abs=0.1)
    assert check(client, budget="none")["budget"] is None


def test_ids_of_sets_by_any_text_of_their_length(client: Client) -> None:
    sets = [{"id": "s", "composition": "metric-46", "grade": "1"}]

    found = check(client, "s/5.0", "s/1.30", blocks=[], sets=sets, length="6.3")

    assert (found["passed"], found["nominal"]) == (True, "6.3")


def test_no_search_where_none_is_wanted(start: Start) -> None:
    solver = Solver()
    client = start(solver)
    of_the_self_test = len(solver.calls)

    found = check(client, find_better_stacks=False)

    assert (found["better_stacks"], found["better_stacks_proven"]) == ([], False)
    assert len(solver.calls) == of_the_self_test


def test_a_search_without_result_proves_nothing(start: Start) -> None:
    found = check(start(Solver()))

    assert (found["better_stacks"], found["better_stacks_proven"]) == ([], False)


def test_a_wrong_better_stack_is_held_back(start: Start) -> None:
    response = start(Wrong()).post("/v1/stack-checks", json=body())

    assert response.status_code == 500
    assert response.json()["type"] == "/problems/answer-check-failed"


@pytest.mark.parametrize(
    ("members", "pointer"),
    [
        ({"stack": ["K/5", "K/7"]}, "/stack/1"),
        ({"length": "0.0000000001"}, "/length"),
        ({"instruments": [{"name": "c", "resolution": "0"}]}, "/instruments/0/resolution"),
        ({"part_limits": {"lower": "2", "upper": "1"}}, "/part_limits/upper"),
        ({"blocks": [{"id": "K/5", "nominal": "5"}], "stack": ["K/5"]}, "/stack/0"),
        (
            {"blocks": [{"id": "K/5", "nominal": "5", "grade": "0"}] * 2, "stack": ["K/5"]},
            "/blocks/1/id",
        ),
        ({"conditions": {"part": {}}}, "/conditions/part"),
    ],
)
def test_what_makes_no_sense_is_pointed_at(client: Client, members: Json, pointer: str) -> None:
    response = client.post("/v1/stack-checks", json=body(**members))

    assert response.status_code == 422
    assert pointers(response) == [pointer]
