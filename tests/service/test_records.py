"""Records: what an auditor finds in one, and that it can be worked out again."""

import copy
import hashlib
import json
from collections.abc import Callable
from typing import Any, Final

import msgspec
import pytest
import rfc8785
from litestar.testing import TestClient

from contract.test_compatibility import RELEASED
from service.bodies import Json, pointers
from service.test_kinds import NAMES, body
from wrung_service.api.records.normal import decimal_text, request_hash
from wrung_service.app import Service
from wrung_service.settings import Limits

Client = TestClient[Service]

AS_JSON: Final = {"Content-Type": "application/json"}
CALIBRATION: Final = {
    "certificate": "LC-2026-0102",
    "laboratory": "Lindenau",
    "calibrated_on": "2026-03-31",
    "due_on": "2027-03-31",
}
REQUEST: Final[Json] = {
    "unit": "mm",
    "blocks": [
        {
            "id": "K1/10", "serial": "A 4411", "nominal": "10.0", "set": "K1", "deviation": "0.05",
            "expanded_uncertainty": 0.06, "material": "steel", "calibration": CALIBRATION,
        },
        {"id": "20", "nominal": 2e1, "grade": "0"},
        {"id": "5", "nominal": "5", "limit_deviation": ".3"},
    ],
    "targets": [
        {
            "ref": "op10", "kind": "length", "length": "30.000",
            "labels": {"drawing": "K-2207 B", "feature": "=12", "operation": "10"},
        },
        {"ref": "op20", "kind": "length", "length": "5"},
        {"ref": "op30", "kind": "length", "length": "7"},
    ],
    "conditions": {"used_on": "2026-11-25"},
    "record": True,
}  # fmt: skip


def answered(client: Client, request: Json) -> Json:
    response = client.post("/v1/stacks", json=request)
    assert response.status_code == 200, response.text
    answer: Json = response.json()
    return answer


@pytest.fixture(name="record")
def _record(client: Client) -> Json:
    record: Json = answered(client, REQUEST)["record"]
    return record


def checked(client: Client, record: Json) -> Json:
    response = client.post("/v1/stack-checks", json={"record": record})
    assert response.status_code == 200, response.text
    answer: Json = response.json()
    return answer


def test_no_record_is_made_unless_it_is_wanted(client: Client) -> None:
    assert "record" not in answered(client, {**REQUEST, "record": False})


def test_a_block_is_recorded_as_it_was_used(record: Json) -> None:
    (certified,) = [b for s in record["stacks"] for b in s["blocks"] if b["id"] == "K1/10"]

    assert certified == {
        "id": "K1/10", "serial": "A 4411", "set": "K1", "nominal": "10", "unit": "mm",
        "role": "gauge", "material": "steel", "grade": None, **CALIBRATION, "deviation": "0.05",
        "uncertainty": "0.06", "uncertainty_kind": "expanded_uncertainty",
    }  # fmt: skip
    kinds = {b["id"]: b["uncertainty_kind"] for s in record["stacks"] for b in s["blocks"]}
    assert kinds["20"] == "grade"
    assert kinds["5"] == "limit_deviation"


def test_it_says_when_by_what_and_on_what_it_rests(record: Json) -> None:
    named = {(each["designation"], each["edition"]) for each in record["standards"]}

    assert record["made_at"].endswith("Z")
    assert record["version"]
    assert {("ISO 3650", "1998"), ("JCGM 100", "2008"), ("ISO 1", "2022")} <= named
    assert record["conditions"]["used_on"] == "2026-11-25"
    assert record["conditions"]["temperature"]["value"] == 20
    assert (record["unit"], record["joint_allowance"]) == ("mm", "0.0254")
    assert record["unmet"] == [{"target": "op30", "role": None}]


@pytest.mark.parametrize(
    ("kind", "named"),
    [
        # EN ISO 286-1 is of 2010 and ISO 2768-1 of 1989, by the catalogues of CEN and ISO.
        ("fit", ("ISO 286-1", "2010")),
        ("inch_fit", ("ANSI B4.1", "1967")),
        ("general_tolerance", ("ISO 2768-1", "1989")),
        # A copy on the web that does not say it.
        ("check_points", ("DIN 863-1", None)),
    ],
)
def test_editions_are_said_where_they_are_known(
    client: Client, kind: str, named: tuple[str, str | None]
) -> None:
    record = answered(client, body(kind) | {"record": True})["record"]

    assert named in {(each["designation"], each["edition"]) for each in record["standards"]}


def test_records_of_the_last_release_still_hold(client: Client) -> None:
    """Members that were added since are not in them, and stand for what was taken then."""
    examples = RELEASED["paths"]["/v1/stacks"]["post"]["responses"]["200"]["content"]
    traveller = examples["application/json"]["examples"]["traveller"]["value"]["record"]

    assert "limits" in {target["kind"] for target in traveller["request"]["targets"]}
    assert checked(client, traveller)["findings"] == []


