"""Every kind of target over HTTP: read strictly, answered in the request's units and language."""

import json
from importlib.resources import files
from typing import Any

import pytest

from service.bodies import pointers, problem_name, request
from service.conftest import Client
from wrung_service.api.kinds.examples import file_of, name_of
from wrung_service.api.kinds.wanted import KINDS

NAMES = [name_of(kind) for kind in KINDS]
BAR = {"centre_distance": "5"}


def body(name: str) -> dict[str, Any]:
    """The example request of a kind."""
    kind = next(kind for kind in KINDS if name_of(kind) == name)
    text = files("wrung_service.api").joinpath("examples", f"{file_of(kind, 'request')}.json")
    return dict(json.loads(text.read_text(encoding="utf-8")))


def sine(**members: object) -> dict[str, Any]:
    """A request for one sine bar."""
    target = {"ref": "s", "kind": "sine", "bar": BAR, "angle": "30", **members}
    sets = [{"id": "s", "composition": "inch-81", "grade": "AS-1"}]
    return {"unit": "in", "sets": sets, "targets": [target]}


@pytest.mark.parametrize("name", NAMES)
class TestEveryKind:
    def test_its_example_is_served_whole(self, client: Client, name: str) -> None:
        answer = client.post("/v1/stacks", json=body(name)).json()

        assert answer["outcome"] == "optimal"
        assert {result["kind"] for result in answer["results"]} == {name}

    def test_an_unknown_member_is_refused(self, client: Client, name: str) -> None:
        request = body(name)
        request["targets"][0]["colour"] = "red"

        response = client.post("/v1/stacks", json=request)

        assert (response.status_code, pointers(response)) == (400, ["/targets/0/colour"])

    def test_a_missing_ref_is_pointed_at(self, client: Client, name: str) -> None:
        request = body(name)
        del request["targets"][0]["ref"]

        response = client.post("/v1/stacks", json=request)

        assert (response.status_code, pointers(response)) == (400, ["/targets/0/ref"])

    def test_no_member_takes_a_bare_count_of_quanta(self, client: Client, name: str) -> None:
        """Whole numbers are counts of blocks and teeth; what is measured is decimal text."""
        document = client.get("/openapi.json").json()
        schemas = document["components"]["schemas"]
        mapping = schemas["StackRequest"]["properties"]["targets"]["items"]["discriminator"]
        schema = schemas[mapping["mapping"][name].rpartition("/")[2]]

        whole = {
            member
            for member, described in schema["properties"].items()
            if '"integer"' in json.dumps(described)
        }

        assert whole - {"number_of_teeth"} == {"max_blocks", "priority"}


def test_all_kinds_can_be_mixed_in_one_request(client: Client) -> None:
    targets = [target for name in NAMES for target in body(name)["targets"]]
    sets = [
        {"id": composition, "composition": composition, "grade": "1"}
        for composition in ("metric-112-1", "metric-88-1", "metric-47-a")
    ]
    in_inch = ("sine", "compound_sine", "dovetail", "inch_fit")
    in_mm = [t for t in targets if t["kind"] not in in_inch]

    answer = client.post(
        "/v1/stacks",
        json={"unit": "mm", "sets": sets, "targets": in_mm, "time_limit_ms": 60_000},
    ).json()

    assert answer["unmet"] == []
    assert [result["target"] for result in answer["results"]] == [t["ref"] for t in in_mm]


def test_a_plain_length_has_no_result_of_its_own(client: Client) -> None:
    request = sine()
    request["targets"] = [{"ref": "t", "kind": "length", "length": "1.3754"}]

    assert "results" not in client.post("/v1/stacks", json=request).json()


@pytest.mark.parametrize("angle", ["30", 30, 30.0, "30°", "30°0'0\"", "30d0m0s"])
def test_every_way_to_write_an_angle(client: Client, angle: object) -> None:
    answer = client.post("/v1/stacks", json=sine(angle=angle)).json()

    assert answer["stacks"][0]["nominal"] == "2.5"
    assert answer["results"][0]["setting"]["angle"] == {"degrees": "30", "dms": "30°00'00.0\""}


def test_radians(client: Client) -> None:
    answer = client.post("/v1/stacks", json=sine(angle="0.5236 rad")).json()

    assert answer["stacks"][0]["nominal"] == "2.5"


