"""Whoever asks in inches gets inch figures throughout, and temperatures in °F if he wants."""

import re
from typing import Any

import pytest

from service.conftest import Client
from service.every_answer import asked, sentences, texts

REQUESTS = {name: (path, body) for name, path, body in asked("in")}
METRIC = re.compile(r"\d ?(mm|um|nm)\b|µm|°C|^(mm|um|nm|nm2|degC)$")


def members(value: object) -> set[str]:
    """The names of all members of an answer."""
    if isinstance(value, dict):
        return set(value).union(*map(members, value.values()))
    return set().union(*map(members, value)) if isinstance(value, list) else set()


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", REQUESTS)
def test_an_inch_answer_has_no_metric_figure(client: Client, name: str, language: str) -> None:
    path, body = REQUESTS[name]
    degrees = {} if path.endswith("coverage") else {"temperature_unit": "degF"}

    answer = client.post(path, json={**body, **degrees, "language": language}).json()

    for at, text in texts(answer):
        assert not METRIC.search(text), f"{at}: {text}"
    assert not {each for each in members(answer) if re.search(r"_(nm|um|mm)(_|$)", each)}


def test_the_walk_sees_metric_figures(client: Client) -> None:
    """The same walk finds them in every metric answer that says anything in words."""
    for name, path, body in asked("mm"):
        answer = client.post(path, json=body).json()
        assert any(METRIC.search(text) for _, text in texts(answer)), name


def sine(unit: str, distance: str) -> dict[str, Any]:
    target = {"ref": "s", "kind": "sine", "bar": {"centre_distance": distance}, "angle": "30"}
    composition, grade = ("inch-81", "AS-1") if unit == "in" else ("metric-112-1", "1")
    sets = [{"id": "s", "composition": composition, "grade": grade}]
    return {"unit": unit, "sets": sets, "targets": [target]}


@pytest.mark.parametrize(
    ("unit", "distance", "sensitivity"),
    # Computed from dh / (L cos a); a textbook has 0.00132 degrees for 0.0001 in on 5 in at 30.
    [("in", "5", "4.763"), ("mm", "100", "2.382")],
)
def test_sensitivity_is_for_the_step_that_is_usual_in_the_unit(
    client: Client, unit: str, distance: str, sensitivity: str
) -> None:
    found = client.post("/v1/stacks", json=sine(unit, distance)).json()["results"][0]

    assert found["setting"]["sensitivity"] == sensitivity


def test_a_budget_in_inches_is_in_microinches(client: Client) -> None:
    """1 in of steel, ±1e-6/K rectangular, at 21 °C: 25.4 nm per 1e-6/K is 1 µin."""
    block = {"id": "a", "nominal": "1", "limit_deviation": "3", "material": "steel"}
    request = {
        "unit": "in",
        "blocks": [block],
        "targets": [{"ref": "x", "kind": "length", "length": "1"}],
        "conditions": {"temperature": {"value": 21}},
        "budget": "table",
    }

    budget = client.post("/v1/stacks", json=request).json()["stacks"][0]["budget"]

    assert budget["table_unit"] == "uin"
    rows = {row["kind"]: row for row in budget["table"]}
    assert rows["expansion"]["sensitivity"] == pytest.approx(1)
    assert rows["expansion"]["contribution"] == pytest.approx(1 / 3**0.5, rel=1e-4)
    within = rows["length_within_limits"]
    assert (within["unit"], within["limits"]) == ("uin", 3)


