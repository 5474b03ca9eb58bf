"""What is published and what is enforced are the same: an independent validator is the judge."""

import copy
import json
from datetime import UTC, datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from contract.accepted import with_numbers
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.problem_types import INVALID_REQUEST
from wrung_service.api.problems import Refusal
from wrung_service.api.stacks.reading import published_limits, read_stack_request
from wrung_service.api.stacks.request import StackRequest
from wrung_service.app import create_app
from wrung_service.settings import Settings

SETTINGS = Settings(solve_workers=1, max_blocks=3, max_targets=2, max_time_limit_ms=500)
DOCUMENT: Any = Resource.from_contents(
    with_numbers(json.loads(json.dumps(create_app(SETTINGS).document))),
    default_specification=DRAFT202012,
)
VALIDATOR = Draft202012Validator(
    {"$ref": "urn:document#/components/schemas/StackRequest"},
    registry=Registry().with_resource("urn:document", DOCUMENT),
)
DECODER = BodyDecoder(StackRequest, published_limits(SETTINGS))
NOW = datetime(2026, 11, 25, tzinfo=UTC)
CALIBRATION = {
    "certificate": "4711",
    "laboratory": None,
    "calibrated_on": "2026-03-31",
    "due_on": "2027-03-31",
    "coverage_factor": 2.1,
    "degrees_of_freedom": 50,
    "variation": "0.5",
    "expansion": 11,
    "expansion_uncertainty": None,
}
FULL = {
    "unit": "in",
    "blocks": [
        {
            "id": "a1",
            "nominal": "0.1006",
            "deviation": "-1.2",
            "expanded_uncertainty": "2.0",
            "limit_deviation": None,
            "grade": "AS-1",
            "material": "steel",
            "set": "bench-3",
            "role": "wear",
            "unit": "in",
            "calibration": CALIBRATION,
        },
        {"id": "a2", "nominal": 0.25, "limit_deviation": 5},
    ],
    "sets": [
        {
            "id": "s",
            "composition": "inch-81",
            "grade": "AS-1",
            "limit_deviation": "5",
            "material": None,
            "missing": ["0.1001"],
            "wear_block_nominals": ["0.05"],
            "calibration": {"due_on": None},
        }
    ],
    "targets": [
        {
            "ref": "t",
            "kind": "length",
            "length": "0.3506",
            "tolerance": {"lower": "-0.0001", "upper": "0"},
            "max_blocks": 3,
            "wear_blocks": "none",
            "needed_from": "2026-11-25T08:00:00Z",
            "needed_until": None,
        }
    ],
    "objective": "least_error",
    "joint_allowance": "0",
    "exclude": ["a1"],
    "only": None,
    "time_limit_ms": 300,
    "conditions": {
        "used_on": "2026-11-25",
        "temperature": {"value": 20.5, "limits": 1, "distribution": "arcsine"},
        "part": {
            "material": "steel",
            "expansion": None,
            "expansion_difference": {"value": 0, "limits": None, "standard_uncertainty": 0.5},
            "temperature_difference": {"value": -0.5, "degrees_of_freedom": 8},
        },
        "joint_uncertainty": "0.4",
        "off_centre": 0.5,
        "correlation": 1,
        "coverage_probability": 0.95,
    },
    "budget": "table",
    "part_tolerances": [
        {
            "target": "t",
            "role": None,
            "lower": "0.3501",
            "upper": "0.3511",
            "corrected": True,
            "guard": "one_sided_95",
            "required_ratio": 10,
        }
    ],
    "allow_overdue": False,
    "alternatives": 20,
    "trade_off": True,
}
ODD_VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.sampled_from([0, 1, -1, 2.0, 2.5, -0.0, -0.5, 500, 501, 1000, 1001, 10**20, 1e30, 1e-7]),
    st.sampled_from(["", "0", "-0", "-1", "1.", ".1", "01", "1e3", "mm", "wear", "length", "AS-1"]),
    st.sampled_from(["n" * 64, "n" * 65, "n" * 128, "n" * 129, "a\u2028b", "\u00e9", "both"]),
    st.sampled_from(["2026-11-25T08:00:00+01:00", "2026-13-01T00:00:00Z", "2026-11-25"]),
    st.sampled_from(["2026-02-30", "0000-01-01", "normal", "totals", 0.5, 1e-300, 1.5, -200, 201]),
    st.sampled_from([[], {}, [[]], ["0.1"], ["0.1"] * 3, ["a1"] * 4, [{}], {"lower": "1"}]),
)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:  # noqa: ANN401 - JSON
    """The paths of everything inside."""
    inner: Any = ()
    if isinstance(value, dict | list):
        inner = value.items() if isinstance(value, dict) else enumerate(value)
    return [place for key, each in inner for place in ((*path, key), *places(each, (*path, key)))]


PLACES = places(FULL)


@st.composite
def changed_bodies(draw: st.DrawFn) -> dict[str, Any]:
    """The full body with something odd, something missing, or something more in places."""
    body = copy.deepcopy(FULL)
    for place in draw(st.lists(st.sampled_from(PLACES), min_size=1, max_size=3)):
        parent: Any = body
        try:
            for key in place[:-1]:
                parent = parent[key]
            kind = draw(st.sampled_from(["odd", "missing", "more", "repeated"]))
            if kind == "odd":
                parent[place[-1]] = draw(ODD_VALUES)
            elif kind == "missing":
                del parent[place[-1]]
            elif kind == "more" and isinstance(parent, dict):
                parent["more"] = draw(ODD_VALUES)
            elif kind == "repeated" and isinstance(parent, list):
                parent.extend(parent[:1] * draw(st.integers(1, 4)))
        except (KeyError, IndexError, TypeError):
            continue  # an earlier change took the place away
    return body


def breaks_the_schema(body: bytes) -> bool:
    """Whether the service says that the body breaks the published schema."""
    try:
        read_stack_request(DECODER.decode(body), SETTINGS.limits, NOW)
    except Refusal as refusal:
        return refusal.kind is INVALID_REQUEST
    return False


@given(body=changed_bodies())
def test_the_service_and_an_independent_validator_agree(body: dict[str, Any]) -> None:
    """400 for what the published schema forbids, and for nothing else."""
    assert breaks_the_schema(json.dumps(body).encode()) is not VALIDATOR.is_valid(body)


def test_the_full_body_is_valid() -> None:
    """Otherwise nothing above would be tried."""
    assert VALIDATOR.is_valid(FULL)
    assert not breaks_the_schema(json.dumps(FULL).encode())
