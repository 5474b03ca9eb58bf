"""Goes through a body that failed, member by member, and finds everything that is wrong with it."""

import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, TypeAlias, Union, get_args, get_origin

import msgspec
from msgspec import Meta, Raw, Struct, UnsetType
from msgspec.structs import FieldInfo

from wrung.json_reasons import reason
from wrung.names import or_nearest
from wrung_service.api.faults import MOST_FAULTS, Faults, Path
from wrung_service.api.texts import pattern_in_words, published_pattern
from wrung_service.api.wire_lengths import NotALengthError, Shape

Hint: TypeAlias = Any
"""A type annotation; Python has no type for those of msgspec."""

# Enough for any integer of 64 bits; ``1e999999`` written out would keep a CPU busy.
_MOST_DIGITS: Final = 18
_NUMBER: Final = re.compile(rb"-?[0-9][0-9.eE+-]{0,30}")


class CloseLook:
    """Follows the types that the body should have; mends whole floats, notes all other faults."""

    def __init__(self, limits: Mapping[str, int]) -> None:
        self.faults = Faults()
        self._limits = limits

    def mend(self, hint: Hint, raw: Raw, path: Path = ()) -> Raw:
        """The same JSON with whole floats written as integers, where integers are due."""
        core = core_of(hint)
        # The first byte tells the kind of value. One that does not fit its type is left to msgspec.
        start = bytes(raw).lstrip()[:1]
        if self.faults.full:
            return raw
        if start == b"{" and (kinds := kinds_of(core) or ({"": core} if _is_struct(core) else {})):
            return self._object(kinds, raw, path)
        if _is_tuple(core) and start == b"[":
            return self._elements(hint, raw, path)
        if core is Raw:
            return self._length(hint, raw, path)
        if core is int:
            return self._checked(hint, _whole(raw) or raw, path)
        return self._checked(hint, raw, path)

    def _object(self, kinds: Mapping[str, type[Struct]], raw: Raw, path: Path) -> Raw:
        """An object; of several Structs its tag says which it is."""
        if len(kinds) == 1:
            return self._members(next(iter(kinds.values())), raw, path)
        field = str(next(iter(kinds.values())).__struct_config__.tag_field)
        tag = msgspec.json.decode(raw, type=dict[str, Raw]).get(field)
        kind = None if tag is None else kinds.get(bytes(tag).decode().strip().strip('"'))
        if kind is not None:
            return self._members(kind, raw, path)
        detail = "is missing" if tag is None else _none_of(tag, tuple(kinds))
        self.faults.invalid((*path, field), detail)
        return raw

    def _members(self, kind: type[Struct], raw: Raw, path: Path) -> Raw:
        members = msgspec.json.decode(raw, type=dict[str, Raw])
        fields = {field.encode_name: field for field in msgspec.structs.fields(kind)}
        # The tag is a member on the wire, but no field of the Struct.
        config = kind.__struct_config__
        known = {*fields, *filter(None, [config.tag_field])}
        # What an answer holds may grow, and comes back in a record.
        unknown = [n for n in members if n not in known] if config.forbid_unknown_fields else []
        for name in unknown[:MOST_FAULTS]:
            nearest = or_nearest(name, known)
            self.faults.invalid((*path, name), f"is not a known member{nearest}")
        for name, field in fields.items():
            if _stands_for_default(field, members.get(name)):
                del members[name]
            elif name in members:
                members[name] = self.mend(field.type, members[name], (*path, name))
            elif field.required:
                self.faults.invalid((*path, name), "is missing")
        return Raw(msgspec.json.encode(members))

    def _elements(self, hint: Hint, raw: Raw, path: Path) -> Raw:
        elements = msgspec.json.decode(raw, type=list[Raw])
        before = len(self.faults.found)
        # Before its elements: what is too long is not worth going through.
        if not self._within_limit(elements, path):
            return raw
        most = _most(hint)
        if most is not None and not check_limit(elements, most, path, self.faults):
            return raw
        kind = get_args(core_of(hint))[0]
        mended = [self.mend(kind, each, (*path, index)) for index, each in enumerate(elements)]
        # Where an element is at fault, msgspec would only say it again, with a worse place.
        again = Raw(msgspec.json.encode(mended))
        return self._checked(hint, again, path) if before == len(self.faults.found) else raw

    def _length(self, hint: Hint, raw: Raw, path: Path) -> Raw:
        shape = _shape(hint)
        if shape is None:
            return raw
        try:
            shape.text(raw)
        except NotALengthError as error:
            self.faults.invalid(path, str(error))
        return raw

    def _checked(self, hint: Hint, raw: Raw, path: Path) -> Raw:
        try:
            value = msgspec.json.decode(raw, type=hint)
        except msgspec.ValidationError as error:
            choices = _choices(core_of(hint))
            self.faults.invalid(path, _none_of(raw, choices) if choices else _reason(error))
        else:
            if isinstance(value, int):
                self._within_limit(value, path)
        return raw

    def _within_limit(self, value: int | Sequence[object], path: Path) -> bool:
        most = self._limits.get(str(path[0])) if len(path) == 1 else None
        return most is None or check_limit(value, most, path, self.faults)


