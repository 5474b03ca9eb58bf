"""From bytes to a request: one typed decode, and a close look only where that fails."""

import re
from collections.abc import Mapping
from typing import Final, Generic, TypeVar

import msgspec
from msgspec import Raw, Struct

from wrung_service.api.close_look import CloseLook
from wrung_service.api.problem_types import BODY_TOO_LARGE, MALFORMED_JSON
from wrung_service.api.problems import Refusal, refuse_if_any
from wrung_service.settings import Limits

Body = TypeVar("Body", bound=Struct)

# Some clients on Windows begin every UTF-8 text with it; RFC 8259 lets a reader ignore it.
BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"

_PLACE: Final = re.compile(r"\(byte ([0-9]+)\)")
_COMMA_AT: Final = re.compile(rb"[0-9],[0-9]")
"""JSON takes it for the end of a value, and misses the name of the next member."""
_BYTES_A_VALUE: Final = 32
"""A body of the largest size must have at least this many bytes for each value, on average.

One that has fewer holds nothing that a request needs, and would hold the interpreter while it is
parsed, for about 30 ms a megabyte, during which the service answers nobody.
"""


def check_values(body: bytes, most_bytes: int) -> None:
    """Refuse what takes too long to parse, before it is parsed.

    Raises:
        Refusal: 413, the body has more values between commas than its size allows.
    """
    most = most_bytes // _BYTES_A_VALUE
    if body.count(b",") >= most:
        raise Refusal(BODY_TOO_LARGE, f"The body has more than {most} values.")


class BodyDecoder(Generic[Body]):
    """Reads one kind of body.

    JSON Schema calls ``90.0`` an integer and msgspec does not; and msgspec stops at the first
    fault. So a body that fails is gone through member by member.
    """

    def __init__(
        self, kind: type[Body], limits: Mapping[str, int], most_bytes: int = Limits().max_body_bytes
    ) -> None:
        """Read bodies of a kind; ``limits`` go by member, see `check_limit`."""
        self._kind = kind
        self._most_bytes = most_bytes
        self._limits = limits
        # Made at the start: a type that msgspec cannot read should fail then, not on a request.
        self._decoder = msgspec.json.Decoder(kind)

    def decode(self, body: bytes) -> Body:
        """The body as a Struct; the limits are checked only where it is looked at closely.

        Raises:
            Refusal: 400, with every member that breaks the schema; 413, it has too many values.
        """
        body = body.removeprefix(BYTE_ORDER_MARK)
        check_values(body, self._most_bytes)
        try:
            return self._decode(body)
        # Bad UTF-8 and deep nesting are other exceptions, and would be answered with 500.
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
            raise Refusal(MALFORMED_JSON, _malformed(body, error)) from None

    def _decode(self, body: bytes) -> Body:
        try:
            return self._decoder.decode(body)
        except msgspec.ValidationError:
            look = CloseLook(self._limits)
            mended = look.mend(self._kind, Raw(body))
            refuse_if_any(look.faults)
            # Only whole floats were wrong, and they are integers now.
            return self._decoder.decode(mended)


def _malformed(body: bytes, error: Exception) -> str:
    if not body.strip():
        return "The body is empty."
    if isinstance(error, RecursionError):
        return "The body is nested too deeply."
    if isinstance(error, UnicodeDecodeError):
        return "The body is not UTF-8."
    if "truncated" in str(error):
        return "JSON is malformed: it ends too soon."
    place = _PLACE.search(str(error))
    if place and _COMMA_AT.match(body, max(0, int(place[1]) - 2)):
        return f"JSON is malformed: a number has a decimal comma; write a point {place[0]}."
    return f"{str(error).rstrip('.')}."


class _TimeLimit(Struct):
    """The one member that must be known before a worker is free; all others are skipped."""

    time_limit_ms: float | None = None


_PEEK: Final = msgspec.json.Decoder(_TimeLimit)


def time_limit_of(body: bytes, limits: Limits) -> float:
    """The time limit that a body states, ms; the default where it states none that is valid."""
    try:
        stated = _PEEK.decode(body.removeprefix(BYTE_ORDER_MARK)).time_limit_ms
    # What is wrong with it will be said by the worker.
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        stated = None
    if stated is None or not 1 <= stated <= limits.max_time_limit_ms:
        return limits.default_time_limit_ms
    return stated
