"""Calibrations, conditions, budgets and decisions over HTTP."""

from datetime import UTC, datetime
from typing import Any

import pytest
from litestar.testing import TestClient

from service.bodies import Json, pointers, request, target
from service.conftest import Client
from wrung_service.app import create_app
from wrung_service.settings import Settings


def certified(name: str, nominal: str = "25", **calibration: object) -> Json:
    return {
        "id": name,
        "nominal": nominal,
        "deviation": "0.05",
        "expanded_uncertainty": "0.06",
        "grade": "0",
        "material": "steel",
        "calibration": {"certificate": "4711", **calibration},
    }


def metric(*blocks: Json, **members: object) -> Json:
    """A request for 25 mm."""
    return {"unit": "mm", "blocks": [*blocks], "targets": [target("op1", "25")], **members}


def budget(client: Client, body: Json) -> dict[str, Any]:
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    return dict(response.json()["stacks"][0]["budget"])


class TestBudget:
    def test_a_plain_request_has_the_plain_answer(self, client: Client) -> None:
        stack = client.post("/v1/stacks", json=request()).json()["stacks"][0]

        assert not {"budget", "decision"} & stack.keys()

    def test_conditions_bring_totals(self, client: Client) -> None:
        """One block, touched at the centre: the certificate's own uncertainty, k = 2."""
        found = budget(client, metric(certified("a"), conditions={"off_centre": 0}))

        assert found["table"] is None
        assert found["length"] == "25.00005"
        assert found["coverage_factor"] == pytest.approx(2.0)
        assert float(found["corrected"]["expanded_uncertainty"]) == pytest.approx(0.06, abs=2e-5)
        assert float(found["uncorrected"]["expanded_uncertainty"]) == pytest.approx(0.11, abs=2e-5)

    def test_a_further_contribution_has_its_row_and_moves_the_length(self, client: Client) -> None:
        """A ball pressed in by 0.19 um within 0.014 um; the latter over the root of 3, worked."""
        extra = {"name": "ball pressed in", "value": {"value": -0.19, "limits": 0.014}}
        conditions = {"off_centre": 0, "extras": [extra]}
        body = metric(certified("a"), conditions=conditions, budget="table")

        found = budget(client, body)

        assert float(found["length"]) == pytest.approx(25.00005 - 0.00019)
        (row,) = [row for row in found["table"] if row["kind"] == "extra"]
        assert row["subject"] == "ball pressed in"
        assert row["contribution"] == pytest.approx(14 / 3**0.5, rel=1e-3)

    def test_further_contributions_are_in_the_small_unit_of_the_request(
        self, client: Client
    ) -> None:
        extra = {"name": "indicator", "value": {"value": 0, "standard_uncertainty": 10}}
        body = request(conditions={"extras": [extra]}, budget="table") | {"unit": "in"}
        plain = request(budget="table") | {"unit": "in"}

        found, without = (budget(client, each) for each in (body, plain))

        larger = float(found["corrected"]["expanded_uncertainty"]) ** 2
        less = float(without["corrected"]["expanded_uncertainty"]) ** 2
        assert larger - less == pytest.approx(20**2, rel=2e-3)

    def test_a_standard_uncertainty_is_expanded_by_its_degrees_of_freedom(
        self, client: Client
    ) -> None:
        """Student's t for 9 degrees of freedom and 95.45 % is 2.32 (JCGM 100:2008, table G.2)."""
        block = certified("a", degrees_of_freedom=9)
        del block["expanded_uncertainty"]
        block["standard_uncertainty"] = "0.03"
        wanted = metric(block, conditions={"off_centre": 0}, budget="table")
        found = client.post("/v1/stacks", json=wanted).json()["stacks"][0]

        (row,) = [r for r in found["budget"]["table"] if r["kind"] == "certified_length"]
        assert row["standard_uncertainty"] == pytest.approx(30.0, abs=1e-3)
        assert found["budget"]["coverage_factor"] == pytest.approx(2.32, abs=0.005)
        assert float(found["worst_case_error"]) == pytest.approx(0.05 + 0.03 * 2.32, abs=2e-4)

    def test_an_uncertainty_is_standard_or_expanded(self, client: Client) -> None:
        both = certified("a") | {"standard_uncertainty": "0.03"}

        response = client.post("/v1/stacks", json=metric(both))

        assert (response.status_code, pointers(response)) == (
            422,
            ["/blocks/0/standard_uncertainty"],
        )

    def test_the_table_has_every_column(self, client: Client) -> None:
        found = budget(
            client,
            metric(certified("a", degrees_of_freedom=50, variation="0.04"), budget="table"),
        )

        rows = {row["kind"]: row for row in found["table"]}
        assert rows["certified_length"] == {
            "kind": "certified_length",
            "subject": "a",
            "unit": "nm",
            "estimate": 50.0,
            "standard_uncertainty": 30.0,
            "limits": 60.0,
            "distribution": "normal",
            "degrees_of_freedom": 50.0,
            "sensitivity": 1.0,
            "contribution": 30.0,
            "certificate": "4711",
        }
        assert rows["variation_in_length"]["limits"] == 20.0

    def test_inch_blocks_have_inch_budgets(self, client: Client) -> None:
        found = budget(client, request(conditions={"off_centre": 0, "joint_uncertainty": "0"}))

        assert found["offset"] == "1.2"
        # 2.0 over 2, and 5 over the root of 3, µin.
        expected = (1.0**2 + 25 / 3) ** 0.5
        assert float(found["standard_uncertainty"]) == pytest.approx(expected, abs=1e-3)

    def test_all_conditions_reach_the_budget(self, client: Client) -> None:
        conditions = {
            "used_on": "2026-11-25",
            "temperature": {"value": 21, "standard_uncertainty": 0.1, "degrees_of_freedom": 9},
            "part": {
                "material": "steel",
                "expansion_difference": {"value": 0, "limits": 1},
                "temperature_difference": {"value": 0, "limits": 0.2, "distribution": "normal"},
            },
            "coverage_probability": 0.95,
        }

        found = budget(
            client,
            metric(
                certified("a", calibrated_on="2025-11-25"), conditions=conditions, budget="table"
            ),
        )

        rows = {(row["kind"], row["subject"]): row for row in found["table"]}
        assert rows["temperature", "stack, above 20 °C"]["degrees_of_freedom"] == 9
        assert rows["part_temperature", "part, above the stack"]["standard_uncertainty"] == 0.1
        assert rows["part_expansion", "part less steel"]["limits"] == 1
        # A year of grade 0 at 25 mm: 0.02 µm + 0.25e-6 of the length (from memory).
        assert rows["drift", "a"]["limits"] == pytest.approx(26.25, rel=1e-3)
        assert found["coverage_probability"] == 0.95

    def test_nothing_is_worked_out_that_is_not_wanted(self, client: Client) -> None:
        body = metric(certified("a"), conditions={"off_centre": 0}, budget="none")

        assert "budget" not in client.post("/v1/stacks", json=body).json()["stacks"][0]

    @pytest.mark.parametrize(
        ("conditions", "pointer"),
        [
            ({"used_on": "2026-02-30"}, "/conditions/used_on"),
            ({"part": {}}, "/conditions/part"),
            ({"part": {"material": "wood"}}, "/conditions/part/material"),
            (
                {"temperature": {"value": 20, "limits": 1, "standard_uncertainty": 1}},
                "/conditions/temperature/limits",
            ),
            ({"joint_uncertainty": "0.000001"}, "/conditions/joint_uncertainty"),
        ],
    )
    def test_what_makes_no_sense_is_pointed_at(
        self, client: Client, conditions: Json, pointer: str
    ) -> None:
        response = client.post("/v1/stacks", json=metric(certified("a"), conditions=conditions))

        assert response.status_code == 422
        assert pointers(response) == [pointer]

    @pytest.mark.parametrize(
        ("calibration", "pointer"),
        [
            ({"due_on": "2026-02-30"}, "/blocks/0/calibration/due_on"),
            (
                {"calibrated_on": "2026-03-31", "due_on": "2026-03-30"},
                "/blocks/0/calibration/due_on",
            ),
            ({"variation": "0.000001"}, "/blocks/0/calibration/variation"),
        ],
    )
    def test_calibrations_too(self, client: Client, calibration: Json, pointer: str) -> None:
        response = client.post("/v1/stacks", json=metric(certified("a", **calibration)))

        assert response.status_code == 422
        assert pointers(response) == [pointer]


