"""What generators of clients need: one name for one type, and nothing that they misread."""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from litestar.testing import TestClient

from service.bodies import request
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.settings_reading import SettingsError, read_settings

DOCUMENT: Any = json.loads(json.dumps(create_app(Settings(solve_workers=1)).document))
SCHEMAS = DOCUMENT["components"]["schemas"]


def schemas(value: Any, at: str = "") -> Iterator[tuple[str, dict[str, Any]]]:  # noqa: ANN401 - JSON
    """Every schema with its place."""
    if isinstance(value, list):
        for index, each in enumerate(value):
            yield from schemas(each, f"{at}/{index}")
    elif isinstance(value, dict):
        yield at, value
        for key, each in value.items():
            if key not in ("example", "examples"):
                yield from schemas(each, f"{at}/{key}")


EVERY = [*schemas(DOCUMENT["paths"], "/paths"), *schemas(SCHEMAS, "/schemas")]


def test_no_member_is_text_and_number_at_once() -> None:
    """A generator makes an odd type of it, or a float."""
    both = [
        place
        for place, schema in EVERY
        if isinstance(schema.get("type"), list) and {"string", "number"} <= set(schema["type"])
    ]
    assert both == []


def test_every_length_is_the_one_component() -> None:
    nominal = SCHEMAS["BlockOnShelf"]["properties"]["nominal"]
    assert nominal["$ref"] == "#/components/schemas/Length"
    pattern = SCHEMAS["Length"]["pattern"]
    alike = [place for place, schema in EVERY if schema.get("pattern") == pattern]
    assert sorted(alike) == ["/schemas/Length"]
    assert SCHEMAS["Length"]["type"] == "string"


def test_a_number_is_accepted_all_the_same() -> None:
    body = request()
    body["blocks"][0]["nominal"] = float(body["blocks"][0]["nominal"])
    with TestClient(create_app(Settings(solve_workers=1))) as client:
        assert client.post("/v1/stacks", json=body).status_code == 200


def test_every_enumeration_has_a_type_and_a_name() -> None:
    """And says whether it may grow; what has one value is told apart by it, and needs no name."""
    for place, schema in EVERY:
        if isinstance(schema.get("enum"), list):
            assert schema["type"] == "string", place
            if len(schema["enum"]) > 1:
                assert place.count("/") == 2, place
                said = (
                    "may be added" in schema["description"],
                    "No further" in schema["description"],
                )
                assert said in ((True, False), (False, True)), place


def test_no_member_has_a_default() -> None:
    """Several generators make it one that must be sent."""
    assert [place for place, schema in EVERY if "default" in schema] == []


def test_every_body_has_a_name() -> None:
    """Generators name their types by it."""
    for place, schema in EVERY:
        if place.startswith("/paths") and "/content/" in place and place.endswith("/schema"):
            named = schema.get("oneOf", [schema])
            assert all("$ref" in each for each in named), place


def test_every_reference_leads_to_a_component() -> None:
    for place, schema in EVERY:
        name = schema.get("$ref", "")
        if isinstance(name, str) and name.startswith("#/components/schemas/"):
            assert name.rpartition("/")[2] in SCHEMAS, place


def test_addresses_follow_the_prefix() -> None:
    """Where a proxy shows the service under a path, links must have it."""
    app = create_app(Settings(solve_workers=1, path_prefix="/tools/wrung"))
    document = json.loads(json.dumps(app.document))

    assert document["servers"] == [{"url": "/tools/wrung"}]
    assert document["components"]["examples"]["busy"]["value"]["type"] == (
        "/tools/wrung/problems/busy"
    )
    with TestClient(app) as client:
        for path in ("/v1/stacks", "/tools/wrung/v1/stacks"):
            problem = client.post(path, json={}).json()
            assert problem["type"] == "/tools/wrung/problems/invalid-request"
            assert problem["instance"] == "/tools/wrung/v1/stacks"
            assert client.get(problem["type"]).json()["type"] == problem["type"]


def test_contact_is_that_of_the_instance() -> None:
    for given, member in (("lab@shop.example", "email"), ("https://shop.example/lab", "url")):
        document = create_app(Settings(solve_workers=1, contact=given)).document
        assert document["info"]["contact"][member] == given
    assert set(DOCUMENT["info"]["contact"]) == {"name"}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("path_prefix", "tools"),
        ("path_prefix", "/tools/"),
        ("trusted_proxies", "10.0.0.300"),
        ("cors_origins", "https://erp.example/page"),
        ("contact", "somebody"),
        ("contact", "mailto:tools@shop.example"),
    ],
)
def test_a_setting_of_another_form_is_refused(name: str, value: str) -> None:
    with pytest.raises(SettingsError, match=name.replace("_", "-")):
        read_settings({}, {name: value})