def test_a_federal_specification_has_a_letter_for_its_edition(client: Client) -> None:
    request: Json = {
        "unit": "in",
        "sets": [{"id": "A", "composition": "inch-81", "grade": "1"}],
        "targets": [{"ref": "1", "kind": "length", "length": "0.5"}],
        "record": True,
    }

    standards = answered(client, request)["record"]["standards"]

    assert {"C"} == {s["edition"] for s in standards if "GGG-G-15" in s["designation"]}


def test_labels_come_back_and_change_nothing(client: Client, record: Json) -> None:
    plain = copy.deepcopy(REQUEST)
    del plain["targets"][0]["labels"]

    assert record["targets"][0]["labels"] == REQUEST["targets"][0]["labels"]
    assert answered(client, plain)["stacks"] == answered(client, REQUEST)["stacks"]


@pytest.mark.parametrize(
    "labels",
    [
        {str(k): "x" for k in range(11)},
        {"a": "x" * 201},
        {"a" * 65: "x"},
        {"a": 1},
        {"a": "one\nand another"},
        {"": "x"},
    ],
)
def test_labels_are_bounded(client: Client, labels: Json) -> None:
    request = copy.deepcopy(REQUEST)
    request["targets"][0]["labels"] = labels

    response = client.post("/v1/stacks", json=request)

    assert response.status_code == 400
    assert pointers(response)[0].startswith("/targets/0/labels")


def test_every_kind_of_target_takes_labels(client: Client) -> None:
    for name in NAMES:
        request = body(name) | {"record": True}
        request["targets"] = [t | {"labels": {"feature": name}} for t in request["targets"]]
        record = answered(client, request)["record"]
        assert {each["labels"]["feature"] for each in record["targets"]} == {name}
        assert checked(client, record)["findings"] == []


class TestHash:
    def test_it_is_the_sha_256_of_the_canonical_request(self, record: Json) -> None:
        canonical = rfc8785.dumps(record["request"])

        assert record["request_sha256"] == hashlib.sha256(canonical).hexdigest()

    def test_canonical_form_by_hand(self) -> None:
        """RFC 8785, 3.2: members by their code units, no spaces, numbers as in ECMAScript."""
        request: Json = {"b": "0.50", "a": [1.0, 1e21, None, True], "\u20ac": "\u00f6"}
        by_hand = '{"a":[1,1e+21,null,true],"b":"0.50","\u20ac":"\u00f6"}'.encode()

        assert request_hash(request) == hashlib.sha256(by_hand).hexdigest()

    @pytest.mark.parametrize(
        ("sent", "text"),
        [("0.50", "0.5"), ("+1", "1"), (".375", "0.375"), ("2e1", "20"), ("-0.0", "0"),
         ("100", "100"), ("27.5°", "27.5°"), ("1E-3", "0.001")],
    )  # fmt: skip
    def test_decimal_text_has_one_form(self, sent: str, text: str) -> None:
        assert decimal_text(sent) == text

    def test_the_same_request_in_other_words_has_the_same_hash(
        self, client: Client, record: Json
    ) -> None:
        other = copy.deepcopy(REQUEST)
        other["blocks"][0] |= {"nominal": 10, "expanded_uncertainty": "0.060", "unit": "mm"}
        other |= {"objective": "fewest_blocks", "joint_allowance": "0.02540", "only": None}
        other["targets"][1] |= {"tolerance": {"lower": "0"}, "wear_blocks": "none"}

        assert answered(client, other)["record"]["request_sha256"] == record["request_sha256"]

    def test_temperatures_left_out_are_filled_in_in_the_unit_of_the_request(
        self, client: Client
    ) -> None:
        request = body("comparison") | {"record": True, "temperature_unit": "degF"}
        for target in request["targets"]:
            target.pop("part_temperature", None)
            target.pop("block_temperature", None)

        record = answered(client, request)["record"]

        assert record["conditions"]["temperature"]["value"] == 68
        assert (
            answered(client, record["request"])["results"] == answered(client, request)["results"]
        )
        assert checked(client, record)["findings"] == []

    def test_another_request_has_another_hash(self, client: Client, record: Json) -> None:
        other = copy.deepcopy(REQUEST)
        other["targets"][0]["labels"]["operation"] = "11"

        assert answered(client, other)["record"]["request_sha256"] != record["request_sha256"]

    def test_the_request_in_it_can_be_posted_again(self, client: Client, record: Json) -> None:
        again = answered(client, record["request"])["record"]

        assert again["request"] == record["request"]
        assert again["stacks"] == record["stacks"]


Change = Callable[[Json], Any]


