"""Lengths on the wire: decimal text, or a JSON number taken by its digits, never as a float."""

import re
from typing import Annotated, Any, Final, TypeAlias

import msgspec
from msgspec import UNSET, Meta, Raw, Struct, UnsetType

from wrung.lengths import (
    DECIMAL_COMMA,
    SIGNED_PATTERN,
    UNSIGNED_PATTERN,
    AnyUnit,
    has_decimal_comma,
    plain,
    to_text,
    without_exponent,
)

_SIGNED: Final = re.compile(SIGNED_PATTERN)
_UNSIGNED: Final = re.compile(UNSIGNED_PATTERN)
# ``-0`` passes, because it passes the schema's ``minimum`` of 0.
_NEGATIVE: Final = re.compile(r"-[0.]*[1-9]")
MOST_CHARACTERS: Final = 100
"""Of the text of a length or an angle, blanks included."""
_MINUS: Final = re.compile("[ \N{NO-BREAK SPACE}]*[\N{MINUS SIGN}-] ?[0-9.]")
_EXAMPLE: Final = (
    "must be decimal text such as '12.3455', without a unit, or a number, "
    "with at most 12 digits on each side of the point"
)


class NotALengthError(Exception):
    """The member is not what the published schema asks for."""


class Shape(Struct, frozen=True, kw_only=True):
    """What a length may look like; stands in the annotation of its member.

    Attributes:
        name: of its component in the document; with ``Signed`` before it where it has a sign.
    """

    signed: bool = False
    optional: bool = False
    name: str = "Length"

    def text(self, raw: Raw | UnsetType) -> str | None:
        """The decimal text with the client's digits; None for an optional length left out.

        A number keeps its own text, so that ``0.10`` is exact and its digits can be echoed; an
        exponent only moves its point.

        Raises:
            NotALengthError: the published schema does not allow it.
        """
        if isinstance(raw, UnsetType) or (self.optional and raw == _NULL):
            return None
        data = bytes(raw)
        if data.startswith(b'"'):
            return self._quoted(data)
        if not data[:1].isdigit() and not data.startswith(b"-"):
            raise NotALengthError(self.wanted())
        # JSON Schema holds only text against the pattern; what a number is, `parse` will say.
        text = data.decode()
        if not self.signed and _NEGATIVE.match(text):
            raise NotALengthError("must not be negative")
        return plain(without_exponent(text))

    def _quoted(self, data: bytes) -> str:
        try:
            text = msgspec.json.decode(data, type=str)
        # The body's decoder skips over a `Raw`, so bad UTF-8 in it comes up only now.
        except (msgspec.DecodeError, UnicodeDecodeError):
            raise NotALengthError("is not valid text") from None
        if len(text) > MOST_CHARACTERS:
            raise NotALengthError(f"is longer than {MOST_CHARACTERS} characters")
        if not self.pattern().fullmatch(text):
            raise NotALengthError(self._why_not(text))
        return plain(text)

    def _why_not(self, text: str) -> str:
        if has_decimal_comma(text):
            return DECIMAL_COMMA
        return "must not be negative" if _MINUS.match(text) else self.wanted()

    def pattern(self) -> re.Pattern[str]:
        """What its text may look like."""
        return _SIGNED if self.signed else _UNSIGNED

    def wanted(self) -> str:
        """What the member must be, in words."""
        return _EXAMPLE

    def schema(self) -> dict[str, Any]:
        """The published JSON Schema."""
        return {
            # Under this name the document has it once, see `wrung_service.api.components`.
            "title": f"Signed{self.name}" if self.signed else self.name,
            # Numbers are taken, too, but a client has one type to write, and no digit is lost.
            "type": ["string", "null"] if self.optional else "string",
            "pattern": f"^{self.pattern().pattern}$",
            "maxLength": MOST_CHARACTERS,
        }


_NULL: Final = Raw(b"null")
LENGTH: Final = Shape()
OPTIONAL: Final = Shape(optional=True)
SIGNED: Final = Shape(signed=True, optional=True)

Length: TypeAlias = Annotated[Raw, LENGTH, Meta(extra_json_schema=LENGTH.schema())]
OptionalLength: TypeAlias = Annotated[Raw, OPTIONAL, Meta(extra_json_schema=OPTIONAL.schema())]
SignedLength: TypeAlias = Annotated[Raw, SIGNED, Meta(extra_json_schema=SIGNED.schema())]


def raw_length(quanta: int, unit: AnyUnit) -> Raw:
    """A length as requests send it."""
    return Raw(msgspec.json.encode(to_text(quanta, unit)))


def raw_optional(quanta: int | None, unit: AnyUnit) -> Raw | UnsetType:
    """The same; unset where there is none."""
    return UNSET if quanta is None else raw_length(quanta, unit)
