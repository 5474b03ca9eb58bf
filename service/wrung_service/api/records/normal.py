"""A request as it was understood, and its hash: what a record is known by."""

import hashlib
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, Final, TypeAlias, cast

import msgspec
import rfc8785
from msgspec import Raw, Struct, UnsetType
from msgspec.structs import replace

from wrung.blocks import DEFAULT_JOINT_ALLOWANCE
from wrung.lengths import SMALL_UNIT, Unit, to_text
from wrung_service.api.kinds.shapes import Units
from wrung_service.api.kinds.wanted import default_text
from wrung_service.api.metrology.conditions import UseConditions
from wrung_service.api.metrology.measures import WantedMeasure
from wrung_service.api.stacks.reading import StackReading, budget_detail
from wrung_service.api.stacks.request import WantedLength, WantedTolerance
from wrung_service.api.words import degrees_of

Json: TypeAlias = Any
_DECIMAL: Final = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")


def normal_request(reading: StackReading) -> dict[str, Json]:
    """The body with lengths as decimal text and defaults filled in, as JSON has it."""
    body, query = reading.body, reading.query
    degrees = degrees_of(body.temperature_unit)
    filled = replace(
        body,
        temperature_unit=degrees,
        time_limit_ms=query.time_limit_ms,
        budget=budget_detail(body),
        error_measure=body.error_measure or WantedMeasure(),
        conditions=body.conditions or UseConditions(),
        blocks=tuple(replace(block, unit=block.unit or body.unit) for block in body.blocks),
        joint_allowance=_text(body.joint_allowance, _allowance(body.unit)),
        targets=tuple(
            replace(target, tolerance=target.tolerance or WantedTolerance())
            if isinstance(target, WantedLength)
            else target
            for target in body.targets
        ),
    )
    units = Units(length=body.unit, degrees=degrees)
    plain: dict[str, Json] = _plain(filled, units)
    # A record brings its blocks: no crib is ever in it, see `api.crib.recording`.
    del plain["crib"]
    return plain


def request_hash(request: Mapping[str, Json]) -> str:
    """SHA-256, in hexadecimal, of the canonical form of RFC 8785.

    Raises:
        rfc8785.CanonicalizationError: it has a number that RFC 8785 has no form for.
    """
    return hashlib.sha256(rfc8785.dumps(dict(request))).hexdigest()


def decimal_text(text: str) -> str:
    """A decimal number without needless zeros; any other text as it is, such as of an angle."""
    if not _DECIMAL.fullmatch(text):
        return text
    # Normalising alone keeps the sign of a zero and gives whole tens an exponent.
    return f"{Decimal(text).normalize() + 0:f}"


def _allowance(unit: Unit) -> str:
    return to_text(DEFAULT_JOINT_ALLOWANCE, SMALL_UNIT[unit])


def _text(raw: Raw | UnsetType, default: str) -> Raw:
    if isinstance(raw, UnsetType) or bytes(raw) == b"null":
        return Raw(msgspec.json.encode(default))
    return raw


def _plain(value: Json, units: Units) -> Json:
    if isinstance(value, Raw):
        return _read(value)
    if isinstance(value, Struct):
        return _members(value, units)
    if isinstance(value, list | tuple):
        return [_plain(each, units) for each in cast("Sequence[Json]", value)]
    return value


def _members(struct: Struct, units: Units) -> dict[str, Json]:
    config = struct.__struct_config__
    members = {config.tag_field: config.tag} if config.tag_field else {}
    for name in struct.__struct_fields__:
        value = getattr(struct, name)
        unset = isinstance(value, UnsetType) or (isinstance(value, Raw) and bytes(value) == b"null")
        members[name] = _default(struct, name, units) if unset else _plain(value, units)
    return members


def _default(struct: Struct, name: str, units: Units) -> str | None:
    """What stands for a length that was left out; null where nothing does."""
    if isinstance(struct, WantedTolerance):
        return "0"
    return default_text(type(struct), name, units)


def _read(raw: Raw) -> str:
    data = bytes(raw)
    return decimal_text(msgspec.json.decode(data) if data.startswith(b'"') else data.decode())
