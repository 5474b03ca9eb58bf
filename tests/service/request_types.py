"""Every Struct that a request is made of, and the least JSON for each: found by their types."""

from collections.abc import Iterator
from typing import Any, Literal, get_args, get_origin

import msgspec
from msgspec import Raw, Struct

from wrung_service.api.close_look import core_of, kinds_of
from wrung_service.api.coverage.request import CoverageRequest
from wrung_service.api.kinds.shapes import Hint, Value
from wrung_service.api.stack_checks.request import StackCheckRequest
from wrung_service.api.stacks.request import StackRequest

BODIES: tuple[type[Struct], ...] = (StackRequest, StackCheckRequest, CoverageRequest)


def request_types() -> tuple[type[Struct], ...]:
    """The bodies and everything in them, each once."""
    found: dict[type[Struct], None] = {}
    for body in BODIES:
        _gather(body, found)
    return tuple(found)


def least(kind: type[Struct]) -> dict[str, Any]:
    """Its required members only."""
    config = kind.__struct_config__
    tag = {config.tag_field: config.tag} if config.tag_field else {}
    fields = msgspec.structs.fields(kind)
    return {**tag, **{f.encode_name: _value(f.type) for f in fields if f.required}}


def optional_members() -> Iterator[tuple[type[Struct], msgspec.structs.FieldInfo]]:
    """Every member of a request that may be left out."""
    for kind in request_types():
        for field in msgspec.structs.fields(kind):
            if not field.required:
                yield kind, field


def _gather(hint: Hint, found: dict[type[Struct], None]) -> None:
    core = core_of(hint)
    if isinstance(core, type) and issubclass(core, Struct) and core not in found:
        found[core] = None
        for field in msgspec.structs.fields(core):
            _gather(field.type, found)
    for part in () if isinstance(core, type) else get_args(core):
        _gather(part, found)


def _value(hint: Hint) -> Value:
    core, origin = core_of(hint), _origin(hint)
    if kinds := kinds_of(core):
        return least(next(iter(kinds.values())))
    if origin is tuple:
        return [_value(get_args(core)[0])]
    if origin is Literal:
        return get_args(core)[0]
    if isinstance(core, type) and issubclass(core, Struct):
        return least(core)
    return {Raw: "1", str: "x", int: 1, float: 1.0, bool: False}[core]


def _origin(hint: Hint) -> Hint:
    return get_origin(core_of(hint))