class TestFahrenheit:
    """68 °F is 20 °C, and 1.8 °F are 1 K, exactly."""

    CELSIUS = {  # noqa: RUF012 - read only
        "temperature": {"value": 25, "limits": 1},
        "part": {
            "material": "aluminium",
            "temperature_difference": {"value": 2, "standard_uncertainty": 0.5},
        },
    }
    FAHRENHEIT = {  # noqa: RUF012 - read only
        "temperature": {"value": 77, "limits": 1.8},
        "part": {
            "material": "aluminium",
            "temperature_difference": {"value": 3.6, "standard_uncertainty": 0.9},
        },
    }

    def stack(self, client: Client, **members: object) -> dict[str, Any]:
        request = {
            "unit": "in",
            "blocks": [{"id": "a", "nominal": "4", "limit_deviation": "3", "material": "steel"}],
            "targets": [{"ref": "x", "kind": "length", "length": "4"}],
            "budget": "table",
            **members,
        }
        response = client.post("/v1/stacks", json=request)
        assert response.status_code == 200, response.text
        return dict(response.json())

    def test_a_budget_is_the_same_in_either(self, client: Client) -> None:
        celsius = self.stack(client, conditions=self.CELSIUS)
        fahrenheit = self.stack(client, conditions=self.FAHRENHEIT, temperature_unit="degF")

        one, other = (each["stacks"][0]["budget"] for each in (celsius, fahrenheit))
        assert (celsius["temperature_unit"], fahrenheit["temperature_unit"]) == ("degC", "degF")
        for row, same in zip(one["table"], other["table"], strict=True):
            assert row["contribution"] == pytest.approx(same["contribution"])
        assert {**one, "table": []} == {**other, "table": []}

    def test_its_rows_are_in_fahrenheit(self, client: Client) -> None:
        found = self.stack(client, conditions=self.FAHRENHEIT, temperature_unit="degF")

        rows = {row["kind"]: row for row in found["stacks"][0]["budget"]["table"]}
        assert rows["temperature"]["unit"] == rows["part_temperature"]["unit"] == "degF"
        assert rows["temperature"]["estimate"] == pytest.approx(9)  # above 68 °F
        assert rows["part_temperature"]["estimate"] == pytest.approx(3.6)
        assert rows["temperature"]["subject"] == "stack, above 68 °F"

    def test_a_comparison_reads_either(self, client: Client) -> None:
        target = {
            "ref": "c", "kind": "comparison", "nominal": "4", "lower_deviation": "-200",
            "upper_deviation": "200", "part_material": "aluminium",
        }  # fmt: skip
        found = [
            self.stack(
                client,
                targets=[{**target, "part_temperature": part, "block_temperature": block}],
                **({"temperature_unit": unit} if unit else {}),
            )["results"][0]
            for unit, part, block in ((None, "25", "20"), ("degF", "77", "68"))
        ]

        assert found[0] == found[1]
        assert found[0]["reading_at_lower"] != "-200"

    def test_sentences_of_a_metric_request_speak_of_what_it_states(self, client: Client) -> None:
        metric = {"unit": "mm", "temperature_unit": "degF", "targets": [
            {"ref": "x", "kind": "length", "length": "4"}]}  # fmt: skip
        blocks = [{"id": "a", "nominal": "4", "limit_deviation": "3"}]

        found = self.stack(client, **metric, blocks=blocks)

        said = " ".join(text for _, text in sentences(found, metric))
        assert "68 °F" in said
        assert "°C" not in said

    def test_a_stack_check_takes_it_too(self, client: Client) -> None:
        body = next(body for name, _, body in asked("in") if name == "check")
        request = {**body, "conditions": self.FAHRENHEIT, "temperature_unit": "degF"}

        found = client.post("/v1/stack-checks", json=request).json()

        assert found["temperature_unit"] == "degF"
        celsius = client.post("/v1/stack-checks", json={**body, "conditions": self.CELSIUS}).json()
        assert found["budget"]["corrected"] == celsius["budget"]["corrected"]

    def test_any_other_unit_is_refused(self, client: Client) -> None:
        request = sine("in", "5") | {"temperature_unit": "K"}

        assert client.post("/v1/stacks", json=request).status_code == 400


@pytest.mark.parametrize(
    ("stated", "sign", "growth"), [({}, "°C", "11.5"), ({"temperature_unit": "degF"}, "°F", "6.4")]
)
def test_sentences_speak_of_temperatures_in_the_unit_of_the_members(
    client: Client, stated: dict[str, str], sign: str, growth: str
) -> None:
    """Steel grows by 11.5e-6/K (ISO 3650, from memory), so by 6.4e-6 for each °F."""
    sets = [{"id": "K1", "composition": "inch-81", "grade": "AS-1"}]
    target = {"ref": "x", "kind": "length", "length": "0.5"}
    asked = {"unit": "in", "sets": sets, "targets": [target], "budget": "table", **stated}

    answer = client.post("/v1/stacks", json=asked).json()

    notes = {note["code"]: note["text"] for note in answer["stacks"][0]["budget"]["notes"]}
    said = notes["temperature_not_stated"]
    assert sign in said
    assert f"grows by {growth} millionths of its length for each degree" in said
