"""From bytes to a request: one typed decode, and a careful look only where that fails."""

import re
from decimal import Decimal
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Generic, TypeAlias, TypeVar, Union, get_args, get_origin

import msgspec
from msgspec import Raw, Struct, UnsetType

from wrung_service.api.faults import Faults, Path
from wrung_service.api.problem_types import MALFORMED_JSON
from wrung_service.api.problems import Refusal, refuse_if_any
from wrung_service.api.texts import published_pattern
from wrung_service.api.wire_lengths import NotALengthError, Shape

Body = TypeVar("Body", bound=Struct)
Hint: TypeAlias = Any
"""A type annotation; Python has no type for those of msgspec."""

# Some clients on Windows begin every UTF-8 text with it; RFC 8259 lets a reader ignore it.
_BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"
_MOST_DIGITS: Final = 18
_NUMBER: Final = re.compile(rb"-?[0-9][0-9.eE+-]{0,30}")


class BodyDecoder(Generic[Body]):
    """Reads one kind of body.

    JSON Schema calls ``90.0`` an integer and msgspec does not; and msgspec stops at the first
    fault. So a body that fails is gone through member by member: whole floats are mended, every
    other fault is noted with its pointer.
    """

    def __init__(self, kind: type[Body]) -> None:
        self._kind = kind
        self._decoder = msgspec.json.Decoder(kind)

    def decode(self, body: bytes, most: dict[str, int]) -> Body:
        """The body as a Struct.

        Args:
            body: the bytes received.
            most: how many elements the arrays at the top may have, by member.

        Raises:
            Refusal: 400, with every member that breaks the schema.
        """
        body = body.removeprefix(_BYTE_ORDER_MARK)
        try:
            return self._decoder.decode(body)
        except msgspec.ValidationError:
            return self._look_closely(body, most)
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
            raise Refusal(MALFORMED_JSON, _malformed(body, error)) from None

    def _look_closely(self, body: bytes, most: dict[str, int]) -> Body:
        look = _CloseLook(most)
        try:
            mended = look.mend(self._kind, Raw(body), ())
            refuse_if_any(look.faults)
            return self._decoder.decode(mended)
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
            raise Refusal(MALFORMED_JSON, _malformed(body, error)) from None


class _CloseLook:
    """Goes through a body that failed, along the types that it should have had."""

    def __init__(self, most: dict[str, int]) -> None:
        self.faults = Faults()
        self._most = most

    def mend(self, hint: Hint, raw: Raw, path: Path) -> Raw:
        """The same JSON with whole floats written as integers, where integers are due."""
        core = _core(hint)
        start = bytes(raw).lstrip()[:1]
        if self.faults.full:
            return raw
        if core is Raw:
            self._check_length(hint, raw, path)
        elif _is_struct(core) and start == b"{":
            return self._mend_members(core, raw, path)
        elif _is_tuple(core) and start == b"[":
            return self._mend_elements(hint, raw, path)
        elif core is int and (whole := _whole(raw)):
            return self._checked(hint, whole, path)
        else:
            return self._checked(hint, raw, path)
        return raw

    def _mend_members(self, kind: type[Struct], raw: Raw, path: Path) -> Raw:
        members = msgspec.json.decode(raw, type=dict[str, Raw])
        fields = {field.encode_name: field for field in msgspec.structs.fields(kind)}
        for name in [name for name in members if name not in fields]:
            self.faults.invalid((*path, name), "is not a known member")
        for name, field in fields.items():
            if name in members:
                members[name] = self.mend(field.type, members[name], (*path, name))
            elif field.required:
                self.faults.invalid((*path, name), "is missing")
        return Raw(msgspec.json.encode(members))

    def _mend_elements(self, hint: Hint, raw: Raw, path: Path) -> Raw:
        elements = msgspec.json.decode(raw, type=list[Raw])
        most = self._most.get(str(path[0]), len(elements)) if len(path) == 1 else len(elements)
        if len(elements) > most:
            self.faults.invalid(path, too_many(most))
            return raw
        kind = get_args(_core(hint))[0]
        before = len(self.faults.found)
        mended = [self.mend(kind, each, (*path, index)) for index, each in enumerate(elements)]
        again = Raw(msgspec.json.encode(mended))
        return self._checked(hint, again, path) if before == len(self.faults.found) else raw

    def _check_length(self, hint: Hint, raw: Raw, path: Path) -> None:
        try:
            _shape(hint).text(raw)
        except NotALengthError as error:
            self.faults.invalid(path, str(error))

    def _checked(self, hint: Hint, raw: Raw, path: Path) -> Raw:
        try:
            msgspec.json.decode(raw, type=hint)
        except msgspec.ValidationError as error:
            self.faults.invalid(path, _reason(error))
        return raw


def too_many(most: int) -> str:
    """What is said of an array with more than ``most`` elements."""
    return f"has more than {most} elements"


def _core(hint: Hint) -> Hint:
    """What stands under ``Annotated``, ``None`` and ``UnsetType``."""
    origin: Hint = get_origin(hint)
    if origin is Annotated:
        return _core(get_args(hint)[0])
    if origin in (Union, UnionType):
        rest = [each for each in get_args(hint) if each not in (NoneType, UnsetType)]
        return _core(rest[0]) if len(rest) == 1 else hint
    return hint


def _shape(hint: Hint) -> Shape:
    """The `Shape` in the annotation of a length."""
    origin: Hint = get_origin(hint)
    if origin is Annotated:
        return next(each for each in get_args(hint) if isinstance(each, Shape))
    return _shape(get_args(hint)[0])


def _is_struct(core: Hint) -> bool:
    return isinstance(core, type) and issubclass(core, Struct)


def _is_tuple(core: Hint) -> bool:
    origin: Hint = get_origin(core)
    return origin is tuple


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
    """Msgspec's sentence about a single member, with the pattern as published."""
    text = str(error).partition(" - at `")[0]
    text = text.replace("\\\\", "\\")
    return f"{text[:1].lower()}{published_pattern(text[1:])}"


def _malformed(body: bytes, error: Exception) -> str:
    if not body.strip():
        return "The body is empty."
    if isinstance(error, RecursionError):
        return "The body is nested too deeply."
    if isinstance(error, UnicodeDecodeError):
        return "The body is not UTF-8."
    return f"{str(error).rstrip('.')}."