@pytest.mark.parametrize(
    ("members", "status", "at"),
    [
        ({"angle": "90"}, 422, "/targets/0/angle"),
        ({"angle": "30°60'"}, 422, "/targets/0/angle"),
        ({"angle": "steep"}, 400, "/targets/0/angle"),
        ({"angle": "-30"}, 400, "/targets/0/angle"),
        ({"angle": None}, 422, "/targets/0/angle"),
        ({"bar": {}}, 400, "/targets/0/bar/centre_distance"),
        ({"bar": {"centre_distance": "0"}}, 422, "/targets/0/bar/centre_distance"),
        ({"bar": {**BAR, "deviation": "0.00001"}}, 422, "/targets/0/bar/deviation"),
        ({"bar": {**BAR, "colour": 1}}, 400, "/targets/0/bar/colour"),
        ({"max_angle_error": "1e3"}, 400, "/targets/0/max_angle_error"),
        ({"max_angle_error": "9999999"}, 422, "/targets/0/max_angle_error"),
        ({"max_blocks": 0}, 400, "/targets/0/max_blocks"),
        ({"kind": "sinus"}, 400, "/targets/0/kind"),
        ({"kind": 7}, 400, "/targets/0/kind"),
        ({"needed_from": "2030-02-31T00:00:00Z"}, 422, "/targets/0/needed_from"),
    ],
)
def test_what_is_wrong_is_pointed_at(
    client: Client, members: dict[str, Any], status: int, at: str
) -> None:
    response = client.post("/v1/stacks", json=sine(**members))

    assert (response.status_code, pointers(response)) == (status, [at])


def test_a_target_without_a_kind_is_told_so(client: Client) -> None:
    request = sine()
    del request["targets"][0]["kind"]

    assert pointers(client.post("/v1/stacks", json=request)) == ["/targets/0/kind"]


def test_null_elements_are_refused_and_null_members_left_to_their_default(client: Client) -> None:
    angle_blocks = {"ref": "a", "kind": "angle_blocks", "angle": "30", "composition": "angle-16"}
    request = {"unit": "mm", "targets": [{**angle_blocks, "missing": [None]}]}

    assert pointers(client.post("/v1/stacks", json=request)) == ["/targets/0/missing/0"]
    request = {"unit": "mm", "targets": [{**angle_blocks, "limit_deviation": None}]}
    assert client.post("/v1/stacks", json=request).status_code == 200


def test_angle_targets_share_a_case_and_who_comes_short_is_told_why(client: Client) -> None:
    """There is one block of 45 degrees, and what is left reaches 44: two such angles contend."""
    common = {"kind": "angle_blocks", "angle": "45", "composition": "angle-16"}
    length = {"ref": "x", "kind": "length", "length": "10"}
    targets = [{"ref": "a", **common}, {**common, "ref": "b", "missing": ["30"]}, length]
    blocks = [{"id": "10", "nominal": "10", "limit_deviation": "0.1"}]
    answer = client.post("/v1/stacks", json={"unit": "mm", "blocks": blocks, "targets": targets})

    found = answer.json()
    first, second = found["results"]
    (case,) = found["angle_cases"]
    assert (found["outcome"], found["proven"]) == ("partial", True)
    assert [(each["target"], each["reason"], each["nearest_below"]) for each in found["unmet"]] == [
        ("b", "blocks_in_use", None)
    ]
    assert [block["degrees"] for block in first["added_blocks"]] == ["45"]
    assert (second["added_blocks"], second["reason"], second["held_by"]) == (
        [],
        "blocks_in_use",
        ["a"],
    )
    assert [each["target"] for each in case["conflict"]] == ["a", "b"]
    assert case["served"] == case["bounds"]["served"] == {"stacks": 1, "targets": 1}
    assert (case["largest_worst_case_error"], found["largest_worst_case_error"]) == ("1", "0.1")


def test_heights_are_rounded_to_what_the_blocks_are_graded_in(client: Client) -> None:
    request = sine(angle="27", bar={"centre_distance": "100"})
    request |= {"unit": "mm", "sets": [{"id": "s", "composition": "metric-47-a", "grade": "1"}]}

    # 45.39905 mm, in steps of 0.005 mm.
    assert client.post("/v1/stacks", json=request).json()["stacks"][0]["nominal"] == "45.4"


def test_more_stacks_than_the_limit_are_refused(client: Client) -> None:
    points = {"kind": "check_points", "series": "metric-0.5"}
    request = sine()
    request["targets"] = [{"ref": f"m{k}", **points} for k in range(11)]

    response = client.post("/v1/stacks", json=request)

    assert (response.status_code, pointers(response)) == (422, ["/targets"])


