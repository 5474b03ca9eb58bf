"""Nothing that a client sends is without bounds: no array, no text, no object."""

from collections.abc import Iterator
from typing import Any

import pytest

from wrung_service.app import create_app
from wrung_service.settings import Settings

DOCUMENT: dict[str, Any] = dict(create_app(Settings(solve_workers=1)).document)
SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]


def bodies() -> dict[str, Any]:
    """The schemas of all request bodies, by operation and media type."""
    return {
        f"{operation['operationId']}, {media}": content["schema"]
        for path in DOCUMENT["paths"].values()
        for operation in path.values()
        if isinstance(operation, dict)
        for media, content in operation.get("requestBody", {}).get("content", {}).items()
    }


def unbounded(schema: Any, at: str, seen: set[str]) -> Iterator[str]:  # noqa: ANN401 - JSON
    """Where a schema, or one that it refers to, lets anything of any size through."""
    if isinstance(schema, list):
        for index, each in enumerate(schema):
            yield from unbounded(each, f"{at}/{index}", seen)
    if not isinstance(schema, dict):
        return
    kinds = schema.get("type", ())
    kinds = {kinds} if isinstance(kinds, str) else set(kinds)
    if "array" in kinds and "maxItems" not in schema:
        yield f"{at}: an array"
    if "string" in kinds and not {"maxLength", "enum", "const"} & schema.keys():
        yield f"{at}: a text"
    name = schema.get("$ref", "").rpartition("/")[2]
    if name and name not in seen:
        seen.add(name)
        yield from unbounded(SCHEMAS[name], name, seen)
    for key, each in schema.items():
        if key not in ("examples", "example"):
            yield from unbounded(each, f"{at}/{key}", seen)


def test_there_are_bodies() -> None:
    """Or the next test would pass without looking at any."""
    assert len(bodies()) >= 6


@pytest.mark.parametrize("body", bodies())
def test_everything_in_a_body_is_bounded(body: str) -> None:
    """In the published schema, and so in the decoder, which is made from the same types."""
    assert list(unbounded(bodies()[body], body, set())) == []
