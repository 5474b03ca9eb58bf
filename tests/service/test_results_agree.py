"""A result and a budget of one answer never disagree, whatever blocks, parts and temperatures.

The temperature's share is worked out here a second time, from the blocks of the stack, by the
coefficients of `GET /v1/materials`.
"""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Struct

from service.conftest import Client
from service.every_answer import Json, example
from wrung_service.api.kinds.examples import name_of
from wrung_service.api.kinds.wanted import KINDS

EXPANSION = {
    "steel": 11.5,
    "tungsten-carbide": 4.5,
    "zirconia": 9.2,
    "chromium-carbide": 8.4,
    "aluminium": 23.1,
}
BLOCKS = st.sampled_from(["steel", "tungsten-carbide", "zirconia", "chromium-carbide"])
WARMTH = st.decimals(15, 35, places=1)
OF_LENGTH = [name for kind in KINDS if (name := name_of(kind)) != "angle_blocks"]


def shelf(first: str, second: str) -> list[Json]:
    """Two sets of two materials, so that stacks are often mixed; inch examples get inch sets."""
    return [
        {"id": "A", "composition": "metric-47-a", "grade": "1", "material": first},
        {"id": "B", "composition": "metric-112-1", "grade": "0", "material": second},
        {"id": "C", "composition": "inch-81", "grade": "AS-1", "material": first},
    ]


def results_with_stacks(answer: Json) -> list[Json]:
    """The Structs of stacks as built, wherever a result has them."""
    found: list[Json] = []

    def walk(value: object) -> None:
        if isinstance(value, dict):
            if "offset_in_use" in value:
                found.append(value)
            for each in value.values():
                walk(each)
        elif isinstance(value, list):
            for each in value:
                walk(each)

    walk(answer["results"])
    return found


def grown(stack: Json, material: dict[str, str], degrees: float) -> float:
    """How much longer its blocks are, in the small unit of the answer, each by its material."""
    whole = {"mm": 1e3, "in": 1e6}
    return sum(
        float(block["nominal"])
        * whole[block.get("unit", "mm")]
        * EXPANSION[material[block["id"][0]]]
        for block in stack["blocks"]
    ) * (degrees * 1e-6)


class Room(Struct, frozen=True, kw_only=True):
    """What an answer depends on: materials, and temperatures in °C."""

    first: str
    second: str
    part: str
    warmth: Decimal
    of_part: Decimal | None = None


ROOMS = st.builds(
    Room,
    first=BLOCKS,
    second=BLOCKS,
    part=st.sampled_from(["steel", "aluminium", "zirconia"]),
    warmth=WARMTH,
    of_part=st.none() | WARMTH,
)


def check_kind(client: Client, kind: str, room: Room) -> None:
    """What the results of a kind say of its stacks is what the budgets of these say."""
    warmer = 0 if room.of_part is None else float(room.of_part - room.warmth)
    body = {
        **example(kind),
        "sets": shelf(room.first, room.second),
        "budget": "totals",
        # Of no concern here, and a machine that stands still for a moment is no fault.
        "time_limit_ms": 60_000,
        "conditions": {
            "temperature": {"value": float(room.warmth), "limits": 0.5},
            "part": {"material": room.part, "temperature_difference": {"value": warmer}},
        },
    }

    answer = client.post("/v1/stacks", json=body).json()

    budgets = {(s["target"], s["role"]): s["budget"] for s in answer["stacks"]}
    found = results_with_stacks(answer)
    assert found
    for each in found:
        budget = budgets[each["target"], each["role"]]
        assert each["offset_in_use"] == budget["offset"]
        assert each["expanded_uncertainty"] == budget["corrected"]["expanded_uncertainty"]


@pytest.mark.parametrize("kind", OF_LENGTH)
def test_results_are_those_of_the_budgets(client: Client, kind: str) -> None:
    room = Room(
        first="zirconia",
        second="steel",
        part="aluminium",
        warmth=Decimal("23.5"),
        of_part=Decimal("24.1"),
    )
    check_kind(client, kind, room)


AT_20 = ["sine", "compound_sine", "two_rolls", "external_taper", "internal_taper", "dovetail"]


@pytest.mark.parametrize("kind", AT_20)
@pytest.mark.parametrize(("degrees", "said"), [(20, False), (26.5, True)])
def test_figures_that_leave_temperature_out_say_so(
    client: Client, kind: str, degrees: float, *, said: bool
) -> None:
    """Whatever is worked out from the stacks' lengths at 20 °C, at another temperature."""
    body = {**example(kind), "conditions": {"temperature": {"value": degrees}}}

    (result,) = client.post("/v1/stacks", json=body).json()["results"]

    keys = [remark["key"] for remark in result["remarks"]]
    assert ("temperature.of_figures" in keys) == said


@pytest.mark.long
@pytest.mark.parametrize("kind", OF_LENGTH)
@settings(max_examples=10, deadline=None)
@given(room=ROOMS)
def test_results_are_those_of_the_budgets_in_any_room(
    client: Client, kind: str, room: Room
) -> None:
    check_kind(client, kind, room)


@settings(max_examples=8, deadline=None)
@given(room=ROOMS)
def test_a_comparison_reads_what_the_materials_of_its_stack_make(
    client: Client, room: Room
) -> None:
    """Mixed stacks included; to first order, as the part's own stretch is below a thousandth."""
    of_part = room.warmth if room.of_part is None else room.of_part
    target = {
        "ref": "p", "kind": "comparison", "nominal": "93.47", "lower_deviation": "-12",
        "upper_deviation": "20", "part_material": room.part, "block_temperature": str(room.warmth),
        "part_temperature": None if room.of_part is None else str(room.of_part),
    }  # fmt: skip
    sets = shelf(room.first, room.second)
    body = {"unit": "mm", "sets": sets, "targets": [target], "budget": "totals"}

    answer = client.post("/v1/stacks", json=body).json()

    (stack,), (result,) = answer["stacks"], answer["results"]
    material = {"A": room.first, "B": room.second, "C": room.first}
    expected = 93470 * EXPANSION[room.part] * 1e-6 * (float(of_part) - 20)
    expected -= grown(stack, material, float(room.warmth) - 20)
    assert float(result["temperature_offset"]) == pytest.approx(expected, rel=1e-3, abs=2e-3)
    assert float(stack["budget"]["offset"]) == pytest.approx(-expected, rel=1e-3, abs=2e-3)
    for reading, deviation in (("reading_at_lower", -12), ("reading_at_upper", 20)):
        assert Decimal(result[reading]) == deviation - Decimal(stack["budget"]["offset"])


@pytest.mark.parametrize(
    ("blocks", "offset"),
    [("zirconia", "0.690"), ("tungsten-carbide", "2.100"), ("steel", "0.000")],
)
def test_blocks_at_23_degrees_under_a_steel_part(client: Client, blocks: str, offset: str) -> None:
    """By hand: 100 mm x (11.5e-6/K less the blocks' coefficient) x 3 K."""
    target = {
        "ref": "p", "kind": "comparison", "nominal": "100", "lower_deviation": "-10",
        "upper_deviation": "10", "part_material": "steel", "part_temperature": "23",
        "block_temperature": "23",
    }  # fmt: skip
    sets = [{"id": "A", "composition": "metric-112-1", "grade": "1", "material": blocks}]

    answer = client.post(
        "/v1/stacks", json={"unit": "mm", "sets": sets, "targets": [target]}
    ).json()

    found = Decimal(answer["results"][0]["temperature_offset"])
    assert found.quantize(Decimal("0.001")) == Decimal(offset)