class TestOverdue:
    FRESH = certified("fresh", due_on="2027-03-31")
    STALE = certified("stale", due_on="2026-11-24")

    @pytest.fixture
    def november(self) -> TestClient[Any]:
        """The service on 25 November 2026."""
        app = create_app(
            Settings(solve_workers=1), clock=lambda: datetime(2026, 11, 25, 8, tzinfo=UTC)
        )
        return TestClient(app)

    def test_overdue_blocks_are_left_out_and_named(self, november: Client) -> None:
        answer = november.post("/v1/stacks", json=metric(self.STALE, self.FRESH)).json()

        assert [block["id"] for block in answer["stacks"][0]["blocks"]] == ["fresh"]
        assert answer["used_on"] == "2026-11-25"
        assert answer["overdue_blocks"] == [{"id": "stale", "due_on": "2026-11-24"}]

    def test_without_them_a_target_may_be_unmet(self, november: Client) -> None:
        answer = november.post("/v1/stacks", json=metric(self.STALE)).json()

        assert answer["outcome"] == "infeasible"
        assert [block["id"] for block in answer["overdue_blocks"]] == ["stale"]

    def test_they_are_used_on_request(self, november: Client) -> None:
        body = metric(self.STALE, allow_overdue=True, budget="totals")

        answer = november.post("/v1/stacks", json=body).json()

        assert answer["overdue_blocks"] == []
        notes = {note["code"] for note in answer["stacks"][0]["budget"]["notes"]}
        assert "overdue" in notes

    def test_the_stated_day_goes_first(self, november: Client) -> None:
        body = metric(self.STALE, conditions={"used_on": "2026-11-24"})

        answer = november.post("/v1/stacks", json=body).json()

        assert (answer["outcome"], answer["used_on"]) == ("optimal", "2026-11-24")

    def test_the_last_day_on_which_a_stack_is_needed_counts(self, november: Client) -> None:
        body = metric(self.FRESH)
        body["targets"] = [target("op1", "25", needed_until="2027-04-02T00:00:00Z")]

        answer = november.post("/v1/stacks", json=body).json()

        assert (answer["outcome"], answer["used_on"]) == ("infeasible", "2027-04-02")

    def test_times_that_make_no_sense_are_still_pointed_at(self, november: Client) -> None:
        body = metric(self.FRESH)
        early, late = "2027-04-02T00:00:00Z", "2027-04-03T00:00:00Z"
        body["targets"] = [target("op1", "25", needed_from=late, needed_until=early)]

        assert pointers(november.post("/v1/stacks", json=body)) == ["/targets/0/needed_until"]

    def test_a_set_may_be_overdue_as_a_whole(self, november: Client) -> None:
        gauge_set = {
            "id": "s",
            "composition": "metric-46",
            "grade": "1",
            "calibration": {"due_on": "2026-01-01"},
        }
        body = {"unit": "mm", "sets": [gauge_set], "targets": [target("op1", "5")]}

        answer = november.post("/v1/stacks", json=body).json()

        assert (answer["outcome"], len(answer["overdue_blocks"])) == ("infeasible", 46)

    def test_without_dates_the_day_plays_no_part(self, november: Client) -> None:
        answer = november.post("/v1/stacks", json=request()).json()

        assert not {"used_on", "overdue_blocks"} & answer.keys()


