"""JSON Schemas of what is on the wire: msgspec's own, with the operator's limits in them."""

import inspect
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any, Final, TypeAlias, cast

import msgspec
from msgspec import Struct

from wrung_service.api.components import name_components
from wrung_service.api.coverage.reading import published_coverage_limits
from wrung_service.api.stack_checks.reading import published_check_limits
from wrung_service.api.stacks.reading import published_limits
from wrung_service.api.texts import published_pattern
from wrung_service.settings import Limits

Json: TypeAlias = Any
Document: TypeAlias = dict[str, Any]

_ABOUT: Final = ("description", "default", "examples")
"""What is said of a member itself, not of one of its forms."""

_REF: Final = "#/components/schemas/{name}"


def reference(body: type[Struct]) -> Document:
    """Stands for a schema that is named in the components."""
    return {"$ref": _REF.format(name=body.__name__)}


def published_schemas(bodies: Iterable[type[Struct]], limits: Limits) -> Document:
    """The schemas of these bodies, and of everything in them, by name."""
    return msgspec.json.decode(_encoded(frozenset(bodies), limits), type=Document)


@lru_cache(maxsize=8)
def _encoded(bodies: frozenset[type[Struct]], limits: Limits) -> bytes:
    """They take half of the time to set up a service, and are the same for each with its limits."""
    return msgspec.json.encode(_schemas(bodies, limits))


def _schemas(bodies: Iterable[type[Struct]], limits: Limits) -> Document:
    _, components = msgspec.json.schema_components(bodies, ref_template=_REF)
    schemas = {name: _published(components[name]) for name in sorted(components)}
    for schema in schemas.values():
        _describe_tag(schema)
        _allow_null(schema)
    _publish_limits(schemas, limits)
    # Only now: limits stand in members, and a name in the components is shared.
    named = name_components(schemas)
    for schema in named.values():
        _say_defaults(schema)
    return named


def _say_defaults(schema: Document) -> None:
    """Put defaults into words: many generators make a member with a default mandatory."""
    for member in schema.get("properties", {}).values():
        default = member.pop("default", None)
        said = member.get("description", "")
        if default not in (None, [], {}) and not re.search(r"default|left out", said):
            value = msgspec.json.encode(default).decode().strip('"')
            member["description"] = f"{said} `{value}` if left out.".strip()


def _published(schema: Json) -> Json:
    """The schema with patterns in the dialect of JSON Schema and docstrings without indent."""
    if isinstance(schema, list | tuple):
        return [_published(each) for each in cast("Iterable[Json]", schema)]
    if isinstance(schema, dict):
        return {
            key: _published_member(key, value) for key, value in cast("Document", schema).items()
        }
    return schema


def _published_member(key: Json, value: Json) -> Json:
    if key == "pattern" and isinstance(value, str):
        return published_pattern(value)
    if key == "description" and isinstance(value, str):
        # Before Python 3.13 docstrings keep their indent; the document must not depend on that.
        return inspect.cleandoc(value)
    return _published(value)


def _describe_tag(schema: Document) -> None:
    """Tags of Structs have no annotation that a description could stand in."""
    tag = schema.get("properties", {}).get("kind", {})
    if set(tag) == {"enum"}:
        tag["description"] = "What kind of target this is."


def _allow_null(schema: Document) -> None:
    """Null stands for the default wherever a request may leave a member out."""
    # Only what is sent is closed to other members; answers may grow.
    if schema.get("additionalProperties") is not False:
        return
    required = schema.get("required", ())
    for name, member in schema["properties"].items():
        if name not in required and not _takes_null(member):
            _add_null(member)


def _add_null(member: Document) -> None:
    if isinstance(member.get("type"), str):
        member["type"] = [member["type"], "null"]
        return
    own = {key: member.pop(key) for key in list(member) if key not in _ABOUT}
    member["anyOf"] = [own, {"type": "null"}]


def _takes_null(member: Document) -> bool:
    kinds = member.get("type", ())
    return "null" in kinds or {"type": "null"} in member.get("anyOf", ())


def _publish_limits(schemas: Document, limits: Limits) -> None:
    """Write the operator's limits where clients look for them; reading enforces them."""
    # They cannot stand in the types, which are made before the settings are read.
    by_body = {
        "StackRequest": published_limits(limits),
        "PlanRequest": published_limits(limits),
        "StackCheckRequest": published_check_limits(limits),
        "CoverageRequest": published_coverage_limits(limits),
        "BatchRequest": {"requests": limits.max_batch_requests},
    }
    for body, published in by_body.items():
        members = schemas[body]["properties"]
        for name, most in published.items():
            member = _not_null(members[name])
            member["maximum" if member["type"] == "integer" else "maxItems"] = most
        if "time_limit_ms" in members:
            time_limit = _not_null(members["time_limit_ms"])
            time_limit["description"] += f" {limits.default_time_limit_ms} if left out."


def _not_null(schema: Document) -> Document:
    """The schema itself, or that of its alternatives which is not null."""
    alternatives: list[Document] = schema.get("anyOf", [schema])
    return alternatives[0]
