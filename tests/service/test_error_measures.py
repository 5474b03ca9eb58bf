"""Plans by another error than the worst case: asked for, labelled, and refused with a pointer."""

from typing import Any

import pytest

from service.bodies import Json, pointers, target
from service.conftest import Client


def certified(name: str, deviation: str, uncertainty: str) -> Json:
    return {
        "id": name,
        "nominal": "30",
        "deviation": deviation,
        "expanded_uncertainty": uncertainty,
    }


def body(measure: Json | None, **members: object) -> Json:
    return {
        "unit": "mm",
        "blocks": [certified("known", "0.50", "0.05"), certified("near", "0.01", "0.2")],
        "targets": [target("op1", "30")],
        "objective": "least_error",
        **({"error_measure": measure} if measure is not None else {}),
        **members,
    }


def answer(client: Client, measure: Json | None, **members: object) -> dict[str, Any]:
    response = client.post("/v1/stacks", json=body(measure, **members))
    assert response.status_code == 200, response.text
    return dict(response.json())


@pytest.mark.parametrize("measure", [None, {}, {"kind": "worst_case"}])
def test_the_worst_case_needs_no_word_of_what_was_compared(
    client: Client, measure: Json | None
) -> None:
    found = answer(client, measure)

    assert "compared_errors" not in found
    assert found["stacks"][0]["blocks"][0]["id"] == "near"
    assert found["bounds"]["largest_worst_case_error"] == "0.21"


def test_variances_are_in_square_nanometres(client: Client) -> None:
    """0.05 µm with k = 2 is 25 nm, squared 625 nm²."""
    found = answer(client, {"kind": "expanded_uncertainty", "corrected": True})

    assert found["outcome"] == "optimal"
    assert found["stacks"][0]["blocks"][0]["id"] == "known"
    assert found["compared_errors"] == {
        "kind": "expanded_uncertainty",
        "corrected": True,
        "unequal_limits": False,
        "unit": "nm2",
        "largest": "625",
        "total": "625",
        "largest_bound": "625",
        "total_bound": "625",
    }


def test_uncorrected_the_square_of_the_offset_adds(client: Client) -> None:
    """0.01 µm off and 0.2 µm with k = 2: 10² + 100² nm²; the other is 500² + 25²."""
    compared = answer(client, {"kind": "expanded_uncertainty"})["compared_errors"]

    assert (compared["unit"], compared["corrected"]) == ("nm2", False)
    assert compared["largest"] == compared["largest_bound"] == "10100"


def test_a_tolerance_too_wide_to_be_squared_is_refused(client: Client) -> None:
    """A stack that may be 5 mm off has no business with nanometres."""
    wide = target("op1", "30") | {"tolerance": {"lower": "-5", "upper": "5"}}
    request = body({"kind": "expanded_uncertainty"}, targets=[wide])

    response = client.post("/v1/stacks", json=request)

    assert (response.status_code, pointers(response)) == (422, ["/error_measure/corrected"])


def test_worst_case_errors_stay_what_they_are_without_a_bound(client: Client) -> None:
    found = answer(client, {"kind": "expanded_uncertainty", "corrected": True})

    assert found["stacks"][0]["worst_case_error"] == "0.55"
    assert found["largest_worst_case_error"] == found["total_worst_case_error"] == "0.55"
    assert found["bounds"]["largest_worst_case_error"] is None
    assert found["bounds"]["total_worst_case_error"] is None


def test_a_corrected_worst_case_is_in_the_small_unit(client: Client) -> None:
    compared = answer(client, {"corrected": True})["compared_errors"]

    assert (compared["unit"], compared["largest"]) == ("um", "0.05")


def test_the_day_of_use_is_in_the_variance(client: Client) -> None:
    """A year of grade K at 30 mm: 0.02 µm + 0.25e-6 of the length (from memory), rectangular."""
    fresh = certified("known", "0", "0.05") | {
        "grade": "K",
        "calibration": {"calibrated_on": "2025-11-25"},
    }

    found = answer(
        client,
        {"kind": "expanded_uncertainty", "corrected": True},
        blocks=[fresh],
        conditions={"used_on": "2026-11-25", "off_centre": 0},
    )

    drift = 27.5**2 / 3
    assert float(found["compared_errors"]["largest"]) == pytest.approx(625 + drift, rel=0.01)