class TestDecision:
    def body(self, **members: object) -> Json:
        tolerance = {"target": "op1", "lower": "24.999", "upper": "25.001", **members}
        return metric(
            certified("a"),
            conditions={"off_centre": 0},
            part_tolerances=[tolerance],
            budget="none",
        )

    def decision(self, client: Client, **members: object) -> dict[str, Any]:
        stack = client.post("/v1/stacks", json=self.body(**members)).json()["stacks"][0]
        assert "budget" not in stack
        return dict(stack["decision"])

    def test_the_ratio_and_its_verdict(self, client: Client) -> None:
        """2 µm over twice 0.06 µm is 16.7; with the offset of 0.05 µm 9.1."""
        corrected = self.decision(client, corrected=True)
        uncorrected = self.decision(client)

        assert float(corrected["test_uncertainty_ratio"]) == pytest.approx(16.65, abs=0.06)
        assert (corrected["verdict"], corrected["warning"]) == ("ten_to_one", None)
        assert float(uncorrected["test_uncertainty_ratio"]) == pytest.approx(9.1, abs=0.05)
        assert uncorrected["verdict"] == "four_to_one"
        assert uncorrected["ratio_met"]

    def test_a_required_ratio(self, client: Client) -> None:
        strict = self.decision(client, corrected=True, required_ratio=20)

        assert not strict["ratio_met"]
        assert "less than the 20 required" in strict["warning"]

    def test_a_measured_size(self, client: Client) -> None:
        """Half a micrometre within, and U 0.06 µm: within its limits for sure."""
        found = self.decision(client, corrected=True, guard="none", measured="25.0005")

        assert found["conformity"] == {
            "measured": "25.0005",
            "conformity_probability": 1.0,
            "statement": "pass",
        }
        assert found["risks"]["false_accept_at_limit"] == pytest.approx(0.5)
        assert found["risks"]["sentences"][0].endswith("up to 50 %.")

    @pytest.mark.parametrize(
        ("tolerance", "pointer"),
        [
            ({"guard": "multiple"}, "/part_tolerances/0/guard_multiple"),
            ({"guard_multiple": 1}, "/part_tolerances/0/guard_multiple"),
            ({"target": "op2"}, "/part_tolerances/0/target"),
            ({"lower": "25.001"}, "/part_tolerances/0/upper"),
        ],
    )
    def test_what_makes_no_sense_is_pointed_at(
        self, client: Client, tolerance: Json, pointer: str
    ) -> None:
        response = client.post("/v1/stacks", json=self.body(**tolerance))

        assert response.status_code == 422
        assert pointers(response) == [pointer]

    def test_one_target_has_one_tolerance(self, client: Client) -> None:
        body = self.body()
        body["part_tolerances"] *= 2

        assert pointers(client.post("/v1/stacks", json=body)) == ["/part_tolerances/1/target"]
