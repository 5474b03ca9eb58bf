"""``POST /v1/certificate-imports``: a certificate in, its blocks out; nothing is stored."""

from typing import Final

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung.metrology.certificates import COLUMNS
from wrung_service.api.bodies import VARY_BY_LANGUAGE, HttpRequest, wanted_language
from wrung_service.api.certificates.answer import ImportedCertificate, write_import
from wrung_service.api.certificates.reading import MEDIA, PARAMETERS, CertificateReader
from wrung_service.api.operations import OPERATION, Operation, example
from wrung_service.api.problem_types import (
    BODY_TOO_LARGE,
    BUSY,
    INVALID_CERTIFICATE,
    INVALID_PARAMETER,
    UNSUPPORTED_MEDIA_TYPE,
)
from wrung_service.api.working import answer_in_pool
from wrung_service.pool import SolvePool, Turn
from wrung_service.settings import Limits

_IMPORT: Final = Operation(
    id="importCertificate",
    tag="certificates",
    summary="Read a calibration certificate",
    description=(
        "Reads certified blocks from JSON, from CSV, or from a Digital Calibration Certificate "
        "(XML of the PTB, schema 2.4 or 3.x), as the media type says, or for a plain file its "
        "first character, and gives them back in the form in which `POST /v1/stacks` takes "
        "blocks. Nothing is stored. A document is read as a "
        "whole or not at all; whatever else it contains is listed as ignored. The first line of a "
        f"CSV names its columns, which are `{'`, `'.join(COLUMNS)}`, in any order and any case. "
        "Decimals have a point; in a file whose fields are separated by semicolons or tabs, all of "
        "them may have a comma instead. Signatures are not verified, and reading a certificate "
        "does not make it valid: whoever puts the blocks into service must make sure that they are "
        "those of the certificate and fit for use."
    ),
    media=MEDIA,
    query=PARAMETERS,
    answer=ImportedCertificate,
    answer_examples={"blocks": example("What was read", "certificate-import")},
    problems=(INVALID_PARAMETER, BODY_TOO_LARGE, UNSUPPORTED_MEDIA_TYPE, INVALID_CERTIFICATE, BUSY),
)


def certificate_routes(pool: SolvePool, limits: Limits) -> list[HTTPRouteHandler]:
    """The one resource."""
    reader = CertificateReader(limits)

    # The framework's status for POST is 201, but nothing is created here.
    @post("/v1/certificate-imports", status_code=200, opt={OPERATION: _IMPORT})
    async def import_certificate(request: HttpRequest) -> Response[bytes]:
        # Before the body: a wrong address is no reason to receive one.
        asked = reader.asked(request)

        def work(body: bytes, turn: Turn) -> ImportedCertificate:
            found = reader.read(body, asked)
            return write_import(found, language=language, waited_ms=turn.waited_ms)

        language = wanted_language(request) or "en"
        answer = await answer_in_pool(
            request, work, pool=pool, limits=limits, accepted=reader.accepted
        )
        answer.headers.update(VARY_BY_LANGUAGE)
        return answer

    return [import_certificate]
