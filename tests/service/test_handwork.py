"""Instructions over HTTP, for every kind of target: their order, their use step, their figures."""

import re
from typing import Any, Final, get_args

import pytest

from service.conftest import Client
from service.every_answer import asked
from wrung.handwork.step import Phase
from wrung.lengths import Unit

_UNITS: Final[tuple[Unit, ...]] = ("mm", "in")
REQUESTS = {
    f"{name}, {unit}": body
    for unit in _UNITS
    for name, path, body in asked(unit)
    if body.get("handwork")
}
ORDER: Final = ("fetch", "normalise", "clean", "inspect", "clean", "wring", "check", "soak", "use",
                "unwring", "clean", "preserve", "put_away")  # fmt: skip


def answer(client: Client, name: str) -> dict[str, Any]:
    return dict(client.post("/v1/stacks", json=REQUESTS[name]).json())


def said(work: dict[str, Any], phase: str = "use") -> list[str]:
    return [step["text"] for step in work["steps"] if step["phase"] == phase]


@pytest.mark.parametrize("name", REQUESTS)
class TestEveryKind:
    def test_steps_come_in_the_order_that_an_inspector_signs(
        self, client: Client, name: str
    ) -> None:
        for work in answer(client, name)["handwork"]:
            phases = [step["phase"] for step in work["steps"]]
            # Each phase of the work is found again in the order, from left to right.
            places = iter(ORDER)
            runs = [p for k, p in enumerate(phases) if k == 0 or phases[k - 1] != p]
            assert all(phase in places for phase in runs), phases

    def test_each_stack_has_its_use_step(self, client: Client, name: str) -> None:
        found = answer(client, name)["handwork"]

        assert found
        assert all(said(work) for work in found)

    def test_nobody_is_told_more_digits_than_can_be_read(self, client: Client, name: str) -> None:
        """Sizes that were worked out to 0.1 µm or 1 µin; those asked for as they were typed."""
        typed = re.findall(r"[0-9.]{6,}", str(REQUESTS[name]["targets"]))
        for work in answer(client, name)["handwork"]:
            for text in said(work):
                figures = re.findall(r"([0-9]+\.[0-9]{5,}) mm|([0-9]+\.[0-9]{7,}) in", text)
                assert {each for pair in figures for each in pair if each} <= set(typed), text

    def test_cautions_are_of_the_use_and_no_two_alike(self, client: Client, name: str) -> None:
        for work in answer(client, name)["handwork"]:
            keys = [caution["key"] for caution in work["cautions"]]
            assert len(keys) == len(set(keys))
            on_plate = name.startswith(("comparison", "two_rolls", "check_points", "angle_blocks"))
            assert not (on_plate and "caution.spindle" in keys)

    def test_the_base_is_the_largest_gauge_block_and_wear_blocks_come_last(
        self, client: Client, name: str
    ) -> None:
        for stack in answer(client, name)["stacks"]:
            roles = [block["role"] for block in stack["blocks"]]
            assert roles == sorted(roles)  # gauge before wear
            gauge = [
                float(block["nominal"]) for block in stack["blocks"] if block["role"] == "gauge"
            ]
            assert gauge == sorted(gauge, reverse=True)

    def test_waiting_is_what_a_shop_would_accept(self, client: Client, name: str) -> None:
        """Of all stacks of a series together, in minutes; overnight is for the highest accuracy."""
        series = name.startswith("check_points")
        works = answer(client, name)["handwork"]
        waits = [work["waiting_minutes"] for work in works]

        for work, wait in zip(works, waits, strict=True):
            assert sum(step.get("minutes", 0) for step in work["steps"]) == wait
            waiting = {step["phase"] for step in work["steps"] if "minutes" in step}
            assert waiting <= {"normalise", "soak"}
        assert 20 <= (sum(waits) if series else max(waits)) <= 240


def test_every_phase_is_in_the_order() -> None:
    assert set(get_args(Phase)) == set(ORDER)


