"""Every offending member is found, with its pointer, in one go."""

import json
from typing import Any

import pytest

from service.bodies import block, pointers, problem_name, request, target
from service.conftest import Client, Start


def test_each_member_that_breaks_the_schema_is_named(client: Client) -> None:
    """One round trip shows all there is to mend."""
    body = request(
        blocks=[{"id": "a", "nominal": "1"}, {"id": 7, "nominal": "1e3"}, "block"],
        sets=[{"id": "s"}],
        exclude="a",
        objective="cheapest",
        **{"colour/shade": "red"},
    )

    response = client.post("/v1/stacks", json=body)

    assert response.status_code == 400
    assert problem_name(response) == "invalid-request"
    assert sorted(pointers(response)) == [
        "/blocks/1/id",
        "/blocks/1/nominal",
        "/blocks/2",
        "/colour~1shade",
        "/exclude",
        "/objective",
        "/sets/0/composition",
    ]


@pytest.mark.parametrize(
    ("members", "expected"),
    [
        ({"blocks": [block("a", "1"), block("a", "2")]}, ["/blocks/1/id"]),
        ({"blocks": [{"id": "a", "nominal": "1"}]}, ["/blocks/0"]),
        ({"blocks": [block("a", "0")]}, ["/blocks/0/nominal"]),
        ({"blocks": [{"id": "a", "nominal": "1", "grade": "9"}]}, ["/blocks/0/grade"]),
        ({"blocks": [block("a", "1", material="butter")]}, ["/blocks/0/material"]),
        ({"blocks": [{"id": "a", "nominal": "1", "deviation": "1"}]},
         ["/blocks/0/expanded_uncertainty"]),
        ({"blocks": [block("a", "0.00000000001")]}, ["/blocks/0/nominal"]),
        ({"targets": [target("t", "1"), target("t", "2")]}, ["/targets/1/ref"]),
        ({"targets": [target("t", "0")]}, ["/targets/0/length"]),
        ({"targets": [target("t", "1", tolerance={"lower": "1", "upper": "-1"})]},
         ["/targets/0/tolerance"]),
        ({"targets": [target("t", "1", needed_from="2026-02-30T08:00:00Z")]},
         ["/targets/0/needed_from"]),
        ({"targets": [target("t", "1", needed_from="2026-06-30T23:59:60Z")]},
         ["/targets/0/needed_from"]),
        ({"targets": [target("t", "1", needed_from="2026-11-25T08:00:00Z",
                             needed_until="2026-11-25T08:00:00+01:00")]},
         ["/targets/0/needed_until"]),
        ({"sets": [{"id": "s", "composition": "inch-80", "grade": "AS-1"}]},
         ["/sets/0/composition"]),
        ({"sets": [{"id": "s", "composition": "inch-81", "grade": "7"}]}, ["/sets/0/grade"]),
        ({"sets": [{"id": "s", "composition": "inch-81"}]}, ["/sets/0"]),
        ({"sets": [{"id": "s", "composition": "inch-81", "grade": "AS-1",
                    "missing": ["0.1001", "0.137", "0.7771"]}]}, ["/sets/0/missing/2"]),
        ({"sets": [{"id": "s", "composition": "inch-81", "grade": "AS-1", "material": "butter",
                    "wear_block_nominals": ["0"]}]},
         ["/sets/0/wear_block_nominals/0", "/sets/0/material"]),
        ({"sets": [{"id": "s", "composition": "inch-81", "grade": "AS-1"},
                   {"id": "s", "composition": "inch-36", "grade": "AS-1"}]}, ["/sets/1/id"]),
        ({"blocks": [block("s/0.1001", "0.1001")],
          "sets": [{"id": "s", "composition": "inch-81", "grade": "AS-1"}]}, ["/sets/0/id"]),
        ({"exclude": ["a1", "a9"]}, ["/exclude/1"]),
        ({"only": ["a9"]}, ["/only/0"]),
        ({"joint_allowance": 1e-9}, ["/joint_allowance"]),
    ],
)  # fmt: skip
def test_what_means_nothing_is_422_with_a_pointer_into_the_body_as_sent(
    client: Client, members: dict[str, Any], expected: list[str]
) -> None:
    """Well formed, but not to be understood."""
    response = client.post("/v1/stacks", json=request(**members))

    assert response.status_code == 422, response.text
    assert sorted(pointers(response)) == sorted(expected)
    assert problem_name(response) == "unprocessable-content"


@pytest.mark.parametrize(
    ("members", "words"),
    [
        ({"targets": [target("t", "1", needed_from="2026-11-25T08:00:00")]}, "with its offset"),
        ({"targets": [target("two\nlines", "1")]}, "on one line"),
        ({"blocks": [block("a", "1", calibration={"due_on": "soon"})]}, "a day such as"),
    ],
)
def test_text_of_the_wrong_form_is_told_in_words(
    client: Client, members: dict[str, Any], words: str
) -> None:
    """A pattern is for machines; the detail is read by people."""
    response = client.post("/v1/stacks", json=request(**members))

    assert response.status_code == 400
    assert words in response.text
    assert "regex" not in response.text


