"""What in a new OpenAPI document would break the clients of an old one.

The rules are those that the version in the path promises: within ``/v1`` nothing that a client may
rely on goes away, and nothing that a client may send is refused. Requests may be asked less of,
answers may say more.
"""

from collections.abc import Callable, Iterator
from typing import Any, TypeAlias

Json: TypeAlias = dict[str, Any]

_Changes: TypeAlias = Callable[[str, "_Documents", Json, Json], Iterator[str]]

_UPPER = ("maximum", "exclusiveMaximum", "maxLength", "maxItems")
_LOWER = ("minimum", "exclusiveMinimum", "minLength", "minItems")


def breaking_changes(old: Json, new: Json) -> list[str]:
    """A sentence for each change that breaks a client of ``old``."""
    return sorted({*_path_changes(old, new)})


def _path_changes(old: Json, new: Json) -> Iterator[str]:
    for path, methods in old["paths"].items():
        for method, operation in methods.items():
            name = f"{method.upper()} {path}"
            found = new["paths"].get(path, {}).get(method)
            if found is None:
                yield f"{name}: removed"
            else:
                yield from _operation_changes(name, _Documents(old, new), operation, found)


class _Documents:
    """Both documents, to follow references in."""

    def __init__(self, old: Json, new: Json) -> None:
        self._old = old["components"]["schemas"]
        self._new = new["components"]["schemas"]

        self._bodies = {_reference(each) for each in _bodies(old)} - {None}

    def is_body(self, schema: Json) -> bool:
        """Whether it is the body of a request."""
        return _reference(schema) in self._bodies

    def follow(self, old: Json, new: Json) -> tuple[Json, Json]:
        """The schemas behind references."""
        return _follow(old, self._old), _follow(new, self._new)


def _bodies(document: Json) -> Iterator[Json]:
    for methods in document["paths"].values():
        for operation in methods.values():
            yield _schema(operation.get("requestBody", {})) or {}


def _reference(schema: Json) -> str | None:
    found: str | None = schema.get("$ref")
    return found


def _follow(schema: Json, schemas: Json) -> Json:
    while "$ref" in schema:
        schema = schemas[schema["$ref"].rpartition("/")[2]]
    return schema


def _operation_changes(name: str, documents: _Documents, old: Json, new: Json) -> Iterator[str]:
    if old["operationId"] != new["operationId"]:
        yield f"{name}: operationId changed"
    yield from _parameter_changes(name, old, new)
    if "requestBody" in new:
        before, after = _schema(old.get("requestBody", {})), _schema(new["requestBody"])
        if before is None:
            yield f"{name}: a body is required"
        elif after is not None:
            yield from _request_changes(f"{name} request", documents, before, after)
    for status, response in old["responses"].items():
        found = new["responses"].get(status)
        before = _schema(response)
        if found is None or (before is not None and _schema(found) is None):
            yield f"{name}: response {status} removed"
        elif before is not None:
            after = _schema(found) or {}
            yield from _answer_changes(f"{name} {status}", documents, before, after)


def _parameter_changes(name: str, old: Json, new: Json) -> Iterator[str]:
    before = {(each["in"], each["name"]) for each in old.get("parameters", ())}
    for each in new.get("parameters", ()):
        if each.get("required") and (each["in"], each["name"]) not in before:
            yield f"{name}: parameter {each['name']} is required"
    after = {(each["in"], each["name"]) for each in new.get("parameters", ())}
    for place, parameter in sorted(before - after):
        yield f"{name}: {place} parameter {parameter} removed"


def _schema(body: Json) -> Json | None:
    """The schema of the one media type of a body."""
    for content in body.get("content", {}).values():
        schema: Json = content["schema"]
        return schema
    return None


def _request_changes(at: str, documents: _Documents, old: Json, new: Json) -> Iterator[str]:
    """Nothing that was accepted may be refused."""
    old, new = documents.follow(old, new)
    if "anyOf" in new and "anyOf" not in old:
        # A choice that did not exist: what was accepted must be one of it.
        choices = [[*_request_changes(at, documents, old, each)] for each in new["anyOf"]]
        yield from min(choices, key=len)
        return
    yield from _narrowed(at, old, new)
    before, after = old.get("properties", {}), new.get("properties", {})
    for member in sorted(set(new.get("required", ())) - set(old.get("required", ()))):
        yield f"{at}: {member} is required"
    for member in before:
        if member not in after:
            yield f"{at}: {member} removed"
        else:
            inner = f"{at}.{member}"
            yield from _request_changes(inner, documents, before[member], after[member])
    yield from _parts(at, documents, old, new, _request_changes)


def _narrowed(at: str, old: Json, new: Json) -> Iterator[str]:
    if _types(new) and not _types(old) <= _types(new):
        yield f"{at}: type narrowed"
    if "enum" in new and not set(old.get("enum", ["anything"])) <= set(new["enum"]):
        yield f"{at}: enum narrowed"
    if "pattern" in new and new["pattern"] != old.get("pattern"):
        yield f"{at}: pattern changed"
    for limit in _UPPER:
        if limit in new and new[limit] < old.get(limit, float("inf")):
            yield f"{at}: {limit} narrowed"
    for limit in _LOWER:
        if limit in new and new[limit] > old.get(limit, float("-inf")):
            yield f"{at}: {limit} narrowed"


def _answer_changes(at: str, documents: _Documents, old: Json, new: Json) -> Iterator[str]:
    """Nothing that was always there may go, or become something else."""
    if at.endswith(".request") and documents.is_body(old):
        # A plan holds the request as it was sent: the rules for requests are enough.
        yield from _request_changes(at, documents, old, new)
        return
    old, new = documents.follow(old, new)
    if _types(old) and not _types(new) <= _types(old):
        yield f"{at}: type widened"
    # Unless clients were told that there may be more.
    grows = "may be added" in old.get("description", "")
    if "enum" in old and not grows and not set(new.get("enum", ["anything"])) <= set(old["enum"]):
        yield f"{at}: enum widened"
    before, after = old.get("properties", {}), new.get("properties", {})
    for member in sorted(set(old.get("required", ())) - set(new.get("required", ()))):
        yield f"{at}: {member} is no longer always there"
    for member in before:
        if member not in after:
            yield f"{at}: {member} removed"
        else:
            inner = f"{at}.{member}"
            yield from _answer_changes(inner, documents, before[member], after[member])
    yield from _parts(at, documents, old, new, _answer_changes)


def _parts(
    at: str, documents: _Documents, old: Json, new: Json, changes: _Changes
) -> Iterator[str]:
    """Elements of arrays, and alternatives by their place."""
    if "items" in old and "items" in new:
        yield from changes(f"{at}[]", documents, old["items"], new["items"])
    before, after = old.get("anyOf", []), new.get("anyOf", [])
    if len(before) > len(after) or (not before and after):
        yield f"{at}: alternatives changed"
    for one, other in zip(before, after, strict=False):
        yield from changes(at, documents, one, other)


def _types(schema: Json) -> set[str]:
    """The JSON types that a schema names; an integer is a number, too."""
    named = schema.get("type", [])
    return set([named] if isinstance(named, str) else named)
