"""Reads certificates of calibration, whoever is to have their blocks."""

import re
from codecs import BOM_UTF8
from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from msgspec import Struct

from wrung.errors import Fault
from wrung.lengths import Unit
from wrung.metrology import CertificateImport, Remark, read_certificate
from wrung.metrology.certificates import COLUMNS, SHARED, Format
from wrung.metrology.certificates.limits import LONGEST_TEXT, MOST_BLOCKS, MOST_BYTES
from wrung_service.api.bodies import JSON, HttpRequest, media_type_of
from wrung_service.api.decoding import check_values
from wrung_service.api.faults import MOST_FAULTS, cut
from wrung_service.api.operations import MediaBody, QueryParameter, example, text_example
from wrung_service.api.problem_types import INVALID_CERTIFICATE, INVALID_PARAMETER
from wrung_service.api.problems import Refusal
from wrung_service.observe.lines import current_line
from wrung_service.settings import Limits

_CSV: Final = "text/csv"
_XML: Final = "application/xml"
_FORMATS: Final[Mapping[str, Format]] = {JSON: "json", _CSV: "csv", _XML: "dcc"}
_UNITS: Final[tuple[Unit, ...]] = ("mm", "in")

_BINARY: Final = "application/octet-stream"


# As for lengths, numbers are taken, too, but a client has one type to write.
def _figure(name: str) -> Mapping[str, Any]:
    about = f"As the column `{name}` of a CSV."
    return {"type": ["string", "null"], "maxLength": LONGEST_TEXT, "description": about}


_BLOCK: Final[Mapping[str, Any]] = {
    "type": "object",
    "description": "A certified block; the members of the CSV columns of the same names. JSON "
    "numbers are accepted as well.",
    "required": ["id", "nominal", "deviation"],
    "properties": {name: _figure(name) for name in COLUMNS},
}
# Open, unlike our own bodies: certificates say more than is used, and the answer lists that.
_CERTIFICATE: Final[Mapping[str, Any]] = {
    "type": "object",
    "description": "Blocks. Members beside them apply to every block that does not have its own.",
    "required": ["blocks"],
    "properties": {
        **{name: _figure(name) for name in SHARED},
        "blocks": {
            "description": "The blocks.",
            "type": "array",
            "minItems": 1,
            "maxItems": MOST_BLOCKS,
            "items": {"$ref": "#/components/schemas/CertificateBlock"},
        },
    },
}
MEDIA: Final = (
    # First, since some generators keep the first alone, and others know no text types.
    MediaBody(
        media_type=_BINARY,
        name="CertificateFile",
        schema={
            "type": "string",
            "format": "binary",
            "maxLength": MOST_BYTES,
            "description": "A file of any of the three kinds, told apart by how it begins.",
        },
        examples={"csv": text_example("The same two blocks, as CSV", "certificate.csv")},
    ),
    MediaBody(
        media_type=JSON,
        name="CertificateJson",
        more={"CertificateBlock": _BLOCK},
        schema=_CERTIFICATE,
        examples={"json": example("Two blocks of one certificate", "certificate")},
    ),
    MediaBody(
        media_type=_CSV,
        name="CertificateCsv",
        schema={
            "type": "string",
            "maxLength": MOST_BYTES,
            "description": "The first line names the columns.",
        },
        examples={"csv": text_example("The same two blocks", "certificate.csv")},
    ),
    MediaBody(
        media_type=_XML,
        name="CertificateXml",
        schema={
            "type": "string",
            "maxLength": MOST_BYTES,
            "description": "A Digital Calibration Certificate.",
        },
        examples={"dcc": text_example("One block", "certificate.xml")},
    ),
)
PARAMETERS: Final = (
    QueryParameter(
        name="unit",
        description=(
            "Unit of lengths where the document names none; `mm` by default. For a Digital "
            "Calibration Certificate, whose lengths are metric, the unit that the blocks "
            "are marked in."
        ),
        schema={"type": "string", "enum": list(_UNITS)},
        example="mm",
    ),
    QueryParameter(
        name="due_on",
        description="Due date for blocks for which the document states none.",
        schema={"type": "string", "format": "date"},
        example="2027-03-31",
    ),
)


class AskedCertificate(Struct, frozen=True, kw_only=True):
    """How a document is to be read; ``format`` None: as it begins."""

    unit: Unit
    due_on: date | None
    format: Format | None


class CertificateReader:
    """Reads a document as a whole, or refuses it."""

    accepted = (*_FORMATS, _BINARY)

    def __init__(self, limits: Limits) -> None:
        self._limits = limits

    def asked(self, request: HttpRequest) -> AskedCertificate:
        """What the address and the media type say, before there is a body.

        Raises:
            Refusal: 400, a parameter is malformed.
        """
        return AskedCertificate(
            unit=_unit(request),
            due_on=_due_on(request),
            format=_FORMATS.get(media_type_of(request)),
        )

    def read(self, body: bytes, asked: AskedCertificate) -> CertificateImport:
        """The certificate.

        Raises:
            Refusal: 422, something in it is invalid.
        """
        document = asked.format or _format_of(body)
        if document == "json":
            check_values(body, self._limits.max_body_bytes)
        found = read_certificate(body, document, unit=asked.unit, due_on=asked.due_on)
        current_line().blocks = found.read
        if not found.accepted:
            _refuse(found)
        return found


def _format_of(body: bytes) -> Format:
    """What a file is, by its first character: neither JSON nor XML can begin otherwise."""
    begin = body.removeprefix(BOM_UTF8).lstrip()[:1]
    return "dcc" if begin == b"<" else "json" if begin in (b"{", b"[") else "csv"


def _unit(request: HttpRequest) -> Unit:
    given = request.query_params.get("unit", "mm")
    # One by one, so that a type checker knows the result as a `Unit`.
    for unit in _UNITS:
        if given == unit:
            return unit
    raise Refusal(INVALID_PARAMETER, f"unit: {given[:40]!r} is neither mm nor in.")


def _due_on(request: HttpRequest) -> date | None:
    given = request.query_params.get("due_on")
    if given is None:
        return None
    try:
        # `fromisoformat` would take 20270331 and 2027-W13-3, too, which the schema does not.
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", given, re.ASCII):
            return date.fromisoformat(given)
    except ValueError:
        pass
    raise Refusal(INVALID_PARAMETER, f"due_on: {given[:40]!r} is not a day such as 2027-03-31.")


def _refuse(found: CertificateImport) -> None:
    errors = [_fault(remark) for remark in found.refused[:MOST_FAULTS]]
    first, more = errors[0], len(found.refused) - 1
    also = f" ({more} more, see errors)" if more else ""
    detail = f"{first.pointer}{first.pointer and ': '}{first.detail}{also}."
    raise Refusal(INVALID_CERTIFICATE, detail[:1].upper() + detail[1:], errors=errors)


def _fault(remark: Remark) -> Fault:
    """In JSON a place is a pointer; elsewhere it stands in the sentence."""
    if remark.location.startswith("/"):
        pointer, detail = remark.location.replace(", ", "/"), remark.text
    else:
        pointer, detail = "", f"{remark.location} {remark.text}"
    return Fault(pointer=cut(pointer), detail=cut(detail.rstrip(".")))