def test_faults_of_both_kinds_come_together_and_the_schema_decides_the_status(
    client: Client,
) -> None:
    """A bad text and a length that is too fine are reported side by side."""
    body = request(blocks=[block("a", "1.0000000001"), block("b", "one")])

    response = client.post("/v1/stacks", json=body)

    assert response.status_code == 400
    assert pointers(response) == ["/blocks/0/nominal", "/blocks/1/nominal"]


def test_faults_of_the_reading_do_not_hide_those_of_the_whole(client: Client) -> None:
    """Ids used twice, unknown grades and zero lengths are told beside a length too fine."""
    body = request(
        blocks=[
            block("a", "0.0000000001"),
            block("a", "0.2"),
            {"id": "b", "nominal": "0.3", "grade": "9"},
            {"id": "c", "nominal": "0.4"},
        ],
        targets=[target("t", "0.00000000001"), target("t", "0"), target("u", "1")],
        exclude=["nobody"],
    )

    response = client.post("/v1/stacks", json=body)

    assert response.status_code == 422
    assert sorted(pointers(response)) == [
        "/blocks/0/nominal",
        "/blocks/1/id",
        "/blocks/2/grade",
        "/blocks/3",
        "/exclude/0",
        "/targets/0/length",
        "/targets/1/length",
        "/targets/1/ref",
    ]


def test_what_a_set_that_was_not_read_would_have_is_not_called_unknown(client: Client) -> None:
    """A wrong composition is one fault, and not one more for each of its blocks that is named."""
    body = request(
        sets=[{"id": "s", "composition": "inch-80", "grade": "AS-1"}],
        exclude=["s/0.1001"],
        only=["s/0.1002"],
    )

    response = client.post("/v1/stacks", json=body)

    assert pointers(response) == ["/sets/0/composition"]


def test_no_more_than_twenty_faults_are_listed(client: Client) -> None:
    """A body with a thousand faults is answered as briefly as any."""
    body = request(blocks=[block(str(number), "x") for number in range(1000)])

    response = client.post("/v1/stacks", json=body)

    assert len(pointers(response)) == 20


@pytest.mark.parametrize("whole", ["2.0", "20e-1", "2"])
def test_whole_floats_are_integers(client: Client, whole: str) -> None:
    """JSON Schema calls 2.0 an integer, and some clients write it so."""
    body = json.dumps(request(targets=[target("t", "0.3506", max_blocks=0)]))
    body = body.replace('"max_blocks": 0', f'"max_blocks": {whole}')

    response = client.post("/v1/stacks", content=body, headers={"Content-Type": "application/json"})

    assert response.json()["total_blocks"] == 2


@pytest.mark.parametrize("number", ["2.5", "1e999999", "9" * 400, "-0.0", "true", '"2"'])
def test_other_numbers_are_no_integers(client: Client, number: str) -> None:
    """Neither halves nor texts, however large, and at once."""
    body = json.dumps(request(targets=[target("t", "0.3506", max_blocks=0)]))
    body = body.replace('"max_blocks": 0', f'"max_blocks": {number}')

    response = client.post("/v1/stacks", content=body, headers={"Content-Type": "application/json"})

    assert (response.status_code, pointers(response)) == (400, ["/targets/0/max_blocks"])


@pytest.mark.parametrize(
    ("members", "at"),
    [
        ({"blocks": [block(str(n), "1") for n in range(11)]}, "/blocks"),
        ({"targets": [target(str(n), "1") for n in range(4)]}, "/targets"),
        ({"exclude": ["a1"] * 11}, "/exclude"),
        ({"only": ["a1"] * 11}, "/only"),
        ({"time_limit_ms": 5001}, "/time_limit_ms"),
        ({"targets": []}, "/targets"),
    ],
)
@pytest.mark.parametrize("broken", [{}, {"colour": "red"}])
def test_published_limits_hold_on_both_ways_of_reading(
    start: Start, members: dict[str, Any], at: str, broken: dict[str, Any]
) -> None:
    """A body that has another fault, too, is not read past a limit either."""
    client = start(max_blocks=10, max_targets=3, max_time_limit_ms=5000)

    response = client.post("/v1/stacks", json=request(**members, **broken))

    assert response.status_code == 400
    assert at in pointers(response)


def test_blocks_of_sets_count_before_they_are_listed(start: Start) -> None:
    """Many sets of a few bytes each must not become a million blocks."""
    client = start(max_blocks=100)
    sets = [{"id": f"s{n}", "composition": "inch-81", "grade": "AS-1"} for n in range(100)]

    response = client.post("/v1/stacks", json=request(blocks=[], sets=sets))

    assert (response.status_code, pointers(response)) == (422, ["/sets"])
