"""The main job over HTTP."""

from typing import Any

import pytest

from service.bodies import block, request, target
from service.conftest import Client

INCH_SET = {"id": "bench-3", "composition": "inch-81", "grade": "AS-1"}


def solved(client: Client, **members: object) -> dict[str, Any]:
    """The answer to a request, which must be one."""
    response = client.post("/v1/stacks", json=request(**members))
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


def test_the_worked_example_of_the_contract(client: Client) -> None:
    """0.1006 and 0.250 in: 1.2 uin of deviation, 2.0 and 5 of margins make 8.2."""
    answer = solved(client)

    assert answer["outcome"] == "optimal"
    assert (answer["unit"], answer["small_unit"]) == ("in", "uin")
    assert answer["objective"] == "fewest_blocks"
    assert answer["total_blocks"] == 2
    assert answer["largest_worst_case_error"] == answer["total_worst_case_error"] == "8.2"
    assert answer["stacks"] == [
        {
            "target": "op20",
            "role": None,
            "length": "0.3506",
            "nominal": "0.3506",
            "joints": 1,
            "blocks": [
                {"id": "a2", "nominal": "0.250", "role": "gauge"},
                {"id": "a1", "nominal": "0.1006", "role": "gauge"},
            ],
            "deviation": "1.2",
            "worst_case_error": "8.2",
        }
    ]
    assert (answer["unmet"], answer["shortage"]) == ([], None)
    assert answer["proven"] is answer["objective_proven"] is True
    assert answer["bounds"] == {
        "served": {"stacks": 1, "targets": 1},
        "total_blocks": 2,
        "largest_worst_case_error": "8.2",
        "total_worst_case_error": "8.2",
    }


def test_a_set_beside_the_blocks_of_the_contract_does_not_change_the_answer(
    client: Client,
) -> None:
    """The contract's whole request, and no member of the answer that it does not name or add."""
    beside = {**INCH_SET, "material": "steel", "missing": ["0.1004", "0.137"]}

    answer = solved(client, sets=[beside], objective="fewest_blocks", time_limit_ms=60_000)

    assert answer["stacks"] == solved(client)["stacks"]
    assert list(answer) == [
        "unit", "small_unit", "temperature_unit", "outcome", "proven", "objective_proven",
        "objective", "served", "total_blocks", "largest_worst_case_error",
        "total_worst_case_error", "bounds", "stacks",
        "unmet", "shortage", "solve_ms", "waited_ms", "diagnostics",
    ]  # fmt: skip


def test_lengths_may_be_numbers_and_come_back_as_they_were_written(client: Client) -> None:
    """The digits count, so 0.1006 is exact and 0.250 keeps its zero."""
    text = (
        '{"unit": "in", "joint_allowance": 0, "targets": [{"ref": "op20", "kind": "length", '
        '"length": 0.35060}], "blocks": [{"id": "a1", "nominal": 0.1006, "deviation": -1.2, '
        '"expanded_uncertainty": 2.0}, {"id": "a2", "nominal": 0.250, "limit_deviation": 5}]}'
    )

    response = client.post("/v1/stacks", content=text, headers={"Content-Type": "application/json"})

    stack = response.json()["stacks"][0]
    assert stack["length"] == "0.35060"
    assert [each["nominal"] for each in stack["blocks"]] == ["0.250", "0.1006"]
    assert stack["worst_case_error"] == "8.2"


def test_a_set_stands_for_its_blocks(client: Client) -> None:
    """Named by set and length, without those that are missing."""
    whole = solved(client, blocks=[], sets=[INCH_SET], targets=[target("t", "0.1004")])
    gap = {**INCH_SET, "missing": ["0.1004"]}
    short = solved(client, blocks=[], sets=[gap], targets=[target("t", "0.1004")])

    assert whole["stacks"][0]["blocks"] == [
        {"id": "bench-3/0.1004", "nominal": "0.1004", "role": "gauge"}
    ]
    assert short["outcome"] == "infeasible"


@pytest.mark.parametrize("name", ["bench-3/0.05", "bench-3/0.050", "bench-3/0.0500"])
def test_blocks_of_a_set_are_left_out_by_any_text_of_their_length(
    client: Client, name: str
) -> None:
    """0.050 stands on the block, 0.05 in its id."""
    answer = solved(
        client, blocks=[], sets=[INCH_SET], targets=[target("t", "0.05")], exclude=[name]
    )

    assert answer["outcome"] == "infeasible"


def test_only_some_blocks_may_be_allowed(client: Client) -> None:
    """The rest of the shelf might as well not be there."""
    answer = solved(client, only=["a1"])

    assert answer["outcome"] == "infeasible"


def test_blocks_of_another_unit_keep_their_unit(client: Client) -> None:
    """25.4 mm is 1 in; its own lengths are in mm and um, those of the stack in in and uin."""
    answer = solved(
        client,
        blocks=[
            block("m", "25.40", unit="mm", limit_deviation="0.0254"),
            block("i", "0.5", limit_deviation="2"),
        ],
        targets=[target("t", "1.5")],
    )

    stack = answer["stacks"][0]
    assert stack["blocks"] == [
        {"id": "m", "nominal": "25.40", "role": "gauge", "unit": "mm"},
        {"id": "i", "nominal": "0.5", "role": "gauge"},
    ]
    assert (stack["nominal"], stack["worst_case_error"]) == ("1.5", "3")


