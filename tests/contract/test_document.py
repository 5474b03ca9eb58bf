"""The OpenAPI document: valid, complete, committed, and true of the service."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from litestar.testing import TestClient
from openapi_spec_validator import validate
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from contract.renew_coverage import DRAWING
from contract.renew_kind_answers import clock
from wrung_service.__main__ import main
from wrung_service.app import create_app
from wrung_service.settings import Settings

COMMITTED = Path(__file__).parents[2] / "service" / "openapi.json"
APP = create_app(Settings(solve_workers=2), clock=clock)
DOCUMENT = json.loads(json.dumps(APP.document))
PROBLEM = ("application/problem+json",)
OTHERS = ("image/svg+xml", "application/pdf", "text/event-stream", "text/plain")
REGISTRY: Any = Registry().with_resource(
    "urn:document", Resource.from_contents(DOCUMENT, default_specification=DRAFT202012)
)


def test_the_committed_document_is_that_of_the_service(
    capsysbinary: pytest.CaptureFixture[bytes],
) -> None:
    """If this fails after a change on purpose: `make openapi` writes the file anew; commit it."""
    assert main(["openapi"]) == 0

    assert capsysbinary.readouterr().out == COMMITTED.read_bytes()


def test_the_document_is_valid() -> None:
    """OpenAPI 3.1, as an independent validator understands it."""
    validate(DOCUMENT)


def test_the_service_serves_its_document() -> None:
    """Where the pages look for it."""
    with TestClient(APP) as client:
        assert client.get("/openapi.json").json() == DOCUMENT


def followed(example: dict[str, Any]) -> dict[str, Any]:
    """The example itself, where a reference stands for it."""
    name = example.get("$ref", "").rpartition("/")[2]
    return DOCUMENT["components"]["examples"][name] if name else example


def operations() -> Iterator[tuple[str, dict[str, Any]]]:
    """Every operation with its name."""
    for path, methods in DOCUMENT["paths"].items():
        for method, operation in methods.items():
            yield f"{method.upper()} {path}", operation


def contents() -> Iterator[tuple[str, dict[str, Any]]]:
    """Every body that is documented, with its place."""
    for name, operation in operations():
        bodies = {"request": operation.get("requestBody", {}), **operation["responses"]}
        for place, body in bodies.items():
            for media_type, content in body.get("content", {}).items():
                yield f"{name} {place} {media_type}", content


@pytest.mark.parametrize(("name", "operation"), list(operations()), ids=str)
def test_each_operation_is_described(name: str, operation: dict[str, Any]) -> None:
    """With an id for generated clients, words for people, and everything that can go wrong."""
    assert re.fullmatch(r"[a-z]+([A-Z][a-z]+)+", operation["operationId"]), name
    assert operation["tags"]
    assert operation["summary"]
    assert operation["description"]
    assert {"400", "500"} <= operation["responses"].keys()
    # PUT has two: what it made is new, or was there; others may answer later, or have no more.
    assert [status for status in operation["responses"] if status < "300"] in (
        ["200"],
        ["201"],
        ["202"],
        ["200", "201"],
        ["200", "202"],
        ["200", "204"],
    )
    for status, response in operation["responses"].items():
        assert response["description"]
        if status in {"204", "304"}:
            continue
        # The first is what comes unless a client asks for another; some things have no JSON.
        usual = ("application/json", *OTHERS) if status < "300" else PROBLEM
        assert next(iter(response["content"])) in usual


def test_operation_ids_are_unique() -> None:
    """They name methods of generated clients."""
    ids = [operation["operationId"] for _, operation in operations()]

    assert len(ids) == len(set(ids))


def is_binary(content: dict[str, Any]) -> bool:
    """Whether a body is bytes, which have no example that a document could hold."""
    name = content["schema"].get("$ref", "").rpartition("/")[2]
    schema = DOCUMENT["components"]["schemas"].get(name, content["schema"])
    return bool(schema.get("format") == "binary")


@pytest.mark.parametrize(("place", "content"), list(contents()), ids=str)
def test_each_body_has_valid_examples(place: str, content: dict[str, Any]) -> None:
    """An example that the schema forbids would teach people the wrong thing."""
    named = json.loads(json.dumps(content["schema"]).replace('"#/', '"urn:document#/'))
    validator = Draft202012Validator(named, registry=REGISTRY)

    if is_binary(content):
        return
    assert content["examples"], place
    for example in map(followed, content["examples"].values()):
        validator.validate(example["value"])
        assert example["summary"]


def test_each_member_is_described() -> None:
    """Nobody should have to guess what a member means."""
    for name, schema in DOCUMENT["components"]["schemas"].items():
        assert schema["description"], name
        for member, described in schema.get("properties", {}).items():
            said = [described, *described.get("anyOf", ())]
            assert any("description" in each or "$ref" in each for each in said), (name, member)


def test_the_examples_of_the_main_job_are_answered_as_documented() -> None:
    """The time and the method may differ."""
    operation = DOCUMENT["paths"]["/v1/stacks"]["post"]
    requests = operation["requestBody"]["content"]["application/json"]["examples"]
    answers = operation["responses"]["200"]["content"]["application/json"]["examples"]
    with TestClient(APP) as client:
        for name, example in requests.items():
            answer = client.post("/v1/stacks", json=example["value"])
            assert answer.json()["outcome"] in ("optimal", "partial"), name
            if name in answers:
                differing = {"solve_ms": 0, "diagnostics": None}
                assert {**answers[name]["value"], **differing} == {**answer.json(), **differing}


def test_the_examples_of_coverage_are_answered_as_documented() -> None:
    """And the drawing of the guide is that of the example: `contract.renew_coverage` writes it."""
    operation = DOCUMENT["paths"]["/v1/coverage"]["post"]
    requests = operation["requestBody"]["content"]["application/json"]["examples"]
    answers = operation["responses"]["200"]["content"]["application/json"]["examples"]
    with TestClient(APP) as client:
        for name, example in requests.items():
            answer = client.post("/v1/coverage", json=example["value"]).json()
            assert {**answers[name]["value"], "solve_ms": 0} == {**answer, "solve_ms": 0}
        drawn = {**requests["depleted"]["value"], "picture": True}
        picture = client.post("/v1/coverage", json=drawn).json()["picture"]

    assert DRAWING.read_text(encoding="utf-8") == picture + "\n"


def test_examples_of_reference_data_are_true() -> None:
    """Each says what the service says."""
    with TestClient(APP) as client:
        for path in ("compositions", "grades", "materials"):
            (example,) = examples(f"/v1/{path}")
            listed = {each["id"]: each for each in client.get(f"/v1/{path}").json()[path]}
            for each in example[path]:
                shown = listed[each["id"]]
                limits = shown.get("limits", [])[: len(each.get("limits", []))]
                assert each == ({**shown, "limits": limits} if "limits" in shown else shown)
        (named,) = examples("/v1/tapers")
        listed = client.get("/v1/tapers").json()["tapers"]
        assert [each for each in named["tapers"] if each not in listed] == []
        assert examples("/v1/limits") == [client.get("/v1/limits").json()]
        (pair,) = examples("/v1/compositions/{composition_id}")
        assert client.get(f"/v1/compositions/{pair['id']}").json() == pair


def examples(path: str) -> list[Any]:
    """The examples of what a GET is answered with."""
    content = DOCUMENT["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]
    return [example["value"] for example in content["examples"].values()]


def test_every_route_is_documented_but_for_the_pages() -> None:
    """A forgotten route would be a secret one."""
    with TestClient(APP) as client:
        hidden = {"/docs", "/docs/{name}", "/guide", "/guide/{page}", "/openapi.json"}
        hidden |= {
            "/guide/drawings/{drawing}",
            "/bench/answer",
            "/bench/cards",
            "/bench/more",
            "/bench/{name}",
            "/favicon.ico",
        }
        hidden |= {
            "/crib",
            "/crib-key",
            "/crib/{site_id}",
            "/crib/{site_id}/returns",
            "/crib/{site_id}/issues",
        }
        hidden |= {"/crib/{site_id}/condition-changes"}
        at = "/crib/{site_id}/stacks"
        hidden |= {at, *(f"{at}/{part}" for part in ("answer", "more", "cards", "reports"))}
        hidden |= {"/crib/{site_id}/import", "/crib/{site_id}/coverage"}
        hidden |= {"/crib/{site_id}/blocks/{block_id}"}
        for path in {*DOCUMENT["paths"], *hidden}:
            names = {"name": "start.js", "page": "metrology", "drawing": "sine.svg"}
            names |= {"site_id": "north-hall", "set_id": "bench-3", "block_id": "bench-3/1.005"}
            names |= {"plan_id": "p", "job": "4711", "webhook_id": "erp", "delivery_id": "msg_1"}
            names |= {"batch_id": "b"}
            tried = path.format(composition_id="inch-81", problem_name="busy", **names)
            assert client.options(tried).status_code == 204
    assert set(APP.edge.methods) == {*DOCUMENT["paths"], *hidden}


def test_the_limits_of_the_operator_are_in_the_document() -> None:
    """Clients are generated from it."""
    app = create_app(Settings(max_blocks=7, max_targets=3, max_time_limit_ms=4000))

    members = app.document["components"]["schemas"]["StackRequest"]["properties"]

    assert (members["blocks"]["maxItems"], members["targets"]["maxItems"]) == (7, 3)
    assert members["time_limit_ms"]["anyOf"][0]["maximum"] == 4000


def test_patterns_are_in_the_dialect_of_json_schema() -> None:
    """Python's anchors mean nothing elsewhere."""
    text = json.dumps(DOCUMENT)
    assert r"\\A" not in text
    assert r"\\Z" not in text