def test_stacks_of_a_kind_can_be_judged_for_a_part(client: Client) -> None:
    request = body("limits")
    name = {"target": "op20 oil groove", "role": "go"}
    request["part_tolerances"] = [{**name, "lower": "8.01", "upper": "8.046"}]

    stacks = client.post("/v1/stacks", json=request).json()["stacks"]

    (decision,) = [stack["decision"] for stack in stacks if "decision" in stack]
    assert {**decision, **name} == decision


@pytest.mark.parametrize(
    ("named", "at", "told"),
    [
        ({}, "/part_tolerances/0/role", "go, not_go"),
        ({"role": "not-go"}, "/part_tolerances/0/role", "go, not_go"),
        ({"target": "op21"}, "/part_tolerances/0/target", "op21"),
    ],
)
def test_a_tolerance_on_a_target_of_several_stacks_names_one(
    client: Client, named: dict[str, str], at: str, told: str
) -> None:
    request = body("limits")
    sizes = {"lower": "8.01", "upper": "8.046"}
    request["part_tolerances"] = [{"target": "op20 oil groove", **sizes, **named}]

    response = client.post("/v1/stacks", json=request)

    assert (response.status_code, pointers(response)) == (422, [at])
    assert told in response.json()["errors"][0]["detail"]


def test_a_stack_without_a_role_is_not_named_by_one(client: Client) -> None:
    sizes = {"lower": "1", "upper": "2"}
    tolerance = {"target": "s", "role": "go", **sizes}

    response = client.post("/v1/stacks", json={**sine(), "part_tolerances": [tolerance]})

    assert (response.status_code, pointers(response)) == (422, ["/part_tolerances/0/role"])


class TestWords:
    def test_remarks_come_in_the_language_of_the_request(self, client: Client) -> None:
        def remark(language: str) -> dict[str, str]:
            request = {**sine(angle="60"), "language": language}
            found = client.post("/v1/stacks", json=request).json()["results"][0]["remarks"]
            return dict(found[0])

        assert remark("en")["key"] == remark("de")["key"] == "sine.steep"
        assert "complement" in remark("en")["text"]
        assert "Komplementwinkel" in remark("de")["text"]
        assert "2.5 in" in remark("en")["text"]
        assert "2,5 in" in remark("de")["text"]

    def test_an_unknown_language_is_refused(self, client: Client) -> None:
        response = client.post("/v1/stacks", json={**sine(), "language": "tlh"})

        assert (response.status_code, problem_name(response)) == (422, "unprocessable-content")
        assert pointers(response) == ["/language"]

    def test_handwork_comes_for_each_stack_and_only_if_wanted(self, client: Client) -> None:
        plain = client.post("/v1/stacks", json=sine()).json()
        full = client.post("/v1/stacks", json={**sine(), "handwork": True}).json()

        assert "handwork" not in plain
        (found,) = full["handwork"]
        assert (found["target"], found["role"]) == ("s", None)
        assert found["cautions"][0]["key"] == "caution.clamp"
        placed = {block["id"] for block in full["stacks"][0]["blocks"]}
        assert {name for step in found["steps"] for name in step["blocks"]} == placed

    def test_the_record_sheet_has_headings_in_words(self, client: Client) -> None:
        request = {**body("check_points"), "language": "de"}

        result = client.post("/v1/stacks", json=request).json()["results"][0]

        assert [heading["text"] for heading in result["columns"]][:2] == [
            "Prüfpunkt",
            "Endmaßkombination",
        ]


def test_check_points_say_how_few_blocks_change(client: Client) -> None:
    """Their number in the example; the guide shows it."""
    answer = client.post("/v1/stacks", json=body("check_points")).json()

    assert answer["changes"] == {"block_changes": 32, "lower_bound": 32, "proven": True}


def test_a_target_of_one_stack_says_nothing_of_changes(client: Client) -> None:
    assert "changes" not in client.post("/v1/stacks", json=body("sine")).json()


def test_a_refused_temperature_is_a_fault_of_the_request(client: Client) -> None:
    """What stands for it while the rest is read must be of its kind, or that is refused instead."""
    wanted = {"kind": "comparison", "ref": "a", "nominal": "20", "block_temperature": "1000000000"}
    wanted |= {"lower_deviation": "0", "upper_deviation": "0.1"}

    response = client.post("/v1/stacks", json=request(targets=[wanted]))

    assert response.status_code == 422
    assert pointers(response) == ["/targets/0/block_temperature"]