def test_wear_blocks_kept_with_a_set_stand_at_the_ends(client: Client) -> None:
    """Asked for at both ends, the two of the set are there, the second one numbered."""
    answer = solved(
        client,
        blocks=[],
        sets=[{**INCH_SET, "wear_block_nominals": ["0.050", "0.050"]}],
        targets=[target("t", "0.3", wear_blocks="both")],
    )

    blocks = answer["stacks"][0]["blocks"]
    # In wringing order, in which both wear blocks come last.
    assert [each["role"] for each in blocks] == ["gauge", "wear", "wear"]
    assert {each["id"] for each in blocks[1:]} == {"bench-3/0.05#2", "bench-3/0.05#3"}


def test_times_that_do_not_overlap_share_a_block(client: Client) -> None:
    """Op20 gives the block back at the moment op30 needs it."""
    one, noon, two = "2026-11-25T08:00:00Z", "2026-11-25T12:00:00Z", "2026-11-25T16:00:00+00:00"
    targets = [
        target("op20", "0.250", needed_from=one, needed_until=noon),
        target("op30", "0.250", needed_from=noon.lower(), needed_until=two),
    ]

    assert solved(client, targets=targets)["outcome"] == "optimal"
    assert solved(client, targets=[target("a", "0.250"), target("b", "0.25")])["outcome"] == (
        "partial"
    )


def test_an_unmet_target_is_explained(client: Client) -> None:
    """The nearest lengths below and above, and why."""
    answer = solved(client, targets=[target("op20", "0.3")])

    unmet = answer["unmet"][0]
    assert answer["outcome"] == "infeasible"
    assert (unmet["target"], unmet["reason"]) == ("op20", "cannot_be_built")
    assert unmet["detail"].endswith(".")
    assert unmet["nearest_below"] == {"length": "0.25", "blocks": ["a2"]}
    assert unmet["nearest_above"]["length"] == "0.3506"
    assert sorted(unmet["nearest_above"]["blocks"]) == ["a1", "a2"]


def test_a_shortage_names_the_conflict_and_what_to_add(client: Client) -> None:
    """Two targets want the one block that carries the last digit."""
    blocks = [block("a", "0.1001"), block("b", "1"), block("c", "2")]
    targets = [target("one", "1.1001"), target("two", "2.1001")]

    answer = solved(client, blocks=blocks, targets=targets)

    assert answer["outcome"] == "partial"
    assert [each["target"] for each in answer["shortage"]["conflict"]] == ["one", "two"]
    assert answer["shortage"]["smallest_conflict_proven"] is True
    added = [
        block(f"+{n}", one["nominal"]) for n, one in enumerate(answer["shortage"]["blocks_to_add"])
    ]
    assert added
    assert solved(client, blocks=blocks + added, targets=targets)["outcome"] == "optimal"


def test_a_shortage_names_the_scarce_block_who_contends_for_it_and_what_one_more_allows(
    client: Client,
) -> None:
    """As numbers and in words, in either language; sent again with one more, it is so."""
    blocks = [block("a", "0.1001"), block("b", "1"), block("c", "2")]
    times = {"needed_from": "2030-01-07T06:00:00Z", "needed_until": "2030-01-07T08:00:00Z"}
    targets = [target("one", "1.1001") | times, target("two", "2.1001") | times]

    answer = solved(client, blocks=blocks, targets=targets)
    (scarce,) = answer["shortage"]["scarce_blocks"]
    german = solved(client, blocks=blocks, targets=targets, language="de")

    assert (scarce["nominal"], scarce["unit"], scarce["role"]) == ("0.1001", "in", "gauge")
    assert (scarce["like"], scarce["on_shelf"]) == ("a", 1)
    assert [each["target"] for each in scarce["contenders"]] == ["one", "two"]
    assert (scarce["contended_from"], scarce["contended_until"]) == tuple(times.values())
    assert (scarce["stacks_with_one_more"], scarce["most_stacks_with_one_more"]) == (2, 2)
    assert scarce["detail"] == (
        "Scarce: 0.1001 in (gauge block), 1 on the shelf. One more would raise the number of "
        "stacks from 1 to 2, and no higher. These contend for it from 2030-01-07 06:00+00:00 "
        "until 2030-01-07 08:00+00:00: one, two."
    )
    assert german["shortage"]["scarce_blocks"][0]["detail"].startswith("Knapp: 0,1001 in (Endmaß)")
    more = solved(client, blocks=[*blocks, block("+", "0.1001")], targets=targets)
    assert more["served"]["stacks"] == scarce["stacks_with_one_more"]


def test_the_same_request_gives_the_same_plan(client: Client) -> None:
    """On every run, but for the time it took."""
    body = {
        "blocks": [],
        "sets": [INCH_SET],
        "targets": [target("a", "1.3752"), target("b", "2.0009")],
        "objective": "least_error",
    }
    first, second = solved(client, **body), solved(client, **body)

    assert {**first, "solve_ms": 0} == {**second, "solve_ms": 0}


def test_a_byte_order_mark_is_ignored(client: Client) -> None:
    """Some clients on Windows begin with one."""
    body = b'\xef\xbb\xbf{"unit": "mm", "targets": [{"ref": "t", "kind": "length", "length": "1"}]}'

    response = client.post(
        "/v1/stacks", content=body, headers={"Content-Type": "application/json; charset=utf-8"}
    )

    assert response.json()["outcome"] == "infeasible"


def test_of_a_member_given_twice_the_last_one_counts(client: Client) -> None:
    """As the document says; RFC 8259 leaves it open."""
    targets = b'[{"ref": "t", "kind": "length", "length": "1"}]'
    body = b'{"unit": "mm", "unit": "in", "targets": ' + targets + b"}"

    response = client.post("/v1/stacks", content=body, headers={"Content-Type": "application/json"})

    assert response.json()["unit"] == "in"
