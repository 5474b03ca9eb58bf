"""What people and programs write in requests: taken where it can mean one thing, else refused."""

import json
import re
from decimal import Decimal
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient
from msgspec import UNSET, Raw, Struct

from service.bodies import block, pointers, request, target
from service.request_types import BODIES, least, optional_members, request_types
from wrung.angles import DEGREE
from wrung.errors import Fault
from wrung.lengths import LONGEST, Unit
from wrung.measures import Measure
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.kinds.shapes import WIRES, Units, Value
from wrung_service.api.problems import Refusal
from wrung_service.api.texts import DecimalText

WRONG: tuple[object, ...] = ([], [[]], {}, True, "", "x" * 200, -1e9, 1.5, {"no": "such"})
OPTIONAL = [
    pytest.param(kind, field.encode_name, id=f"{kind.__name__}.{field.encode_name}")
    for kind, field in optional_members()
]
# Names of Python's types, and how its decoder quotes them; a message has none of them.
PYTHON = re.compile(r"`|\b(int|int64|str|dict|list|float|bool|tuple|None\w*|Raw|UNSET|regex)\b")


def decoded(kind: type[Struct], body: object) -> Struct:
    return BodyDecoder(kind, {}).decode(json.dumps(body).encode())


def refused(kind: type[Struct], body: object) -> tuple[Fault, ...]:
    with pytest.raises(Refusal) as caught:
        decoded(kind, body)
    return caught.value.errors


@pytest.mark.parametrize(("kind", "member"), OPTIONAL)
def test_null_means_the_default(kind: type[Struct], member: str) -> None:
    """For every member of every request that has one."""
    left_out = getattr(decoded(kind, least(kind)), member)

    null = getattr(decoded(kind, {**least(kind), member: None}), member)

    assert null == left_out or (left_out is UNSET and null == Raw(b"null"))


def test_the_document_says_that_null_may_stand_for_every_default(client: TestClient[Any]) -> None:
    schemas = client.get("/openapi.json").json()["components"]["schemas"]

    for kind, field in optional_members():
        schema = schemas[kind.__name__]["properties"][field.encode_name]
        assert "null" in schema.get("type", ()) or {"type": "null"} in schema["anyOf"]


def test_a_request_full_of_nulls_has_the_answer_of_one_without(client: TestClient[Any]) -> None:
    plain = request(blocks=[block("a", "1"), block("b", "2")], targets=[target("t", "3")])
    stacks = next(body for body in BODIES if body.__name__ == "StackRequest")
    names = [field.encode_name for field in msgspec.structs.fields(stacks) if not field.required]

    answers = [
        client.post("/v1/stacks", json=body).json()
        for body in (plain, {**dict.fromkeys(names), **plain})
    ]

    assert [{**answer, "solve_ms": 0} for answer in answers[:1]] == [{**answers[1], "solve_ms": 0}]


@pytest.mark.parametrize("kind", request_types(), ids=lambda kind: kind.__name__)
def test_errors_speak_of_json_and_not_of_python(kind: type[Struct]) -> None:
    """Whatever stands where something else is due."""
    for field in msgspec.structs.fields(kind):
        for wrong in WRONG:
            body = {**least(kind), field.encode_name: wrong}
            try:
                decoded(kind, body)
            except Refusal as refusal:
                details = [error.detail for error in refusal.errors]
                assert not [d for d in details if PYTHON.search(d)], (field.encode_name, wrong)


def test_the_words_for_a_wrong_type() -> None:
    (error,) = refused(BODIES[0], {**least(BODIES[0]), "blocks": {}})
    assert error.detail == "must be an array, not an object"

    (error,) = refused(BODIES[0], {**least(BODIES[0]), "time_limit_ms": "1"})
    assert error.detail == "must be an integer or null, not a string"

    (error,) = refused(BODIES[0], {**least(BODIES[0]), "targets": []})
    assert error.detail == "must be an array of at least 1 element"

    (error,) = refused(BODIES[0], [])
    assert error.detail == "must be an object, not an array"


@pytest.mark.parametrize(
    ("member", "value", "nearest"),
    [
        ("objectiv", "least_error", "objective"),
        ("Blocks", [], "blocks"),
        ("objective", "fewest-blocks", "fewest_blocks"),
        ("unit", "MM", "mm"),
        ("language", "DE", "de"),
        ("targets", [{"kind": "sin", "ref": "t"}], "sine"),
        ("targets", [{"kind": "length", "ref": "t", "lenght": "1"}], "length"),
        ("sets", [{"id": "s", "composition": "inch-18", "grade": "0"}], "inch-81"),
        ("sets", [{"id": "s", "composition": "inch-81", "grade": "AS1"}], "AS-1"),
        (
            "sets",
            [{"id": "s", "composition": "inch-81", "grade": "0", "material": "stel"}],
            "steel",
        ),
        ("exclude", ["bench-A"], "bench-a"),
        ("only", ["bench"], "bench-a"),
        ("part_tolerances", [{"target": "op-20", "lower": "0", "upper": "1"}], "op20"),
    ],
)
def test_unknown_names_list_the_nearest_known(
    client: TestClient[Any], member: str, value: object, nearest: str
) -> None:
    body = request(blocks=[block("bench-a", "1")], targets=[target("op20", "1")])

    answer = client.post("/v1/stacks", json={**body, member: value}).json()

    details = [error["detail"] for error in answer["errors"]]
    assert any(re.search(rf"the nearest known (is|are) .*{nearest}", each) for each in details)


