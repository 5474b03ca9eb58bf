"""What the OpenAPI document says of the parameters of an operation."""

from collections.abc import Mapping
from typing import Any

from wrung_service.api.components import name_schema
from wrung_service.api.operations import (
    HeaderParameter,
    Operation,
    PathParameter,
    QueryParameter,
)
from wrung_service.api.schemas import Document


def parameters_document(operation: Operation) -> list[Document]:
    """All that an operation takes beside its body."""
    return [
        *map(_parameter, operation.parameters),
        *map(_query_parameter, operation.query),
        *map(_header_parameter, operation.headers),
    ]


def _header_parameter(parameter: HeaderParameter) -> Document:
    return {
        "name": parameter.name,
        "in": "header",
        "required": False,
        "description": parameter.description,
        "schema": name_schema(parameter.schema),
        "example": parameter.example,
    }


def _parameter(parameter: PathParameter) -> Document:
    return {
        "name": parameter.name,
        "in": "path",
        "required": True,
        "description": parameter.description,
        # With an empty one the path would be another.
        "schema": {"minLength": 1, **(parameter.schema or {"type": "string"})},
        "example": parameter.example,
    }


def _query_parameter(parameter: QueryParameter) -> Document:
    return {
        "name": parameter.name,
        "in": "query",
        "required": parameter.required,
        "description": parameter.description,
        "schema": name_schema(parameter.schema),
        "example": _typed(parameter.example, parameter.schema),
    }


def _typed(example: str, schema: Mapping[str, Any]) -> str | int | bool:
    """An example as JSON has it, where a parameter is no text."""
    match schema.get("type"):
        case "integer":
            return int(example)
        case "boolean":
            return example == "true"
        case _:
            return example
