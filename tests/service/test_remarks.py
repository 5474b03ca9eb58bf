"""Remarks over HTTP: on stacks, on whole answers, on import and in stack checks."""

import pytest

from service.conftest import Client
from service.every_answer import Json

OUTSIDE = {
    "id": "worn/20",
    "nominal": "20",
    "grade": "0",
    "deviation": "-0.31",
    "expanded_uncertainty": "0.05",
    "calibration": {"variation": "0.02"},
}


def keys(said: list[Json]) -> list[str]:
    return [each["key"] for each in said]


def inch_stack(**members: object) -> Json:
    """A stack of inch blocks of grade AS-2."""
    sets = [{"id": "K", "composition": "inch-81", "grade": "AS-2"}]
    target = {"ref": "x", "kind": "length", "length": "1.2345", **members}
    return {"unit": "in", "sets": sets, "targets": [target]}


class TestWorstCase:
    def test_a_proven_plan_with_too_large_an_error_says_so(self, client: Client) -> None:
        """±10 µin of tolerance is no match for four blocks of AS-2."""
        body = inch_stack(tolerance={"lower": "-0.00001", "upper": "0.00001"})

        answer = client.post("/v1/stacks", json=body).json()

        (stack,) = answer["stacks"]
        assert answer["outcome"] == "optimal"
        assert keys(stack["remarks"]) == ["ratio.worst_case"]
        assert f"±{stack['worst_case_error']} µin" in stack["remarks"][0]["text"]

    @pytest.mark.parametrize("tolerance", [{}, {"tolerance": {"lower": "-0.01", "upper": "0.01"}}])
    def test_no_remark_without_need(self, client: Client, tolerance: Json) -> None:
        answer = client.post("/v1/stacks", json=inch_stack(**tolerance)).json()

        assert "remarks" not in answer["stacks"][0]

    def test_of_a_parts_tolerance(self, client: Client) -> None:
        part = {"target": "x", "lower": "1.2345", "upper": "1.2346"}
        body = {**inch_stack(), "part_tolerances": [part]}

        (stack,) = client.post("/v1/stacks", json=body).json()["stacks"]

        assert keys(stack["remarks"]) == ["ratio.worst_case"]

    def test_of_a_stack_check(self, client: Client) -> None:
        body = {
            "unit": "in", "sets": inch_stack()["sets"], "stack": ["K/0.75", "K/0.105"],
            "length": "0.855", "part_limits": {"lower": "0.855", "upper": "0.8551"},
        }  # fmt: skip

        answer = client.post("/v1/stack-checks", json={**body, "language": "de"}).json()

        assert keys(answer["remarks"]) == ["ratio.worst_case", "grade.from_memory"]
        assert "Toleranz" in answer["remarks"][0]["text"]


class TestOutsideItsGrade:
    def test_in_planning(self, client: Client) -> None:
        target = {"ref": "x", "kind": "length", "length": "20"}
        body = {"unit": "mm", "blocks": [OUTSIDE], "targets": [target]}

        (stack,) = client.post("/v1/stacks", json=body).json()["stacks"]

        assert keys(stack["remarks"]) == ["block.outside_limits"]

    def test_in_a_stack_check(self, client: Client) -> None:
        body = {"unit": "mm", "blocks": [OUTSIDE], "stack": ["worn/20"], "length": "20"}

        answer = client.post("/v1/stack-checks", json=body).json()

        assert keys(answer["remarks"]) == ["block.outside_limits"]

    def test_on_import(self, client: Client) -> None:
        block = {
            **{k: v for k, v in OUTSIDE.items() if k != "calibration"},
            "variation": "0.35",
        }

        answer = client.post("/v1/certificate-imports", json={"blocks": [block]}).json()

        texts = [each["text"] for each in answer["remarks"] if "worn/20" in each["text"]]
        assert len(texts) == 2
        assert "not within -0.14 µm to +0.14 µm" in texts[0]
        assert "0.35 µm is more than the 0.1 µm" in texts[1]


class TestFromMemory:
    def test_once_in_an_answer(self, client: Client) -> None:
        body = inch_stack()
        body["targets"].append({"ref": "y", "kind": "length", "length": "2.3456"})

        answer = client.post("/v1/stacks", json=body).json()

        assert len(answer["stacks"]) == 2
        assert keys(answer["remarks"]) == ["grade.from_memory"]

    def test_not_of_grades_that_were_compared(self, client: Client) -> None:
        sets = [{"id": "K", "composition": "metric-112-1", "grade": "1"}]
        target = {"ref": "x", "kind": "length", "length": "12.345"}

        answer = client.post(
            "/v1/stacks", json={"unit": "mm", "sets": sets, "targets": [target]}
        ).json()

        assert "remarks" not in answer


def test_a_temperature_that_was_meant_in_fahrenheit_is_remarked_on_and_not_refused(
    client: Client,
) -> None:
    warm = inch_stack() | {"conditions": {"temperature": {"value": 70}}}

    celsius = client.post("/v1/stacks", json=warm).json()
    fahrenheit = client.post("/v1/stacks", json={**warm, "temperature_unit": "degF"}).json()

    said = {each["key"]: each["text"] for each in celsius["remarks"]}
    assert said["doubtful.temperature"].startswith("70 °C is an unusual temperature")
    assert "doubtful.temperature" not in keys(fahrenheit["remarks"])