class TestChecks:
    def test_the_record_of_the_largest_request_can_be_checked(self, client: Client) -> None:
        """It is larger than a body may be, as all that is known of each block is filled in."""
        calibration = {"certificate": "C" * 120, "laboratory": "L" * 120}
        blocks = [
            {
                "id": f"{k}{'x' * 100}", "nominal": f"{k / 10}", "serial": "S" * 100,
                "deviation": "0.01", "expanded_uncertainty": "0.05", "set": "M" * 60,
                "calibration": calibration | CALIBRATION | {"certificate": "C" * 120},
            }
            for k in range(5, 1005)
        ]  # fmt: skip
        labels = {f"label {k}": "y" * 200 for k in range(8)}
        targets = [
            {"ref": f"{k}", "kind": "length", "length": f"{k / 10}", "labels": labels}
            for k in range(5, 105)
        ]
        request = {"unit": "mm", "blocks": blocks, "targets": targets, "record": True}
        record = answered(client, request | {"timing": "in_turn"})["record"]
        sent = msgspec.json.encode({"record": record})

        response = client.post("/v1/stack-checks", content=sent, headers=AS_JSON)

        assert len(sent) > Limits().max_body_bytes > len(msgspec.json.encode(request))
        assert (response.status_code, response.json()["findings"]) == (200, [])

    def test_a_stack_built_by_hand_is_no_larger_than_other_bodies(self, client: Client) -> None:
        spaces = b" " * Limits().max_body_bytes

        response = client.post("/v1/stack-checks", content=b"{}" + spaces, headers=AS_JSON)

        assert response.status_code == 413

    def test_findings_are_in_words_of_the_record(self, client: Client, record: Json) -> None:
        """Neither in the library's unit nor in Python's words."""
        other = copy.deepcopy(record)
        other["stacks"][0]["blocks"] = other["stacks"][0]["blocks"][:1]
        other["stacks"][1]["blocks"][0]["laboratory"] = "Lindenau"

        said = " ".join(each["detail"] for each in checked(client, other)["findings"])

        assert "do not add up" in said
        assert "comes to 'null'" in said
        assert "None" not in said
        assert "000000" not in said

    def test_a_record_holds(self, client: Client, record: Json) -> None:
        found = checked(client, record)

        assert (found["holds"], found["hash_matches"], found["findings"]) == (True, True, [])

    def test_it_holds_after_a_way_through_other_json(self, client: Client, record: Json) -> None:
        text = json.dumps(record, sort_keys=True, indent=3)

        assert checked(client, json.loads(text))["holds"]

    @pytest.mark.parametrize(
        ("change", "at"),
        [
            (lambda r: r["request"]["blocks"][0].update(deviation="0.04"), "/request_sha256"),
            (lambda r: r.update(request_sha256="0" * 64), "/request_sha256"),
            (lambda r: r["stacks"][0].update(deviation="0"), "/stacks/0/deviation"),
            (lambda r: r["stacks"][0].update(worst_case_error="0.1"), "/stacks/0/worst_case_error"),
            (lambda r: r["stacks"][0]["blocks"][0].update(serial="B 1"),
             "/stacks/0/blocks/0/serial"),
            (lambda r: r["stacks"][0]["blocks"][0].update(due_on="2030-01-01"),
             "/stacks/0/blocks/0/due_on"),
            (lambda r: r["stacks"][1]["blocks"].append(r["stacks"][0]["blocks"][0]), "/stacks"),
            (lambda r: r["targets"][0]["labels"].update(operation="20"),
             "/targets/0/labels/operation"),
            (lambda r: r["conditions"].update(used_on="2026-11-26"), "/conditions/used_on"),
            (lambda r: r["standards"].pop(), "/standards"),
            (lambda r: r["stacks"][0]["blocks"][0].update(id="none"), "/request"),
            (lambda r: r["request"].update(unit="furlong"), "/request_sha256"),
        ],
    )  # fmt: skip
    def test_whatever_was_changed_is_found(
        self, client: Client, record: Json, change: Change, at: str
    ) -> None:
        changed = copy.deepcopy(record)
        change(changed)

        found = checked(client, changed)

        assert not found["holds"]
        assert at in [finding["pointer"] for finding in found["findings"]]

    def test_a_stack_left_out_is_found(self, client: Client, record: Json) -> None:
        changed = copy.deepcopy(record)
        del changed["stacks"][1]

        assert "/unmet" in [f["pointer"] for f in checked(client, changed)["findings"]]

    def test_what_is_no_record_is_refused_with_a_pointer(
        self, client: Client, record: Json
    ) -> None:
        broken = {name: value for name, value in record.items() if name != "unit"}

        response = client.post("/v1/stack-checks", json={"record": broken})

        assert (response.status_code, pointers(response)) == (400, ["/record/unit"])

    def test_stacks_built_by_hand_are_checked_as_ever(self, client: Client) -> None:
        response = client.post("/v1/stack-checks", json={"stack": ["a"]})

        assert response.status_code == 400
        assert "/length" in pointers(response)


def test_a_condition_that_is_no_length_breaks_the_schema(client: Client, record: Json) -> None:
    record["conditions"]["joint_uncertainty"] = "AAA"
    response = client.post("/v1/stack-checks", json={"record": record})

    assert response.status_code == 400
    assert pointers(response) == ["/record/conditions/joint_uncertainty"]


def test_members_that_it_does_not_know_are_passed_over(client: Client, record: Json) -> None:
    """Those of a later version, even beside one that is looked at closely."""
    record["of_a_later_version"] = 1
    record["conditions"]["off_centre"] = None
    response = client.post("/v1/stack-checks", json={"record": record})

    assert response.status_code == 200, response.text