def test_an_answer_is_a_stack_that_can_be_checked(client: Client) -> None:
    """Wear blocks last is no fault of a stack that is read in wringing order."""
    request = REQUESTS["length, mm"]
    (stack,) = answer(client, "length, mm")["stacks"]
    shelf = {member: request[member] for member in ("unit", "sets", "blocks")}
    names = [block["id"] for block in stack["blocks"]]

    check = client.post("/v1/stack-checks", json={**shelf, "stack": names,
                                                  "length": stack["length"]}).json()  # fmt: skip

    assert check["misplaced_wear_blocks"] == []


class TestFigures:
    """The figures of a use step are those of the result beside it."""

    def test_go_enters_and_not_go_does_not(self, client: Client) -> None:
        found = answer(client, "limits, mm")
        go, not_go = found["handwork"]
        lower, upper = (found["results"][0]["limits"][limit] for limit in ("lower", "upper"))

        assert said(go)[0].startswith(f"GO, {lower} mm: for a round bore set a bore gauge")
        assert "into a slot it must go by its own weight" in said(go)[0]
        assert said(not_go)[0].startswith(f"NOT GO, {upper} mm: the stack must not enter")

    def test_an_indicator_is_zeroed_and_readings_accepted(self, client: Client) -> None:
        for unit, sign, step in (("mm", "µm", 0.01), ("in", "µin", 0.1)):
            found = answer(client, f"comparison, {unit}")
            result = found["results"][0]
            lower, upper = float(result["reading_at_lower"]), float(result["reading_at_upper"])

            zero, accept = said(found["handwork"][0])
            assert "zero the indicator on the stack" in zero
            low, high = map(float, re.findall(rf"([+-]?[\d.]+) {sign}", accept))
            # Inward, and by less than the last place.
            assert lower <= low < lower + step
            assert upper - step < high <= upper

    def test_a_sine_bar_has_the_stack_under_its_roll(self, client: Client) -> None:
        found = answer(client, "sine, in")
        reached = found["results"][0]["setting"]

        (use,) = said(found["handwork"][0])
        assert "under the roll" in use
        assert reached["angle_reached"]["dms"] in use
        assert f'give or take {reached["uncertainty"]}"' in use

    def test_a_micrometer_is_closed_first_and_then_read_on_every_stack(
        self, client: Client
    ) -> None:
        found = answer(client, "check_points, in")
        zero, *rows = found["results"][0]["rows"]

        assert (zero["point"], zero["stack"]) == ("0", None)
        closed, first = said(found["handwork"][0])
        assert "must show 0" in closed
        assert f"The stack is {rows[0]['stack']['length']} in" in first
        assert all(
            "must show 0" not in text for work in found["handwork"][1:] for text in said(work)
        )

    def test_readings_are_accepted_within_the_permissible_error(self, client: Client) -> None:
        """DIN 863-1 permits a micrometer from 25 mm to 50 mm 4 µm."""
        found = answer(client, "check_points, mm")
        rows = found["results"][0]["rows"]
        setting, first = rows[0], rows[1]

        assert f"must show {setting['stack']['length']} mm" in said(found["handwork"][0])[0]
        low, high = re.findall(r"[\d.]+ mm", said(found["handwork"][1])[0])[-2:]
        middle = float(first["stack"]["length"])
        assert (float(low[:-3]), float(high[:-3])) == pytest.approx(
            (middle - 0.004, middle + 0.004)
        )

    def test_angle_blocks_are_used_as_the_angle_that_they_reach(self, client: Client) -> None:
        found = answer(client, "angle_blocks, mm")
        result = found["results"][-1]

        (use,) = said(found["handwork"][-1])
        assert result["angle_reached"]["dms"] in use
        assert f'up to {result["worst_case_error"]}"' in use

    def test_a_dovetail_is_as_wide_as_its_result_says(self, client: Client) -> None:
        found = answer(client, "dovetail, in")

        (use,) = said(found["handwork"][0])
        width = round(float(found["results"][0]["width"]), 6)
        assert f"The dovetail is then {width} in wide" in use
