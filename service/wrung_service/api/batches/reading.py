"""Reads a batch as far as it must be read before it is kept: which requests there are."""

from collections.abc import Sequence
from typing import Final

import msgspec
from msgspec import Raw

from wrung_service.api.batches.shapes import UnreadRequests
from wrung_service.api.decoding import BYTE_ORDER_MARK, BodyDecoder, check_values
from wrung_service.api.faults import Faults, Path
from wrung_service.api.problem_types import BODY_TOO_LARGE, MALFORMED_JSON
from wrung_service.api.problems import Refusal, refuse_if_any
from wrung_service.settings import Limits

_LINE: Final = msgspec.json.Decoder(Raw)
_FASTER: Final = 4
"""Skipping a value takes at most a quarter of the time that parsing it takes."""


class BatchReader:
    """Finds the requests in a body; whether they make sense, their answers will say."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._bytes = _FASTER * limits.max_batch_bytes
        most = {"requests": limits.max_batch_requests}
        self._decoder = BodyDecoder(UnreadRequests, most, self._bytes)

    def read(self, body: bytes, *, lines: bool) -> list[str]:
        """Each request as JSON.

        Raises:
            Refusal: 400, the body is malformed, or has too many or no requests; 413, too large.
        """
        found = self._lines(body) if lines else self._decoder.decode(body).requests
        faults = Faults()
        most = self._limits.max_batch_requests
        if len(found) > most:
            faults.invalid(("requests",), f"has more than {most} elements")
        for place, each in enumerate(found):
            if faults.full:
                break
            self._check(bytes(each), ("requests", place), faults)
        refuse_if_any(faults)
        return list(map(_text, found))

    def one(self, body: bytes) -> str:
        """The only request that a body is, as JSON.

        Raises:
            Refusal: 400, it is malformed, or no object.
        """
        found = _read_line(body.removeprefix(BYTE_ORDER_MARK), 1)
        faults = Faults()
        self._check(bytes(found), (), faults)
        refuse_if_any(faults)
        return _text(found)

    def _check(self, request: bytes, path: Path, faults: Faults) -> None:
        if request.lstrip()[:1] != b"{":
            faults.invalid(path, "must be an object")
        elif len(request) > self._limits.max_body_bytes:
            faults.invalid(path, f"is larger than {self._limits.max_body_bytes} bytes")

    def _lines(self, body: bytes) -> Sequence[Raw]:
        check_values(body, self._bytes)
        found = list[Raw]()
        for number, line in enumerate(body.removeprefix(BYTE_ORDER_MARK).split(b"\n"), 1):
            if line.strip():
                found.append(_read_line(line, number))
            if len(found) > self._limits.max_batch_requests:
                detail = f"There are more than {self._limits.max_batch_requests} requests."
                raise Refusal(BODY_TOO_LARGE, detail)
        if not found:
            raise Refusal(MALFORMED_JSON, "The body is empty.")
        return found


def _text(request: Raw) -> str:
    try:
        return bytes(request).decode()
    # What is skipped is not looked at as closely as what is parsed.
    except UnicodeDecodeError:
        raise Refusal(MALFORMED_JSON, "The body is not UTF-8.") from None


def _read_line(line: bytes, number: int) -> Raw:
    try:
        return _LINE.decode(line)
    except (msgspec.DecodeError, RecursionError):
        raise Refusal(MALFORMED_JSON, f"Line {number} is not JSON in UTF-8.") from None
