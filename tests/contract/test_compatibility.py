"""The document must not break the clients of the last release.

``released.json`` is the document of the last release; copy ``service/openapi.json`` over it when a
release is made, and at no other time.
"""

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeAlias

import pytest

from contract.compatibility import breaking_changes

Json: TypeAlias = Any

HERE = Path(__file__).parent
RELEASED = json.loads((HERE / "released.json").read_text())
CURRENT = json.loads((HERE.parents[1] / "service" / "openapi.json").read_text())


def test_nothing_breaks_the_clients_of_the_last_release() -> None:
    """A sentence for each change that would."""
    assert breaking_changes(RELEASED, CURRENT) == []


def schemas(document: Json) -> Json:
    """The named schemas."""
    return document["components"]["schemas"]


def request(document: Json) -> Json:
    """The members of the main request."""
    return schemas(document)["StackRequest"]["properties"]


def response(document: Json) -> Json:
    """The members of the main answer."""
    return schemas(document)["StackAnswer"]["properties"]


BREAKING: dict[str, Callable[[Json], object]] = {
    "path removed": lambda d: d["paths"].pop("/v1/grades"),
    "method removed": lambda d: d["paths"]["/v1/grades"].pop("get"),
    "operationId changed": lambda d: d["paths"]["/v1/grades"]["get"].update(operationId="x"),
    "response removed": lambda d: d["paths"]["/v1/stacks"]["post"]["responses"].pop("422"),
    "answer's member removed": lambda d: response(d).pop("unmet"),
    "answer's member optional": lambda d: schemas(d)["StackAnswer"]["required"].remove("unmet"),
    "answer's member optional, where it may also be sent": lambda d: schemas(d)["Inventory"][
        "required"
    ].remove("blocks"),
    "answer's type": lambda d: response(d)["total_blocks"].update(type="string"),
    "answer's enum widened": lambda d: schemas(d)["Outcome"]["enum"].append("maybe"),
    "nested member removed": lambda d: schemas(d)["BlockInStack"]["properties"].pop("nominal"),
    "request's member removed": lambda d: request(d).pop("exclude"),
    "request's member required": lambda d: schemas(d)["StackRequest"]["required"].append("sets"),
    "request's enum narrowed": lambda d: schemas(d)["Unit"]["enum"].remove("in"),
    "request's limit narrowed": lambda d: request(d)["blocks"].update(maxItems=10),
    "request's minimum raised": lambda d: request(d)["targets"].update(minItems=2),
    "request's pattern": lambda d: request(d)["exclude"]["items"].update(pattern="^a$"),
    "null no longer accepted": lambda d: request(d)["only"].update(
        anyOf=request(d)["only"]["anyOf"][:1]
    ),
    "length of another form": lambda d: schemas(d)["Length"].update(pattern="^[0-9]+$"),
    "text no longer accepted": lambda d: schemas(d)["Length"].update(type="number"),
    "path parameter renamed": lambda d: d["paths"]["/v1/compositions/{composition_id}"]["get"][
        "parameters"
    ][0].update(name="id"),
}
HARMLESS: dict[str, Callable[[Json], object]] = {
    "nothing": lambda _: None,
    "path added": lambda d: d["paths"].update({"/v2/x": {}}),
    "answer's member added": lambda d: response(d).update(more={"type": "string"}),
    "answer's enum narrowed": lambda d: schemas(d)["Outcome"]["enum"].remove("unknown"),
    "request's member added": lambda d: request(d).update(more={"type": "string"}),
    "request's member optional": lambda d: schemas(d)["StackRequest"]["required"].remove("unit"),
    "member optional of a request that plans give back": lambda d: schemas(d)["PlanRequest"][
        "required"
    ].remove("job"),
    "request's enum widened": lambda d: schemas(d)["Objective"]["enum"].append("x"),
    "growing enum widened": lambda d: schemas(d)["BudgetNoteCode"]["enum"].append("x"),
    "request's limit widened": lambda d: request(d)["blocks"].update(maxItems=5000),
    "response added": lambda d: d["paths"]["/v1/stacks"]["post"]["responses"].update(
        {"418": {"description": "x"}}
    ),
    "words changed": lambda d: d["info"].update(description="x"),
}


@pytest.mark.parametrize("change", BREAKING.values(), ids=BREAKING)
def test_breaking_changes_are_found(change: Callable[[Json], object]) -> None:
    """Each kind, made to the document of today."""
    changed = copy.deepcopy(CURRENT)
    change(changed)

    assert len(breaking_changes(CURRENT, changed)) > 0


@pytest.mark.parametrize("change", HARMLESS.values(), ids=HARMLESS)
def test_harmless_changes_are_let_through(change: Callable[[Json], object]) -> None:
    """More to choose from, more to read."""
    changed = copy.deepcopy(CURRENT)
    change(changed)

    assert breaking_changes(CURRENT, changed) == []
