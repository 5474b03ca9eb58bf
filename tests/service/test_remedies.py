"""Why a stack is missing, over HTTP: each reason named is true, as the answer without it shows."""

import copy
from itertools import combinations
from typing import Any, Final, TypeAlias

import pytest
from litestar.testing import TestClient

from service.bodies import block, target

Client: TypeAlias = TestClient[Any]
Json: TypeAlias = dict[str, Any]

RESTRICTIONS: Final = ("overdue", "exclude", "only", "max_blocks", "wear_blocks")
LENGTHS: Final = {
    "mm": ("1.002", "2", "3", "7", "6.002"),
    "in": (".1002", ".2", ".3", ".7", ".6002"),
}
PAST: Final = {"calibrated_on": "2024-01-01", "due_on": "2025-01-01"}


def restricted(unit: str, restrictions: tuple[str, ...], language: str = "en") -> Json:
    """A request that each of the restrictions alone makes impossible: it takes 1.002, 2 and 3."""
    first, second, third, other, length = LENGTHS[unit]
    wanted = target("t", length)
    blocks = [block("a", first), block("b", second), block("c", third), block("d", other)]
    body: Json = {"unit": unit, "language": language, "blocks": blocks, "targets": [wanted]}
    if "overdue" in restrictions:
        blocks[0]["calibration"] = PAST
    if "exclude" in restrictions:
        body["exclude"] = ["b"]
    if "only" in restrictions:
        body["only"] = ["a", "b", "d"]
    if "max_blocks" in restrictions:
        wanted["max_blocks"] = 2
    if "wear_blocks" in restrictions:
        wanted["wear_blocks"] = "both"
    return body


def without(body: Json, lifted: tuple[str, ...]) -> Json:
    """The request that allows what is lifted."""
    freed = copy.deepcopy(body)
    if "overdue" in lifted:
        freed["allow_overdue"] = True
    for member in ("exclude", "only"):
        if member in lifted:
            freed.pop(member, None)
    for member in ("max_blocks", "wear_blocks"):
        if member in lifted:
            freed["targets"][0].pop(member, None)
    return freed


def answered(client: Client, body: Json) -> Json:
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    answer: Json = response.json()
    return answer


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize(
    "restrictions",
    [each for n in (1, 2, 3) for each in combinations(RESTRICTIONS, n)],
    ids="+".join,
)
def test_what_is_named_is_needed_and_enough(
    client: Client, restrictions: tuple[str, ...], unit: str
) -> None:
    """One cause alone, or two or three together, in either unit."""
    body = restricted(unit, restrictions)

    answer = answered(client, body)
    (unmet,) = answer["unmet"]
    (remedy,) = unmet["remedies"]

    assert answer["shortage"]["cause"] == "restricted"
    assert tuple(remedy["lifted"]) == restrictions
    assert remedy["detail"] in unmet["detail"]
    built = answered(client, without(body, restrictions))["stacks"]
    assert {each["id"] for each in built[0]["blocks"]} == set(remedy["blocks"]) == {"a", "b", "c"}
    for fewer in combinations(restrictions, len(restrictions) - 1):
        assert answered(client, without(body, fewer))["unmet"]


EN: Final = "It could be built if this were allowed: "
DE: Final = "Es ginge, wenn dies erlaubt wäre: "
DE_ALL: Final = "Es ginge, wenn all dies erlaubt wäre: "


@pytest.mark.parametrize(
    ("language", "restrictions", "detail"),
    [
        ("en", ("overdue",), f"{EN}overdue blocks (1.002 mm (a))."),
        ("en", ("exclude",), f"{EN}excluded blocks (2 mm (b))."),
        ("en", ("max_blocks",), f"{EN}3 blocks instead of at most 2."),
        ("de", ("overdue",), f"{DE}Endmaße mit überfälliger Kalibrierung (1,002 mm (a))."),
        ("de", ("max_blocks",), f"{DE}3 Endmaße statt höchstens 2."),
        (
            "de",
            ("exclude", "wear_blocks"),
            f"{DE_ALL}ausgeschlossene Endmaße (2 mm (b)), eine Kombination ohne Schutzendmaße.",
        ),
    ],
)
def test_the_reason_is_said_in_words(
    client: Client, language: str, restrictions: tuple[str, ...], detail: str
) -> None:
    """In the language of the request."""
    answer = answered(client, restricted("mm", restrictions, language))

    assert answer["unmet"][0]["remedies"][0]["detail"] == detail


@pytest.mark.parametrize(
    ("members", "detail"),
    [
        ({"blocks": []}, "There are no blocks on the shelf."),
        ({"only": []}, "No block on the shelf may be used: all are left out."),
        (
            {"targets": [target("t", "6.002", wear_blocks="both")]},
            "Too few wear blocks: 2 needed, 0 usable.",
        ),
        (
            {"targets": [target("t", "50")]},
            "It is longer than all blocks that may be used, wrung together: 13.002 mm.",
        ),
        (
            {"targets": [target("t", "0.5")]},
            "It is shorter than the shortest block that may be used: 1.002 mm.",
        ),
        (
            {"targets": [target("t", "4")]},
            "The blocks that may be used make no stack of this length that keeps to the request,",
        ),
    ],
)
def test_a_reason_that_is_seen_at_a_glance_is_said(
    client: Client, members: Json, detail: str
) -> None:
    """No blocks, none allowed, no wear blocks, too long, too short; else none of these."""
    answer = answered(client, {**restricted("mm", ()), **members})

    assert answer["unmet"][0]["detail"].startswith(detail)


def test_a_metric_shelf_is_summed_up_in_inches_too(client: Client) -> None:
    """A sum that has no short text in inches is still said."""
    body = {
        **restricted("in", ()),
        "blocks": [{"id": "m", "nominal": "1.001", "unit": "mm", "limit_deviation": "5"}],
    }

    assert " in." in answered(client, body)["unmet"][0]["detail"]


def test_blocks_of_a_case_of_angles_are_too_few_allowed(client: Client) -> None:
    """Angles have the same reasons as lengths."""
    wanted = {
        "ref": "t",
        "kind": "angle_blocks",
        "angle": "44",
        "max_blocks": 1,
        "composition": "angle-16",
    }
    body = {"unit": "mm", "blocks": [], "targets": [wanted]}

    (unmet,) = answered(client, body)["unmet"]

    assert [each["lifted"] for each in unmet["remedies"]] == [["max_blocks"]]