def _most(hint: Hint) -> int | None:
    """Most elements of an array, by its type."""
    metas = (each for each in _metas(hint) if each.max_length is not None)
    return next((each.max_length for each in metas), None)


def _metas(hint: Hint) -> Iterator[Meta]:
    origin: Hint = get_origin(hint)
    if origin is Annotated:
        yield from (each for each in get_args(hint)[1:] if isinstance(each, Meta))
        yield from _metas(get_args(hint)[0])
    elif origin in (Union, UnionType):
        for each in get_args(hint):
            yield from _metas(each)


def check_limit(value: int | Sequence[object], most: int, path: Path, faults: Faults) -> bool:
    """Whether an integer is at most ``most``, or an array has no more elements; noted if not."""
    if isinstance(value, int):
        within, detail = value <= most, f"is greater than {most}"
    else:
        within, detail = len(value) <= most, f"has more than {most} elements"
    if not within:
        faults.invalid(path, detail)
    return within


def core_of(hint: Hint) -> Hint:
    """What stands under ``Annotated``, ``None`` and ``UnsetType``."""
    origin: Hint = get_origin(hint)
    if origin is Annotated:
        return core_of(get_args(hint)[0])
    if origin in (Union, UnionType):
        rest = [each for each in get_args(hint) if each not in (NoneType, UnsetType)]
        return core_of(rest[0]) if len(rest) == 1 else hint
    return hint


def _shape(hint: Hint) -> Shape | None:
    """The `Shape` in the annotation of a length; None for what is read later, such as requests."""
    if hint is Raw:
        return None
    origin: Hint = get_origin(hint)
    if origin is Annotated:
        return next(each for each in get_args(hint) if isinstance(each, Shape))
    return _shape(get_args(hint)[0])


def _is_struct(core: Hint) -> bool:
    return isinstance(core, type) and issubclass(core, Struct)


def kinds_of(core: Hint) -> dict[str, type[Struct]]:
    """By tag, the Structs of a union that is told apart by tags; empty for anything else."""
    origin: Hint = get_origin(core)
    if origin not in (Union, UnionType):
        return {}
    return {
        str(kind.__struct_config__.tag): kind
        for kind in get_args(core)
        if _is_struct(kind) and kind.__struct_config__.tag is not None
    }


def _is_tuple(core: Hint) -> bool:
    origin: Hint = get_origin(core)
    return origin is tuple


def _choices(core: Hint) -> tuple[str, ...]:
    """The values of an enumeration of texts; none for anything else."""
    origin: Hint = get_origin(core)
    return get_args(core) if origin is Literal else ()


def _none_of(raw: Raw, choices: Sequence[str]) -> str:
    given = msgspec.json.decode(raw)
    nearest = or_nearest(given, choices) if isinstance(given, str) else ""
    return f"must be one of {', '.join(choices)}{nearest}"


def _stands_for_default(field: FieldInfo, raw: Raw | None) -> bool:
    """Whether a member is null where the type has no null and there is a default."""
    if raw is None or field.required or bytes(raw) != b"null" or core_of(field.type) is Raw:
        return False
    return not may_be_null(field.type)


def may_be_null(hint: Hint) -> bool:
    """Whether null is a value of its own for a member of that type."""
    origin: Hint = get_origin(hint)
    if origin is Annotated:
        return may_be_null(get_args(hint)[0])
    return origin in (Union, UnionType) and NoneType in get_args(hint)


def _whole(raw: Raw) -> Raw | None:
    """``90.0`` or ``9e1`` as an integer; None for anything else."""
    data = bytes(raw)
    if not _NUMBER.fullmatch(data):
        return None
    number = Decimal(data.decode())
    if number.adjusted() > _MOST_DIGITS or number != number.to_integral_value():
        return None
    return Raw(str(int(number)).encode())


def _reason(error: msgspec.ValidationError) -> str:
    """Msgspec's sentence about a single member; patterns in words, or else as published."""
    # Patterns are quoted with doubled backslashes.
    text = reason(error).replace("\\\\", "\\")
    return pattern_in_words(text) or published_pattern(text)