def test_the_nearest_query_parameter_is_told(client: TestClient[Any]) -> None:
    answer = client.post("/v1/certificate-imports", params={"units": "mm"}, json={}).json()

    assert "the nearest known is unit; there are due_on, unit" in answer["detail"]


def test_the_id_of_a_grade_is_taken_for_its_name(client: TestClient[Any]) -> None:
    listed = client.get("/v1/grades").json()["grades"]
    (known,) = (grade for grade in listed if grade["unit"] == "mm" and grade["name"] == "K")
    answers = [
        client.post(
            "/v1/stacks",
            json={
                "unit": "mm",
                "blocks": [{"id": "a", "nominal": "1", "grade": grade}],
                "targets": [target("t", "1")],
            },
        ).json()
        for grade in (known["id"], known["name"])
    ]

    assert answers[0]["stacks"] == answers[1]["stacks"] != []


@pytest.mark.parametrize("path", ["/v1/stacks", "/v1/stack-checks"])
def test_serial_numbers_come_back(client: TestClient[Any], path: str) -> None:
    shelf = [{**block("a", "1"), "serial": "40417"}, block("b", "2")]
    body: dict[str, Any] = {"unit": "mm", "blocks": shelf}
    if path == "/v1/stacks":
        body["targets"] = [target("t", "3")]
    else:
        body |= {"stack": ["a", "b"], "length": "3"}

    answer = client.post(path, json=body).json()

    blocks = answer["stacks"][0]["blocks"] if "stacks" in answer else answer["blocks"]
    assert {each["id"]: each.get("serial") for each in blocks} == {"a": "40417", "b": None}


def test_a_decimal_comma_is_refused_with_its_reason(client: TestClient[Any]) -> None:
    body = request(blocks=[block("a", "1,5")], targets=[{**target("t", "1"), "length": "1,234.5"}])

    answer = client.post("/v1/stacks", json=body)

    assert pointers(answer) == ["/blocks/0/nominal", "/targets/0/length"]
    assert all("decimal comma" in error["detail"] for error in answer.json()["errors"])


@pytest.mark.parametrize(
    ("number", "said"), [("1,5", True), ("12,50", True), ("1, 5", False), ("1,", False)]
)
def test_a_decimal_comma_in_a_number_of_json_is_named(
    client: TestClient[Any], number: str, *, said: bool
) -> None:
    text = json.dumps(request(blocks=[block("a", "1.5")], targets=[target("t", "@")]))

    answer = client.post(
        "/v1/stacks",
        content=text.replace('"@"', number),
        headers={"Content-Type": "application/json"},
    )

    assert answer.status_code == 400
    assert ("decimal comma" in answer.json()["detail"]) == said


@given(
    # Sensitivities are only ever printed.
    st.sampled_from([each for each in WIRES if each is not Measure.SENSITIVITY]),
    st.integers(0, 90 * DEGREE),
    st.sampled_from(["mm", "in"]),
)
def test_whatever_is_printed_is_taken_back(measure: Measure, size: int, unit: Unit) -> None:
    """Every printer of an answer."""
    wire = WIRES[measure]
    # Lengths come back exactly, angles to half of a tenth of a second.
    most = 10**9 // 20 if measure in (Measure.ANGLE, Measure.SECONDS) else 0
    if wire.hint is DecimalText:
        size = min(size, LONGEST)
    value: Value = (
        Decimal(size) / 10**9 if measure in (Measure.RATIO, Measure.TEMPERATURE) else size
    )
    written = wire.write(value, unit)
    texts = msgspec.structs.astuple(written) if isinstance(written, Struct) else [written]

    for text in texts:
        taken = wire.shape.text(Raw(json.dumps(text).encode()))
        assert taken is not None
        assert abs(wire.read(taken, Units(length=unit)) - value) <= most


@pytest.mark.parametrize(
    "typed", ["13°07′05″", "13° 07' 05.0\"", "13d7m5s", "13.118055555556", 13.118055555556]
)
def test_angles_as_people_type_them(client: TestClient[Any], typed: object) -> None:
    sets = [{"id": "s", "composition": "metric-88", "grade": "0"}]
    sine = {"kind": "sine", "ref": "t", "angle": typed, "bar": {"centre_distance": "100"}}

    answer = client.post("/v1/stacks", json={"unit": "mm", "sets": sets, "targets": [sine]}).json()

    assert answer["results"][0]["setting"]["angle"]["dms"] == "13°07'05.0\""


@pytest.mark.parametrize(
    "typed", [".375", "+0.375", "0.37500000000000000", 3.75e-1, "00.375", " 0.375 "]
)
def test_lengths_as_people_type_them(client: TestClient[Any], typed: object) -> None:
    body = request(blocks=[block("a", "0.375")], targets=[{**target("t", "1"), "length": typed}])

    (stack,) = client.post("/v1/stacks", json=body).json()["stacks"]

    assert float(stack["length"]) == float(stack["nominal"]) == 0.375
    assert re.fullmatch(r"0\.3750*", stack["length"])