@pytest.mark.parametrize(
    ("measure", "pointer"),
    [
        (
            {"kind": "expanded_uncertainty", "corrected": True, "unequal_limits": True},
            "/error_measure/unequal_limits",
        ),
    ],
)
def test_what_makes_no_sense_is_pointed_at(client: Client, measure: Json, pointer: str) -> None:
    response = client.post("/v1/stacks", json=body(measure))

    assert response.status_code == 422
    assert pointers(response) == [pointer]


@pytest.mark.parametrize(
    ("measure", "pointer"),
    [
        ({"kind": "something"}, "/error_measure/kind"),
        ({"uncorrected": True}, "/error_measure/uncorrected"),
    ],
)
def test_what_is_not_in_the_document_is_pointed_at(
    client: Client, measure: Json, pointer: str
) -> None:
    response = client.post("/v1/stacks", json=body(measure))

    assert response.status_code == 400
    assert pointers(response) == [pointer]


def test_blocks_too_uncertain_for_variances_are_refused(client: Client) -> None:
    """A limit of 30 mm says nothing; squared it would drown every number."""
    blocks = [{"id": "a", "nominal": "30", "limit_deviation": "30000"}]
    measure = {"kind": "expanded_uncertainty", "corrected": True}

    response = client.post("/v1/stacks", json=body(measure, blocks=blocks))

    assert (response.status_code, pointers(response)) == (422, ["/error_measure/kind"])


class TestRatios:
    """30 mm of one block of 0.2 µm, or of two of 0.05 µm each; the part has 2 µm."""

    BLOCKS = (
        certified("whole", "0", "0.2"),
        certified("a", "0", "0.05") | {"nominal": "10"},
        certified("b", "0", "0.05") | {"nominal": "20"},
    )

    def body(self, ratio: float | None, **tolerance: object) -> Json:
        limits = {
            "target": "op1",
            "lower": "29.999",
            "upper": "30.001",
            "enforce_required_ratio": True,
        }
        return body(
            None,
            blocks=[*self.BLOCKS],
            objective="fewest_blocks",
            joint_allowance="0",
            part_tolerances=[{**limits, "required_ratio": ratio, **tolerance}],
        )

    @pytest.mark.parametrize(("ratio", "blocks"), [(4, ["whole"]), (5, ["whole"]), (6, ["b", "a"])])
    def test_a_better_stack_is_taken_where_the_ratio_asks_for_it(
        self, client: Client, ratio: float, blocks: list[str]
    ) -> None:
        found = client.post("/v1/stacks", json=self.body(ratio)).json()

        assert found["outcome"] == "optimal"
        assert [each["id"] for each in found["stacks"][0]["blocks"]] == blocks

    def test_without_it_the_ratio_is_judged_only(self, client: Client) -> None:
        wanted = self.body(6, enforce_required_ratio=False)
        found = client.post("/v1/stacks", json=wanted).json()

        assert [each["id"] for each in found["stacks"][0]["blocks"]] == ["whole"]
        assert not found["stacks"][0]["decision"]["ratio_met"]

    def test_where_no_stack_keeps_it_the_answer_says_so(self, client: Client) -> None:
        found = client.post("/v1/stacks", json=self.body(11)).json()

        assert found["outcome"] == "infeasible"
        assert found["shortage"]["conflict"] == [{"target": "op1", "role": None}]
        assert found["unmet"][0]["reason"] == "cannot_be_built"
        assert "required ratio" in found["unmet"][0]["detail"]

    @pytest.mark.parametrize(
        ("ratio", "tolerance", "pointer"),
        [
            (None, {}, "/part_tolerances/0/enforce_required_ratio"),
            (5, {"corrected": True}, "/part_tolerances/0/corrected"),
            (5, {"target": "op2"}, "/part_tolerances/0/target"),
            (5, {"upper": "29.999"}, "/part_tolerances/0/upper"),
        ],
    )
    def test_what_makes_no_sense_is_pointed_at_once(
        self, client: Client, ratio: float | None, tolerance: Json, pointer: str
    ) -> None:
        response = client.post("/v1/stacks", json=self.body(ratio, **tolerance))

        assert response.status_code == 422
        assert pointers(response) == [pointer]

    def test_a_block_to_add_says_how_good_it_must_be(self, client: Client) -> None:
        """10.5 to one leaves 95.238 nm, of which the other block and its certificate take 50."""
        short = client.post("/v1/stacks", json=self.body(10.5)).json()["shortage"]

        assert short["conflict"] == [{"target": "op1", "role": None}]
        (added,) = short["blocks_to_add"]
        assert added["max_error"] == ("0.0952" if added["nominal"] == "30" else "0.0452")
